"""Papers of families: editions, what lapses, what is missing, who may look at them."""

from datetime import date, timedelta
from io import BytesIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, ForeignRow, StaleRow
from provider.models import Child, FamilyPaper, FileKind, Provider, Role, StoredFile
from provider.notices import papers_due
from provider.selectors.papers import family_folder, family_papers_due, paper_state
from provider.selectors.people import child_record
from provider.services import papers
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
SOON = TODAY + timedelta(days=30)


@pytest.fixture
def child() -> Child:
    child = make.make_child(make.make_household(make.make_provider()))
    make.make_enrolment(child)
    return child


def _who(child: Child) -> dict[str, Any]:
    return {"provider": child.provider, "actor": None, "today": TODAY}


def _address(name: str, row: Any) -> str:
    return reverse(f"provider:{name}", args=[row.provider.slug, row.public_id])


def _photo(name: str = "consent.png") -> SimpleUploadedFile:
    sent = BytesIO()
    Image.new("RGB", (40, 20), "white").save(sent, "PNG")
    return SimpleUploadedFile(name, sent.getvalue())


@pytest.mark.parametrize(
    ("expires_on", "state"),
    [
        (None, "current"),
        (SOON + timedelta(days=1), "current"),
        (SOON, "lapsing"),
        (TODAY + timedelta(days=1), "lapsing"),
        (TODAY, "lapsed"),
        (date(2020, 2, 29), "lapsed"),
    ],
)
def test_it_warns_thirty_days_before_a_paper_lapses(expires_on: date | None, state: str) -> None:
    assert paper_state(expires_on, TODAY) == state


def test_it_keeps_the_old_edition_below_the_renewed_one(child: Child) -> None:
    old = make.make_family_paper(child.household, child, signed_on=date(2025, 1, 1), expires_on=date(2026, 1, 1))
    new = papers.record_family_paper(
        **_who(child), household=child.household, child=child, kind=old.kind, signed_on=TODAY, edition="2026"
    )

    card = family_folder(child.household, TODAY, child=child).cards[0]

    assert (card.paper, card.state, card.earlier) == (new, "current", (old,))


def test_papers_of_two_titles_do_not_renew_each_other(child: Child) -> None:
    for title in ("Asthma", "Seizures"):
        make.make_family_paper(child.household, child, kind="medical_plan", title=title)

    assert len(family_folder(child.household, TODAY).cards) == 2


def test_a_child_s_folder_holds_its_own_papers_and_the_family_s(child: Child) -> None:
    sibling = make.make_child(child.household)
    of_sibling = make.make_family_paper(child.household, sibling)
    of_family = make.make_family_paper(child.household, kind="agreement")

    cards = family_folder(child.household, TODAY, child=child).cards

    assert [card.paper for card in cards] == [of_family]
    assert of_sibling in [card.paper for card in family_folder(child.household, TODAY).cards]


def test_it_misses_what_is_required_until_it_is_there_and_after_it_lapsed(child: Child) -> None:
    make.make_family_paper(child.household, kind="agreement")
    make.make_family_paper(child.household, child, kind="immunisation", expires_on=TODAY)

    missing = child_record(child, TODAY).missing

    assert [str(kind) for kind in missing] == ["Consent to emergency care", "Immunisation record or exemption"]


def test_it_misses_nothing_of_the_owner_s_own_child(child: Child) -> None:
    Child.objects.filter(pk=child.pk).update(is_own_child=True)
    child.refresh_from_db()

    assert child_record(child, TODAY).missing == []


def test_it_lists_what_lapses_soonest_first_and_nothing_of_who_left(child: Child) -> None:
    gone = make.make_child(make.make_household(child.provider))
    make.make_enrolment(gone, end=TODAY)
    make.make_family_paper(gone.household, gone, expires_on=TODAY)
    make.make_family_paper(gone.household, expires_on=TODAY)
    later = make.make_family_paper(child.household, expires_on=SOON)
    first = make.make_family_paper(child.household, child, expires_on=TODAY)
    make.make_family_paper(child.household, kind="trips", expires_on=SOON + timedelta(days=1))

    assert [card.paper for card in family_papers_due(child.provider, TODAY)] == [first, later]


