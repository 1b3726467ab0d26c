from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from provider.money import NotMoney, cents, format_money, from_cents, parse_money, round_half_up, split

amounts = st.integers(-10_000_000, 10_000_000).map(from_cents)
weight_lists = st.lists(st.decimals(0, 1000, places=3), min_size=1, max_size=12).filter(any)


def test_it_rounds_halves_away_from_zero():
    assert [round_half_up(Decimal(text)) for text in ("2.345", "-2.345", "2.344")] == [
        Decimal("2.35"),
        Decimal("-2.35"),
        Decimal("2.34"),
    ]


def test_it_rounds_to_other_places():
    assert round_half_up(Decimal("0.342465"), 4) == Decimal("0.3425")


@given(st.integers(-(10**12), 10**12))
def test_cents_survive_the_round_trip(count):
    assert cents(from_cents(count)) == count


def test_cents_refuse_an_unrounded_amount():
    with pytest.raises(ValueError, match="whole number of cents"):
        cents(Decimal("1.005"))


@pytest.mark.parametrize("amount", ["NaN", "Infinity"])
def test_cents_refuse_what_is_not_a_number(amount):
    with pytest.raises(ValueError, match="not an amount"):
        cents(Decimal(amount))


@given(amounts, weight_lists)
def test_split_parts_sum_exactly_to_the_total(total, weights):
    assert sum(split(total, weights)) == total


@given(amounts, weight_lists)
def test_no_split_part_is_a_cent_or_more_from_its_exact_share(total, weights):
    whole = sum(map(Fraction, weights))
    for part, weight in zip(split(total, weights), weights, strict=True):
        assert abs(Fraction(part) - Fraction(total) * Fraction(weight) / whole) < Fraction(1, 100)


@given(amounts, weight_lists)
def test_a_negative_total_mirrors_the_positive_split(total, weights):
    assert split(-total, weights) == [-part for part in split(total, weights)]


@given(amounts, weight_lists)
def test_a_zero_weight_gets_nothing(total, weights):
    assert split(total, [*weights, 0])[-1] == 0


def test_ties_go_to_the_earlier_part():
    assert split(Decimal("100.00"), [1, 1, 1]) == [Decimal("33.34"), Decimal("33.33"), Decimal("33.33")]


@pytest.mark.parametrize("weights", [[], [0, 0], [1, -1, 2]])
def test_split_refuses_weights_that_divide_nothing(weights):
    with pytest.raises(ValueError):
        split(Decimal("1.00"), weights)


@pytest.mark.parametrize(
    ("typed", "amount"),
    [
        ("12", "12.00"),
        (" 12 ", "12.00"),
        ("1,234.5", "1234.50"),
        ("1 234.50", "1234.50"),
        ("$12", "12.00"),
        ("-$3.20", "-3.20"),
        ("$-3.20", "-3.20"),
        ("\u22123.20", "-3.20"),
        ("(3.20)", "-3.20"),
        (".5", "0.50"),
        ("7.", "7.00"),
        ("12,50", "12.50"),
        ("1.234,50", "1234.50"),
        ("1,234", "1234.00"),
        ("2.500", "2.50"),
        ("-0", "0.00"),
        ("9,999,999.99", "9999999.99"),
    ],
)
def test_it_reads_a_typed_amount(typed, amount):
    assert str(parse_money(typed)) == amount


@pytest.mark.parametrize(
    ("typed", "reason"),
    [
        ("", "empty"),
        ("   ", "empty"),
        ("twelve", "nonsense"),
        ("NaN", "nonsense"),
        ("1e5", "nonsense"),
        ("Infinity", "nonsense"),
        ("--3", "nonsense"),
        ("(-3)", "nonsense"),
        ("(3", "nonsense"),
        ("1,23,456", "nonsense"),
        ("1.2.3", "nonsense"),
        ("$", "nonsense"),
        (".", "nonsense"),
        ("١٢", "nonsense"),
        ("3.205", "decimals"),
        ("10000000", "too_large"),
    ],
)
def test_it_says_why_a_typed_amount_is_refused(typed, reason):
    with pytest.raises(NotMoney) as refusal:
        parse_money(typed)
    assert refusal.value.reason == reason


@given(amounts.filter(lambda amount: abs(amount) < 10_000_000))
def test_a_formatted_amount_reads_back(amount):
    assert parse_money(format_money(amount, "$")) == amount


def test_it_formats_with_thousands_and_two_decimals():
    assert (format_money(Decimal("-1234.5"), "$"), format_money(Decimal("0"))) == ("-$1,234.50", "0.00")
