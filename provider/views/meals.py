"""Meals of a day and a month, and the menu of a week."""

from datetime import date

from django.contrib import messages
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from provider.access import STAFF, ScopedRequest, own, scoped
from provider.errors import DomainError
from provider.forms.meals import MealForm, MenuForm, ServedInsteadForm
from provider.models import MealKind, MenuItem
from provider.periods import ONE_DAY
from provider.selectors.meals import eaters, meal_month, meals_of_day, menu_week
from provider.services import meals as services
from provider.services import menus
from provider.services.menus import WEEK
from provider.templatetags.frame import weekday
from provider.views.months import day_of, month_turn
from provider.views.pages import act, show_form


@scoped(*STAFF)
def meals(request: ScopedRequest) -> HttpResponse:
    return _day(request, request.visit.today)


@scoped(*STAFF)
def meals_day(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    return _day(request, day_of(year, month, day))


def _day(request: ScopedRequest, day: date) -> HttpResponse:
    context = {
        "day": day,
        "meals": meals_of_day(request.visit.provider, day),
        "before": day - ONE_DAY,
        "after": day + ONE_DAY,
        "has_come": day <= request.visit.today,
    }
    return render(request, "provider/meals/day.html", context)


@scoped(*STAFF)
def meals_month(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    turn = month_turn(year, month)
    context = {"turn": turn, "month": meal_month(request.visit.provider, turn.span)}
    return render(request, "provider/meals/month.html", context)


@scoped(*STAFF, write=STAFF)
def meal(request: ScopedRequest, year: int, month: int, day: int, meal: str) -> HttpResponse:
    """Who ate one meal: those who are here are ticked already."""
    visit = request.visit
    on = day_of(year, month, day)
    if meal not in MealKind:
        raise Http404(_("No such meal."))
    form = MealForm(
        request.POST if request.method == "POST" else None, eaters=eaters(visit.provider, on, meal, visit.today)
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_meal(
                **visit.writer,
                day=on,
                kind=meal,
                add=form.add,
                remove=form.remove,
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("%(meal)s is recorded.") % {"meal": MealKind(meal).label},
            go=lambda _rows: _day_url(visit.provider.slug, on),
        )
        if response:
            return response
    context = {"title": MealKind(meal).label, "lead": weekday(on), "submit": _("Save the meal")}
    back = (_day_url(visit.provider.slug, on), _("Meals"))
    return show_form(request, "provider/meals/meal.html", form, back=back, **context)


@scoped(*STAFF)
def menu(request: ScopedRequest) -> HttpResponse:
    day = request.visit.today
    return HttpResponseRedirect(_week_url(request.visit.provider.slug, day))


@scoped(*STAFF, write=STAFF)
def menu_of_week(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    visit = request.visit
    on = day_of(year, month, day)
    week = menu_week(visit.provider, on)
    form = MenuForm(request.POST or None, week=week, today=visit.today)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: menus.plan_week(
                **visit.writer, day=on, texts=form.texts, version=form.cleaned_data["version"] or 0
            ),
            done=_("The menu is saved."),
            go=lambda _items: _week_url(visit.provider.slug, on),
        )
        if response:
            return response
    context = {"week": week, "before": week.span.start - WEEK, "after": week.span.start + WEEK}
    return show_form(request, "provider/meals/menu.html", form, **context)


@scoped(*STAFF, write=STAFF)
@require_POST
def menu_copy(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    on = day_of(year, month, day)
    try:
        menus.copy_last_week(**request.visit.writer, day=on)
        messages.success(request, _("Empty boxes were filled from the week before."))
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(_week_url(request.visit.provider.slug, on))


@scoped(*STAFF)
def menu_post(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    """The week and the one after it on one page, to print and hang up."""
    on = day_of(year, month, day)
    weeks = [menu_week(request.visit.provider, each) for each in (on, on + WEEK)]
    return render(request, "provider/meals/post.html", {"weeks": weeks})


@scoped(*STAFF, write=STAFF)
def menu_served(request: ScopedRequest, menu: str) -> HttpResponse:
    """Write down that something else was served."""
    visit = request.visit
    item = own(MenuItem, visit.provider, menu)
    form = ServedInsteadForm(request.POST or None, initial=ServedInsteadForm.of(item))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: menus.note_served_instead(
                **visit.writer, item=item, version=form.cleaned_data["version"] or 0, **form.values()
            ),
            done=_("Noted on the menu."),
            go=lambda row: _day_url(visit.provider.slug, row.day),
        )
        if response:
            return response
    context = {
        "title": _("%(meal)s on %(day)s") % {"meal": item.get_kind_display(), "day": weekday(item.day)},
        "lead": _("Planned: %(text)s") % {"text": item.text},
        "submit": _("Save the note"),
    }
    back = (_day_url(visit.provider.slug, item.day), _("Meals"))
    return show_form(request, "provider/form_page.html", form, back=back, **context)


def _day_url(slug: str, day: date) -> str:
    return reverse("provider:meals_day", args=[slug, day.year, day.month, day.day])


def _week_url(slug: str, day: date) -> str:
    return reverse("provider:menu_of_week", args=[slug, day.year, day.month, day.day])
