"""A set for one price, a thing from the household, and what was given."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from curriculum.models import Acquisition, How, Keeping, Material
from curriculum.services.intake import Part, acquire_set, bring_from_home
from curriculum.services.materials import acquire_lot
from provider.errors import DomainError, ForeignRow, PeriodLocked
from provider.money import split
from tests.curriculum.conftest import TODAY
from tests.factories import lock_year, make_lot, make_member, make_provider

pytestmark = pytest.mark.django_db
DAY = date(2025, 2, 3)
PARTS = [
    Part("Train", Decimal("15.00")),
    Part("Rails", Decimal("10.00"), Decimal(20)),
    Part("Trees", Decimal("5.00"), Decimal(6)),
]


@pytest.fixture
def material(provider):
    return Material.objects.create(provider=provider, name="Play kitchen")


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(f"curriculum:{name}", args=[provider.slug, *(row.public_id for row in rows)])


def test_a_set_is_split_by_what_each_would_cost_alone(writer):
    lots = acquire_set(**writer, price=Decimal("20.00"), parts=PARTS, on=DAY)

    assert [lot.basis for lot in lots] == [Decimal("10.00"), Decimal("6.67"), Decimal("3.33")]
    assert [lot.quantity for lot in lots] == [1, 20, 6]


@given(
    st.decimals(0, 9999, places=2),
    st.lists(st.decimals(0, 999, places=2), min_size=2, max_size=8).filter(any),
)
def test_the_parts_of_any_price_make_the_whole(price, estimates):
    assert sum(split(price, estimates)) == price


def test_a_set_takes_known_materials_and_makes_new_ones(writer, provider):
    train = Material.objects.create(provider=provider, name="train")

    lots = acquire_set(**writer, price=Decimal("20.00"), parts=PARTS, on=DAY)

    assert lots[0].material == train
    assert Material.objects.count() == 3


def test_each_lot_keeps_what_the_set_cost(writer):
    lots = acquire_set(**writer, price=Decimal("20.00"), parts=PARTS, on=DAY, note="Garage sale")

    assert lots[1].note == "Garage sale\nFrom a set of 3 kinds for 20.00; alone about 10.00."


def test_a_set_posted_twice_comes_once(writer):
    for _ in range(2):
        acquire_set(**writer, submission_key="k", price=Decimal("20.00"), parts=PARTS, on=DAY)

    assert Acquisition.objects.count() == 3


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"price": Decimal("-1.00")}, "price"),
        ({"on": TODAY + timedelta(days=1)}, "on"),
        ({"how": How.GIVEN}, "how"),
        ({"how": How.BOUGHT}, "note"),
        ({"parts": PARTS[:1]}, None),
        ({"parts": [*PARTS, Part("TRAIN ", Decimal("1.00"))]}, None),
        ({"parts": [Part("A", Decimal("0.00")), Part("B", Decimal("0.00"))]}, None),
        ({"parts": [Part("A", Decimal("5.00")), Part("B", Decimal("1.00"), Decimal(0))]}, "quantity"),
    ],
)
def test_a_set_that_cannot_be_is_refused_whole(writer, wrong, field):
    with pytest.raises(DomainError) as refused:
        acquire_set(**writer, **{"price": Decimal("20.00"), "parts": PARTS, "on": DAY, **wrong})

    assert refused.value.field == field
    assert not Acquisition.objects.exists()


def test_a_set_takes_no_material_of_another_business(writer):
    foreign = make_lot(make_provider()).material

    with pytest.raises(ForeignRow):
        acquire_set(**writer, price=Decimal("9.00"), parts=[Part(foreign, Decimal("1.00")), PARTS[0]], on=DAY)


def test_a_set_of_a_closed_year_is_refused(writer, provider):
    lock_year(provider, 2024)

    with pytest.raises(PeriodLocked):
        acquire_set(**writer, price=Decimal("20.00"), parts=PARTS, on=date(2024, 5, 1))


def set_posted(**more):
    rows = {"parts-TOTAL_FORMS": "8", "parts-INITIAL_FORMS": "0"}
    for number, (name, estimate) in enumerate([("Train", "15"), ("Rails", "10"), ("Trees", "5")]):
        rows |= {f"parts-{number}-name": name, f"parts-{number}-estimate": estimate, f"parts-{number}-quantity": "1"}
    for number in range(3, 8):
        rows |= {f"parts-{number}-name": "", f"parts-{number}-estimate": "", f"parts-{number}-quantity": "1"}
    common = {"price": "20", "how": "second_hand", "on": "2025-02-03", "expected_uses": "5"}
    return {**common, **rows, **more}


def test_the_page_takes_a_set_and_says_how_the_price_was_shared_out(signed_in, url):
    answer = signed_in.post(url("add_set"), set_posted(), follow=True)

    assert "Train 10.00, Rails 6.67, Trees 3.33" in answer.content.decode()


@pytest.mark.parametrize(
    "wrong",
    [
        {"price": "twenty"},
        {"parts-0-estimate": "-1"},
        {"parts-1-name": ""},
        {"parts-2-quantity": "0"},
        {"parts-TOTAL_FORMS": "x"},
        {"parts-TOTAL_FORMS": "1"},
        {"expected_uses": "0"},
    ],
)
def test_a_set_typed_wrong_is_asked_about(signed_in, url, wrong):
    assert signed_in.post(url("add_set"), set_posted(**wrong)).status_code == 422
    assert not Acquisition.objects.exists()


@pytest.mark.parametrize(("country", "basis"), [("US", "180.00"), ("CA", "180.00")])
def test_a_thing_from_home_below_its_cost_takes_its_value(country, basis):
    provider = make_provider(country)
    writer = {"provider": provider, "actor": make_member(provider), "today": TODAY}
    kitchen = Material.objects.create(provider=provider, name="Play kitchen")

    lot = bring_from_home(
        **writer,
        material=kitchen,
        on=DAY,
        quantity=Decimal(1),
        cost=Decimal("260.00"),
        fair_value=Decimal("180.00"),
        expected_uses=6,
    )

    assert (lot.how, lot.basis) == (How.FROM_HOME, Decimal(basis))
    assert "260.00" in lot.note
    assert "180.00" in lot.note


def test_a_thing_from_home_posted_twice_comes_once(writer, material):
    for _ in range(2):
        bring_from_home(
            **writer,
            submission_key="k",
            material=material,
            on=DAY,
            quantity=Decimal(1),
            cost=Decimal("5.00"),
            fair_value=Decimal("4.00"),
        )

    assert Acquisition.objects.count() == 1


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"cost": Decimal("-1.00")}, "cost"),
        ({"on": TODAY + timedelta(days=1)}, "on"),
        ({"quantity": Decimal(0)}, "quantity"),
        ({"residual": Decimal("5.00")}, "residual"),
    ],
)
def test_an_impossible_thing_from_home_is_refused(writer, material, wrong, field):
    good = {"on": DAY, "quantity": Decimal(1), "cost": Decimal("5.00"), "fair_value": Decimal("4.00")}

    with pytest.raises(DomainError) as refused:
        bring_from_home(**writer, material=material, **{**good, **wrong})

    assert refused.value.field == field


def test_the_page_shows_the_arithmetic_before_it_saves(signed_in, url, material):
    typed = {"on": "2025-02-03", "quantity": "1", "cost": "260", "fair_value": "180", "expected_uses": "6"}

    shown = signed_in.post(url("from_home", material), typed)

    assert "min(260, 180)" in shown.content.decode()
    assert "preparer decides" in shown.content.decode()
    assert not Acquisition.objects.exists()
    assert signed_in.post(url("from_home", material), {**typed, "save": "1"}).url == url("material", material)
    assert Acquisition.objects.get().basis == Decimal("180.00")


@pytest.mark.parametrize("act", [{}, {"save": "1"}])
def test_a_thing_from_home_without_its_value_is_asked_about(signed_in, url, material, act):
    typed = {"on": "2025-02-03", "quantity": "1", "cost": "260", "expected_uses": "6", **act}

    answer = signed_in.post(url("from_home", material), typed)

    assert answer.status_code == 422
    assert "fair_value" in answer.context["form"].errors


def test_what_is_used_up_asks_for_no_number_of_runs(signed_in, url, material):
    Material.objects.update(keeping=Keeping.CONSUMABLE)

    assert "expected_uses" not in signed_in.get(url("from_home", material)).context["form"].fields


def test_a_given_lot_costs_nothing_and_keeps_its_donor_and_value(signed_in, url, material):
    signed_in.post(
        url("add_lot", material),
        {
            "how": "given",
            "on": "2025-03-01",
            "quantity": "1",
            "expected_uses": "5",
            "source": "A neighbour",
            "estimated_value": "35",
        },
    )

    lot = Acquisition.objects.get()
    assert (lot.basis, lot.source, lot.estimated_value) == (Decimal("0.00"), "A neighbour", Decimal("35.00"))
    assert "$35.00" in signed_in.get(url("lot", lot)).content.decode()


def test_only_what_was_given_has_an_estimated_value(writer, material):
    with pytest.raises(DomainError) as refused:
        acquire_lot(
            **writer,
            material=material,
            on=DAY,
            how=How.SECOND_HAND,
            quantity=Decimal(1),
            estimated_value=Decimal("5.00"),
        )

    assert refused.value.field == "estimated_value"
