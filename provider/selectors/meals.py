"""Who ate what on a day and in a month, and the menu of a week."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from zlib import crc32

from django.db.models import QuerySet
from django.utils.formats import time_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import pgettext_lazy

from provider.menus import KeepMenu, keep_menu
from provider.models import Child, MealKind, MealServed, MenuItem, OpeningHours, Provider
from provider.models.base import meets
from provider.periods import DateSpan
from provider.selectors.attendance import ChildDay, day_sheet

Box = tuple[date, str]
"""A day and a `MealKind`: one box of the menu."""
LETTERS = {
    MealKind.BREAKFAST: pgettext_lazy("breakfast, in a narrow table", "B"),
    MealKind.MORNING_SNACK: pgettext_lazy("morning snack, in a narrow table", "m"),
    MealKind.LUNCH: pgettext_lazy("lunch, in a narrow table", "L"),
    MealKind.AFTERNOON_SNACK: pgettext_lazy("afternoon snack, in a narrow table", "a"),
    MealKind.SUPPER: pgettext_lazy("supper, in a narrow table", "S"),
    MealKind.EVENING_SNACK: pgettext_lazy("evening snack, in a narrow table", "e"),
}


def served_on(provider: Provider, day: date) -> QuerySet[MealServed]:
    """Who ate what on a day. One query."""
    return MealServed.objects.filter(provider=provider, day=day, voided_at__isnull=True).select_related("child")


@dataclass(frozen=True, slots=True)
class MealOfDay:
    """One meal of a day: who ate it, and what was planned."""

    kind: MealKind
    children: tuple[Child, ...]
    planned: MenuItem | None


def meals_of_day(provider: Provider, day: date) -> list[MealOfDay]:
    """All six meals in order, eaten or not. Two queries."""
    served = list(served_on(provider, day))
    planned = {row.kind: row for row in MenuItem.objects.filter(provider=provider, day=day)}
    return [
        MealOfDay(kind, _by_name({row.child for row in served if row.kind == kind}), planned.get(kind))
        for kind in MealKind
    ]


@dataclass(frozen=True, slots=True)
class Eater:
    """A child who can be ticked for a meal. `state` says where it is; `proposed`: ticked before anybody did it."""

    child: Child
    state: str
    ate: bool
    proposed: bool


def eaters(provider: Provider, day: date, kind: str, today: date) -> list[Eater]:
    """Who may be ticked for a meal: whoever was signed in that day, and the provider's own children.

    One query beside those of the day's sheet. Until somebody recorded the meal, those are proposed who are here now, or
    on an earlier day all who came. The provider's own children are proposed only when they were signed in.
    """
    ate = set(served_on(provider, day).filter(kind=kind).values_list("child_id", flat=True))
    sheet = day_sheet(provider, day)
    return [
        Eater(
            each.child,
            _state(each),
            each.child.pk in ate,
            each.child.pk in ate if ate else bool(each.open_stay or (each.stays and day < today)),
        )
        for each in sheet.children
        if each.stays or each.child.is_own_child or each.child.pk in ate
    ]


def _state(each: ChildDay) -> str:
    if each.open_stay and each.open_stay.arrived_at:
        return _("here since %(time)s") % {"time": time_format(localtime(each.open_stay.arrived_at))}
    if each.stays:
        times = ((stay.arrived_at, stay.left_at) for stay in each.stays)
        return ", ".join(
            f"{time_format(localtime(start))} – {time_format(localtime(end))}" for start, end in times if start and end
        )
    return _("lives here") if each.child.is_own_child else _("not signed in")


@dataclass(frozen=True, slots=True)
class Count:
    """How often one meal was eaten."""

    kind: MealKind
    count: int


@dataclass(frozen=True, slots=True)
class ChildMeals:
    """A child's month: how often it ate each meal, and the letters of what it ate on each day."""

    child: Child
    cells: tuple[Count, ...]
    total: int
    letters: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DayCounts:
    """How many children ate a meal on each day."""

    kind: MealKind
    counts: tuple[int, ...]
    total: int


