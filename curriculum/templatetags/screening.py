"""Checks in words. They say what to check, never that something needs no check."""

from collections.abc import Iterable

from django import template
from django.utils.dates import WEEKDAYS
from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from curriculum.cleaning import Suggestion
from curriculum.models import CleaningAct
from curriculum.screening import Finding, Window

register = template.Library()

CHECKS = {
    "age_mark": gettext_lazy("Its maker names an older age."),
    "small_parts": gettext_lazy("Its smallest piece can be swallowed or breathed in."),
    "small_ball": gettext_lazy("It has a ball or egg that is small enough to choke on."),
    "cord": gettext_lazy("It has a cord or elastic that can go round a neck."),
    "loop": gettext_lazy("It has a loop that can go over a head."),
    "magnet_loose": gettext_lazy("No magnet may come loose: swallowed ones pull together inside."),
    "magnet_reach": gettext_lazy("It has magnets."),
    "button_cell": gettext_lazy("The door of its button cell opens only with a tool, or two movements at once."),
    "latex": gettext_lazy("Latex balloons and gloves choke when they are empty or torn."),
    "bag_reach": gettext_lazy("There is a plastic bag with it."),
    "bag_film": gettext_lazy("How thick the film of its bag is and how far it opens."),
    "old_paint": gettext_lazy("Old paint may hold lead: nothing may flake, and nobody may mouth it."),
    "recall_missing": gettext_lazy("Somebody else had it, and nobody has looked whether it was recalled."),
    "recall_due": gettext_lazy("It is time to look again whether it was recalled."),
    "recall_unsure": gettext_lazy("The recall look-up could not tell."),
    "recalled": gettext_lazy("It was recalled."),
    "sensory_table": gettext_lazy("A table or tub with this filling."),
    "toddler_filler": gettext_lazy("Its filling goes into mouths, noses and ears."),
    "watch_filler": gettext_lazy("Somebody watches closely as long as it is open."),
    "water": gettext_lazy(
        "Fresh water just before, within arm’s reach of the youngest, emptied right after. An inch of water is enough"
        " to drown in."
    ),
    "dough": gettext_lazy("Home-made dough is made fresh each week, dated, kept airtight; hands are washed before."),
    "raw_flour": gettext_lazy("Raw flour is raw food. Cook the dough, or buy it."),
    "kidney_beans": gettext_lazy("A few raw kidney beans make a child very ill."),
    "water_beads": gettext_lazy("Swallowed water beads swell inside."),
    "foam": gettext_lazy("Polystyrene foam breaks into pieces that choke."),
}
UNKNOWN = {
    "age_mark": gettext_lazy("the age its maker names"),
    "small_parts": gettext_lazy("the smallest piece"),
    "small_ball": gettext_lazy("balls"),
    "cord": gettext_lazy("cords"),
    "loop": gettext_lazy("loops"),
    "magnet": gettext_lazy("magnets"),
    "button_cell": gettext_lazy("button cells"),
    "latex": gettext_lazy("latex"),
    "plastic_bag": gettext_lazy("plastic bags"),
    "old_paint": gettext_lazy("old paint"),
}
SUGGESTIONS = {
    "mouthed": gettext_lazy("Things that go into mouths"),
    "cloth": gettext_lazy("Cloth toys"),
    "wooden": gettext_lazy("Wooden toys"),
    "shelves": gettext_lazy("Centres, tables and shelves"),
    "dress_up": gettext_lazy("Dress-up clothes and hats"),
}


@register.filter
def check_words(finding: Finding) -> str:
    return str(CHECKS[finding.check.code])


@register.filter
def unknown_words(findings: Iterable[Finding]) -> str:
    """What nobody looked at yet, each once: `the smallest piece, cords, magnets`."""
    return ", ".join(dict.fromkeys(str(UNKNOWN[finding.check.finds]) for finding in findings))


@register.filter
def age_words(months: int | None) -> str:
    """An age, as `18 months` under two years, else in years: `3 years`, `2½ years`."""
    if months is None:
        return ""
    if months < 24 or months % 6:
        return ngettext("%(count)d month", "%(count)d months", months) % {"count": months}
    years, rest = divmod(months, 12)
    if rest:
        return _("%(count)d½ years") % {"count": years}
    return ngettext("%(count)d year", "%(count)d years", years) % {"count": years}


@register.filter
def window_words(windows: Iterable[Window]) -> str:
    """Hours by weekday, neighbouring weekdays of equal hours joined: `Mon – Wed 1 p.m. – 3 p.m.; Fri 8 a.m. – noon`."""
    hours: dict[int, list[str]] = {}
    for each in windows:
        hours.setdefault(each.weekday, []).append(f"{time_format(each.start)} – {time_format(each.end)}")
    joined: list[tuple[int, int, list[str]]] = []
    for weekday, told in hours.items():
        if joined and joined[-1][1:] == (weekday - 1, told):
            joined[-1] = (joined[-1][0], weekday, told)
        else:
            joined.append((weekday, weekday, told))
    return "; ".join(f"{_weekdays(first, last)} {', '.join(told)}" for first, last, told in joined)


def _weekdays(first: int, last: int) -> str:
    return str(WEEKDAYS[first]) if first == last else f"{WEEKDAYS[first]} – {WEEKDAYS[last]}"


@register.filter
def every_words(days: int) -> str:
    if not days:
        return _("after each use")
    if days == 1:
        return _("every day")
    return _("every %(count)d days") % {"count": days}


@register.filter
def act_words(suggestion: Suggestion) -> str:
    return str(CleaningAct(suggestion.act).label)


@register.filter
def suggestion_words(suggestion: Suggestion) -> str:
    return str(SUGGESTIONS[suggestion.code])
