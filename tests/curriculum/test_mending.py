from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from billing.models import Receipt, ReceiptLine, Target
from billing.selectors.theme_cost import cost_of_run
from curriculum.models import BrokenThing, Mending, PutAway
from curriculum.selectors.mending import broken_before, broken_things, past_lives, undecided
from curriculum.selectors.runs import room_of
from curriculum.selectors.stock import stock_of
from curriculum.services.mending import change_broken, plan_broken
from curriculum.services.placements import place_lot, put_away, void_put_away
from provider.errors import DomainError, PeriodLocked, StaleRow
from provider.models import AuditEntry
from tests.factories import lock_year, make_broken, make_lot, make_provider, make_run

DAY = date(2025, 3, 10)
FOUR = Decimal(4)


@pytest.fixture
def count(writer, place):
    """Of twelve pieces for $48.00 that lie out, four came back broken."""
    return put_away(**writer, placement=place("12"), on=DAY, returned=Decimal(8), broken=FOUR, note="stepped on")


@pytest.fixture
def broken(writer, count):
    return plan_broken(**writer, put_away=count, quantity=FOUR, plan=Mending.REPAIR, how="the handles came off")


@pytest.fixture
def mend(writer, broken):
    def change(mended, **fields):
        given = {"plan": Mending.REPAIR, "done_on": DAY, "version": broken.version, **fields}
        return change_broken(**writer, broken=broken, mended=Decimal(mended), **given)

    return change


def cost(provider, run):
    return cost_of_run(provider, run, date(2025, 3, 12)).total


def test_it_plans_for_broken_pieces_with_the_count(writer, place):
    row = put_away(
        **writer, placement=place("2"), on=DAY, broken=Decimal(2), plan=Mending.REPLACE, how="fell from the table"
    )

    (thing,) = BrokenThing.objects.filter(put_away=row)
    assert (thing.plan, thing.quantity, thing.how) == (Mending.REPLACE, 2, "fell from the table")


def test_it_lists_broken_pieces_that_nobody_decided_on(writer, provider, count):
    plan_broken(**writer, put_away=count, quantity=Decimal(1), plan=Mending.WRITE_OFF)

    (waiting,) = undecided(provider)

    assert (waiting.count, waiting.left) == (count, 3)


def test_it_has_nothing_left_to_do_for_what_is_written_off(writer, count):
    row = plan_broken(**writer, put_away=count, quantity=FOUR, plan=Mending.WRITE_OFF)
    assert row.done_on == DAY


def test_it_lists_nothing_undecided_once_all_is_planned(provider, broken):
    assert undecided(provider) == []


@pytest.mark.parametrize("quantity", ["0", "-1", "4.001"])
def test_it_refuses_a_plan_for_other_pieces_than_broke(writer, count, quantity):
    with pytest.raises(DomainError) as refused:
        plan_broken(**writer, put_away=count, quantity=Decimal(quantity), plan=Mending.REPAIR)
    assert refused.value.field == "quantity"


def test_it_plans_once_for_two_posts_of_one_form(writer, count):
    given = {"put_away": count, "quantity": Decimal(2), "plan": Mending.REPAIR, "submission_key": "k"}
    assert plan_broken(**writer, **given) == plan_broken(**writer, **given)
    assert BrokenThing.objects.count() == 1


def test_it_brings_mended_pieces_back_into_stock(lot, mend):
    mend("3")
    assert stock_of(lot).on_hand == 11


def test_it_takes_the_write_off_of_mended_pieces_back(provider, run, mend):
    before = cost(provider, run)
    mend("4")
    # A use of four: 12.00; then four of twelve pieces of the 36.00 that are left: 12.00.
    assert (before, cost(provider, run)) == (Decimal("24.00"), Decimal("12.00"))


def test_it_writes_off_what_stayed_broken(provider, run, mend):
    mend("3")
    assert cost(provider, run) == Decimal("15.00")


def test_it_takes_mending_back(lot, broken, mend):
    done = mend("4")
    mend("0", done_on=None, version=done.version)
    assert stock_of(lot).on_hand == 8


def test_it_keeps_pieces_mended_that_lie_in_another_run(writer, provider, lot, broken, mend):
    done = mend("4")
    april = make_run(provider, date(2025, 4, 1), date(2025, 5, 1))
    placed = place_lot(**writer, run=april, lot=lot, quantity=Decimal(12))
    with pytest.raises(DomainError) as refused:
        mend("0", done_on=None, version=done.version)
    assert (refused.value.field, placed.quantity) == ("mended", 12)
    assert stock_of(lot).on_hand == 12


def test_it_restores_the_cost_when_the_count_is_undone(writer, provider, run, count):
    before = cost(provider, run)
    void_put_away(**writer, row=count, version=count.version)
    assert (before, cost(provider, run)) == (Decimal("24.00"), Decimal("12.00"))


def test_it_forgets_what_broke_with_an_undone_count(writer, provider, lot, broken):
    void_put_away(**writer, row=broken.put_away, version=broken.put_away.version)
    assert not broken_things(provider).exists()
    assert broken_before([lot.material]) == {}


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"mended": "5"}, "mended"),
        ({"mended": "-1"}, "mended"),
        ({"mended": "1", "plan": Mending.WRITE_OFF}, "mended"),
        ({"mended": "1", "done_on": None}, "done_on"),
        ({"mended": "1", "done_on": date(2025, 3, 13)}, "done_on"),
        ({"mended": "1", "done_on": date(2025, 3, 9)}, "done_on"),
    ],
)
def test_it_refuses_what_cannot_be(mend, fields, field):
    with pytest.raises(DomainError) as refused:
        mend(**fields)
    assert refused.value.field == field


