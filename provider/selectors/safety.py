"""Safety records as lists show them: the newest of each, with the earlier ones it corrects; and what is due."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, TypeVar

from django.db.models import Max, Q, QuerySet
from django.utils.timezone import localtime
from django.utils.translation import gettext_lazy as _

from provider.models import (
    Child,
    Dose,
    Drill,
    HomeCheck,
    Incident,
    Medication,
    Provider,
    Reminder,
    ReminderInterval,
)

RecordT = TypeVar("RecordT", Incident, Drill, HomeCheck, Dose)

USUAL_DAYS = 30
# What a first round through a home looks at; from then on the owner's own list stands.
FIRST_ITEMS = (
    _("Smoke alarms tested"),
    _("Carbon monoxide alarm tested"),
    _("Fire extinguisher in its place and in date"),
    _("First aid kit complete"),
    _("Exits clear"),
    _("Fire hazards: heaters, cables, stored things"),
    _("Medicines and cleaners locked away"),
    _("Play equipment whole"),
)
# This long before its day a due thing shows on Today.
AHEAD = timedelta(days=5)


@dataclass(frozen=True, slots=True)
class Due:
    """Something to be done every `days`; `last` None when it was never done, and it is then due at once."""

    what: Reminder
    days: int
    last: date | None
    due_on: date

    def is_late(self, today: date) -> bool:
        return self.due_on < today

    def is_near(self, today: date) -> bool:
        return self.due_on - AHEAD <= today


def incidents_of(provider: Provider, child: Child | None = None) -> QuerySet[Incident]:
    """The newest version of each report, the latest incident first."""
    rows = Incident.objects.filter(provider=provider, corrected_by__isnull=True).select_related("child", "corrects")
    return (rows.filter(child=child) if child else rows).order_by("-happened_at", "-pk")


def drills_of(provider: Provider) -> QuerySet[Drill]:
    """The drills, each as last corrected, the latest first."""
    rows = Drill.objects.filter(provider=provider, corrected_by__isnull=True)
    return rows.select_related("corrects").order_by("-held_at", "-pk")


def home_checks_of(provider: Provider) -> QuerySet[HomeCheck]:
    """The home checks, each as last corrected, the latest first."""
    rows = HomeCheck.objects.filter(provider=provider, corrected_by__isnull=True)
    return rows.select_related("corrects").order_by("-done_on", "-pk")


def unsigned_incidents(provider: Provider) -> list[Incident]:
    """Reports whose parent was not told or did not sign. One query."""
    return list(incidents_of(provider).filter(Q(told_at__isnull=True) | Q(signed_at__isnull=True)))


def versions(row: RecordT, rows: Iterable[RecordT]) -> list[RecordT]:
    """All versions of a record, the newest first, from the `rows` it is among."""
    by_pk = {each.pk: each for each in rows}
    later = {each.corrects_id: each for each in by_pk.values() if each.corrects_id}
    newest: Any = row
    while newest.pk in later:
        newest = later[newest.pk]
    chain = [newest]
    while chain[-1].corrects_id:
        chain.append(by_pk[chain[-1].corrects_id])
    return chain


def incident_versions(row: Incident) -> list[Incident]:
    """All versions of the report, the newest first. One query."""
    return versions(row, Incident.objects.filter(provider=row.provider_id, child=row.child_id).select_related("child"))


def drill_versions(row: Drill) -> list[Drill]:
    """All versions of the drill, the newest first. One query."""
    return versions(row, Drill.objects.filter(provider=row.provider_id))


def home_check_versions(row: HomeCheck) -> list[HomeCheck]:
    """All versions of the home check, the newest first. One query."""
    return versions(row, HomeCheck.objects.filter(provider=row.provider_id))


def due(provider: Provider, today: date) -> list[Due]:
    """Drill and home check with their next day. Three queries."""
    days = dict(ReminderInterval.objects.filter(provider=provider).values_list("what", "days"))
    held = Drill.objects.filter(provider=provider, corrected_by__isnull=True).aggregate(last=Max("held_at"))["last"]
    done = HomeCheck.objects.filter(provider=provider, corrected_by__isnull=True).aggregate(last=Max("done_on"))["last"]
    newest = {
        Reminder.DRILL: localtime(held, provider.zone).date() if held else None,
        Reminder.HOME_CHECK: done,
    }
    return [
        Due(what, number := days.get(what, USUAL_DAYS), last, last + timedelta(days=number) if last else today)
        for what, last in newest.items()
    ]


def items_to_check(provider: Provider) -> list[str]:
    """What the next round looks at: the list of the last one, else the usual first one."""
    last = home_checks_of(provider).first()
    return [each["item"] for each in last.items] if last else [str(each) for each in FIRST_ITEMS]


@dataclass(frozen=True, slots=True)
class Medicine:
    """An instruction with its doses, the newest version of each, latest first."""

    medication: Medication
    doses: tuple[Dose, ...]

    @property
    def last(self) -> Dose | None:
        return self.doses[0] if self.doses else None

    @property
    def last_day(self) -> date:
        return self.medication.end - timedelta(days=1)


def medicines_of(child: Child) -> list[Medicine]:
    """The whole log of a child, the newest instruction first. Two queries."""
    return _with_doses(Medication.objects.filter(child=child).order_by("-start", "-pk"))


def medicines_today(provider: Provider, children: Iterable[Child], today: date) -> list[Medicine]:
    """What may be given today to the children named. Two queries."""
    rows = Medication.objects.filter(
        provider=provider, child__in=list(children), voided_at__isnull=True, start__lte=today, end__gt=today
    )
    return _with_doses(rows.select_related("child").order_by("child__name", "name"))


def dose_versions(dose: Dose) -> list[Dose]:
    """All versions of the dose, the newest first. One query."""
    return versions(dose, Dose.objects.filter(medication=dose.medication_id))


def _with_doses(medications: QuerySet[Medication]) -> list[Medicine]:
    doses: dict[int, list[Dose]] = {each.pk: [] for each in medications}
    rows = Dose.objects.filter(medication__in=doses, corrected_by__isnull=True, amount__gt=0)
    for dose in rows.select_related("corrects").order_by("-given_at", "-pk"):
        doses[dose.medication_id].append(dose)
    return [Medicine(each, tuple(doses[each.pk])) for each in medications]
