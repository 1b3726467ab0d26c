"""The menu of a week: planned, copied, and what was served instead. What was planned for a day that began is kept."""

from collections.abc import Mapping
from datetime import date, timedelta

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError, StaleRow
from provider.models import MealKind, MenuItem, Provider, User
from provider.periods import DateSpan
from provider.selectors.meals import Box, stamp_of, week_items

WEEK = timedelta(days=7)


class StaleMenu(StaleRow):
    """The week was changed after its form was opened; `stamp` is that of what it holds now."""

    def __init__(self, row: MenuItem, stamp: int) -> None:
        super().__init__(row)
        self.stamp = stamp


def plan_week(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    day: date,
    texts: Mapping[Box, str],
    version: int,
    submission_key: str = "",
) -> dict[Box, MenuItem]:
    """Write the week that holds `day`. An empty text takes away what was planned for a day to come.

    `version` is the `stamp_of` the week that the form was opened with. Raises StaleMenu, and DomainError for a box
    outside the week or for changing what was planned for a day that is over.
    """
    with writing(provider, actor) as desk:
        items = week_items(desk.provider, day)
        _write(desk, items, {box: text.strip() for box, text in texts.items()}, day, today, version)
        return week_items(desk.provider, day)


def copy_last_week(
    *, provider: Provider, actor: User | None, today: date, day: date, submission_key: str = ""
) -> dict[Box, MenuItem]:
    """Fill the empty boxes of the week that holds `day`, from `today` on, with what was planned the week before.

    Raises DomainError when nothing was planned then.
    """
    with writing(provider, actor) as desk:
        before = week_items(desk.provider, day - WEEK)
        if not before:
            raise DomainError(_("Nothing was planned in the week before."))
        there = week_items(desk.provider, day)
        texts = {
            (planned + WEEK, kind): row.text
            for (planned, kind), row in before.items()
            if planned + WEEK >= today and (planned + WEEK, kind) not in there
        }
        _write(desk, there, texts, day, today, stamp_of(there))
        return week_items(desk.provider, day)


def note_served_instead(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    item: MenuItem,
    version: int,
    served_instead: str,
    submission_key: str = "",
) -> MenuItem:
    """Write on the menu what was served instead; the plan stays. Raises StaleRow, DomainError for a day to come."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, MenuItem):
            return earlier
        row = desk.fresh(item, version)
        desk.require_open(row.day)
        if row.day > today:
            raise DomainError(_("That day has not come yet: change the plan instead."))
        row.served_instead = served_instead.strip()
        desk.save(row, verb="change", summary=_("Noted what was served instead: %(row)s") % {"row": row})
        desk.done(submission_key, row)
        return row


def _write(
    desk: Desk, items: dict[Box, MenuItem], texts: Mapping[Box, str], day: date, today: date, version: int
) -> None:
    week = DateSpan.week(day)
    changed = {box: text for box, text in texts.items() if text != (items[box].text if box in items else "")}
    if changed and items and version != stamp_of(items):
        raise StaleMenu(max(items.values(), key=lambda row: (row.version, row.pk)), stamp_of(items))
    for (on, kind), text in changed.items():
        if on not in week:
            raise DomainError(_("%(day)s is not in this week.") % {"day": date_format(on)})
        desk.require_open(on)
        row = items.get((on, kind))
        if row and (on < today or (on == today and not text)):
            raise DomainError(_("What was planned is kept. Write down what was served instead."))
        if text:
            row = row or MenuItem(provider=desk.provider, day=on, kind=MealKind(kind))
            row.text = text
            desk.save(row)
        elif row:
            desk.audit("remove", row, _("Took from the menu: %(row)s, %(text)s") % {"row": row, "text": row.text})
            row.delete()
    if changed:
        first = MenuItem.objects.filter(provider=desk.provider, day__gte=week.start, day__lte=week.last_day).first()
        if first:
            desk.audit("plan", first, _("Planned meals of the week of %(day)s") % {"day": date_format(week.start)})
