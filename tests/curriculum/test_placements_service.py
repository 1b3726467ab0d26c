from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from curriculum.models import Keeping, Material, Placement, PutAway, RunWork
from curriculum.selectors.runs import room_of, still_to_count, work_of, youngest_birth
from curriculum.selectors.stock import stock_of
from curriculum.services.placements import NotEnough, place_lot, put_away, unplace, void_put_away
from curriculum.services.work import log_run_work
from provider.errors import DomainError, ForeignRow, PeriodLocked, StaleRow
from provider.models import WorkKind
from tests.factories import (
    lock_year,
    make_centre,
    make_child,
    make_enrolment,
    make_household,
    make_lot,
    make_provider,
    make_run,
)

DAY = date(2025, 3, 10)
TEN = Decimal(10)


@pytest.fixture
def paint(provider):
    """Twelve sheets that are used up."""
    material = Material.objects.create(provider=provider, name="Sheets", keeping=Keeping.CONSUMABLE)
    return make_lot(provider, "12.00", material=material, quantity=Decimal(12))


@pytest.fixture
def april(provider):
    return make_run(provider, date(2025, 4, 1), date(2025, 5, 1))


def test_it_lays_a_lot_out_in_a_centre(writer, run, lot, centre):
    placement = place_lot(**writer, run=run, lot=lot, centre=centre, quantity=TEN)
    (view,) = room_of(run)
    assert (view.centre, view.laid[0].placement, view.pieces) == (centre, placement, TEN)


def test_it_refuses_more_than_is_on_hand(writer, run, lot):
    with pytest.raises(NotEnough) as refused:
        place_lot(**writer, run=run, lot=lot, quantity=Decimal(13))
    assert (refused.value.held, refused.value.field) == (12, "quantity")


def test_it_counts_what_broke_before_as_no_longer_on_hand(writer, provider, lot, place, april):
    row = put_away(**writer, placement=place("12"), on=DAY, broken=Decimal(5), returned=Decimal(7))
    assert row.pk
    with pytest.raises(NotEnough) as refused:
        place_lot(**writer, run=april, lot=lot, quantity=Decimal(8))
    assert refused.value.held == 7


@pytest.mark.parametrize("quantity", [Decimal(0), Decimal(-1)])
def test_it_refuses_to_lay_out_nothing(writer, run, lot, quantity):
    with pytest.raises(DomainError) as refused:
        place_lot(**writer, run=run, lot=lot, quantity=quantity)
    assert refused.value.field == "quantity"


def test_it_refuses_the_same_lot_twice_in_one_run(writer, run, lot, place):
    place("1")
    with pytest.raises(DomainError):
        place_lot(**writer, run=run, lot=lot, quantity=Decimal(1))


def test_it_refuses_a_lot_that_came_after_the_run(writer, provider, lot):
    before = make_run(provider, date(2024, 12, 1), date(2025, 1, 1))
    with pytest.raises(DomainError):
        place_lot(**writer, run=before, lot=lot, quantity=Decimal(1))


def test_it_lays_out_once_for_two_posts_of_one_form(writer, run, lot):
    given = {"run": run, "lot": lot, "quantity": TEN, "submission_key": "k"}
    assert place_lot(**writer, **given) == place_lot(**writer, **given)


def test_it_plans_a_durable_lot_for_the_next_run_while_it_lies_out(writer, april, lot, place):
    place("12")
    assert place_lot(**writer, run=april, lot=lot, quantity=Decimal(12)).pk


def test_it_does_not_promise_a_consumable_lot_twice(writer, april, paint, place):
    place("9", lot=paint)
    with pytest.raises(NotEnough) as refused:
        place_lot(**writer, run=april, lot=paint, quantity=Decimal(4))
    assert refused.value.held == 3


@pytest.mark.parametrize("which", ["run", "lot", "centre"])
def test_it_refuses_rows_of_another_business(writer, run, lot, centre, which):
    other = make_provider()
    foreign = {"run": make_run, "lot": make_lot, "centre": make_centre}[which](other)
    with pytest.raises(ForeignRow):
        place_lot(**writer, **{"run": run, "lot": lot, "centre": centre, which: foreign}, quantity=Decimal(1))


