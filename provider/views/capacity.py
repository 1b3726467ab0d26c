"""How many children may be there at once: the rule, the planner, the numbers over a day, and what Today says of it."""

from collections.abc import Iterator
from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import OWNER, STAFF, ScopedRequest, scoped
from provider.capacity import capacity_rules
from provider.clock import now
from provider.doors import Notice
from provider.forms.capacity import CapacityForm, PlannerForm, WhoForm
from provider.models import Child, Enrolment, Provider, WaitingChild, Weekday
from provider.periods import DateSpan
from provider.selectors.capacity import (
    Level,
    capacity_settings,
    load_plan,
    numbers_over_day,
    recorded_stays,
    rule_of,
)
from provider.selectors.families import pattern_on
from provider.selectors.planner import Clash, clashes_of_child, forecast
from provider.services import capacity as services
from provider.templatetags.capacity import clock, excess_words, weekday_name
from provider.views.months import day_of
from provider.views.pages import act, show_form


@scoped(OWNER)
def capacity(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    settings = capacity_settings(visit.provider)
    current = settings.setting_on(visit.today)
    context = {
        "current": current,
        "rule": current and rule_of(current, visit.today),
        "later": [(row, rule_of(row, row.start)) for row in settings.rows if row.start > visit.today],
        "earlier": [
            (row, rule_of(row, row.start)) for row in settings.rows if row.start <= visit.today and row != current
        ],
        "of_place": _rules_of_place(visit.provider, visit.today),
    }
    return render(request, "provider/capacity/overview.html", context)


@scoped(OWNER)
def capacity_change(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    current = capacity_settings(visit.provider).setting_on(visit.today)
    rules = tuple(rule for rule in capacity_rules() if visit.today in rule.effective)
    asked = {"rule": request.GET["rule"]} if "rule" in request.GET else {}
    initial = {**CapacityForm.of_setting(current), "start": visit.today, **asked}
    form = CapacityForm(request.POST or None, provider=visit.provider, rules=rules, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.set_capacity(
                **visit.writer,
                **{name: form.cleaned_data[name] for name in ("rule", "start", "adults", "licence_limit")},
                custom=form.custom_rule(),
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The limit is saved."),
            go=lambda _row: reverse("provider:capacity", args=[visit.provider.slug]),
        )
        if response:
            return response
    context: dict[str, Any] = {"of_place": _rules_of_place(visit.provider, visit.today)}
    return show_form(request, "provider/capacity/form.html", form, **context)


def _rules_of_place(provider: Provider, today: date) -> list[Any]:
    return [
        rule
        for rule in capacity_rules()
        if (rule.country, rule.region) == (provider.country, provider.region) and today in rule.effective
    ]


@scoped(OWNER)
def planner(request: ScopedRequest) -> HttpResponse:
    """A question, asked by post: a birth date does not belong into an address."""
    visit = request.visit
    who = WhoForm(request.GET or None, provider=visit.provider, today=visit.today)
    chosen = who.cleaned_data if who.is_valid() else {}
    waiting, place = chosen.get("waiting"), chosen.get("place")
    form = PlannerForm(
        request.POST or None,
        provider=visit.provider,
        today=visit.today,
        place=place,
        initial=_wish(waiting, place, visit.today),
    )
    found = forecast(visit.provider, form.wanted()) if request.method == "POST" and form.is_valid() else None
    context = {
        "who": who,
        "waiting": waiting,
        "place": place,
        "forecast": found,
        "has_limit": bool(capacity_settings(visit.provider).rows),
    }
    return show_form(request, "provider/capacity/planner.html", form, **context)


def _wish(waiting: WaitingChild | None, place: Enrolment | None, today: date) -> dict[str, Any]:
    """What is known of whoever was chosen, to begin with."""
    if place:
        start = max(today, place.start)
        days = [(day.weekday, day.arrives, day.leaves, day.cycle) for day in pattern_on(place, start)]
    elif waiting:
        start = max(today, waiting.wanted_start)
        wanted = [int(digit) for digit in waiting.weekdays if digit in "0123456"]
        days = [(weekday, waiting.arrives, waiting.leaves, "every") for weekday in wanted]
    else:
        return {}
    others = {f"on_{weekday}": False for weekday in Weekday.values}
    birth_date = waiting.birth_date if waiting and not place else None
    return {"start": start, "birth_date": birth_date, **others, **PlannerForm.week_initial(days)}


@scoped(*STAFF)
def capacity_day(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    visit = request.visit
    on = day_of(year, month, day)
    plan = load_plan(visit.provider, DateSpan.day(on))
    in_force = plan.settings.on(on)
    context: dict[str, Any] = {"day": on, "rule": in_force and in_force.rule, "may_write": visit.may_write}
    if in_force:
        context["planned"] = numbers_over_day(in_force, plan.stays_on(on), plan.zone)
        if on <= visit.today:
            stays = recorded_stays(visit.provider, plan, on, now())
            context["recorded"] = numbers_over_day(in_force, stays, plan.zone)
    return render(request, "provider/capacity/day.html", context)


def capacity_notices(provider: Provider, role: str, today: date) -> Iterator[Notice]:
    """What Today says when those who are here, or today's plan, pass the limit. One query while none is chosen."""
    if role not in STAFF or not capacity_settings(provider).rows:
        return
    plan = load_plan(provider, DateSpan.day(today))
    in_force = plan.settings.on(today)
    if in_force is None:
        return
    url = reverse("provider:capacity_day", args=[provider.slug, today.year, today.month, today.day])
    at = now()
    recorded = numbers_over_day(in_force, recorded_stays(provider, plan, today, at), plan.zone).over
    if recorded:
        text = _("The limit of children was passed %(when)s (%(what)s).")
        if recorded[-1].end >= at.replace(second=0, microsecond=0):
            text = _("The limit of children is passed %(when)s (%(what)s).")
        yield Notice(text % _told(recorded[-1]), url, _("Look at the day"), "caution")
        return
    planned = [level for level in numbers_over_day(in_force, plan.stays_on(today), plan.zone).over if level.end > at]
    if planned:
        text = _("Today’s plan passes the limit of children %(when)s (%(what)s).")
        yield Notice(text % _told(planned[0]), url, _("Look at the day"), "caution")


def _told(level: Level) -> dict[str, str]:
    start, end = (moment.hour * 60 + moment.minute for moment in (level.start, level.end))
    when = _("from %(start)s to %(end)s") % {"start": clock(start), "end": clock(end)}
    return {"when": when, "what": excess_words(level.headcount.excess)}


def warn_if_over(request: ScopedRequest, child: Child, start: date) -> None:
    """Say after a place from `start` on was saved that it passes the limit in its first year. It stays saved."""
    visit = request.visit
    if not capacity_settings(visit.provider).rows:
        return
    clashes = clashes_of_child(visit.provider, child, max(visit.today, start))
    if clashes:
        text = _("With this place the limit of children is passed, for instance %(first)s. See “Would one more fit?”.")
        messages.warning(request, text % {"first": _first(clashes[0])})


def _first(clash: Clash) -> str:
    return _("on %(weekday)s from %(start)s to %(end)s (%(what)s)") % {
        "weekday": weekday_name(clash.weekday),
        "start": clock(clash.start),
        "end": clock(clash.end),
        "what": excess_words(clash.excess),
    }
