"""The share of the home that is a business cost: area x time, by the United States' and by Canada's method.

Shares are fractions of one. Each share comes with its arithmetic. What may be claimed is for a preparer to decide.

Sources: Internal Revenue Code 280A(c)(4), IRS Publication 587 (daycare facility) and Form 8829 lines 1 to 7;
CRA "Daycare in your home", business-use-of-home expenses, and Form T2125 part 7.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from provider.money import ZERO, format_money, round_half_up
from provider.periods import DateSpan
from provider.steps import Step, figure, gettext_noop, percent

Use = Literal["exclusive", "regular", "occasional", "none"]
Rounding = Literal["published", "unrounded"]

_ONE = Decimal(1)


class RoomsExceedHome(ValueError):
    """The rooms are larger than the home. `difference` is by how much, in the unit of the areas."""

    def __init__(self, difference: Decimal) -> None:
        super().__init__(f"the rooms are {difference} larger than the home")
        self.difference = difference


class HoursExceedAvailable(ValueError):
    """More hours (or days) of use than there are. `difference` is by how much."""

    def __init__(self, difference: Decimal) -> None:
        super().__init__(f"there are {difference} more hours or days of use than there are available")
        self.difference = difference


@dataclass(frozen=True, slots=True)
class Room:
    """`exclusive`: only for the business. `regular`: used for it throughout each business day and for the family
    besides; it counts for the whole business day. `occasional` and `none` count for nothing.

    `area` is in the unit of the home's area (square feet or square metres).
    """

    name: str
    area: Decimal
    use: Use


@dataclass(frozen=True, slots=True)
class UsualWeek:
    """Canada's usual method: hours of a business day, business days of a week, days of the year it ran."""

    hours_per_day: Decimal
    days_per_week: Decimal
    days_running: int
    days_in_year: int


@dataclass(frozen=True, slots=True)
class RecordedHours:
    """Hours of use from the log, over all hours of the days the business had the home (closed days stay in)."""

    hours: Decimal
    days_running: int
    days_in_year: int


@dataclass(frozen=True, slots=True)
class Factor:
    """One multiplication on the way from a cost to its business part; `expression` shows where `share` comes from."""

    label: str
    expression: str
    share: Decimal


@dataclass(frozen=True, slots=True)
class BusinessUse:
    """A home's business share. `parts` are chains of factors, one for exclusive and one for shared rooms.

    `share` is their sum. `time_share` is what a cost of one shared room alone is multiplied by.
    """

    share: Decimal
    time_share: Decimal
    steps: tuple[Step, ...]
    parts: tuple[tuple[Factor, ...], ...]
    rounds_each_factor: bool

    def claim(self, cost: Decimal) -> Decimal:
        """The business part of a cost of the whole home."""
        return self.claim_steps(cost)[-1].result

    def claim_steps(self, cost: Decimal) -> tuple[Step, ...]:
        """The arithmetic of `claim`, the business part last.

        With `rounds_each_factor` every multiplication is rounded to the cent before the next, as CRA prints it.
        """
        if not self.rounds_each_factor:
            amount = round_half_up(cost * self.share)
            return (Step(gettext_noop("Business part"), f"{format_money(cost)} × {percent(self.share)}", amount),)
        steps, ends = [], []
        for chain in self.parts:
            amount = cost
            for factor in chain:
                before, amount = amount, round_half_up(amount * factor.share)
                steps.append(Step(factor.label, f"{format_money(before)} × {factor.expression}", amount))
            ends.append(amount)
        # Two parts of half a cent each would round up to more than the cost.
        total = min(sum(ends, ZERO), cost, key=abs)
        summed = " + ".join(format_money(amount) for amount in ends) or format_money(ZERO)
        return (*steps, Step(gettext_noop("Business part"), summed, total))


def hours_available(span: DateSpan) -> Decimal:
    """All hours of the days a home was available: 8,760 for a year, 8,784 for a leap year. Closed days count."""
    return Decimal(span.days * 24)


def us_business_use(
    rooms: Sequence[Room],
    *,
    home_area: Decimal,
    hours_used: Decimal,
    available: Decimal,
    rounding: Rounding = "published",
) -> BusinessUse:
    """Form 8829 lines 1 to 7 for day care: exclusive area + regularly used area x hours used / hours available.

    `available` comes from `hours_available`, for the days of the year since the business began and until it stopped.
    `published` rounds each percentage to two decimals and multiplies the rounded ones, as Publication 587 does.
    Raises RoomsExceedHome, HoursExceedAvailable; ValueError for negative figures or a home without area.
    """
    _check_rooms(rooms, home_area)
    _check_time(hours_used, available)
    places = 4 if rounding == "published" else None
    exclusive = _rounded(_area(rooms, "exclusive") / home_area, places)
    shared = min(_rounded(_area(rooms, "regular") / home_area, places), _ONE - exclusive)
    time_share = _rounded(hours_used / available, places)
    timed = _rounded(shared * time_share, places)
    share = exclusive + timed

    area, hours = figure(home_area), f"{figure(hours_used)} ÷ {figure(available)}"
    steps = [Step(gettext_noop("Hours used of hours available"), hours, time_share, "share")]
    parts = []
    if exclusive:
        expression = f"{figure(_area(rooms, 'exclusive'))} ÷ {area}"
        steps.append(Step(gettext_noop("Area only for the business"), expression, exclusive, "share"))
        parts.append((Factor(gettext_noop("Area only for the business"), percent(exclusive), exclusive),))
    if shared:
        expression = f"{figure(_area(rooms, 'regular'))} ÷ {area}"
        product = f"{percent(shared)} × {percent(time_share)}"
        steps.append(Step(gettext_noop("Area used regularly"), expression, shared, "share"))
        steps.append(Step(gettext_noop("Area used regularly × time"), product, timed, "share"))
        parts.append((Factor(gettext_noop("Area used regularly × time"), percent(timed), timed),))
    together = " + ".join(percent(chain[0].share) for chain in parts) or percent(ZERO)
    steps.append(Step(gettext_noop("Business share of the home"), together, share, "share"))
    return BusinessUse(share, time_share, tuple(steps), tuple(parts), rounds_each_factor=False)