def test_it_refuses_to_lay_out_in_a_run_of_a_closed_year(writer, provider):
    run = make_run(provider, date(2024, 12, 1), date(2025, 1, 1))
    lot = make_lot(provider, on=date(2024, 6, 1))
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        place_lot(**writer, run=run, lot=lot, quantity=Decimal(1))


def test_it_takes_a_lot_out_of_a_run(writer, run, lot, place):
    unplace(**writer, placement=place(), version=1)
    assert room_of(run)[0].laid == ()
    assert place_lot(**writer, run=run, lot=lot, quantity=TEN).pk


def test_it_does_not_take_out_what_was_put_away(writer, place):
    placement = place()
    put_away(**writer, placement=placement, on=DAY, returned=Decimal(1))
    with pytest.raises(DomainError):
        unplace(**writer, placement=placement, version=1)


def test_it_takes_a_lot_out_only_once(writer, place):
    placement = unplace(**writer, placement=place(), version=1)
    with pytest.raises(StaleRow):
        unplace(**writer, placement=placement, version=1)


def test_it_counts_in_several_goes(writer, run, place):
    placement = place("10")
    put_away(**writer, placement=placement, on=DAY, returned=Decimal(6), broken=Decimal(1))
    (laid,) = still_to_count(room_of(run))
    assert (laid.still_out, laid.gone) == (3, 1)
    put_away(**writer, placement=placement, on=DAY, missing=Decimal(3))
    assert still_to_count(room_of(run)) == []


def test_it_refuses_more_put_away_than_lies_out(writer, place):
    placement = place("10")
    put_away(**writer, placement=placement, on=DAY, returned=Decimal(6))
    with pytest.raises(NotEnough) as refused:
        put_away(**writer, placement=placement, on=DAY, returned=Decimal(4), broken=Decimal(1))
    assert refused.value.held == 4
    assert PutAway.objects.count() == 1


def test_it_refuses_to_lose_pieces_that_another_run_lost(writer, provider, lot, place, run):
    february = make_run(provider, date(2025, 2, 1), date(2025, 3, 1))
    first, second = place("12", run=february), place("12")
    put_away(**writer, placement=first, on=DAY, broken=Decimal(10), returned=Decimal(2))
    with pytest.raises(NotEnough) as refused:
        put_away(**writer, placement=second, on=DAY, missing=Decimal(3))
    assert (refused.value.held, stock_of(lot).on_hand) == (2, 2)


@pytest.mark.parametrize("name", ["returned", "broken", "missing", "used_up"])
def test_it_refuses_a_negative_count(writer, place, name):
    with pytest.raises(DomainError) as refused:
        put_away(**writer, placement=place(), on=DAY, **{"returned": Decimal(2), name: Decimal(-1)})
    assert refused.value.field == name


def test_it_refuses_an_empty_count(writer, place):
    with pytest.raises(DomainError):
        put_away(**writer, placement=place(), on=DAY)


@pytest.mark.parametrize("on", [date(2025, 2, 28), date(2025, 3, 13)])
def test_it_refuses_a_count_before_the_run_or_in_the_future(writer, place, on):
    with pytest.raises(DomainError) as refused:
        put_away(**writer, placement=place(), on=on, returned=TEN)
    assert refused.value.field == "on"


def test_it_counts_after_the_run_is_over(writer, provider, place):
    placement = place(run=make_run(provider, date(2025, 2, 1), date(2025, 3, 1)))
    assert put_away(**writer, placement=placement, on=DAY, returned=TEN).pk


def test_it_refuses_a_count_in_a_closed_year(writer, provider, place):
    run = make_run(provider, date(2024, 12, 1), date(2025, 1, 1))
    lot = make_lot(provider, on=date(2024, 6, 1), quantity=TEN)
    lock_year(provider, 2024)
    with pytest.raises(PeriodLocked):
        put_away(**writer, placement=place(run=run, lot=lot), on=date(2024, 12, 20), returned=TEN)


def test_nothing_of_a_durable_material_is_used_up(writer, place):
    with pytest.raises(DomainError) as refused:
        put_away(**writer, placement=place(), on=DAY, used_up=Decimal(1))
    assert refused.value.field == "used_up"


def test_it_uses_a_consumable_material_up(writer, place, paint):
    put_away(**writer, placement=place("9", lot=paint), on=DAY, used_up=Decimal(5), returned=Decimal(4))
    assert stock_of(paint).free == 7


