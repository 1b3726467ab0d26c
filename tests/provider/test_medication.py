from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError
from provider.models import Child, Dose, Medication, Provider, Role
from provider.selectors.safety import dose_versions, medicines_of, medicines_today
from provider.services import medication as services
from provider.services.medication import OutsideInstruction
from provider.services.safety import AlreadyCorrected
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = datetime(2025, 3, 12, 17, 0, tzinfo=UTC)  # noon in Chicago
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def _noon() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


@pytest.fixture
def child(provider: Provider) -> Child:
    return make.make_child(make.make_household(provider))


@pytest.fixture
def drops(child: Child) -> Medication:
    return make.make_medication(child)


def _give(drops: Medication, **changes: Any) -> Dose:
    given = {"now": NOW, "given_by": "Ana", **changes}
    return services.give_dose(provider=drops.provider, actor=None, today=TODAY, medication=drops, **given)


def _correct(dose: Dose, **changes: Any) -> Dose:
    given = {"given_at": dose.given_at, "amount": dose.amount, "given_by": "Ana", "note": "Misread", **changes}
    return services.correct_dose(provider=dose.provider, actor=None, today=TODAY, now=NOW, dose=dose, **given)


def test_it_gives_the_amount_of_the_instruction_now(drops: Medication) -> None:
    dose = _give(drops)

    assert (dose.amount, dose.given_at, dose.outside_because) == (Decimal("5.00"), NOW, "")


def test_it_gives_one_dose_when_the_button_is_pressed_twice(drops: Medication) -> None:
    assert _give(drops, submission_key="key") == _give(drops, submission_key="key")
    assert Dose.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"at": datetime(2025, 3, 9, 17, 0, tzinfo=UTC)}, "begins only"),
        ({"amount": Decimal("7.50")}, "says 5.00 ml"),
    ],
)
def test_it_questions_a_dose_outside_its_instruction(drops: Medication, changes: dict[str, Any], words: str) -> None:
    with pytest.raises(OutsideInstruction, match=words) as asked:
        _give(drops, **changes)

    assert asked.value.field == "outside_because"
    assert not Dose.objects.exists()


def test_it_questions_a_dose_that_comes_too_soon_even_from_somebody_else(drops: Medication) -> None:
    _give(drops, submission_key="hers", at=NOW - timedelta(minutes=10))

    with pytest.raises(OutsideInstruction, match="4 hours"):
        _give(drops, submission_key="mine")


def test_it_questions_a_dose_of_a_withdrawn_instruction(drops: Medication) -> None:
    services.withdraw_medication(
        provider=drops.provider, actor=None, today=TODAY, medication=drops, reason="A rash appeared"
    )

    with pytest.raises(OutsideInstruction, match="withdrawn"):
        _give(drops)


def test_it_records_the_questioned_dose_once_a_reason_is_given(drops: Medication) -> None:
    dose = _give(drops, amount=Decimal("2.50"), outside_because="Spat half of it out")

    assert (dose.amount, dose.outside_because) == (Decimal("2.50"), "Spat half of it out")


def test_it_keeps_no_reason_where_none_was_asked_for(drops: Medication) -> None:
    assert _give(drops, outside_because="Just so").outside_because == ""


@pytest.mark.parametrize("changes", [{"at": NOW + timedelta(hours=1)}, {"amount": Decimal(0)}, {"amount": Decimal(-1)}])
def test_it_refuses_a_dose_that_cannot_be_even_with_a_reason(drops: Medication, changes: dict[str, Any]) -> None:
    with pytest.raises(DomainError):
        _give(drops, outside_because="Because", **changes)


def test_it_corrects_a_dose_by_adding_one(drops: Medication) -> None:
    old = _give(drops)

    new = _correct(old, given_at=NOW - timedelta(hours=1))

    old.refresh_from_db()
    assert (old.given_at, old.version) == (NOW, 1)
    assert dose_versions(old) == [new, old]
    assert [dose for medicine in medicines_of(drops.child) for dose in medicine.doses] == [new]


def test_it_lets_a_dose_be_taken_back_as_not_given(drops: Medication) -> None:
    _correct(_give(drops), amount=Decimal(0))

    assert _give(drops, submission_key="again").outside_because == ""
    assert Dose.objects.count() == 3


def test_it_does_not_correct_the_same_dose_twice(drops: Medication) -> None:
    old = _give(drops)
    _correct(old)

    with pytest.raises(AlreadyCorrected):
        _correct(old)


def test_it_questions_a_correction_that_leaves_the_instruction(drops: Medication) -> None:
    with pytest.raises(OutsideInstruction):
        _correct(_give(drops), amount=Decimal("6.00"))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"dose": Decimal(0)}, "dose"),
        ({"most_per_day": 0}, "most_per_day"),
        ({"end": date(2025, 3, 12)}, "last_day"),
        ({"signed_on": date(2025, 3, 13)}, "signed_on"),
        ({"signed_by": ""}, "signed_by"),
    ],
)
def test_it_refuses_an_instruction_that_cannot_hold(child: Child, changes: dict[str, Any], field: str) -> None:
    given = {
        "name": "Drops",
        "dose": Decimal(5),
        "unit": "ml",
        "most_per_day": 3,
        "hours_between": 4,
        "start": TODAY,
        "end": date(2025, 3, 15),
        "signed_by": "Parent",
        "signed_on": TODAY,
        **changes,
    }

    with pytest.raises(DomainError) as refused:
        services.add_medication(provider=child.provider, actor=None, today=TODAY, child=child, **given)

    assert refused.value.field == field


