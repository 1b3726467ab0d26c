"""Households, guardians, children and their enrolments with weekly patterns."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, time
from typing import Any, TypeVar

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.guards import set_fields
from provider.models import (
    CareNeed,
    CareNeedKind,
    Child,
    Cycle,
    Enrolment,
    Guardian,
    Household,
    PatternDay,
    Provider,
    ProviderRow,
    User,
)
from provider.models.base import ends_after, meets
from provider.periods import DateSpan

RowT = TypeVar("RowT", bound=ProviderRow)
CHILD_FIELDS = (
    "preferred_name",
    "is_own_child",
    "label_letters",
    "physician",
    "health_insurer",
    "meals_not_claimed",
)


class EnrolmentOverlap(DomainError):
    """The child already has a place during some of these days."""


@dataclass(frozen=True, slots=True)
class PatternInput:
    """Care agreed on one weekday (0 Monday), local times; `cycle` one of `Cycle`."""

    weekday: int
    arrives: time
    leaves: time
    cycle: str = Cycle.EVERY


def add_household(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    name: str,
    address: str = "",
    phone: str = "",
    email: str = "",
    language: str = "en",
    note: str = "",
    submission_key: str = "",
) -> Household:
    """Add a household; its name is unique in the business."""
    with writing(provider, actor) as desk:
        row = Household(
            provider=desk.provider,
            name=name,
            address=address,
            phone=phone,
            email=email,
            language=language,
            note=note,
        )
        return _add(desk, row, submission_key, _("Added the household %(row)s") % {"row": name})


def change_household(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    household: Household,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> Household:
    """Change any of name, address, phone, email, language and note. Raises StaleRow."""
    allowed = {"name", "address", "phone", "email", "language", "note"}
    with writing(provider, actor) as desk:
        return _change(desk, household, version, submission_key, allowed, fields)


def add_guardian(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    household: Household,
    name: str,
    email: str = "",
    phone: str = "",
    submission_key: str = "",
) -> Guardian:
    """Add a guardian to a household."""
    with writing(provider, actor) as desk:
        row = Guardian(provider=desk.provider, household=household, name=name, email=email, phone=phone)
        return _add(desk, row, submission_key, _("Added the guardian %(row)s") % {"row": name})


def change_guardian(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    guardian: Guardian,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> Guardian:
    """Change any of name, email and phone. Raises StaleRow."""
    with writing(provider, actor) as desk:
        return _change(desk, guardian, version, submission_key, {"name", "email", "phone"}, fields)


def add_child(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    household: Household,
    name: str,
    birth_date: date,
    allergies: str = "",
    submission_key: str = "",
    **fields: Any,
) -> Child:
    """Add a child; what is said of `allergies` (at most 200 letters) becomes a care need from today on.

    `fields` are any of preferred name, own child, label letters, physician, health insurer and meals not claimed.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Child):
            return earlier
        row = insert_child(
            desk, today=today, household=household, name=name, birth_date=birth_date, allergies=allergies, **fields
        )
        desk.done(submission_key, row)
        return row


def insert_child(
    desk: Desk, *, today: date, household: Household, name: str, birth_date: date, allergies: str = "", **fields: Any
) -> Child:
    """The inner part of `add_child`, for services that add more than a child."""
    _check_birth(birth_date, today)
    row = Child(provider=desk.provider, household=household, name=name, birth_date=birth_date)
    set_fields(row, fields, CHILD_FIELDS)
    desk.save(row, verb="add", summary=_("Added the child %(row)s") % {"row": row})
    if allergies.strip():
        desk.save(
            CareNeed(provider=desk.provider, child=row, kind=CareNeedKind.ALLERGY, what=allergies.strip(), start=today)
        )
    return row


def change_child(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child: Child,
    version: int,
    submission_key: str = "",
    **fields: Any,
) -> Child:
    """Change the name, the birth date or any of CHILD_FIELDS. Raises StaleRow."""
    with writing(provider, actor) as desk:
        if "birth_date" in fields:
            _check_birth(fields["birth_date"], today)
        return _change(desk, child, version, submission_key, {"name", "birth_date", *CHILD_FIELDS}, fields)