def test_it_counts_once_for_two_posts_of_one_form(writer, place):
    given = {"placement": place(), "on": DAY, "returned": Decimal(5), "submission_key": "k"}
    assert put_away(**writer, **given) == put_away(**writer, **given)


def test_it_undoes_a_count(writer, run, lot, place):
    row = put_away(**writer, placement=place("10"), on=DAY, broken=Decimal(3), returned=Decimal(7))
    void_put_away(**writer, row=row, version=1)
    assert (stock_of(lot).on_hand, still_to_count(room_of(run))[0].still_out) == (12, 10)


def test_it_does_not_undo_a_count_whose_pieces_lie_elsewhere(writer, april, place, paint):
    row = put_away(**writer, placement=place("12", lot=paint), on=DAY, returned=Decimal(12))
    place_lot(**writer, run=april, lot=paint, quantity=Decimal(12))
    with pytest.raises(DomainError):
        void_put_away(**writer, row=row, version=1)
    assert PutAway.objects.get().voided_at is None


def test_it_does_not_undo_a_count_of_a_closed_period(writer, provider, place):
    row = put_away(**writer, placement=place(), on=DAY, returned=TEN)
    lock_year(provider, 2025)
    with pytest.raises(PeriodLocked):
        void_put_away(**writer, row=row, version=1)


def test_the_room_is_walked_in_the_order_of_its_centres(provider, run, centre, place):
    first = make_centre(provider, position=0)
    here, nowhere, there = place(), place("1", lot=make_lot(provider), centre=None), make_lot(provider)
    earlier = place("1", lot=there, centre=first)
    walk = [laid.placement for laid in still_to_count(room_of(run))]
    assert walk == [earlier, here, nowhere]


def test_it_looks_at_the_room_with_three_queries(provider, run, place, django_assert_num_queries):
    for _ in range(4):
        place("1", lot=make_lot(provider), centre=make_centre(provider))
    with django_assert_num_queries(3):
        room_of(run)


def test_it_logs_work_for_a_run(writer, run):
    row = log_run_work(
        **writer,
        now=datetime(2025, 3, 12, 17, tzinfo=UTC),
        run=run,
        kind=WorkKind.PREPARE,
        started_at=datetime(2025, 3, 11, 23, tzinfo=UTC),
        ended_at=datetime(2025, 3, 12, 1, tzinfo=UTC),
    )
    assert list(work_of(run)) == [row]


def test_it_logs_work_once_for_two_posts_of_one_form(writer, run):
    given = {
        "now": datetime(2025, 3, 12, 17, tzinfo=UTC),
        "run": run,
        "kind": WorkKind.CLEAN,
        "started_at": datetime(2025, 3, 11, 23, tzinfo=UTC),
        "ended_at": datetime(2025, 3, 12, 1, tzinfo=UTC),
        "submission_key": "k",
    }
    assert log_run_work(**writer, **given) == log_run_work(**writer, **given)
    assert RunWork.objects.count() == 1


def test_work_of_a_run_of_another_business_is_refused(writer):
    with pytest.raises(ForeignRow):
        log_run_work(
            **writer,
            now=datetime(2025, 3, 12, 17, tzinfo=UTC),
            run=make_run(make_provider()),
            kind=WorkKind.CLEAN,
            started_at=datetime(2025, 3, 11, 23, tzinfo=UTC),
            ended_at=datetime(2025, 3, 12, 1, tzinfo=UTC),
        )
    assert not RunWork.objects.exists()


def test_the_youngest_child_is_the_youngest_enrolled_or_own(provider, run):
    household = make_household(provider)
    make_enrolment(make_child(household, birth_date=date(2023, 1, 5)))
    left = make_child(household, birth_date=date(2024, 8, 1))
    make_enrolment(left, start=date(2025, 1, 1), end=date(2025, 3, 1))
    make_child(household, birth_date=date(2025, 2, 2))
    assert youngest_birth(provider, run.span) == date(2023, 1, 5)
    make_child(household, birth_date=date(2024, 9, 9), is_own_child=True)
    assert youngest_birth(provider, run.span) == date(2024, 9, 9)


def test_a_placement_keeps_its_history_when_it_is_taken_out(writer, place):
    unplace(**writer, placement=place(), version=1)
    assert Placement.objects.get().voided_at
