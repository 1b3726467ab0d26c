"""A child's page: whom to call, who may collect, what to watch for; the card and the posted list on paper."""

import subprocess
from datetime import date
from io import BytesIO
from typing import Any

import pikepdf
import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, ForeignRow, StaleRow
from provider.models import AuditEntry, CareNeed, CareNeedKind, Child, Collector, EmergencyContact, Role
from provider.selectors.families import household_cards
from provider.selectors.people import child_record, posted_list
from provider.services import people
from provider.services.families import add_child
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)


@pytest.fixture
def child() -> Child:
    return make.make_child(make.make_household(make.make_provider()))


def _who(child: Child) -> dict[str, Any]:
    return {"provider": child.provider, "actor": None, "today": TODAY}


def _address(name: str, row: Any) -> str:
    return reverse(f"provider:{name}", args=[row.provider.slug, row.public_id])


def text_of(pdf: bytes) -> str:
    """What poppler reads, with every run of white space as one blank."""
    read = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(read.stdout.decode().split())


@pytest.mark.parametrize(
    ("fields", "letters"),
    [
        ({"name": "Ada Brook", "preferred_name": "Bee"}, "B"),
        ({"name": "ada brook"}, "AB"),
        ({"name": "Mary-Ann", "preferred_name": ""}, "MA"),
        ({"name": "Ada Brook", "label_letters": "Ad"}, "Ad"),
    ],
)
def test_it_labels_with_the_first_letters_unless_others_are_chosen(fields: dict[str, str], letters: str) -> None:
    assert Child(**fields).letters == letters


def test_it_calls_contacts_in_their_order(child: Child) -> None:
    make.make_contact(child, name="Second", position=2)
    make.make_contact(child, name="First", position=1)

    assert [each.name for each in child_record(child, TODAY).contacts] == ["First", "Second"]


def test_it_parts_collectors_at_their_last_day(child: Child) -> None:
    make.make_collector(child, name="Now")
    make.make_collector(child, name="Until yesterday", end=TODAY)
    make.make_collector(child, name="Until today", end=date(2026, 3, 17))

    record = child_record(child, TODAY)

    assert [each.name for each in record.collectors] == ["Now", "Until today"]
    assert [each.name for each in record.past_collectors] == ["Until yesterday"]


def test_it_adds_once_for_a_double_click(child: Child) -> None:
    given = {**_who(child), "child": child, "model": EmergencyContact, "name": "Aunt", "phone": "555-0100"}
    first = people.add_beside(**given, submission_key="one")

    assert people.add_beside(**given, submission_key="one") == first
    assert EmergencyContact.objects.count() == 1


def test_it_refuses_to_change_what_somebody_else_changed(child: Child) -> None:
    contact = make.make_contact(child)
    people.change_beside(**_who(child), row=contact, version=1, name="Saved first")

    with pytest.raises(StaleRow):
        people.change_beside(**_who(child), row=contact, version=1, name="Too late")


def test_it_refuses_a_last_day_before_the_first(child: Child) -> None:
    with pytest.raises(DomainError) as refusal:
        people.add_beside(**_who(child), child=child, model=Collector, name="A", start=TODAY, end=TODAY)

    assert refusal.value.field == "last_day"


def test_it_refuses_a_child_of_another_business(child: Child) -> None:
    with pytest.raises(ForeignRow):
        people.add_beside(
            **{**_who(child), "provider": make.make_provider()},
            child=child,
            model=EmergencyContact,
            name="A",
            phone="1",
        )


def test_it_keeps_health_out_of_the_history(child: Child) -> None:
    need = make.make_care_need(child, what="Hazelnuts")
    people.change_beside(**_who(child), row=need, version=1, what="Walnuts", action="Call")

    told = str(list(AuditEntry.objects.values("summary", "changes", "object_label")))

    assert "nuts" not in told
    assert "Call" not in told


def test_it_makes_a_care_need_of_what_is_said_when_a_child_is_added(child: Child) -> None:
    added = add_child(
        **_who(child), household=child.household, name="New", birth_date=date(2023, 1, 1), allergies=" Hazelnuts "
    )

    need = CareNeed.objects.get(child=added)
    assert (need.kind, need.what, need.start) == (CareNeedKind.ALLERGY, "Hazelnuts", TODAY)


def test_it_marks_families_with_an_allergy_that_counts_today(child: Child) -> None:
    make.make_enrolment(child)
    make.make_care_need(child, end=TODAY)
    other = make.make_child(make.make_household(child.provider))
    make.make_enrolment(other)
    make.make_care_need(other)

    marked = {
        each.child for card in household_cards(child.provider, TODAY) for each in card.children if each.is_allergic
    }

    assert marked == {other}


def test_it_posts_only_what_may_hang_there_of_children_enrolled_now(child: Child) -> None:
    make.make_enrolment(child)
    make.make_care_need(child, what="Sesame")
    make.make_care_need(child, what="Private", posted=False)
    make.make_care_need(child, what="Over", end=TODAY)
    gone = make.make_child(make.make_household(child.provider))
    make.make_enrolment(gone, end=TODAY)
    make.make_care_need(gone, what="Gone")

    assert [(each.child, [need.what for need in each.needs]) for each in posted_list(child.provider, TODAY)] == [
        (child, ["Sesame"])
    ]


