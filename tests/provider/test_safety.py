from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider import notices
from provider.errors import DomainError, ForeignRow
from provider.models import AuditEntry, Child, Drill, HomeCheck, Incident, Provider, Reminder, ReminderInterval, Role
from provider.selectors import safety as selectors
from provider.services import safety
from provider.services.safety import AlreadyCorrected, CheckedItem
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = datetime(2025, 3, 12, 17, 0, tzinfo=UTC)
TODAY = NOW.date()
FELL = {"kind": "injury", "happened_at": NOW - timedelta(hours=2), "what": "Fell off the step", "written_by": "Ana"}
TOLD = {"told_whom": "Her father", "told_how": "by telephone", "told_at": NOW - timedelta(hours=1)}
SIGNED = {"signed_by": "Her father", "signed_at": NOW}


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


def _writer(provider: Provider) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY, "now": NOW}


def _report(child: Child, **changes: Any) -> Incident:
    return safety.report_incident(**_writer(child.provider), child=child, **{**FELL, **changes})


def test_it_keeps_who_was_told_and_who_signed(child: Child) -> None:
    row = _report(child, **TOLD, **SIGNED)

    assert (row.told_whom, row.told_how, row.signed_by, row.signed_at) == (
        "Her father",
        "by telephone",
        "Her father",
        NOW,
    )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"happened_at": NOW + timedelta(minutes=3)}, "happened_at"),
        ({**TOLD, "told_at": NOW - timedelta(hours=3)}, "told_at"),
        ({**TOLD, "told_at": None}, "told_at"),
        ({**TOLD, "told_whom": ""}, "told_whom"),
        ({**TOLD, "told_how": ""}, "told_how"),
        ({**SIGNED, "signed_at": NOW + timedelta(hours=1)}, "signed_at"),
        ({**SIGNED, "signed_at": None}, "signed_at"),
        ({**SIGNED, "signed_by": ""}, "signed_by"),
        ({"what": ""}, "what"),
        ({"kind": "unheard"}, "kind"),
    ],
)
def test_it_refuses_a_report_that_cannot_be_true(child: Child, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refused:
        _report(child, **changes)

    assert refused.value.field == field
    assert not Incident.objects.exists()


def test_it_reports_once_when_the_form_is_sent_twice(child: Child) -> None:
    first = _report(child, submission_key="key")

    assert _report(child, submission_key="key") == first
    assert Incident.objects.count() == 1


def test_it_refuses_a_child_of_another_business(provider: Provider) -> None:
    stranger = make.make_child(make.make_household(make.make_provider()))

    with pytest.raises(ForeignRow):
        safety.report_incident(**_writer(provider), child=stranger, **FELL)


def test_it_corrects_by_a_new_row_and_keeps_the_old_one(child: Child) -> None:
    old = _report(child)

    new = safety.correct_incident(
        **_writer(child.provider), incident=old, reason="It was the chair", what="Fell off the chair"
    )

    old.refresh_from_db()
    assert (old.what, old.version) == ("Fell off the step", 1)
    assert (new.corrects, new.what, new.happened_at, new.correction_reason) == (
        old,
        "Fell off the chair",
        old.happened_at,
        "It was the chair",
    )
    assert list(selectors.incidents_of(child.provider)) == [new]
    assert selectors.incident_versions(old) == [new, old]


def test_it_does_not_correct_the_same_report_twice(child: Child) -> None:
    old = _report(child)
    safety.correct_incident(**_writer(child.provider), incident=old, reason="First", what="One")

    with pytest.raises(AlreadyCorrected):
        safety.correct_incident(**_writer(child.provider), incident=old, reason="Second", what="Two")


def test_it_wants_a_reason_for_a_correction(child: Child) -> None:
    with pytest.raises(DomainError) as refused:
        safety.correct_incident(**_writer(child.provider), incident=_report(child), reason=" ", what="One")

    assert refused.value.field == "reason"


def test_it_writes_into_a_closed_year_for_nothing_is_overwritten(child: Child) -> None:
    make.lock_year(child.provider, 2025)

    assert _report(child).pk


def test_it_leaves_the_words_of_a_report_out_of_the_trail(child: Child) -> None:
    old = _report(child, what="A rash on the arm", first_aid="Ointment")
    safety.correct_incident(**_writer(child.provider), incident=old, reason="Left arm", what="A rash on the left arm")

    told = " ".join(f"{entry.summary} {entry.object_label} {entry.changes}" for entry in AuditEntry.objects.all())
    assert "rash" not in told
    assert "Ointment" not in told


def test_it_lists_reports_in_two_queries_whatever_their_number(
    child: Child, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for _number in range(5):
        make.make_incident(child)

    with django_assert_num_queries(1):
        assert [row.child.name for row in selectors.incidents_of(child.provider)] == [child.name] * 5


def _drill(provider: Provider, **changes: Any) -> Drill:
    given = {"kind": "fire", "held_at": NOW, "adults": 1, "children": 4, "led_by": "Ana", "seconds": 95, **changes}
    return safety.record_drill(**_writer(provider), **given)


def test_it_records_and_corrects_a_drill(provider: Provider) -> None:
    old = _drill(provider)

    new = safety.correct_drill(**_writer(provider), drill=old, reason="Two adults", adults=2)

    assert (new.adults, new.seconds, new.corrects) == (2, 95, old)
    assert list(selectors.drills_of(provider)) == [new]


@pytest.mark.parametrize(
    ("changes", "field"), [({"held_at": NOW + timedelta(hours=1)}, "held_at"), ({"adults": 0}, "adults")]
)
def test_it_refuses_a_drill_that_cannot_be_true(provider: Provider, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refused:
        _drill(provider, **changes)

    assert refused.value.field == field


def _check(provider: Provider, *items: CheckedItem, **changes: Any) -> HomeCheck:
    given = {"done_on": TODAY, "done_by": "Ana", "items": items, **changes}
    return safety.record_home_check(provider=provider, actor=None, today=TODAY, **given)


def test_it_starts_the_next_round_with_the_last_list(provider: Provider) -> None:
    usual = selectors.items_to_check(provider)
    _check(provider, CheckedItem("Gate at the stairs", True), CheckedItem("Smoke alarms tested", True))

    assert "Smoke alarms tested" in usual
    assert selectors.items_to_check(provider) == ["Gate at the stairs", "Smoke alarms tested"]


@pytest.mark.parametrize(
    "items",
    [
        [],
        [CheckedItem("Gate", True), CheckedItem("gate", True)],
        [CheckedItem("Gate", False)],
    ],
)
def test_it_refuses_a_round_that_says_too_little(provider: Provider, items: list[CheckedItem]) -> None:
    with pytest.raises(DomainError):
        _check(provider, *items)


def test_it_knows_whether_everything_was_in_order(provider: Provider) -> None:
    good = _check(provider, CheckedItem("Gate", True))
    bad = _check(provider, CheckedItem("Gate", False, "A new latch is ordered"))

    assert (good.is_in_order, bad.is_in_order) == (True, False)


def test_it_counts_the_next_day_from_the_last_by_the_interval(provider: Provider) -> None:
    make.make_drill(provider, datetime(2025, 3, 1, 15, 0, tzinfo=UTC))
    make.make_home_check(provider, date(2025, 2, 1))
    safety.set_intervals(provider=provider, actor=None, today=TODAY, days={"drill": 180, "home_check": 30})

    drill, check = selectors.due(provider, TODAY)

    assert (drill.what, drill.due_on, drill.is_near(TODAY)) == (Reminder.DRILL, date(2025, 8, 28), False)
    assert (check.due_on, check.is_late(TODAY)) == (date(2025, 3, 3), True)


def test_it_takes_thirty_days_until_an_interval_is_set(provider: Provider) -> None:
    make.make_drill(provider, datetime(2025, 3, 1, 15, 0, tzinfo=UTC))

    assert selectors.due(provider, TODAY)[0].due_on == date(2025, 3, 31)


def test_it_refuses_an_interval_of_no_days(provider: Provider) -> None:
    with pytest.raises(DomainError):
        safety.set_intervals(provider=provider, actor=None, today=TODAY, days={"drill": 0})

    assert not ReminderInterval.objects.exists()


def test_it_reminds_on_today_of_what_is_late_and_of_what_was_never_done(provider: Provider) -> None:
    make.make_drill(provider, datetime(2025, 1, 1, 15, 0, tzinfo=UTC))

    late, never = notices.safety_due(provider, Role.HELPER, TODAY)

    assert (late.kind, late.text) == ("caution", "Emergency drill was due on Jan. 31, 2025.")
    assert (never.kind, never.text) == ("info", "Home check: none is recorded yet.")
    assert list(notices.safety_due(provider, Role.PREPARER, TODAY)) == []


def test_it_says_nothing_while_the_next_drill_is_far_off(provider: Provider) -> None:
    make.make_drill(provider, NOW)
    make.make_home_check(provider, TODAY)

    assert list(notices.safety_due(provider, Role.OWNER, TODAY)) == []


def test_it_asks_for_the_parent_until_the_report_is_signed(child: Child) -> None:
    row = _report(child)
    (untold,) = notices.incidents_to_sign(child.provider, Role.OWNER, TODAY)
    told = safety.correct_incident(**_writer(child.provider), incident=row, reason="Told", **TOLD)
    (unsigned,) = notices.incidents_to_sign(child.provider, Role.OWNER, TODAY)
    safety.correct_incident(**_writer(child.provider), incident=told, reason="Signed", **SIGNED)

    assert untold.text.startswith("Tell the parents")
    assert unsigned.text.endswith("is not signed.")
    assert list(notices.incidents_to_sign(child.provider, Role.OWNER, TODAY)) == []


@pytest.fixture
def client_of_helper(provider: Provider) -> Client:
    client = Client()
    client.force_login(make.make_member(provider, Role.HELPER))
    return client


def _address(name: str, provider: Provider, *rows: Any) -> str:
    return reverse(f"provider:{name}", args=[provider.slug, *(row.public_id for row in rows)])


def test_it_reports_from_the_page_and_shows_the_report(client_of_helper: Client, child: Child) -> None:
    sent = {
        "child": child.public_id,
        "kind": "illness",
        "happened_at_0": "2025-03-12",
        "happened_at_1": "09:30",
        "what": "Fever of 39",
        "written_by": "Ana",
    }

    page: Any = client_of_helper.post(_address("incident_add", child.provider), sent, follow=True)

    row = Incident.objects.get()
    assert row.happened_at == datetime(2025, 3, 12, 14, 30, tzinfo=UTC)  # Chicago has its summer time
    assert "Fever of 39" in page.content.decode()


def test_it_adds_the_signature_as_a_new_version(client_of_helper: Client, child: Child) -> None:
    row = _report(child)
    sent = {
        "told_whom": "Her father",
        "told_how": "in person",
        "told_at_0": "2025-03-12",
        "told_at_1": "11:00",
        "signed_by": "Her father",
        "signed_at_0": "2025-03-12",
        "signed_at_1": "11:05",
    }

    client_of_helper.post(_address("incident_told", child.provider, row), sent)

    newest = selectors.incident_versions(row)[0]
    assert (newest.signed_by, newest.what, newest.corrects) == ("Her father", row.what, row)


def test_it_shows_the_form_again_when_a_time_is_half_said(client_of_helper: Client, child: Child) -> None:
    sent = {"child": child.public_id, "kind": "injury", "happened_at_0": "2025-03-12", "what": "A", "written_by": "Ana"}

    page = client_of_helper.post(_address("incident_add", child.provider), sent)

    assert page.status_code == 422
    assert "Enter a time" in page.content.decode() or "Say the day and the time" in page.content.decode()


def test_it_links_a_report_to_the_earlier_versions(client_of_helper: Client, child: Child) -> None:
    old = _report(child)
    new = safety.correct_incident(**_writer(child.provider), incident=old, reason="It was the chair", what="Other")

    page = client_of_helper.get(_address("incident", child.provider, new)).content.decode()
    earlier = client_of_helper.get(_address("incident", child.provider, old)).content.decode()

    assert _address("incident", child.provider, old) in page
    assert _address("incident_correct", child.provider, new) in page
    assert _address("incident_correct", child.provider, old) not in earlier


def test_it_shows_only_the_reports_of_the_child_asked_for(client_of_helper: Client, child: Child) -> None:
    other = make.make_child(child.household, name="Somebody Else")
    make.make_incident(child)
    make.make_incident(other)

    page = client_of_helper.get(f"{_address('safety', child.provider)}?child={child.public_id}").content.decode()

    assert child.name in page
    assert "Somebody Else" not in page


def test_it_keeps_a_changed_list_of_a_home_check(client_of_helper: Client, provider: Provider) -> None:
    sent = {
        "done_on": "2025-03-12",
        "done_by": "Ana",
        "item_0": "Smoke alarms tested",
        "ok_0": "on",
        "item_1": "",
        "item_2": "Gate at the stairs",
        "note_2": "Latch ordered",
    }

    client_of_helper.post(_address("home_check_add", provider), sent)

    assert HomeCheck.objects.get().items == [
        {"item": "Smoke alarms tested", "ok": True, "note": ""},
        {"item": "Gate at the stairs", "ok": False, "note": "Latch ordered"},
    ]


def test_it_lets_only_the_owner_set_the_intervals(client_of_helper: Client, provider: Provider) -> None:
    assert client_of_helper.get(_address("safety_intervals", provider)).status_code == 403
