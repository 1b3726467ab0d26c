from collections.abc import Iterator
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
import time_machine
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoCaptureOnCommitCallbacks

from billing.models import Invoice, Method, Payment
from provider.errors import DomainError
from provider.models import (
    AuditEntry,
    Child,
    Collector,
    Country,
    EmergencyContact,
    FamilyPaper,
    FileKind,
    Guardian,
    Household,
    Role,
    StoredFile,
    User,
)
from provider.selectors.retention import erasure, family_records
from provider.services import families, people
from provider.services.families import change_household
from provider.services.retention import CannotErase, erase_family
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2025, 9, 1)
NOW = datetime(2025, 9, 1, 17, 0, tzinfo=UTC)
CARE_END = date(2025, 7, 1)


@pytest.fixture(autouse=True)
def _noon() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def _left(region: str = "BC", end: date | None = CARE_END) -> Household:
    """A Canadian family with records of every kind, whose child left."""
    provider = make.make_provider(Country.CANADA, region=region)
    household = make.make_household(
        provider, name="Alder", address="1 Lane", phone="555-0100", email="alder@example.org", note="Owes a visit"
    )
    guardian = make.make_guardian(household, name="Robin Alder", phone="555-0101", email="robin@example.org")
    child = make.make_child(household, name="Wren Alder", preferred_name="Wren", physician="Dr. Elm")
    make.make_enrolment(child, date(2024, 9, 1), end=end)
    make.make_attendance(child, date(2025, 3, 12))
    make.make_incident(child, what="Fell", told_whom="Robin")
    make.make_dose(make.make_medication(child), note="Took it well")
    make.make_day_note(child, text="Sang a song")
    make.make_observation(child, text="Stacked seven blocks")
    make.make_care_need(child, what="Sesame", start=date(2024, 9, 1))
    Collector.objects.create(provider=provider, child=child, name="Aunt", start=date(2024, 9, 1))
    EmergencyContact.objects.create(provider=provider, child=child, name="Neighbour", phone="555-0102")
    assert guardian.pk
    return household


def _erase(household: Household, today: date = TODAY, **changes: Any) -> Household:
    given = {"reason": "Asked by letter", **changes}
    return erase_family(provider=household.provider, actor=None, today=today, household=household, **given)


def test_it_blanks_what_no_rule_keeps() -> None:
    household = _erase(_left())

    child = Child.objects.get()
    guardian = Guardian.objects.get()
    assert (household.address, household.phone, household.email, household.note) == ("", "", "", "")
    assert (guardian.phone, guardian.email) == ("", "")
    assert (child.preferred_name, child.label_letters, child.physician) == ("", "", "")
    assert child.care_needs.get().what == "–"
    assert child.collectors.get().name == "–"
    assert child.emergency_contacts.get().phone == "–"
    assert child.day_notes.get().text == "–"
    assert child.observations.get().text == "–"
    assert child.erased_at == NOW


def test_it_blanks_the_pieces_that_carry_the_childs_name_and_puts_them_by() -> None:
    household = _left()
    making = make.make_making(make.make_recipe(household.provider), texts=("wren", "Robin", "W"))

    _erase(household)

    pieces = making.lot.marked_pieces.order_by("pk")
    assert [(piece.text, piece.state) for piece in pieces] == [("–", "put_by"), ("Robin", "good"), ("W", "good")]


def test_it_leaves_the_pieces_of_another_child_of_the_same_name() -> None:
    household = _left()
    make.make_child(make.make_household(household.provider, name="Birch"), name="Wren Birch")
    making = make.make_making(make.make_recipe(household.provider), texts=("Wren", "Alder"))

    _erase(household)

    assert [piece.text for piece in making.lot.marked_pieces.order_by("pk")] == ["Wren", "–"]


def test_it_keeps_what_must_be_kept_and_the_names_with_it() -> None:
    household = _erase(_left())

    child = Child.objects.get()
    assert (household.name, child.name, child.birth_date) == ("Alder", "Wren Alder", date(2022, 5, 14))
    assert (child.incidents.get().what, child.medications.get().name) == ("Fell", "Fever drops")
    assert child.medications.get().doses.get().note == "Took it well"
    assert child.attendance.count() == 1


def test_it_keeps_the_childs_file_where_the_place_asks_for_it() -> None:
    household = _erase(_left("QC"))

    assert (household.phone, household.note) == ("555-0100", "")
    assert Child.objects.get().physician == "Dr. Elm"
    assert Child.objects.get().care_needs.get().what == "Sesame"


def test_it_replaces_the_names_once_nothing_must_be_kept() -> None:
    household = _left("QC")
    _erase(household)

    later = _erase(household, today=CARE_END.replace(year=2031))

    child = Child.objects.get()
    assert (child.name, child.birth_date, child.physician) == ("–", date(2022, 1, 1), "")
    assert Guardian.objects.get().name == "–"
    assert "Alder" not in later.name
    assert child.incidents.get().what == "–"
    assert child.attendance.get().arrived_at is not None