def test_it_reads_a_child_in_constant_queries(child: Child, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for _n in range(3):
        make.make_contact(child)
        make.make_collector(child)
        make.make_care_need(child)
        make.make_family_paper(child.household, child)
    loaded = Child.objects.select_related("household__provider").get(pk=child.pk)

    with django_assert_num_queries(9):
        child_record(loaded, TODAY)


@pytest.mark.parametrize(
    ("kind", "model", "fields"),
    [
        ("contact", EmergencyContact, {"name": "Aunt Lou", "phone": "555-0100", "position": "1"}),
        ("collector", Collector, {"name": "Aunt Lou", "start": "2026-03-16", "last_day": "2026-03-31"}),
        ("need", CareNeed, {"kind": "diet", "what": "No pork", "posted": "on", "start": "2026-03-16"}),
    ],
)
def test_it_adds_changes_and_takes_out_from_the_page(
    client: Client, child: Child, kind: str, model: type[Any], fields: dict[str, str]
) -> None:
    client.force_login(make.make_member(child.provider))

    client.post(_address(f"{kind}_add", child), fields)
    row = model.objects.get()
    changed = client.post(_address(f"{kind}_change", row), {**fields, "version": "1", "start": "2026-03-15"})
    taken_out = client.post(_address(f"{kind}_void", row), {"reason": "Entered twice"})

    row.refresh_from_db()
    assert (changed.status_code, taken_out.status_code, row.version) == (302, 302, 3)
    assert row.voided_at is not None
    assert client.get(_address(f"{kind}_change", row)).status_code == 404


def test_it_gives_the_last_day_back_as_it_was_typed(client: Client, child: Child) -> None:
    client.force_login(make.make_member(child.provider))
    collector = make.make_collector(child, end=date(2026, 4, 1))

    form = client.get(_address("collector_change", collector)).context["form"]

    assert form["last_day"].value() == date(2026, 3, 31)


def test_it_shows_a_helper_the_whole_page_without_ways_to_change(client: Client, child: Child) -> None:
    make.make_enrolment(child)
    make.make_contact(child, name="Aunt Lou")
    make.make_care_need(child, what="Hazelnuts", action="The red pouch")
    client.force_login(make.make_member(child.provider, Role.HELPER))

    page = client.get(_address("child", child)).content.decode()

    assert all(words in page for words in ("Aunt Lou", "Hazelnuts", "The red pouch", "missing: Signed agreement"))
    assert _address("contact_add", child) not in page
    assert _address("child_change", child) not in page


def test_it_shows_the_share_of_the_bill_to_the_owner_alone(client: Client, child: Child) -> None:
    guardians = [make.make_guardian(child.household) for _n in range(2)]
    make.make_agreement(
        make.make_enrolment(child), payers={guardians[0]: "0.6000", guardians[1]: "0.4000"}, start=date(2024, 1, 1)
    )
    pages = {}
    for role in (Role.OWNER, Role.HELPER):
        client.force_login(make.make_member(child.provider, role))
        pages[role] = client.get(_address("child", child)).content.decode()

    assert "pays 60 % of" in pages[Role.OWNER]
    assert "pays 40 % of" in pages[Role.OWNER]
    assert "pays" not in pages[Role.HELPER]


def test_it_prints_a_card_of_half_a_letter_page_that_nobody_keeps(client: Client, child: Child) -> None:
    make.make_guardian(child.household, name="Ana Brook", phone="555-0142")
    make.make_contact(child, name="Aunt Lou", phone="555-0155")
    make.make_care_need(child, what="Hazelnuts", action="The red pouch")
    make.make_family_paper(child.household, child, kind="emergency", granted=False)
    Child.objects.filter(pk=child.pk).update(physician="Dr. Reed, 555-0170")
    client.force_login(make.make_member(child.provider, Role.HELPER))

    response = client.get(_address("child_card", child))

    text = text_of(response.content)
    words = (child.name, "555-0142", "Aunt Lou", "555-0155", "Hazelnuts", "The red pouch", "Dr. Reed", "REFUSED")
    assert [each for each in words if each not in text] == []
    with pikepdf.open(BytesIO(response.content)) as pdf:
        assert [[int(side) for side in page.mediabox] for page in pdf.pages] == [[0, 0, 396, 612]]
    assert "no-store" in response.headers["Cache-Control"]
    assert child.name not in response.headers["Content-Disposition"]


def test_it_prints_the_posted_list_on_one_page(client: Client, child: Child) -> None:
    for n in range(8):
        each = make.make_child(child.household, name=f"Number{n}")
        make.make_enrolment(each)
        make.make_care_need(each, what=f"Food{n}", action="Keep away\nCall")
    client.force_login(make.make_member(child.provider, Role.HELPER))

    response = client.get(reverse("provider:allergy_list", args=[child.provider.slug]))

    with pikepdf.open(BytesIO(response.content)) as pdf:
        assert len(pdf.pages) == 1
    assert "Food7" in text_of(response.content)