def enrol_child(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    child: Child,
    start: date,
    end: date | None = None,
    is_free_place: bool = False,
    pattern: Iterable[PatternInput] = (),
    submission_key: str = "",
) -> Enrolment:
    """Give a child a place during [start, end) with a weekly pattern.

    Raises EnrolmentOverlap (field `start`) when the child already has a place on some of these days.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Enrolment):
            return earlier
        row = insert_place(desk, child=child, start=start, end=end, is_free_place=is_free_place, pattern=pattern)
        desk.done(submission_key, row)
        return row


def insert_place(
    desk: Desk,
    *,
    child: Child,
    start: date,
    end: date | None = None,
    is_free_place: bool = False,
    pattern: Iterable[PatternInput],
) -> Enrolment:
    """The inner part of `enrol_child`, for services that do more than enrol."""
    if end is not None and end <= start:
        raise DomainError(_("The place must end after it starts."), field="end")
    if start < child.birth_date:
        raise DomainError(_("The child was not born yet on that day."), field="start")
    desk.require_open_span(start, end, field="start")
    _check_overlap(child, start, end)
    row = desk.save(
        Enrolment(provider=desk.provider, child=child, start=start, end=end, is_free_place=is_free_place),
        verb="enrol",
        summary=_("Enrolled %(child)s from %(day)s") % {"child": child, "day": date_format(start)},
    )
    _insert_pattern(desk, row, pattern, start)
    return row


def end_enrolment(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    enrolment: Enrolment,
    version: int,
    end: date | None,
    submission_key: str = "",
) -> Enrolment:
    """Let a place end before `end` (the first day without it), or reopen it with None.

    The days from the earlier of the old and the new end must be open; they may not run into another place.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Enrolment):
            return earlier
        row = desk.fresh(enrolment, version)
        if end is not None and end <= row.start:
            raise DomainError(_("The place must end after it starts."), field="last_day")
        if end != row.end:
            ends = [each for each in (end, row.end) if each is not None]
            desk.require_open_span(min(ends), max(ends) if len(ends) == 2 else None, field="last_day")
        _check_overlap(row.child, row.start, end, besides=row)
        row.end = end
        told = (
            _("%(child)s's place ends before %(day)s") % {"child": row.child, "day": date_format(end)}
            if end
            else _("%(child)s's place has no end again") % {"child": row.child}
        )
        desk.save(row, verb="end", summary=told)
        desk.done(submission_key, row)
        return row


def change_pattern(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    enrolment: Enrolment,
    start: date,
    pattern: Iterable[PatternInput],
    submission_key: str = "",
) -> Enrolment:
    """Come on other days from `start` on. What was said for later days is replaced; earlier days keep theirs."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Enrolment):
            return earlier
        row = Enrolment.objects.select_related("child").get(pk=enrolment.pk, provider=desk.provider)
        if start < row.start or (row.end is not None and start >= row.end):
            raise DomainError(_("The day lies outside the time of this place."), field="start")
        desk.require_open_span(start, row.end, field="start")
        days = PatternDay.objects.filter(enrolment=row)
        days.filter(start__gte=start).delete()
        days.filter(ends_after(start)).update(end=start)
        _insert_pattern(desk, row, pattern, start)
        desk.save(
            row,
            verb="change",
            summary=_("Changed the days of %(child)s from %(day)s") % {"child": row.child, "day": date_format(start)},
        )
        desk.done(submission_key, row)
        return row


def _insert_pattern(desk: Desk, enrolment: Enrolment, pattern: Iterable[PatternInput], start: date) -> None:
    pattern = list(pattern)
    if not pattern:
        raise DomainError(_("Choose at least one weekday."))
    for given in pattern:
        desk.save(
            PatternDay(
                provider=desk.provider,
                enrolment=enrolment,
                weekday=given.weekday,
                arrives=given.arrives,
                leaves=given.leaves,
                cycle=given.cycle,
                start=start,
            )
        )


def _check_overlap(child: Child, start: date, end: date | None, besides: Enrolment | None = None) -> None:
    others = Enrolment.objects.filter(meets(DateSpan(start, end)), child=child)
    if besides is not None:
        others = others.exclude(pk=besides.pk)
    if other := others.first():
        raise EnrolmentOverlap(
            _("%(child)s already has a place from %(day)s. End it first.")
            % {"child": child, "day": date_format(other.start)},
            field="start",
        )


def _check_birth(birth_date: date, today: date) -> None:
    if birth_date > today:
        raise DomainError(_("The birth date lies in the future."), field="birth_date")


def _add(desk: Desk, row: RowT, submission_key: str, summary: str) -> RowT:
    if earlier := desk.once(submission_key, type(row)):
        return earlier
    desk.save(row, verb="add", summary=summary)
    desk.done(submission_key, row)
    return row


def _change(
    desk: Desk, row: RowT, version: int, submission_key: str, allowed: set[str], fields: dict[str, Any]
) -> RowT:
    if earlier := desk.once(submission_key, type(row)):
        return earlier
    row = desk.fresh(row, version)
    set_fields(row, fields, allowed)
    desk.save(row, verb="change", summary=_("Changed %(row)s") % {"row": row})
    desk.done(submission_key, row)
    return row
