"""Which limit on the children present holds from when."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider import capacity
from provider.capacity import UnknownCapacityRule
from provider.desk import writing
from provider.errors import DomainError
from provider.models import CapacitySetting, Provider, User

CUSTOM = "custom"
# Nobody's own child is one at this age; larger numbers are slips.
OLDEST = 18 * 12


@dataclass(frozen=True, slots=True)
class CustomRule:
    """The owner's own numbers: children in all, at most so many `(under_months, most)`, and how long own ones count.

    `own_under_months` None counts them like the others, 0 never.
    """

    most: int
    limits: Sequence[tuple[int, int]] = ()
    own_under_months: int | None = None


def set_capacity(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    rule: str,
    start: date,
    adults: int = 1,
    licence_limit: int | None = None,
    custom: CustomRule | None = None,
    submission_key: str = "",
) -> CapacitySetting:
    """From `start` on the limit is `rule`, a code of the rule files or "custom". What was said for later is replaced.

    Raises DomainError for a rule that is not known on that day, for nobody there, and for custom numbers that are none.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, CapacitySetting):
            return earlier
        if adults < 1:
            raise DomainError(_("At least one adult must be there."), field="adults")
        if licence_limit is not None and licence_limit < 1:
            raise DomainError(_("A licence allows at least one child."), field="licence_limit")
        label = _("your own numbers") if rule == CUSTOM else _rule_label(rule, start)
        row = CapacitySetting(
            provider=desk.provider,
            rule=rule,
            licence_limit=licence_limit,
            adults=adults,
            custom=_custom(custom) if rule == CUSTOM else {},
            start=start,
        )
        CapacitySetting.objects.filter(provider=desk.provider, start__gte=start).delete()
        summary = _("Capacity from %(day)s: %(rule)s") % {"day": date_format(start), "rule": label}
        desk.save(row, verb="change", summary=summary)
        desk.done(submission_key, row)
        return row


def _rule_label(code: str, day: date) -> str:
    try:
        found = capacity.rule(code, day)
    except UnknownCapacityRule as error:
        raise DomainError(_("This rule is not known on that day."), field="rule") from error
    return f"{_(found.place)}, {_(found.kind)}"


def _custom(given: CustomRule | None) -> dict[str, Any]:
    if given is None or given.most < 1:
        raise DomainError(_("Say how many children may be there at most."), field="most")
    for under_months, most in given.limits:
        if not 0 < under_months <= OLDEST or most < 0:
            raise DomainError(_("An age limit needs an age up to 18 years and a number of children."), field="most")
    if given.own_under_months is not None and not 0 <= given.own_under_months <= OLDEST:
        raise DomainError(_("Own children count up to some age between 0 and 18 years."), field="own_under_years")
    return {
        "most": given.most,
        "limits": [{"under_months": under, "most": most} for under, most in sorted(given.limits)],
        "own_under_months": given.own_under_months,
    }
