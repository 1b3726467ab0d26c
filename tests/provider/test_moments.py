from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, StaleRow
from provider.models import AuditEntry, CareMoment, Child, DayNote, Provider, Role
from provider.selectors.moments import small_days
from provider.services import moments as services
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
def baby(provider: Provider) -> Child:
    child = make.make_child(make.make_household(provider), name="Small One", birth_date=date(2024, 6, 1))
    make.make_enrolment(child, date(2025, 1, 6))
    make.make_attendance(child, TODAY, leaves=None)
    return child


def _tap(child: Child, kind: str = "diaper", **changes: Any) -> CareMoment:
    given = {"now": NOW, "kind": kind, **changes}
    return services.record_moment(provider=child.provider, actor=None, today=TODAY, child=child, **given)


def _undo(moment: CareMoment, now: datetime, reason: str = "") -> CareMoment:
    return services.undo_moment(
        provider=moment.provider, actor=None, today=TODAY, now=now, moment=moment, reason=reason
    )


def test_it_records_one_moment_when_a_tap_is_sent_twice(baby: Child) -> None:
    assert _tap(baby, submission_key="key") == _tap(baby, submission_key="key")
    assert CareMoment.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"at": NOW + timedelta(minutes=3)}, "at"),
        ({"amount": 120}, "amount"),
        ({"kind": "bottle", "amount": 0}, "amount"),
        ({"kind": "bottle", "amount": 1_001}, "amount"),
        ({"kind": "unheard"}, "kind"),
    ],
)
def test_it_refuses_a_moment_that_cannot_be(baby: Child, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refused:
        _tap(baby, **changes)

    assert refused.value.field == field
    assert not CareMoment.objects.exists()


def test_it_takes_a_wrong_tap_back_without_a_word_for_half_an_hour(baby: Child) -> None:
    moment = _undo(_tap(baby), NOW + timedelta(minutes=30))

    assert moment.voided_at is not None


def test_it_asks_for_a_reason_after_that(baby: Child) -> None:
    moment = _tap(baby)

    with pytest.raises(DomainError) as asked:
        _undo(moment, NOW + timedelta(minutes=31))

    assert asked.value.field == "reason"
    assert _undo(moment, NOW + timedelta(hours=2), "It was her brother").voided_at is not None


def test_it_undoes_a_moment_once(baby: Child) -> None:
    moment = _tap(baby)

    assert _undo(moment, NOW).version == _undo(moment, NOW).version


def test_it_offers_the_last_bottle_and_knows_who_sleeps(baby: Child) -> None:
    _tap(baby, "bottle", amount=150, at=NOW - timedelta(days=1))
    _tap(baby, "awake", at=NOW - timedelta(hours=2))
    _tap(baby, "asleep", at=NOW - timedelta(hours=1))

    (day,) = small_days(baby.provider, [baby], TODAY)

    assert (day.bottle, day.is_asleep, [each.kind for each in day.moments]) == (150, True, ["asleep", "awake"])


def test_it_counts_the_day_where_the_child_is(baby: Child) -> None:
    late = datetime(2025, 3, 13, 3, 0, tzinfo=UTC)  # still the 12th in Chicago
    make.make_moment(baby, late)
    make.make_moment(baby, late, voided_at=late)

    assert [len(small_days(baby.provider, [baby], day)[0].moments) for day in (TODAY, date(2025, 3, 13))] == [1, 0]


def test_it_reads_the_day_in_three_queries_whatever_the_number_of_children(
    baby: Child, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    children = [baby, make.make_child(baby.household), make.make_child(baby.household)]
    for child in children:
        make.make_moment(child)
        make.make_day_note(child)

    with django_assert_num_queries(3):
        assert sum(len(each.moments) + len(each.notes) for each in small_days(baby.provider, children, TODAY)) == 6


@pytest.fixture
def helper(provider: Provider) -> Client:
    client = Client()
    client.force_login(make.make_member(provider, Role.HELPER))
    return client


def _address(name: str, provider: Provider, *rows: Any) -> str:
    return reverse(f"provider:{name}", args=[provider.slug, *(row.public_id for row in rows)])


def test_it_shows_the_children_under_three_and_the_others_when_asked(helper: Client, baby: Child) -> None:
    older = make.make_child(baby.household, name="Bigger One", birth_date=date(2022, 3, 12))  # three today
    make.make_attendance(older, TODAY, leaves=None)

    few = helper.get(_address("moments", baby.provider)).content.decode()
    everybody = helper.get(_address("moments", baby.provider) + "?all").content.decode()

    assert ("Small One" in few, "Bigger One" in few) == (True, False)
    assert ("Small One" in everybody, "Bigger One" in everybody) == (True, True)


def test_it_records_a_bottle_and_a_diaper_with_one_tap_each(helper: Client, baby: Child) -> None:
    tap = _address("moment_tap", baby.provider, baby)

    helper.post(tap, {"kind": "bottle", "amount": "150"})
    helper.post(tap, {"kind": "diaper"})

    assert set(CareMoment.objects.values_list("kind", "amount")) == {("bottle", 150), ("diaper", None)}


@pytest.mark.parametrize("sent", [{"kind": "bottle", "amount": "a lot"}, {"kind": "nonsense"}, {}])
def test_it_says_when_a_tap_recorded_nothing(helper: Client, baby: Child, sent: dict[str, str]) -> None:
    page: Any = helper.post(_address("moment_tap", baby.provider, baby), sent, follow=True)

    assert "Nothing was recorded" in page.content.decode()
    assert not CareMoment.objects.exists()


def test_it_undoes_from_the_page_and_asks_late(helper: Client, baby: Child) -> None:
    fresh, old = make.make_moment(baby), make.make_moment(baby)
    CareMoment.objects.filter(pk=old.pk).update(created_at=NOW - timedelta(hours=3))

    helper.post(_address("moment_undo", baby.provider, fresh))
    asked = helper.post(_address("moment_undo", baby.provider, old))

    fresh.refresh_from_db()
    old.refresh_from_db()
    assert (fresh.voided_at is None, old.voided_at is None, asked.status_code) == (False, True, 422)


def test_it_shows_a_past_day_with_its_notes(helper: Client, baby: Child) -> None:
    make.make_moment(baby)
    make.make_day_note(baby, text="Slept well")

    page = helper.get(reverse("provider:moments_day", args=[baby.provider.slug, 2025, 3, 12])).content.decode()

    assert "Slept well" in page
    assert "Diaper" in page


def _note(child: Child, **changes: Any) -> DayNote:
    given = {"day": TODAY, "text": "Slept well", "for_family": True, **changes}
    return services.add_day_note(provider=child.provider, actor=None, today=TODAY, child=child, **given)


def test_it_asks_about_a_stale_note(baby: Child) -> None:
    note = _note(baby)
    changed = {"provider": baby.provider, "actor": None, "today": TODAY, "note": note, "day": TODAY}
    services.change_day_note(**changed, version=1, text="Slept an hour", for_family=True)

    with pytest.raises(StaleRow):
        services.change_day_note(**changed, version=1, text="Slept not at all", for_family=True)


def test_it_keeps_the_words_of_a_note_out_of_the_trail(baby: Child) -> None:
    note = _note(baby, text="A private matter")
    services.change_day_note(
        provider=baby.provider,
        actor=None,
        today=TODAY,
        note=note,
        version=1,
        day=TODAY,
        text="Another private matter",
        for_family=False,
    )

    assert not any("private" in f"{entry.summary}{entry.changes}" for entry in AuditEntry.objects.all())


def test_it_refuses_a_note_on_a_day_to_come(baby: Child) -> None:
    with pytest.raises(DomainError) as refused:
        _note(baby, day=date(2025, 3, 13))

    assert refused.value.field == "day"


def test_it_writes_changes_and_takes_out_a_note_from_the_pages(helper: Client, baby: Child) -> None:
    sent = {"child": baby.public_id, "day": "2025-03-12", "text": "Ate peas", "for_family": "on"}
    helper.post(_address("day_note_add", baby.provider), sent)
    note = DayNote.objects.get()
    changed = {"day": "2025-03-12", "text": "Ate all peas", "version": "1"}
    helper.post(_address("day_note_change", baby.provider, note), changed)
    note.refresh_from_db()
    assert (note.text, note.for_family) == ("Ate all peas", False)

    helper.post(_address("day_note_void", baby.provider, note), {"reason": "Wrong child"})

    note.refresh_from_db()
    assert note.voided_at is not None


def test_it_shows_a_family_only_the_notes_meant_for_it(baby: Child) -> None:
    other = make.make_child(make.make_household(baby.provider))
    make.make_day_note(baby, text="For the family")
    make.make_day_note(baby, text="Only here", for_family=False)
    make.make_day_note(baby, text="Taken out", voided_at=NOW)
    make.make_day_note(other, text="Of another child")
    client = Client()
    client.force_login(make.make_member(baby.provider, Role.FAMILY, baby.household))

    page = client.get(_address("family_days", baby.provider)).content.decode()

    assert "For the family" in page
    assert not any(words in page for words in ("Only here", "Taken out", "Of another child"))
