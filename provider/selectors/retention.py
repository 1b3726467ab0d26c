"""How long a family's records are kept, and what an erase request would blank today."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Max, Min
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from provider.doors import Blank, Kept, blanks, keepers
from provider.models import Attendance, Dose, Enrolment, Household, Incident, MealServed, Medication
from provider.retention import Keep, Record, keep_until

LABELS: dict[Record, Any] = {
    "attendance": gettext_lazy("Attendance"),
    "incident": gettext_lazy("Incident and illness reports"),
    "medicine": gettext_lazy("Medicine: instructions and doses"),
    "meals": gettext_lazy("Meals"),
    "child_file": gettext_lazy("The child's file: contacts, health, papers"),
}


@dataclass(frozen=True, slots=True)
class KeptRecord:
    """A kind of record that is there, with its newest day and until when it is kept (`keep.until` None: no rule)."""

    record: Record
    label: Any
    last: date
    keep: Keep

    def must_stay(self, today: date) -> bool:
        return self.keep.until is not None and self.keep.until > today


@dataclass(frozen=True, slots=True)
class FamilyRecords:
    """`care_end` is the first day without any place; None while a child has one, and dates then count from today.

    `erased_at` is when something of the family was first erased.
    """

    care_end: date | None
    erased_at: datetime | None
    records: tuple[KeptRecord, ...]
    others: tuple[Kept, ...]


@dataclass(frozen=True, slots=True)
class Erasure:
    """What an erase request does today. `hindrances` stand in its way; `until` is the last date of what is kept."""

    hindrances: tuple[Kept, ...]
    blanked: tuple[Blank, ...]
    kept: tuple[Blank, ...]
    records: FamilyRecords
    until: date | None

    @property
    def keeps_name(self) -> bool:
        return self.until is not None


def family_records(household: Household, today: date) -> FamilyRecords:
    """A constant number of queries for this app, and those of the other rooms' keepers."""
    places = list(Enrolment.objects.filter(child__household=household).values_list("end", flat=True))
    in_care = any(end is None or end > today for end in places)
    care_end = None if in_care else max((end for end in places if end), default=_day(household.created_at, household))
    newest: dict[Record, date | datetime | None] = {
        "attendance": _newest(Attendance, "child__household", household, "day"),
        "incident": _newest(Incident, "child__household", household, "happened_at"),
        "medicine": _last_of(
            household,
            _newest(Dose, "medication__child__household", household, "given_at"),
            _newest(Medication, "child__household", household, "end"),
        ),
        "meals": _newest(MealServed, "child__household", household, "day"),
        "child_file": care_end or today,
    }
    place = household.provider
    records = []
    for record, moment in newest.items():
        if moment is not None:
            last = min(_day(moment, household), today)
            keep = keep_until(record, place.country, place.region, last=last, care_end=care_end or today)
            records.append(KeptRecord(record, LABELS[record], last, keep))
    others = tuple(kept for keeper in keepers for kept in keeper(household, today))
    erased_at = household.children.aggregate(first=Min("erased_at"))["first"]
    return FamilyRecords(care_end, erased_at, tuple(records), others)


def erasure(household: Household, today: date) -> Erasure:
    """Work out what may be blanked today. The same answer serves the page that asks and the service that acts."""
    found = family_records(household, today)
    hindrances = [kept for kept in found.others if kept.until is None]
    if found.care_end is None:
        hindrances.insert(0, Kept(_("A place"), _("A child of the family still has one. End it first."), None))
    dates = [each.keep.until for each in found.records if each.keep.until] + [
        kept.until for kept in found.others if kept.until
    ]
    until = max((each for each in dates if each > today), default=None)
    held = {each.record for each in found.records if each.must_stay(today)}
    kept = tuple(blank for blank in blanks if (blank.name and until) or blank.record in held)
    return Erasure(tuple(hindrances), tuple(blank for blank in blanks if blank not in kept), kept, found, until)


def _newest(model: Any, family: str, household: Household, field: str) -> date | datetime | None:
    return model.objects.filter(**{family: household}).aggregate(newest=Max(field))["newest"]


def _last_of(household: Household, *moments: date | datetime | None) -> date | None:
    return max((_day(each, household) for each in moments if each is not None), default=None)


def _day(moment: date | datetime, household: Household) -> date:
    return localtime(moment, household.provider.zone).date() if isinstance(moment, datetime) else moment