def test_it_finds_what_lapses_in_one_query(child: Child, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for kind in ("trips", "photos", "handbook"):
        make.make_family_paper(child.household, child, kind=kind, expires_on=SOON)

    with django_assert_num_queries(1):
        cards = family_papers_due(child.provider, TODAY)

    assert [str(card.paper.household) for card in cards] == [child.household.name] * 3


def test_today_has_one_line_however_many_papers_lapse(child: Child) -> None:
    for kind in ("trips", "photos", "handbook"):
        make.make_family_paper(child.household, kind=kind, expires_on=SOON)

    told = list(papers_due(child.provider, Role.OWNER, TODAY))

    assert [notice.text for notice in told] == ["3 papers of families lapse within 30 days or have lapsed."]
    assert list(papers_due(child.provider, Role.HELPER, TODAY)) == []


def test_today_says_nothing_when_nothing_lapses(child: Child) -> None:
    make.make_family_paper(child.household, expires_on=SOON + timedelta(days=1))

    assert list(papers_due(child.provider, Role.OWNER, TODAY)) == []


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"signed_on": TODAY + timedelta(days=1)}, "signed_on"),
        ({"signed_on": TODAY, "expires_on": TODAY}, "expires_on"),
        ({"kind": "nonsense"}, "kind"),
    ],
)
def test_it_refuses_what_cannot_be(child: Child, fields: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refusal:
        papers.record_family_paper(**_who(child), household=child.household, **{"kind": "trips", **fields})

    assert refusal.value.field == field


def test_it_refuses_a_child_of_another_family(child: Child) -> None:
    other = make.make_child(make.make_household(child.provider))

    with pytest.raises(DomainError) as refusal:
        papers.record_family_paper(**_who(child), household=child.household, child=other, kind="trips")

    assert refusal.value.field == "child"


def test_it_refuses_a_file_of_another_business(child: Child) -> None:
    file = StoredFile.objects.create(provider=make.make_provider(), kind=FileKind.PDF, size=4, sha256="0" * 64)

    with pytest.raises(ForeignRow):
        papers.record_family_paper(**_who(child), household=child.household, kind="trips", file=file)


def test_it_records_once_for_a_double_click(child: Child) -> None:
    given = {**_who(child), "household": child.household, "kind": "trips", "submission_key": "one"}

    assert papers.record_family_paper(**given) == papers.record_family_paper(**given)
    assert FamilyPaper.objects.count() == 1


def test_it_questions_a_stale_change(child: Child) -> None:
    paper = make.make_family_paper(child.household)
    papers.change_paper(**_who(child), paper=paper, version=1, edition="2")

    with pytest.raises(StaleRow):
        papers.change_paper(**_who(child), paper=paper, version=1, edition="3")


def test_it_keeps_the_photo_when_only_words_are_corrected(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    client.post(
        _address("paper_add", child.household),
        {"kind": "photos", "child": child.public_id, "answer": "no", "signed_on": "2026-03-01", "file": _photo()},
    )
    paper = FamilyPaper.objects.get()

    client.post(_address("paper_change", paper), {"kind": "photos", "answer": "no", "note": "By mail", "version": "1"})

    paper.refresh_from_db()
    assert (paper.granted, paper.note, paper.file is not None) == (False, "By mail", True)


def test_it_says_beside_the_file_why_it_is_not_kept(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    sent = {"kind": "trips", "answer": "yes", "file": SimpleUploadedFile("a.pdf", b"nonsense")}

    response = client.post(_address("paper_add", child.household), sent)

    assert response.status_code == 422
    assert "not a photo or PDF" in response.context["form"].errors["file"][0]
    assert not FamilyPaper.objects.exists()


def test_it_begins_a_renewal_with_what_the_paper_was(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    paper = make.make_family_paper(child.household, child, title="Asthma", kind="medical_plan", expires_on=SOON)

    form = client.get(_address("paper_add", child.household), {"renews": paper.public_id}).context["form"]

    assert (form["kind"].value(), form["title"].value(), form["child"].value()) == (
        "medical_plan",
        "Asthma",
        child.public_id,
    )
    assert form["expires_on"].value() is None


def test_it_takes_a_paper_out_with_its_reason(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    paper = make.make_family_paper(child.household)

    client.post(_address("paper_void", paper), {"reason": "Of another child"})

    assert family_folder(child.household, TODAY).cards == ()


def _kept(provider: Provider) -> StoredFile:
    row = StoredFile(provider=provider, kind=FileKind.PDF, size=4, sha256="0" * 64)
    row.file.save("paper.pdf", ContentFile(b"%PDF"))
    return row


def test_a_helper_sees_a_child_s_paper_and_a_preparer_never(client: Client, child: Child) -> None:
    file = _kept(child.provider)
    paper = make.make_family_paper(child.household, child, file=file)
    client.force_login(make.make_member(child.provider, Role.HELPER))
    to_helper: Any = client.get(_address("paper_file", paper))
    b"".join(to_helper.streaming_content)
    client.force_login(make.make_member(child.provider, Role.PREPARER))

    assert to_helper.status_code == 200
    assert client.get(_address("paper_file", paper)).status_code == 403
    assert client.get(reverse("provider:file", args=[child.provider.slug, file.public_id])).status_code == 404


def test_it_has_no_file_for_a_paper_without_one(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))

    assert client.get(_address("paper_file", make.make_family_paper(child.household))).status_code == 404


def test_the_page_of_what_lapses_leads_to_the_renewal(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    paper = make.make_family_paper(child.household, expires_on=date(2026, 1, 1))

    page = client.get(reverse("provider:papers_due", args=[child.provider.slug])).content.decode()

    assert f"{_address('paper_add', child.household)}?renews={paper.public_id}" in page
