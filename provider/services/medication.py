"""Medicine: a guardian's signed instruction, and the doses given against it. Corrections add, never overwrite."""

from datetime import date, datetime, timedelta
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.dosing import Doubt, Instruction, doubts
from provider.errors import DomainError
from provider.guards import require_past, require_past_day, require_reason
from provider.models import Child, Dose, Medication, Provider, StoredFile, User
from provider.services.safety import AlreadyCorrected


class OutsideInstruction(DomainError):
    """The dose does not keep to its instruction; `outside_because` answers, and the dose is then recorded."""


def add_medication(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child: Child,
    name: str,
    dose: Decimal,
    unit: str,
    most_per_day: int,
    hours_between: int,
    start: date,
    end: date,
    signed_by: str,
    signed_on: date,
    reason: str = "",
    file: StoredFile | None = None,
    submission_key: str = "",
) -> Medication:
    """Keep a signed instruction for the days [start, end). A changed instruction is a new one with a new signature."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Medication):
            return earlier
        if dose <= 0:
            raise DomainError(_("The dose is more than nothing."), field="dose")
        if most_per_day < 1:
            raise DomainError(_("At least one dose a day."), field="most_per_day")
        if end <= start:
            raise DomainError(_("The last day must not lie before the first."), field="last_day")
        require_past_day(signed_on, today, field="signed_on")
        row = Medication(
            provider=desk.provider,
            child=child,
            name=name,
            dose=dose,
            unit=unit,
            most_per_day=most_per_day,
            hours_between=hours_between,
            start=start,
            end=end,
            reason=reason,
            signed_by=signed_by,
            signed_on=signed_on,
            file=file,
        )
        desk.save(row, verb="add", summary=_("Added a medicine instruction for %(child)s") % {"child": child})
        desk.done(submission_key, row)
        return row


def withdraw_medication(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    medication: Medication,
    reason: str,
    submission_key: str = "",
) -> Medication:
    """The instruction no longer holds; its doses stay on the log."""
    with writing(provider, actor) as desk:
        row = Medication.objects.get(pk=medication.pk, provider=desk.provider)
        return row if row.voided_at else desk.void(row, reason=reason, verb="withdraw")


def give_dose(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    medication: Medication,
    given_by: str,
    at: datetime | None = None,
    amount: Decimal | None = None,
    outside_because: str = "",
    note: str = "",
    submission_key: str = "",
) -> Dose:
    """Record a dose given `at` (default now), of the instruction's amount unless another is said.

    Raises OutsideInstruction (field `outside_because`) for a dose that does not keep to the instruction, until a
    reason is given: what was given is recorded either way.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Dose):
            return earlier
        medication = Medication.objects.select_related("child").get(pk=medication.pk, provider=desk.provider)
        row = Dose(
            provider=desk.provider,
            medication=medication,
            given_at=at or now,
            amount=medication.dose if amount is None else amount,
            given_by=given_by,
            note=note,
        )
        _check(desk, row, now, outside_because)
        desk.save(row, verb="give", summary=_("Gave medicine to %(child)s") % {"child": medication.child})
        desk.done(submission_key, row)
        return row


def correct_dose(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    dose: Dose,
    given_at: datetime,
    amount: Decimal,
    given_by: str,
    note: str,
    outside_because: str = "",
    submission_key: str = "",
) -> Dose:
    """Write the dose anew; `note` says why. An `amount` of zero says that it was not given after all.

    Raises AlreadyCorrected and OutsideInstruction.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Dose):
            return earlier
        require_reason(note, field="note")
        if Dose.objects.filter(corrects=dose).exists():
            raise AlreadyCorrected(_("This record was corrected already. Open the newest one and correct that."))
        row = Dose(
            provider=desk.provider,
            medication=dose.medication,
            given_at=given_at,
            amount=amount,
            given_by=given_by,
            note=note,
            corrects=dose,
        )
        _check(desk, row, now, outside_because)
        summary = _("Corrected a dose of %(child)s") % {"child": dose.medication.child}
        desk.save(row, verb="correct", summary=summary)
        desk.done(submission_key, row)
        return row


def _check(desk: Desk, row: Dose, now: datetime, outside_because: str) -> None:
    """Refuse the impossible; ask about what is outside the instruction, and keep the answer with the dose."""
    require_past(row.given_at, now, field="at")
    if row.amount < 0 or (row.amount == 0 and row.corrects is None):
        raise DomainError(_("The dose is more than nothing."), field="amount")
    if row.amount == 0:
        return
    found = _doubts(desk, row)
    if not found:
        return
    if not outside_because.strip():
        raise OutsideInstruction(" ".join(_words(doubt, row.medication) for doubt in found), field="outside_because")
    row.outside_because = outside_because.strip()


def _doubts(desk: Desk, row: Dose) -> tuple[Doubt, ...]:
    medication, zone = row.medication, desk.provider.zone
    given = Dose.objects.filter(medication=medication, corrected_by__isnull=True, amount__gt=0)
    if row.corrects is not None:
        given = given.exclude(pk=row.corrects.pk)
    reach = timedelta(hours=medication.hours_between) + timedelta(days=2)
    near = given.filter(given_at__gt=row.given_at - reach, given_at__lt=row.given_at + reach)
    instruction = Instruction(
        medication.dose,
        medication.most_per_day,
        medication.hours_between,
        medication.start,
        medication.end,
        withdrawn=medication.voided_at is not None,
    )
    return doubts(instruction, row.given_at, row.amount, list(near.values_list("given_at", flat=True)), zone)


def _words(doubt: Doubt, medication: Medication) -> str:
    told = {
        "not_yet": _("The instruction begins only on %(start)s."),
        "no_longer": _("The instruction ended before %(end)s."),
        "withdrawn": _("The instruction was withdrawn."),
        "amount": _("The instruction says %(dose)s %(unit)s."),
        "most_per_day": _("The instruction allows %(most)d a day, and as many were given."),
        "too_soon": _("The instruction asks for %(hours)d hours between two doses."),
    }
    return told[doubt] % {
        "start": date_format(medication.start),
        "end": date_format(medication.end),
        "dose": medication.dose,
        "unit": medication.unit,
        "most": medication.most_per_day,
        "hours": medication.hours_between,
    }
