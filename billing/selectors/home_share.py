"""The business share of the home in a year, from rooms and recorded hours, and what it makes of receipt lines."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from enum import StrEnum
from itertools import zip_longest
from typing import cast

from django.db.models import Q
from django.utils.translation import gettext as _

from billing import business_use
from billing.business_use import (
    BusinessUse,
    HoursExceedAvailable,
    Room,
    RoomsExceedHome,
    UsualWeek,
    canada_business_use,
    hours_available,
    us_business_use,
)
from billing.models import ReceiptLine, Rounding, ShareBasis, ShareRule, TaxYear
from billing.splitting import business_part
from provider.hours import Interval, clip, hours, instants, merge, minutes
from provider.models import Attendance, Country, OpeningHours, Provider, RoomUse, Use, WorkEntry
from provider.money import ZERO, round_half_up, split
from provider.periods import DateSpan
from provider.selectors.hours import IN_HOME
from provider.steps import Step, figure, gettext_noop


class Status(StrEnum):
    """How sure a share is."""

    RECORDED = "recorded"
    """The year is over; the share follows from its rooms and hours."""
    PROVISIONAL = "provisional"
    """The year is running; the owner's stated share, or the records so far when she stated none."""
    UNKNOWN = "unknown"
    """There is nothing to compute it from; `problem` says what is missing."""


@dataclass(frozen=True, slots=True)
class RoomOfYear:
    """A room's use on `days` days of the year. `area` is its floor area times those days / all days counted."""

    name: str
    use: Use
    floor: Decimal
    days: int
    area: Decimal


@dataclass(frozen=True, slots=True)
class HoursOfUse:
    """Hours the home was used. Time that a child was here and work was done at once is counted once, as `care`.

    `work_recorded` are the hours of work at home before that. `open_stays` counts stays of past days that nobody
    signed out: they are left out until their end is filled in. `counts_work`: work enters the share of the home.
    """

    care: Decimal
    work: Decimal
    total: Decimal
    work_recorded: Decimal
    open_stays: int
    counts_work: bool = True

    @property
    def counted(self) -> Decimal:
        return self.total if self.counts_work else self.care


@dataclass(frozen=True, slots=True)
class HomeShareOfYear:
    """`share` is a fraction of one, None when unknown. `computed`: what the records give, even when one was stated."""

    year: int
    share: Decimal | None
    status: Status
    steps: tuple[Step, ...] = ()
    rooms: tuple[RoomOfYear, ...] = ()
    hours: HoursOfUse | None = None
    days_counted: int = 0
    stated: bool = False
    computed: Decimal | None = None
    problem: str = ""

    @property
    def is_provisional(self) -> bool:
        return self.status == Status.PROVISIONAL


@dataclass(frozen=True, slots=True)
class BusinessAmount:
    """The two parts of a line's cost; both None while the home share that it needs is unknown.

    `share` is a fraction of one. `provisional`: it rests on a home share that may still change.
    """

    share: Decimal | None
    business: Decimal | None
    personal: Decimal | None
    provisional: bool = False


def business_amount(line: ReceiptLine, home: HomeShareOfYear | None = None) -> BusinessAmount:
    """Divide one line's cost. `home` is needed by lines shared by the home share only."""
    if line.share_rule == ShareRule.BUSINESS:
        return BusinessAmount(Decimal(1), line.cost, ZERO)
    if line.share_rule == ShareRule.PERSONAL:
        return BusinessAmount(Decimal(0), ZERO, line.cost)
    by_home = line.share_basis == ShareBasis.HOME
    share = (home.share if home else None) if by_home else line.share
    if share is None:
        return BusinessAmount(None, None, None)
    business, personal = business_part(line.cost, share)
    return BusinessAmount(share, business, personal, bool(by_home and home and home.is_provisional))


def business_amounts(lines: Iterable[ReceiptLine], shares: Mapping[int, HomeShareOfYear]) -> dict[int, BusinessAmount]:
    """The parts of each saved line by its pk. The home share is that of the year on the receipt.

    `shares` come from `shares_for`; lines need `select_related("receipt")`.
    """
    return {line.pk: business_amount(line, shares.get(line.receipt.bill_date.year)) for line in lines}


def amounts_of(provider: Provider, lines: Sequence[ReceiptLine], today: date) -> dict[int, BusinessAmount]:
    """The parts of each saved line by its pk; only the home shares that the lines rest on are worked out."""
    years = {line.receipt.bill_date.year for line in lines if line.share_basis == ShareBasis.HOME}
    return business_amounts(lines, shares_for(provider, years, today))


