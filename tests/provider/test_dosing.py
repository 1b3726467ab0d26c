from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from provider.dosing import Instruction, doubts

ZONE = ZoneInfo("America/Toronto")
DROPS = Instruction(Decimal("5.00"), 3, 4, date(2025, 3, 8), date(2025, 3, 11))
NOON = datetime(2025, 3, 10, 12, 0, tzinfo=ZONE)


def test_it_has_no_doubts_about_a_dose_that_keeps_to_the_instruction() -> None:
    assert doubts(DROPS, NOON, Decimal("5.00"), [NOON.replace(hour=8)], ZONE) == ()


@pytest.mark.parametrize(
    ("at", "amount", "others", "doubt"),
    [
        (datetime(2025, 3, 7, 23, 59, tzinfo=ZONE), "5.00", [], "not_yet"),
        (datetime(2025, 3, 11, 0, 0, tzinfo=ZONE), "5.00", [], "no_longer"),
        (NOON, "5.01", [], "amount"),
        (NOON, "5.00", [NOON.replace(hour=8, minute=1)], "too_soon"),
        (NOON, "5.00", [NOON.replace(hour=15)], "too_soon"),  # written down late, held against a later one
        (NOON.replace(hour=23), "5.00", [NOON.replace(hour=hour) for hour in (1, 7, 13)], "most_per_day"),
    ],
)
def test_it_doubts_a_dose_outside_the_instruction(
    at: datetime, amount: str, others: list[datetime], doubt: str
) -> None:
    assert doubts(DROPS, at, Decimal(amount), others, ZONE) == (doubt,)


def test_it_doubts_a_dose_of_a_withdrawn_instruction() -> None:
    assert doubts(replace(DROPS, withdrawn=True), NOON, Decimal("5.00"), [], ZONE) == ("withdrawn",)


def test_it_takes_the_hours_between_as_real_hours_when_the_clocks_change() -> None:
    before = datetime(2025, 3, 9, 0, 30, tzinfo=ZONE)  # the hour from 2:00 to 3:00 does not exist
    after = datetime(2025, 3, 9, 4, 30, tzinfo=ZONE)

    assert doubts(DROPS, after, Decimal("5.00"), [before], ZONE) == ("too_soon",)


def test_it_counts_the_doses_of_a_day_where_the_child_is() -> None:
    late = [datetime(2025, 3, 9, 22, 0, tzinfo=ZONE)]  # already the 10th in UTC

    assert doubts(replace(DROPS, most_per_day=1), NOON, Decimal("5.00"), late, ZONE) == ()
