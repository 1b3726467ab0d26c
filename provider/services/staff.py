"""People who work in the business, and the pay of a helper as it was worked out elsewhere."""

from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from provider.access import STAFF
from provider.desk import writing
from provider.errors import DomainError
from provider.guards import set_fields
from provider.models import Engagement, HelperPay, Membership, Person, Provider, User

PAID = frozenset({Engagement.EMPLOYEE, Engagement.CONTRACTOR})


def add_person(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    name: str,
    engagement: str,
    start: date,
    end: date | None = None,
    membership: Membership | None = None,
    note: str = "",
    submission_key: str = "",
) -> Person:
    """Add somebody who works in the business during [start, end); `membership` is their login, if they have one."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Person):
            return earlier
        row = Person(provider=desk.provider, name=name, engagement=engagement, start=start, end=end, note=note)
        row.membership = membership
        _check(row)
        desk.save(row, verb="add", summary=_("Added %(name)s to those who work here") % {"name": name})
        desk.done(submission_key, row)
        return row


def change_person(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    person: Person,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> Person:
    """Change any of name, engagement, start, end, membership and note. Raises StaleRow."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Person):
            return earlier
        row = desk.fresh(person, version)
        set_fields(row, fields, {"name", "engagement", "start", "end", "membership", "note"})
        _check(row)
        desk.save(row, verb="change", summary=_("Changed %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def record_pay(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    person: Person,
    paid_on: date,
    period_start: date,
    period_end: date,
    gross: Decimal,
    withheld: Decimal = Decimal("0.00"),
    employer_part: Decimal = Decimal("0.00"),
    note: str = "",
    submission_key: str = "",
) -> HelperPay:
    """Record one payday for work during [period_start, period_end). Nothing is computed.

    Raises PeriodLocked when the payday lies in a closed year.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, HelperPay):
            return earlier
        row = HelperPay(
            provider=desk.provider,
            person=person,
            paid_on=paid_on,
            period_start=period_start,
            period_end=period_end,
            gross=gross,
            withheld=withheld,
            employer_part=employer_part,
            note=note,
        )
        if person.engagement not in PAID:
            raise DomainError(_("Pay is kept for employees and contractors."))
        if paid_on > today:
            raise DomainError(_("The payday lies in the future."), field="paid_on")
        if period_end <= period_start:
            raise DomainError(_("The last day lies before the first."), field="period_last_day")
        if gross <= 0:
            raise DomainError(_("Enter an amount above zero."), field="gross")
        if withheld > gross:
            raise DomainError(_("No more can be withheld than was earned."), field="withheld")
        if person.engagement == Engagement.CONTRACTOR and (withheld or employer_part):
            raise DomainError(
                _("A contractor's pay has no part withheld and no employer's part. Is this person an employee?"),
                field="withheld" if withheld else "employer_part",
            )
        desk.require_open(paid_on, field="paid_on")
        desk.save(row, verb="record", summary=_("Recorded the pay of %(person)s") % {"person": person})
        desk.done(submission_key, row)
        return row


def void_pay(
    *, provider: Provider, actor: User | None, today: date, pay: HelperPay, reason: str, submission_key: str = ""
) -> HelperPay:
    """Take a payday out that was entered wrongly; the right one is recorded anew."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, HelperPay):
            return earlier
        row = HelperPay.objects.select_related("person").get(pk=pay.pk)
        desk.require_open(row.paid_on)
        desk.void(row, reason=reason)
        desk.done(submission_key, row)
        return row


def _check(row: Person) -> None:
    if row.end is not None and row.end <= row.start:
        raise DomainError(_("The last day lies before the first."), field="last_day")
    if row.membership is not None and row.membership.role not in STAFF:
        raise DomainError(_("This login belongs to nobody who works here."), field="membership")