def share_for(provider: Provider, year: int, today: date) -> HomeShareOfYear:
    """The home share of one year."""
    return shares_for(provider, [year], today)[year]


def shares_for(provider: Provider, years: Collection[int], today: date) -> dict[int, HomeShareOfYear]:
    """The home share of each year, in a number of queries that does not grow with the years."""
    if not years:
        return {}
    records = _Records(provider, min(years), max(years), today)
    return {year: records.share(year) for year in sorted(set(years))}


def counts_preparation(provider: Provider, choices: TaxYear | None) -> bool:
    """Whether work while no child is here enters the share of the home: as chosen, or else as usual in the country.

    The United States name preparing and cleaning up; nothing read says so for Canada, hence the cautious no.
    """
    if choices is None or choices.counts_preparation is None:
        return provider.country == Country.US
    return choices.counts_preparation


class _Records:
    """Rooms, hours and choices of the years asked for, read once."""

    def __init__(self, provider: Provider, first: int, last: int, today: date) -> None:
        self.provider = provider
        self.today = today
        span = DateSpan(date(first, 1, 1), date(last + 1, 1, 1))
        begin, end = instants(span, self.provider.zone)
        self.choices = {row.year: row for row in TaxYear.objects.filter(provider=provider, year__range=(first, last))}
        self.uses = list(
            RoomUse.objects.filter(provider=provider, start__lt=span.end)
            .select_related("room")
            .order_by("room__name", "room_id", "start")
        )
        stays = Attendance.objects.filter(
            Q(left_at__gt=begin) | Q(left_at__isnull=True, day__gte=span.start, day__lt=today),
            provider=provider,
            voided_at__isnull=True,
            child__is_own_child=False,
            arrived_at__lt=end,
        ).values_list("arrived_at", "left_at", "day")
        self.stays = [(arrived, left, day) for arrived, left, day in stays if arrived]
        self.work = list(
            WorkEntry.objects.filter(
                IN_HOME, provider=provider, voided_at__isnull=True, started_at__lt=end, ended_at__gt=begin
            ).values_list("started_at", "ended_at")
        )
        self.opening = (
            list(OpeningHours.objects.filter(provider=provider, start__lt=span.end))
            if provider.country == Country.CANADA
            else []
        )

    def share(self, year: int) -> HomeShareOfYear:
        choices = self.choices.get(year)
        is_over = self.today >= date(year + 1, 1, 1)
        stated = None if is_over or choices is None else choices.provisional_home_share
        counts = counts_preparation(self.provider, choices)
        found = self._computed(year, choices.rounding if choices else Rounding.PUBLISHED, counts, is_over)
        if stated is None:
            return found
        step = Step(gettext_noop("Provisional share, as stated by the owner"), "", stated, "share")
        return HomeShareOfYear(
            year,
            stated,
            Status.PROVISIONAL,
            (step,),
            found.rooms,
            found.hours,
            found.days_counted,
            stated=True,
            computed=found.share,
        )

    def _computed(self, year: int, rounding: str, counts_work: bool, is_over: bool) -> HomeShareOfYear:
        """From the records of the year, or of its days so far while it runs."""
        elapsed = DateSpan.year(year).intersect(DateSpan(date.min, self.today + timedelta(days=1)))
        span = elapsed and elapsed.intersect(DateSpan(self.provider.opened_on, self.provider.closed_on))
        if elapsed is None or span is None:
            return HomeShareOfYear(year, None, Status.UNKNOWN, problem=_("The business was not open in this year."))
        rooms, used = self._rooms(span), self._hours(span, counts_work)
        problem, use = "", None
        if not any(room.use in (Use.EXCLUSIVE, Use.REGULAR) for room in rooms):
            problem = _("No room is recorded as used for the business.")
        elif self.provider.country == Country.US and not used.counted:
            problem = _("No hours are recorded in this year.")
        elif self.provider.country == Country.CANADA and not any(self._applies(row, span) for row in self.opening):
            problem = _("No opening hours are recorded.")
        else:
            try:
                use = self._business_use(rooms, used, span, elapsed, rounding)
            except RoomsExceedHome as error:
                problem = _("The rooms are larger than the home by %(area)s.") % {"area": error.difference}
            except HoursExceedAvailable as error:
                problem = _("There are %(hours)s more hours than the days have.") % {"hours": error.difference}
        if use is None:
            return HomeShareOfYear(year, None, Status.UNKNOWN, (), rooms, used, span.days, problem=problem)
        status = Status.RECORDED if is_over else Status.PROVISIONAL
        return HomeShareOfYear(year, use.share, status, use.steps, rooms, used, span.days, computed=use.share)

    def _business_use(
        self, rooms: Sequence[RoomOfYear], used: HoursOfUse, span: DateSpan, elapsed: DateSpan, rounding: str
    ) -> BusinessUse:
        way = cast("business_use.Rounding", rounding)
        areas = [Room(room.name, room.area, cast("business_use.Use", room.use.value)) for room in rooms]
        if self.provider.country == Country.US:
            return us_business_use(
                areas,
                home_area=self.provider.home_area,
                hours_used=used.counted,
                available=hours_available(span),
                rounding=way,
            )
        week = self._usual_week(span, elapsed)
        steps: tuple[Step, ...] = ()
        if used.counts_work:
            week, steps = self._with_work(week, span)
        use = canada_business_use(areas, home_area=self.provider.home_area, time=week, rounding=way)
        return replace(use, steps=(*steps, *use.steps))

    def _rooms(self, span: DateSpan) -> tuple[RoomOfYear, ...]:
        """Each room's uses within the span; a later use ends an earlier one of the same room."""
        periods = []
        for row, following in zip_longest(self.uses, self.uses[1:]):
            replaced = following.start if following and following.room_id == row.room_id else None
            ends = [end for end in (row.end, replaced) if end is not None]
            if period := DateSpan(row.start, min(ends, default=None)).intersect(span):
                periods.append((row, period.days))
        rooms = []
        for row, days in periods:
            # Two decimals, the unit in which areas are kept; what is left of the room is used for nothing.
            area = split(row.room.area, [days, span.days - days])[0]
            rooms.append(RoomOfYear(row.room.name, Use(row.use), row.room.area, days, area))
        return tuple(rooms)

    def _hours(self, span: DateSpan, counts_work: bool) -> HoursOfUse:
        care, work = self._care(span), _within(instants(span, self.provider.zone), self.work)
        in_care, together = minutes(care), minutes([*care, *work])
        return HoursOfUse(
            care=hours(in_care),
            work=hours(together) - hours(in_care),
            total=hours(together),
            work_recorded=hours(minutes(work)),
            open_stays=sum(end is None and day in span for _start, end, day in self.stays),
            counts_work=counts_work,
        )

    def _care(self, span: DateSpan) -> list[Interval]:
        return _within(instants(span, self.provider.zone), [(start, end) for start, end, _day in self.stays if end])

    def _usual_week(self, span: DateSpan, elapsed: DateSpan) -> UsualWeek:
        """The opening hours as one week; hours that changed in the year weigh by the days they applied."""
        days_per_week = hours_per_week = Decimal(0)
        for row in self.opening:
            if applied := self._applies(row, span):
                weight = Decimal(applied.days) / span.days
                open_for = datetime.combine(span.start, row.closes) - datetime.combine(span.start, row.opens)
                days_per_week += weight
                hours_per_week += weight * (open_for // timedelta(minutes=1)) / 60
        return UsualWeek(
            round_half_up(hours_per_week / days_per_week), round_half_up(days_per_week), span.days, elapsed.days
        )

    def _with_work(self, week: UsualWeek, span: DateSpan) -> tuple[UsualWeek, tuple[Step, ...]]:
        """The usual week with the work in the home outside opening hours and while no child is here, spread over it."""
        open_for = self._open(span)
        taken = [*open_for, *self._care(span)]
        extra = hours(minutes([*taken, *_within(instants(span, self.provider.zone), self.work)]) - minutes(taken))
        days = round_half_up(week.days_per_week * week.days_running / 7)
        longer = round_half_up(week.hours_per_day + extra / days)
        step = Step(
            gettext_noop("Hours of the day with the work around it"),
            f"{figure(week.hours_per_day)} + {figure(extra)} ÷ {figure(days)}",
            longer,
            "hours",
        )
        return replace(week, hours_per_day=longer), (step,)

    def _open(self, span: DateSpan) -> list[Interval]:
        """The opening hours of each day of the span."""
        zone = self.provider.zone
        return [
            (datetime.combine(day, row.opens, zone), datetime.combine(day, row.closes, zone))
            for row in self.opening
            if (applied := self._applies(row, span))
            for day in applied.iter_days()
            if day.weekday() == row.weekday
        ]

    @staticmethod
    def _applies(row: OpeningHours, span: DateSpan) -> DateSpan | None:
        return DateSpan(row.start, row.end).intersect(span)


def _within(bounds: Interval, intervals: Iterable[Interval]) -> list[Interval]:
    return merge(inside for each in intervals if (inside := clip(each, bounds)))