def test_it_questions_a_stale_change(mend):
    mend("1")
    with pytest.raises(StaleRow):
        mend("2")


def test_it_mends_nothing_in_a_closed_year(provider, mend):
    lock_year(provider, 2025)
    with pytest.raises(PeriodLocked):
        mend("1")


def test_it_notes_the_outcome_of_a_claim_in_a_closed_year(provider, broken, mend):
    lock_year(provider, 2025)
    done = mend("0", plan=Mending.REPLACE, outcome="money back")
    assert done.outcome == "money back"


def test_it_tells_the_trail_of_mending(provider, mend):
    row = mend("3")
    entry = AuditEntry.objects.get(object_public_id=row.public_id, verb="mend")
    assert entry.changes["mended"] == ["0.000", "3.000"]


def test_it_remembers_how_things_broke(lot, broken):
    (breakage,) = broken_before([lot.material]).values()
    assert (breakage.pieces, breakage.times, breakage.hows) == (4, 1, ("the handles came off", "stepped on"))


def test_it_asks_for_all_that_broke_in_two_queries(provider, run, django_assert_num_queries):
    materials = [make_broken(run, how="bent").put_away.placement.lot.material for _ in range(3)]
    with django_assert_num_queries(2):
        assert len(broken_before(materials)) == 3


def test_it_lists_broken_things_in_constant_queries(provider, run, django_assert_num_queries):
    for _ in range(3):
        make_broken(run)
    with django_assert_num_queries(2):
        # One for the things and one for lines of receipts, of which there are none.
        assert len(list(broken_things(provider))) == 3


def test_it_lists_no_broken_things_of_another_business(provider):
    make_broken(make_run(make_provider()))
    assert not broken_things(provider).exists()


def test_it_knows_the_past_lives_of_a_material(provider, lot, place):
    april = make_run(provider, date(2025, 4, 1), date(2025, 5, 1))
    place("3", used_as="a river")
    place("2", run=april, used_as="a cape")
    assert [each.used_as for each in past_lives(lot.material)] == ["a cape", "a river"]


def test_it_shows_past_lives_and_breakage_on_the_page_of_a_material(signed_in, provider, lot, place, broken):
    april = make_run(provider, date(2025, 4, 1), date(2025, 5, 1))
    place("2", run=april, used_as="a cape for the king")
    page = signed_in.get(reverse("curriculum:material", args=[provider.slug, lot.material.public_id])).content.decode()
    assert "a cape for the king" in page
    assert "the handles came off" in page


def test_it_counts_washed_and_broken_on_the_walk(signed_in, provider, place):
    placed = place("10")
    signed_in.post(
        reverse("curriculum:put_away", args=[provider.slug, placed.public_id]),
        {"returned": "6", "broken": "1", "plan": "repair", "how": "bent", "washed": "on", "on": "2025-03-10"},
    )
    row = PutAway.objects.get(placement=placed)
    assert (row.returned, row.broken, row.washed) == (6, 1, True)
    assert row.broken_things.get().how == "bent"


def test_it_shows_what_is_left_to_count_room_by_room(signed_in, provider, run, place):
    place("10")
    page = signed_in.get(reverse("curriculum:put_away_room", args=[provider.slug, run.public_id])).content.decode()
    assert "1 thing still lies out in the room." in page


def test_it_says_mended_beside_the_count(signed_in, provider, run, mend):
    mend("3")
    page = signed_in.get(reverse("curriculum:put_away_room", args=[provider.slug, run.public_id])).content.decode()
    assert "8 back, 4 broken, 3 mended since" in page


def test_it_notes_what_became_of_broken_things_on_the_page(signed_in, provider, broken):
    response = signed_in.post(
        reverse("curriculum:broken", args=[provider.slug, broken.public_id]),
        {"version": broken.version, "plan": "repair", "mended": "4", "done_on": "2025-03-11", "outcome": "glued"},
    )
    broken.refresh_from_db()
    assert response.status_code == 302
    assert (broken.mended, broken.outcome) == (4, "glued")


def test_it_says_beside_the_box_what_is_wrong(signed_in, provider, broken):
    response = signed_in.post(
        reverse("curriculum:broken", args=[provider.slug, broken.public_id]),
        {"version": broken.version, "plan": "repair", "mended": "9", "done_on": "2025-03-11"},
    )
    assert response.status_code == 422
    assert "Enter a number from 0 to 4." in response.content.decode()


def test_it_counts_the_lots_gone_as_the_room_shows_them(run, mend):
    mend("3")
    (laid,) = [laid for view in room_of(run) for laid in view.laid]
    assert laid.gone == 1


def test_it_has_no_say_in_the_count_of_another_lot(provider, run, mend):
    other = make_lot(provider, quantity=Decimal(5))
    mend("4")
    assert stock_of(other).on_hand == 5


def test_it_has_the_receipt_at_hand_for_a_claim(signed_in, provider, lot, broken):
    total = Decimal("48.00")
    slip = Receipt.objects.create(provider=provider, shop="Corner shop", bill_date=date(2025, 1, 10), total=total)
    ReceiptLine.objects.create(
        provider=provider,
        receipt=slip,
        position=1,
        description="Cups",
        amount=total,
        cost=total,
        category="supplies",
        target=Target.LOT,
        lot=lot,
    )
    BrokenThing.objects.filter(pk=broken.pk).update(plan=Mending.REPLACE)
    page = signed_in.get(reverse("curriculum:broken_list", args=[provider.slug])).content.decode()
    assert reverse("billing:receipt", args=[provider.slug, slip.public_id]) in page
