from datetime import UTC, date, datetime
from io import BytesIO
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from curriculum.models import Observation
from curriculum.selectors.observations import family_observations, goals_used, photos_allowed
from curriculum.services import observations as services
from provider.errors import DomainError, ForeignRow, StaleRow
from provider.models import AuditEntry, Child, FamilyPaper, FamilyPaperKind, FileKind, Provider, Role, StoredFile
from tests import factories as make

TODAY = date(2025, 3, 12)  # the conftest of this folder holds the clock there


@pytest.fixture
def child(provider: Provider) -> Child:
    return make.make_child(make.make_household(provider))


def _photo(provider: Provider, kind: str = FileKind.JPEG) -> StoredFile:
    row = StoredFile(provider=provider, kind=kind, size=2, sha256="1" * 64)
    row.file.save("photo.jpg", ContentFile(b"\xff\xd8"))
    return row


def _observe(child: Child, **changes: Any) -> Observation:
    given = {"day": TODAY, "text": "Stacked seven blocks", **changes}
    return services.add_observation(provider=child.provider, actor=None, today=TODAY, child=child, **given)


def _permit(of: Child, **fields: Any) -> FamilyPaper:
    given = {"kind": FamilyPaperKind.PHOTOS, "signed_on": date(2025, 1, 6), **fields}
    return FamilyPaper.objects.create(provider=of.provider, household=of.household, **given)


def test_it_belongs_to_the_run_of_its_day(child: Child) -> None:
    run = make.make_run(child.provider)

    assert _observe(child).run == run
    assert _observe(child, day=date(2025, 2, 28)).run is None


