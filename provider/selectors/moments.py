"""The day of the smallest: taps of a day by child, and notes of a day."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta

from provider.hours import instants
from provider.models import CareMoment, Child, DayNote, MomentKind, Provider
from provider.periods import DateSpan
from provider.selectors.families import age_on

SMALL_UNDER_YEARS = 3
USUAL_MILLILITRES = 120


@dataclass(frozen=True, slots=True)
class SmallDay:
    """A child's taps and notes of one day, the latest first; `bottle` is the amount to offer, in millilitres."""

    child: Child
    moments: tuple[CareMoment, ...]
    notes: tuple[DayNote, ...]
    bottle: int

    @property
    def is_asleep(self) -> bool:
        sleep = (each for each in self.moments if each.kind in (MomentKind.ASLEEP, MomentKind.AWAKE))
        return next((each.kind == MomentKind.ASLEEP for each in sleep), False)


def small_days(provider: Provider, children: list[Child], day: date) -> list[SmallDay]:
    """In the order of the children. Three queries, whatever their number."""
    moments: dict[int, list[CareMoment]] = defaultdict(list)
    begin, end = instants(DateSpan.day(day), provider.zone)
    rows = CareMoment.objects.filter(provider=provider, child__in=children, voided_at__isnull=True)
    for moment in rows.filter(at__gte=begin, at__lt=end).order_by("-at", "-pk"):
        moments[moment.child_id].append(moment)
    recent = rows.filter(kind=MomentKind.BOTTLE, amount__isnull=False, at__gte=begin - timedelta(days=30))
    bottles = dict(recent.order_by("at").values_list("child", "amount"))
    notes: dict[int, list[DayNote]] = defaultdict(list)
    for note in DayNote.objects.filter(provider=provider, day=day, child__in=children, voided_at__isnull=True):
        notes[note.child_id].append(note)
    return [
        SmallDay(each, tuple(moments[each.pk]), tuple(notes[each.pk]), bottles.get(each.pk) or USUAL_MILLILITRES)
        for each in children
    ]


def is_small(child: Child, day: date) -> bool:
    """Whether care moments are offered for a child of this age."""
    return age_on(child.birth_date, day)[0] < SMALL_UNDER_YEARS


def day_notes(provider: Provider, day: date) -> list[DayNote]:
    """One query."""
    rows = DayNote.objects.filter(provider=provider, day=day, voided_at__isnull=True)
    return list(rows.select_related("child").order_by("child__name", "pk"))