def test_it_keeps_a_record_until_the_very_day() -> None:
    household = _left("QC")

    day_before, day = CARE_END.replace(year=2031, month=6, day=30), CARE_END.replace(year=2031)

    assert erasure(household, day_before).keeps_name
    assert not erasure(household, day).keeps_name


def test_it_takes_old_values_and_names_out_of_the_trail() -> None:
    household = _left()
    change_household(
        provider=household.provider, actor=None, today=TODAY, household=household, version=1, note="A secret matter"
    )
    _erase(household)
    assert not any("secret" in str(entry.changes) for entry in AuditEntry.objects.all())

    _erase(household, today=date(2040, 1, 1))

    assert not any("Alder" in f"{entry.summary} {entry.object_label}" for entry in AuditEntry.objects.all())


def test_it_takes_what_was_blanked_out_of_the_trail_while_the_names_stay() -> None:
    household = _left()
    writer = {"provider": household.provider, "actor": None, "today": TODAY}
    child = household.children.get()
    people.add_beside(**writer, child=child, model=EmergencyContact, name="Odd Neighbour", phone="1", position=1)
    families.change_child(**writer, child=child, version=1, name="Wren Alder", birth_date=child.birth_date)

    _erase(household)

    trail = [f"{entry.summary} {entry.object_label}" for entry in AuditEntry.objects.all()]
    assert (any("Neighbour" in line for line in trail), any("Wren" in line for line in trail)) == (False, True)


def test_it_blanks_the_wish_that_led_to_the_place() -> None:
    household = _left()
    wish = make.make_waiting(household.provider, child=household.children.get(), contact_name="Robin", phone="555-0101")

    _erase(household)

    wish.refresh_from_db()
    assert (wish.child_name, wish.contact_name, wish.phone, wish.birth_date) == ("–", "–", "", None)


def test_it_forgets_the_names_in_every_line_once_nothing_must_be_kept() -> None:
    household = _left()
    families.end_enrolment(
        provider=household.provider,
        actor=None,
        today=TODAY,
        enrolment=household.children.get().enrolments.get(),
        version=1,
        end=date(2025, 6, 1),
    )
    assert any("Wren" in entry.summary for entry in AuditEntry.objects.all())

    _erase(household, today=date(2040, 1, 1))

    assert not any("Wren" in f"{entry.summary} {entry.object_label}" for entry in AuditEntry.objects.all())


def test_it_says_in_the_trail_that_a_family_was_erased_and_why() -> None:
    household = _erase(_left())

    entry = AuditEntry.objects.get(verb="erase")
    assert (entry.object_public_id, "Asked by letter" in entry.summary) == (household.public_id, True)


