"""Meals that children ate. What may be claimed of a meal is worked out in the claim, never here."""

from collections.abc import Collection, Mapping
from datetime import date

from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import require_past_day
from provider.models import Attendance, Child, MealKind, MealServed, Provider, User
from provider.selectors.meals import served_on


def record_meal(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    day: date,
    kind: str,
    add: Collection[Child] = (),
    remove: Collection[Child] = (),
    submission_key: str = "",
) -> list[MealServed]:
    """Say who ate a meal, as differences, so that two people at two tablets never undo each other.

    Adding a child who already ate it, or removing one who did not, changes nothing. Returns who ate the meal now.
    Raises PeriodLocked, ForeignRow, and DomainError for a day to come or a child who was not here.
    """
    with writing(provider, actor) as desk:
        if not desk.once(submission_key, MealServed):
            _check_day(desk, day, today)
            for row in served_on(desk.provider, day).filter(kind=kind, child__in=remove):
                row.voided_at = timezone.now()
                desk.save(row, verb="correct", summary=_("%(child)s did not eat it: %(row)s") % _words(row))
            if added := _add(desk, day, {kind: add}):
                desk.done(submission_key, added[0])
        return list(served_on(desk.provider, day).filter(kind=kind))


def record_meals_of_day(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    day: date,
    meals: Mapping[str, Collection[Child]],
    submission_key: str = "",
) -> list[MealServed]:
    """Add all meals of a day, by `MealKind`, in a constant number of queries. Returns the rows that are new.

    Raises what `record_meal` raises.
    """
    with writing(provider, actor) as desk:
        if desk.once(submission_key, MealServed):
            return []
        _check_day(desk, day, today)
        if added := _add(desk, day, meals):
            desk.done(submission_key, added[0])
        return added


def _check_day(desk: Desk, day: date, today: date) -> None:
    desk.require_open(day)
    require_past_day(day, today)


def _add(desk: Desk, day: date, meals: Mapping[str, Collection[Child]]) -> list[MealServed]:
    """The new rows; what is there already stays as it is."""
    there = set(served_on(desk.provider, day).values_list("child_id", "kind"))
    rows = [
        MealServed(provider=desk.provider, child=child, day=day, kind=MealKind(kind))
        for kind, children in meals.items()
        for child in sorted(set(children), key=lambda each: each.pk)
        if (child.pk, kind) not in there
    ]
    _check_present(desk, day, [row.child for row in rows])
    desk.create_many(rows)
    if rows:
        kinds = ", ".join(str(kind.label) for kind in MealKind if kind in {row.kind for row in rows})
        desk.audit(
            "record",
            rows[0],
            _("Recorded on %(day)s: %(kinds)s, %(count)d meals together")
            % {"day": date_format(day), "kinds": kinds, "count": len(rows)},
        )
    return rows


def _check_present(desk: Desk, day: date, children: list[Child]) -> None:
    """The provider's own children live here; every other child must have been signed in."""
    here = set(
        Attendance.objects.filter(
            provider=desk.provider, day=day, voided_at__isnull=True, arrived_at__isnull=False
        ).values_list("child_id", flat=True)
    )
    for child in children:
        if not child.is_own_child and child.pk not in here:
            raise DomainError(
                _("%(child)s was not signed in on %(day)s. Record the stay first.")
                % {"child": child, "day": date_format(day)},
                field="children",
            )


def _words(row: MealServed) -> dict[str, str]:
    return {"child": str(row.child), "row": str(row)}
