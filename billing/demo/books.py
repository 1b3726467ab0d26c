"""A business whose story is told in order of its days, each act through a public service with that day as today."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import cached_property
from heapq import heappop, heappush
from itertools import count
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

import holidays

from curriculum.models import Acquisition, Bin, LearningCentre, Material, ThemeRun
from provider.models import Enrolment, Household, Provider, User
from provider.periods import DateSpan

Data = dict[str, Any]
Act = Callable[[], None]
# Within a day: what later acts rest on comes first.
FIRST, ENROL, PLAN, BILL, PAY, SHOP, CARE, LAY_OUT, WORK, PUT_AWAY, LOOK_BACK = range(11)


@dataclass
class Lot:
    """A lot that the business has, and how many pieces are left of it."""

    row: Acquisition
    left: Decimal


@dataclass
class Books:
    """What has been told so far. `until` is the last day of the story, `day` the day that is being told."""

    slug: str
    data: Data
    until: date
    provider: Provider = field(init=False)
    owner: User = field(init=False)
    day: date = field(init=False)
    households: dict[str, Household] = field(default_factory=dict)
    enrolments: list[tuple[Enrolment, Data]] = field(default_factory=list)
    centres: dict[str, LearningCentre] = field(default_factory=dict)
    bins: list[Bin] = field(default_factory=list)
    runs: dict[date, ThemeRun] = field(default_factory=dict)
    materials: dict[str, Material] = field(default_factory=dict)
    lots: dict[str, list[Lot]] = field(default_factory=dict)
    _queue: list[tuple[date, int, int, Act]] = field(default_factory=list)
    _number: Iterator[int] = field(default_factory=count)

    def at(self, day: date, order: int, act: Act) -> None:
        """Tell `act` on `day`, which is dropped when it lies after the story's end."""
        if day <= self.until:
            heappush(self._queue, (day, order, next(self._number), act))

    def tell(self) -> None:
        while self._queue:
            self.day, _order, _number, act = heappop(self._queue)
            act()

    @property
    def writer(self) -> dict[str, Any]:
        """The arguments that every service takes."""
        return {"provider": self.provider, "actor": self.owner, "today": self.day}

    @property
    def now(self) -> datetime:
        """The end of the day that is being told."""
        return self.moment(self.day, time(23, 59))

    def moment(self, day: date, at: time) -> datetime:
        return datetime.combine(day, at, self.zone)

    def dice(self, what: str, day: date) -> Random:
        """Chance that falls the same for the same business, matter and day, whatever else was told."""
        return Random(f"{self.slug} {what} {day}")  # noqa: S311  # an invented story, not a secret

    @property
    def first_day(self) -> date:
        return self.data["records_from"]

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.data["business"]["time_zone"])

    @cached_property
    def months(self) -> list[DateSpan]:
        """The months of the story, and the one after, for which things are bought ahead."""
        months = [DateSpan.month(self.first_day.year, self.first_day.month)]
        while months[-1].start <= self.until:
            following = months[-1].last_day + timedelta(days=1)
            months.append(DateSpan.month(following.year, following.month))
        return months

    @cached_property
    def closures(self) -> list[Data]:
        """All closures of the story's years as `start`, `end`, `kind`, `paid`, `reason`, in date order."""
        given = self.data["closures"]
        closures = []
        for year in range(self.first_day.year, self.until.year + 1):
            for week in given["weeks"]:
                start = date.fromisoformat(f"{year}-{week['from']}")
                start += timedelta(days=-start.weekday() % 7)
                end = start + timedelta(days=week["days"])
                closures.append({"start": start, "end": end, "kind": "time_off", **_paid(week)})
        known = {day for row in closures for day in DateSpan(row["start"], row["end"]).iter_days()}
        days = [{**row, "paid": True} for row in given["days"]]
        days += [{"on": day, "kind": "holiday", "reason": name, "paid": True} for day, name in self._holidays()]
        for row in days:
            if row["on"] not in known and row["on"].weekday() in self.data["opening"]["weekdays"]:
                day = DateSpan.day(row["on"])
                closures.append({"start": day.start, "end": day.end, "kind": row["kind"], **_paid(row)})
        return sorted(closures, key=lambda row: row["start"])

    def lots_left(self, material: str) -> list[Lot]:
        return [lot for lot in self.lots.get(material, ()) if lot.left]

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.data["opening"]["weekdays"] and day not in self._closed_days

    def open_days(self, span: DateSpan) -> list[date]:
        return [day for day in span.iter_days() if self.is_open(day)]

    @cached_property
    def _closed_days(self) -> set[date]:
        return {day for row in self.closures for day in DateSpan(row["start"], row["end"]).iter_days()}

    def _holidays(self) -> list[tuple[date, str]]:
        business = self.data["business"]
        years = range(self.first_day.year, self.until.year + 1)
        known = holidays.country_holidays(business["country"], subdiv=business["region"], years=years)
        wanted = self.data["closures"]["holidays"]
        plain = ((day, name.removesuffix(" (observed)")) for day, name in sorted(known.items()))
        return [(day, name) for day, name in plain if name in wanted]


def _paid(row: Data) -> Data:
    return {"paid": row["paid"], "reason": row["reason"]}