def canada_business_use(
    rooms: Sequence[Room],
    *,
    home_area: Decimal,
    time: UsualWeek | RecordedHours,
    rounding: Rounding = "published",
) -> BusinessUse:
    """CRA's daycare method: exclusive area in full; shared area x hours / 24 x days / 7; less for part of the year.

    Shares stay unrounded. `published` rounds the claim to the cent after each multiplication, as CRA prints it;
    `unrounded` rounds it once. Raises RoomsExceedHome, HoursExceedAvailable; ValueError as `us_business_use`.
    """
    _check_rooms(rooms, home_area)
    _check_time(Decimal(time.days_running), Decimal(time.days_in_year))
    area = figure(home_area)
    year_part = Factor(
        gettext_noop("Part of the year"),
        f"{time.days_running} ÷ {time.days_in_year}",
        Decimal(time.days_running) / time.days_in_year,
    )
    year_parts = (year_part,) if time.days_running < time.days_in_year else ()
    times = _canada_times(time)
    exclusive, shared = _area(rooms, "exclusive"), _area(rooms, "regular")
    parts: list[tuple[Factor, ...]] = []
    if exclusive:
        label = gettext_noop("Area only for the business")
        parts.append((Factor(label, f"{figure(exclusive)} ÷ {area}", exclusive / home_area), *year_parts))
    if shared:
        first, *rest = times
        label = gettext_noop("Hours × area used regularly")
        expression = f"({first.expression}) × ({figure(shared)} ÷ {area})"
        parts.append((Factor(label, expression, first.share * shared / home_area), *rest, *year_parts))

    steps = []
    for chain in parts:
        expression = " × ".join(f"({factor.expression})" if len(chain) > 1 else factor.expression for factor in chain)
        steps.append(Step(chain[0].label, expression, _product(chain), "share"))
    share = sum((_product(chain) for chain in parts), ZERO)
    together = " + ".join(percent(step.result) for step in steps) or percent(ZERO)
    steps.append(Step(gettext_noop("Business share of the home"), together, min(share, _ONE), "share"))
    time_share = _product((*times, *year_parts))
    return BusinessUse(min(share, _ONE), time_share, tuple(steps), tuple(parts), rounding == "published")


def _canada_times(time: UsualWeek | RecordedHours) -> tuple[Factor, ...]:
    if isinstance(time, RecordedHours):
        available = Decimal(time.days_running * 24)
        _check_time(time.hours, available)
        expression = f"{figure(time.hours)} ÷ {figure(available)}"
        return (Factor(gettext_noop("Hours used of hours available"), expression, time.hours / available),)
    _check_time(time.hours_per_day, Decimal(24))
    _check_time(time.days_per_week, Decimal(7))
    return (
        Factor(gettext_noop("Hours of the day"), f"{figure(time.hours_per_day)} ÷ 24", time.hours_per_day / 24),
        Factor(gettext_noop("Days of the week"), f"{figure(time.days_per_week)} ÷ 7", time.days_per_week / 7),
    )


def _product(chain: Sequence[Factor]) -> Decimal:
    product = _ONE
    for factor in chain:
        product *= factor.share
    return product


def _area(rooms: Sequence[Room], use: Use) -> Decimal:
    return sum((room.area for room in rooms if room.use == use), ZERO)


def _check_rooms(rooms: Sequence[Room], home_area: Decimal) -> None:
    if home_area <= 0:
        raise ValueError("a home has an area above zero")
    if any(room.area < 0 for room in rooms):
        raise ValueError("a room cannot have a negative area")
    together = sum((room.area for room in rooms), ZERO)
    if together > home_area:
        raise RoomsExceedHome(together - home_area)


def _check_time(used: Decimal, available: Decimal) -> None:
    if used < 0 or available <= 0:
        raise ValueError("hours and days cannot be negative, and some must be available")
    if used > available:
        raise HoursExceedAvailable(used - available)


def _rounded(share: Decimal, places: int | None) -> Decimal:
    return share if places is None else round_half_up(share, places)