@dataclass(frozen=True, slots=True)
class MealMonth:
    """Meals of a month by child and kind, and by day. `kinds` are those that were served at all."""

    days: tuple[date, ...]
    kinds: tuple[MealKind, ...]
    rows: tuple[ChildMeals, ...]
    by_kind: tuple[DayCounts, ...]
    total: int

    @property
    def legend(self) -> list[tuple[str, MealKind]]:
        return [(str(LETTERS[kind]), kind) for kind in self.kinds]


def meal_month(provider: Provider, span: DateSpan) -> MealMonth:
    """Meals of a closed span. One query."""
    served = list(
        MealServed.objects.filter(
            provider=provider, voided_at__isnull=True, day__gte=span.start, day__lt=span.end
        ).select_related("child")
    )
    kinds = tuple(kind for kind in MealKind if any(row.kind == kind for row in served))
    days = tuple(span.iter_days())
    ate = {(row.child_id, row.day, row.kind) for row in served}
    by_child = Counter((row.child_id, row.kind) for row in served)
    by_day = Counter((row.day, row.kind) for row in served)
    return MealMonth(
        days,
        kinds,
        tuple(
            ChildMeals(
                child,
                tuple(Count(kind, by_child[child.pk, kind]) for kind in kinds),
                sum(by_child[child.pk, kind] for kind in kinds),
                tuple("".join(str(LETTERS[kind]) for kind in kinds if (child.pk, day, kind) in ate) for day in days),
            )
            for child in _by_name({row.child for row in served})
        ),
        tuple(
            DayCounts(kind, tuple(by_day[day, kind] for day in days), sum(by_day[day, kind] for day in days))
            for kind in kinds
        ),
        len(served),
    )


def week_items(provider: Provider, day: date) -> dict[Box, MenuItem]:
    """What is planned in the week, Monday to Sunday, that holds `day`. One query."""
    week = DateSpan.week(day)
    rows = MenuItem.objects.filter(provider=provider, day__gte=week.start, day__lte=week.last_day)
    return {(row.day, row.kind): row for row in rows.order_by("day")}


def stamp_of(items: Mapping[Box, MenuItem]) -> int:
    """A number that changes whenever something in the week does: the version of a week, which has no row."""
    return crc32(repr(sorted((row.pk, row.version) for row in items.values())).encode())


@dataclass(frozen=True, slots=True)
class MenuDay:
    """One day of a menu, its items in the order of the kinds."""

    day: date
    items: tuple[MenuItem | None, ...]


@dataclass(frozen=True, slots=True)
class MenuWeek:
    """Monday to Sunday. `days` are those usually open or with something planned. `keep`: None when nothing says so."""

    span: DateSpan
    kinds: tuple[MealKind, ...]
    days: tuple[MenuDay, ...]
    items: dict[Box, MenuItem]
    stamp: int
    keep: KeepMenu | None

    @property
    def is_empty(self) -> bool:
        return not self.items

    @property
    def planned_kinds(self) -> list[MealKind]:
        return [kind for kind in self.kinds if any(each == kind for _day, each in self.items)]

    @property
    def planned_rows(self) -> list[MenuDay]:
        """The days with the planned kinds only, to post."""
        kinds = self.planned_kinds
        return [MenuDay(each.day, tuple(self.items.get((each.day, kind)) for kind in kinds)) for each in self.days]


def menu_week(provider: Provider, day: date) -> MenuWeek:
    """The week that holds `day`. Two queries."""
    week = DateSpan.week(day)
    items = week_items(provider, day)
    opening = list(OpeningHours.objects.filter(meets(week), provider=provider))
    planned = {on for on, _kind in items}
    days = tuple(
        MenuDay(on, tuple(items.get((on, kind)) for kind in MealKind))
        for on in week.iter_days()
        if on in planned or any(row.weekday == on.weekday() and on in DateSpan(row.start, row.end) for row in opening)
    )
    last = max(planned, default=week.last_day)
    return MenuWeek(
        week,
        tuple(MealKind),
        days,
        items,
        stamp_of(items),
        keep_menu(provider.country, provider.region, last) if items else None,
    )


def _by_name(children: set[Child]) -> tuple[Child, ...]:
    return tuple(sorted(children, key=lambda child: (str(child).casefold(), child.pk)))
