"""Importing a roster: all rows that were shown and not left out, or none."""

from collections.abc import Collection
from datetime import date, time
from typing import cast

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import (
    CareNeed,
    CareNeedKind,
    Child,
    Enrolment,
    Guardian,
    Household,
    PatternDay,
    Provider,
    User,
)
from provider.roster import PlannedRow, RosterRow, Table
from provider.selectors.roster import roster_plan


class RosterChanged(DomainError):
    """The books changed since the rows were shown, so that they would do something else."""


def import_roster(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    table: Table,
    shown: str,
    leave_out: Collection[int] = (),
    submission_key: str = "",
) -> Child:
    """Add the families, children and places of a roster, and return the first new child.

    `shown` is the `digest` of the plan that was looked at; `leave_out` are numbers of rows. Raises RosterChanged, and
    DomainError when a row with a problem was not left out or nothing remains. Rows are written in batches.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Child):
            return earlier
        _roster, planned = roster_plan(desk.provider, table, today)
        if digest(planned) != shown:
            raise RosterChanged(_("The families changed in between. Look at what the rows do now."))
        kept = [each for each in planned if each.row.number not in leave_out]
        if any(each.problems for each in kept):
            raise DomainError(_("Correct the rows with a problem in your file, or leave them out."), field="leave_out")
        rows = [each.row for each in kept if each.act != "there"]
        if not rows:
            raise DomainError(_("No row is left that adds anything."), field="leave_out")
        children = _insert(desk, rows, today)
        summary = ngettext("Imported %(n)d child", "Imported %(n)d children", len(children)) % {"n": len(children)}
        desk.audit("import", desk.provider, summary)
        desk.done(submission_key, children[0])
        return children[0]


def digest(planned: list[PlannedRow]) -> str:
    """What each row will do, in short."""
    return " ".join(f"{each.row.number}:{each.act}" for each in planned)


def _insert(desk: Desk, rows: list[RosterRow], today: date) -> list[Child]:
    """The reader has checked every length and order that `full_clean` would check row by row."""
    owner = desk.provider
    families = {each.name.casefold(): each for each in Household.objects.filter(provider=owner)}
    new = {row.family_key: row for row in reversed(rows) if row.family_key not in families}
    families |= {
        household.name.casefold(): household
        for household in desk.create_many(
            [
                Household(provider=owner, name=row.family, address=row.address, phone=row.telephone, email=row.email)
                for row in reversed(new.values())
            ]
        )
    }
    there = {
        (pk, name.casefold()) for pk, name in Guardian.objects.filter(provider=owner).values_list("household", "name")
    }
    guardians = {}
    for row in rows:
        key = (families[row.family_key].pk, row.guardian.casefold())
        if row.guardian and key not in there and key not in guardians:
            guardians[key] = Guardian(
                provider=owner,
                household=families[row.family_key],
                name=row.guardian,
                phone=row.telephone,
                email=row.email,
            )
    desk.create_many(list(guardians.values()))
    children = desk.create_many(
        [
            Child(
                provider=owner,
                household=families[row.family_key],
                name=row.child,
                preferred_name=row.called,
                birth_date=cast(date, row.birth_date),
                physician=row.physician,
            )
            for row in rows
        ]
    )
    pairs = list(zip(rows, children, strict=True))
    desk.create_many(
        [
            CareNeed(provider=owner, child=child, kind=CareNeedKind.ALLERGY, what=row.allergies, start=today)
            for row, child in pairs
            if row.allergies
        ]
    )
    placed = [(row, child) for row, child in pairs if row.first_day]
    enrolments = desk.create_many(
        [Enrolment(provider=owner, child=child, start=cast(date, row.first_day)) for row, child in placed]
    )
    desk.create_many(
        [
            PatternDay(
                provider=owner,
                enrolment=enrolment,
                weekday=weekday,
                arrives=cast(time, row.arrives),
                leaves=cast(time, row.leaves),
                start=cast(date, row.first_day),
            )
            for (row, _child), enrolment in zip(placed, enrolments, strict=True)
            for weekday in row.weekdays
        ]
    )
    return children
