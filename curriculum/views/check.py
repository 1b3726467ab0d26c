"""The caution beside materials and placements."""

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from curriculum.selectors.runs import youngest_birth
from provider.models import Provider
from provider.periods import DateSpan
from provider.selectors.families import age_on


def check_line(provider: Provider, span: DateSpan) -> str:
    """What to check for the youngest child who may be present during a closed span; never that a thing is safe."""
    birth = youngest_birth(provider, span)
    if birth is None:
        who = _("the youngest child present")
    else:
        who = _("the youngest child present (%(age)s)") % {"age": _age(birth, max(birth, span.start))}
    return _(
        "Check this: age marks and small parts, for %(who)s. Only what you noted is compared. Local rules win."
    ) % {"who": who}


def _age(birth: date, on: date) -> str:
    years, months = age_on(birth, on)
    if years < 2:
        months += 12 * years
        return ngettext("%(count)d month old", "%(count)d months old", months) % {"count": months}
    return ngettext("%(count)d year old", "%(count)d years old", years) % {"count": years}