def test_it_offers_today_only_what_is_in_force_today(child: Child, drops: Medication) -> None:
    make.make_medication(child, name="Over", end=TODAY)
    make.make_medication(child, name="To come", start=date(2025, 3, 13))
    make.make_medication(child, name="Withdrawn", voided_at=NOW)

    assert [each.medication for each in medicines_today(child.provider, [child], TODAY)] == [drops]


def test_it_reads_the_whole_log_in_two_queries(child: Child, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for _number in range(3):
        make.make_dose(make.make_medication(child))

    with django_assert_num_queries(2):
        assert sum(len(each.doses) for each in medicines_of(child)) == 3


@pytest.fixture
def helper(provider: Provider) -> Client:
    client = Client()
    client.force_login(make.make_member(provider, Role.HELPER))
    return client


def _address(name: str, provider: Provider, row: Any) -> str:
    return reverse(f"provider:{name}", args=[provider.slug, row.public_id])


def _sent(**changes: Any) -> dict[str, Any]:
    return {"amount": "5.00", "at_0": "2025-03-12", "at_1": "12:00", "given_by": "Ana", **changes}


def test_it_offers_the_dose_on_today_and_takes_it_as_it_stands(
    helper: Client, drops: Medication, provider: Provider
) -> None:
    make.make_enrolment(drops.child)
    make.make_attendance(drops.child, TODAY, leaves=None)
    give = _address("dose_give", provider, drops)

    today = helper.get(reverse("provider:today", args=[provider.slug])).content.decode()
    form = helper.get(give).context["form"]
    at = form["at"].value()
    local = at.astimezone(provider.zone)
    helper.post(give, _sent(at_0=f"{local:%Y-%m-%d}", at_1=f"{local:%H:%M}", amount=form["amount"].value()))

    assert give in today
    assert Dose.objects.get().outside_because == ""


def test_it_asks_for_a_reason_and_a_tick_before_a_doubtful_dose(helper: Client, drops: Medication) -> None:
    give = _address("dose_give", drops.provider, drops)
    assert 'type="hidden" name="anyway"' in helper.get(give).content.decode()

    asked = helper.post(give, _sent(amount="6"))
    unticked = helper.post(give, _sent(amount="6", outside_because="The parent said so on the telephone"))
    helper.post(give, _sent(amount="6", anyway="on", outside_because="The parent said so on the telephone"))

    assert (asked.status_code, unticked.status_code) == (422, 422)
    assert 'type="checkbox" name="anyway"' in asked.content.decode()
    assert Dose.objects.get().outside_because == "The parent said so on the telephone"


def test_it_wants_the_reason_with_the_tick(helper: Client, drops: Medication) -> None:
    page = helper.post(_address("dose_give", drops.provider, drops), _sent(amount="6", anyway="on"))

    assert page.status_code == 422
    assert not Dose.objects.exists()


def test_it_keeps_and_shows_the_signed_paper(helper: Client, child: Child) -> None:
    picture = BytesIO()
    Image.new("RGB", (40, 40), "white").save(picture, "PNG")
    sent = {
        "name": "Drops",
        "dose": "5",
        "unit": "ml",
        "most_per_day": "3",
        "hours_between": "4",
        "start": "2025-03-12",
        "last_day": "2025-03-14",
        "signed_by": "Parent",
        "signed_on": "2025-03-12",
        "file": SimpleUploadedFile("note.png", picture.getvalue()),
    }

    helper.post(_address("medication_add", child.provider, child), sent)

    row = Medication.objects.get()
    assert row.end == date(2025, 3, 15)
    paper: Any = helper.get(_address("medication_paper", child.provider, row))
    assert b"".join(paper.streaming_content).startswith(b"\xff\xd8")


def test_it_says_what_is_wrong_with_a_paper_that_is_none(helper: Client, child: Child) -> None:
    sent = {
        "name": "Drops",
        "dose": "5",
        "unit": "ml",
        "most_per_day": "3",
        "hours_between": "4",
        "start": "2025-03-12",
        "last_day": "2025-03-14",
        "signed_by": "Parent",
        "signed_on": "2025-03-12",
        "file": SimpleUploadedFile("note.exe", b"MZ"),
    }

    page = helper.post(_address("medication_add", child.provider, child), sent)

    assert page.status_code == 422
    assert not Medication.objects.exists()


def test_it_prints_the_log_of_a_child_with_what_was_outside(helper: Client, drops: Medication) -> None:
    make.make_dose(drops, outside_because="Spat out half")

    page = helper.get(_address("medication", drops.provider, drops.child)).content.decode()

    assert "Fever drops" in page
    assert "Spat out half" in page