@pytest.mark.parametrize(("changes", "field"), [({"day": date(2025, 3, 13)}, "day"), ({"text": ""}, "text")])
def test_it_refuses_an_observation_that_cannot_be(child: Child, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refused:
        _observe(child, **changes)

    assert refused.value.field == field


def test_it_wants_a_photo_and_no_pdf(child: Child) -> None:
    with pytest.raises(DomainError) as refused:
        _observe(child, photo=_photo(child.provider, FileKind.PDF))

    assert refused.value.field == "photo"


def test_it_refuses_the_photo_of_another_business(child: Child) -> None:
    with pytest.raises(ForeignRow):
        _observe(child, photo=_photo(make.make_provider()))


def test_it_observes_once_when_the_form_is_sent_twice(child: Child) -> None:
    assert _observe(child, submission_key="key") == _observe(child, submission_key="key")
    assert Observation.objects.count() == 1


def test_it_asks_about_a_stale_observation_and_keeps_the_photo(child: Child) -> None:
    row = _observe(child, photo=_photo(child.provider))
    who = {"provider": child.provider, "actor": None, "today": TODAY, "observation": row, "version": 1}

    changed = services.change_observation(**who, day=TODAY, text="Stacked eight")
    with pytest.raises(StaleRow):
        services.change_observation(**who, day=TODAY, text="Stacked nine")

    assert changed.photo == row.photo


def test_it_keeps_the_words_out_of_the_trail(child: Child) -> None:
    row = _observe(child, text="Spoke of home")
    services.change_observation(
        provider=child.provider,
        actor=None,
        today=TODAY,
        observation=row,
        version=1,
        day=TODAY,
        text="Spoke of home a lot",
    )

    assert not any("home a" in f"{entry.summary}{entry.changes}" for entry in AuditEntry.objects.all())
    assert not any("Spoke" in f"{entry.summary}{entry.changes}" for entry in AuditEntry.objects.all())


def test_it_offers_the_goals_used_before(child: Child) -> None:
    _observe(child, goal="Counts to ten")
    _observe(child, goal="Counts to ten")
    _observe(child, goal="Balances")
    make.make_observation(make.make_child(make.make_household(make.make_provider())), goal="Elsewhere")

    assert goals_used(child.provider) == ["Balances", "Counts to ten"]


@pytest.mark.parametrize(
    ("papers", "allowed"),
    [
        ([], False),
        ([{}], True),
        ([{"granted": False}], False),
        ([{"expires_on": date(2025, 3, 13)}], True),
        ([{"expires_on": date(2025, 3, 12)}], False),
        ([{"signed_on": date(2025, 3, 13)}], False),
        ([{"signed_on": None}], False),
        ([{"voided_at": datetime(2025, 3, 1, tzinfo=UTC)}], False),
        ([{"kind": FamilyPaperKind.TRIPS}], False),
        ([{}, {"granted": False, "signed_on": date(2025, 2, 1)}], False),
        ([{"granted": False}, {"signed_on": date(2025, 2, 1)}], True),
        # A newer permission that lapsed does not bring the older one back.
        ([{}, {"signed_on": date(2025, 2, 1), "expires_on": date(2025, 3, 1)}], False),
    ],
)
def test_it_lets_the_newest_paper_decide_about_photos(
    child: Child, papers: list[dict[str, Any]], *, allowed: bool
) -> None:
    for paper in papers:
        _permit(child, **paper)

    assert (child.pk in photos_allowed(child.household, {child.pk}, TODAY)) is allowed


def test_it_reads_a_permission_of_one_child_for_that_child_only(child: Child) -> None:
    sister = make.make_child(child.household)
    _permit(child)
    _permit(child, child=sister, granted=False, signed_on=date(2025, 2, 1))

    assert photos_allowed(child.household, {child.pk, sister.pk}, TODAY) == {child.pk}


def test_it_shows_a_family_what_is_meant_for_it(child: Child) -> None:
    _permit(child)
    shown = make.make_observation(child, for_family=True, photo=_photo(child.provider))
    make.make_observation(child)
    make.make_observation(child, for_family=True, voided_at=datetime(2025, 3, 12, tzinfo=UTC))
    make.make_observation(make.make_child(make.make_household(child.provider)), for_family=True)

    assert [(each.observation, each.shows_photo) for each in family_observations(child.household, TODAY)] == [
        (shown, True)
    ]


def _client(child: Child, role: Role) -> Client:
    client = Client()
    household = child.household if role == Role.FAMILY else None
    client.force_login(make.make_member(child.provider, role, household))
    return client


def test_it_shows_the_photo_only_while_the_permission_holds(child: Child) -> None:
    row = make.make_observation(child, for_family=True, photo=_photo(child.provider))
    family, address = (
        _client(child, Role.FAMILY),
        reverse("curriculum:family_photo", args=[child.provider.slug, row.public_id]),
    )
    assert family.get(address).status_code == 404

    _permit(child)

    page: Any = family.get(address)
    assert b"".join(page.streaming_content) == b"\xff\xd8"


def test_it_hides_the_photo_of_another_familys_child(child: Child) -> None:
    other = make.make_child(make.make_household(child.provider))
    _permit(other)
    row = make.make_observation(other, for_family=True, photo=_photo(child.provider))

    address = reverse("curriculum:family_photo", args=[child.provider.slug, row.public_id])

    assert _client(child, Role.FAMILY).get(address).status_code == 404


def test_it_is_written_changed_and_taken_out_from_the_pages(child: Child) -> None:
    helper, slug = _client(child, Role.HELPER), child.provider.slug
    picture = BytesIO()
    Image.new("RGB", (40, 40), "white").save(picture, "PNG")
    sent = {"child": child.public_id, "day": "2025-03-12", "text": "Balanced on the beam", "goal": "Balances"}

    helper.post(
        reverse("curriculum:add_observation", args=[slug]),
        {**sent, "photo": SimpleUploadedFile("beam.png", picture.getvalue())},
    )
    row = Observation.objects.get()
    change = reverse("curriculum:change_observation", args=[slug, row.public_id])
    form = helper.get(change).content.decode()
    helper.post(change, {**sent, "text": "Balanced twice", "for_family": "on", "version": "1"})
    row.refresh_from_db()
    assert '<option value="Balances">' in form
    assert (row.text, row.for_family, row.photo is not None) == ("Balanced twice", True, True)

    helper.post(reverse("curriculum:void_observation", args=[slug, row.public_id]), {"reason": "Wrong child"})

    row.refresh_from_db()
    assert row.voided_at is not None


def test_it_says_what_is_wrong_with_a_photo_that_is_none(child: Child) -> None:
    sent = {"child": child.public_id, "day": "2025-03-12", "text": "Seen", "photo": SimpleUploadedFile("a.jpg", b"no")}

    page = _client(child, Role.OWNER).post(reverse("curriculum:add_observation", args=[child.provider.slug]), sent)

    assert page.status_code == 422
    assert "photo or PDF that can be read" in page.content.decode()