def test_it_takes_the_papers_and_their_files_away(
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    household = _left()
    stored = StoredFile(
        provider=household.provider, kind=FileKind.PDF, size=4, sha256="0" * 64, original_name="wren-inhaler.pdf"
    )
    stored.file.save("paper.pdf", ContentFile(b"%PDF"))
    FamilyPaper.objects.create(provider=household.provider, household=household, kind="medical_plan", file=stored)

    with django_capture_on_commit_callbacks(execute=True):
        _erase(household)

    assert FamilyPaper.objects.get().file is None
    assert not StoredFile.objects.exists()
    assert not stored.file.storage.exists(stored.file.name)
    assert not any("wren" in f"{entry.summary}{entry.object_label}" for entry in AuditEntry.objects.all())


def test_it_closes_the_familys_login_but_not_one_used_elsewhere() -> None:
    household = _left()
    alone = make.make_member(household.provider, Role.FAMILY, household)
    both = make.make_member(household.provider, Role.FAMILY, household)
    elsewhere = make.make_provider()
    elsewhere_household = make.make_household(elsewhere)
    both.memberships.create(provider=elsewhere, role=Role.FAMILY, household=elsewhere_household)

    _erase(household)

    assert dict(User.objects.values_list("pk", "is_active")) == {alone.pk: False, both.pk: True}


def test_it_touches_no_other_family() -> None:
    household = _left()
    other = make.make_household(household.provider, phone="555-0199")
    make.make_day_note(make.make_child(other, physician="Dr. Oak"), text="Built a tower")

    _erase(household)

    other.refresh_from_db()
    assert (other.phone, other.children.get().physician) == ("555-0199", "Dr. Oak")
    assert other.children.get().day_notes.get().text == "Built a tower"


@pytest.mark.parametrize("end", [None, date(2025, 9, 2)])
def test_it_refuses_while_a_child_has_a_place(end: date | None) -> None:
    household = _left(end=end)

    with pytest.raises(CannotErase):
        _erase(household)

    household.refresh_from_db()
    assert household.phone == "555-0100"


def test_it_erases_from_the_first_day_without_a_place() -> None:
    assert _erase(_left(end=TODAY)).phone == ""


def test_it_wants_a_reason() -> None:
    with pytest.raises(DomainError) as refused:
        _erase(_left(), reason=" ")

    assert refused.value.field == "reason"


def _invoice(household: Household) -> Invoice:
    return Invoice.objects.create(
        provider=household.provider,
        year=2025,
        number=1,
        household=household,
        guardian=household.guardians.get(),
        issued_on=date(2025, 6, 1),
        due_on=date(2025, 6, 6),
        covers_start=date(2025, 6, 1),
        covers_end=date(2025, 7, 1),
        total=Decimal("800.00"),
        issuer_name="Home",
        payer_name="Robin Alder",
    )


def test_it_refuses_while_money_is_open() -> None:
    household = _left()
    _invoice(household)

    with pytest.raises(CannotErase, match=r"\$800\.00"):
        _erase(household)


def test_it_keeps_the_names_for_the_invoices_until_the_tax_years_are_over() -> None:
    household = _left("ON")
    _invoice(household)
    Payment.objects.create(
        provider=household.provider,
        household=household,
        on=date(2026, 1, 5),
        amount=Decimal("800.00"),
        method=Method.CASH,
    )

    plan = erasure(household, TODAY)
    _erase(household, today=date(2032, 12, 31))

    assert plan.until == date(2033, 1, 1)
    household.refresh_from_db()
    assert household.name == "Alder"


def test_it_lets_a_kept_report_be_corrected_but_nothing_new_be_written() -> None:
    household = _left("QC")
    _erase(household)
    owner, child = Client(), household.children.get()
    owner.force_login(make.make_member(household.provider))

    correct = reverse("provider:incident_correct", args=[household.provider.slug, child.incidents.get().public_id])
    pages = [owner.get(correct), owner.get(reverse("provider:incident_add", args=[household.provider.slug]))]

    assert [child.public_id in page.content.decode() for page in pages] == [True, False]


def test_it_erases_once_when_the_form_is_sent_twice() -> None:
    household = _left()
    _erase(household, submission_key="key")
    _erase(household, submission_key="key")

    assert AuditEntry.objects.filter(verb="erase").count() == 1


def test_it_shows_the_earliest_dates_while_care_goes_on() -> None:
    found = family_records(_left("QC", end=None), TODAY)

    assert found.care_end is None
    assert {each.record: each.keep.until for each in found.records}["attendance"] == TODAY.replace(year=2031)


def _client(household: Household, role: Role) -> Client:
    client = Client()
    client.force_login(make.make_member(household.provider, role))
    return client


def _address(name: str, household: Household) -> str:
    return reverse(f"provider:{name}", args=[household.provider.slug, household.public_id])


def test_it_lists_what_goes_and_what_stays_before_the_act() -> None:
    household = _left("ON")
    owner = _client(household, Role.OWNER)

    page = owner.get(_address("household_erase", household)).content.decode()
    goes, stays = page.split("Stays until its date")

    assert "Notes on the days" in goes
    assert "The words of incident and illness reports" in stays
    assert "O. Reg. 137/15 s. 82" in stays
    assert "from memory" in stays
    assert Household.objects.get(pk=household.pk).note == "Owes a visit"


def test_it_erases_from_the_page() -> None:
    household = _left()

    page: Any = _client(household, Role.OWNER).post(
        _address("household_erase", household), {"reason": "Asked by letter"}, follow=True
    )

    assert "Erased on" in page.content.decode()
    assert Household.objects.get(pk=household.pk).phone == ""


def test_it_says_on_the_page_why_it_cannot_erase_yet() -> None:
    household = _left(end=None)

    page = _client(household, Role.OWNER).post(_address("household_erase", household), {"reason": "Asked"})

    assert page.status_code == 422
    assert "End it first" in page.content.decode()


def test_it_lets_a_helper_see_the_dates_and_not_erase() -> None:
    household = _left()
    helper = _client(household, Role.HELPER)

    assert helper.get(_address("household_records", household)).status_code == 200
    assert helper.get(_address("household_erase", household)).status_code == 403


def test_it_blanks_who_brought_and_collected_only_after_its_time() -> None:
    household = _left("QC")
    stay = Child.objects.get().attendance.get()
    stay.brought_by = "Robin"
    stay.save()
    absent = {"provider": household.provider, "day": date(2025, 3, 13), "absence": "Ill with a cold"}
    Child.objects.get().attendance.create(**absent)

    _erase(household)
    kept = list(Child.objects.get().attendance.order_by("day").values_list("brought_by", "absence"))
    _erase(household, today=date(2040, 1, 1))
    gone = list(Child.objects.get().attendance.order_by("day").values_list("brought_by", "absence"))

    assert kept == [("Robin", ""), ("", "Ill with a cold")]
    assert gone == [("", ""), ("", "–")]
