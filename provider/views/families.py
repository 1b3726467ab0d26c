"""Families: households with their guardians, children and enrolments. A helper reads, the owner changes."""

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.doors import facts_of_guardians
from provider.forms.families import (
    ChildForm,
    EndForm,
    EnrolForm,
    GuardianForm,
    HouseholdForm,
    NewChildForm,
    PatternForm,
    SearchForm,
)
from provider.forms.week import WeekForm
from provider.models import Child, Enrolment, Guardian, Household
from provider.periods import ONE_DAY
from provider.selectors.families import household_cards, household_page, pattern_on
from provider.selectors.papers import family_folder
from provider.services import families as services
from provider.services.families import PatternInput
from provider.views.capacity import warn_if_over
from provider.views.pages import act, show_form


@scoped(*STAFF)
def families(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = SearchForm(request.GET or None)
    asked = form.cleaned_data if form.is_valid() else {}
    cards = household_cards(
        visit.provider, visit.today, search=asked.get("search", ""), past=asked.get("show") == "past"
    )
    context = {"cards": cards, "filters": form, "asked": any(asked.values()), "may_write": visit.may_write}
    return render(request, "provider/families/list.html", context)


@scoped(*STAFF)
def household(request: ScopedRequest, household: str) -> HttpResponse:
    visit = request.visit
    row = own(Household, visit.provider, household)
    page = household_page(row, visit.today)
    facts = facts_of_guardians(row, visit.role, visit.today)
    context = {
        "page": page,
        "guardians": [(each, facts.get(each.pk, [])) for each in page.guardians],
        "folder": family_folder(row, visit.today),
        "may_write": visit.may_write,
    }
    return render(request, "provider/families/household.html", context)


@scoped(OWNER)
def household_add(request: ScopedRequest) -> HttpResponse:
    form = HouseholdForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_household(**request.visit.writer, **form.values()),
            done=_("The family is saved. Add its children next."),
            go=lambda row: _url(request, row),
        )
        if response:
            return response
    return _page(request, form, _("Add a family"), _("Save the family"))


@scoped(OWNER)
def household_change(request: ScopedRequest, household: str) -> HttpResponse:
    row = own(Household, request.visit.provider, household)
    form = HouseholdForm(request.POST or None, initial=HouseholdForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_household(
                **request.visit.writer, household=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda saved: _url(request, saved),
        )
        if response:
            return response
    return _page(request, form, row.name, _("Save the family"), row)


@scoped(OWNER)
def guardian_add(request: ScopedRequest, household: str) -> HttpResponse:
    row = own(Household, request.visit.provider, household)
    form = GuardianForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_guardian(**request.visit.writer, household=row, **form.values()),
            done=_("Saved."),
            go=lambda _saved: _url(request, row),
        )
        if response:
            return response
    return _page(request, form, _("Add a guardian"), _("Save the guardian"), row)


@scoped(OWNER)
def guardian_change(request: ScopedRequest, guardian: str) -> HttpResponse:
    row = own(Guardian.objects.select_related("household"), request.visit.provider, guardian)
    form = GuardianForm(request.POST or None, initial=GuardianForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_guardian(
                **request.visit.writer, guardian=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda _saved: _url(request, row.household),
        )
        if response:
            return response
    return _page(request, form, row.name, _("Save the guardian"), row.household)


@scoped(OWNER)
def child_add(request: ScopedRequest, household: str) -> HttpResponse:
    row = own(Household, request.visit.provider, household)
    form = NewChildForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_child(**request.visit.writer, household=row, **form.values()),
            done=_("The child is saved. Give it a place next."),
            go=lambda saved: _child_url(request, saved),
        )
        if response:
            return response
    return _page(request, form, _("Add a child"), _("Save the child"), row)


@scoped(OWNER)
def child_change(request: ScopedRequest, child: str) -> HttpResponse:
    row = own(Child.objects.select_related("household"), request.visit.provider, child)
    form = ChildForm(request.POST or None, initial=ChildForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_child(
                **request.visit.writer, child=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda _saved: _child_url(request, row),
        )
        if response:
            return response
    return _page(request, form, row.name, _("Save the child"), row.household)


@scoped(OWNER)
def enrolment_add(request: ScopedRequest, child: str) -> HttpResponse:
    row = own(Child.objects.select_related("household"), request.visit.provider, child)
    form = EnrolForm(request.POST or None, initial={"start": request.visit.today})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.enrol_child(
                **request.visit.writer,
                child=row,
                start=form.cleaned_data["start"],
                end=_after(form.cleaned_data["last_day"]),
                is_free_place=form.cleaned_data["is_free_place"],
                pattern=_pattern(form),
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The place is saved."),
            go=lambda _saved: _placed(request, row, form.cleaned_data["start"]),
        )
        if response:
            return response
    return _page(
        request, form, _("A place for %(child)s") % {"child": row}, _("Save the place"), row.household, week=True
    )


@scoped(OWNER)
def enrolment_pattern(request: ScopedRequest, enrolment: str) -> HttpResponse:
    row = own(ENROLMENTS, request.visit.provider, enrolment)
    start = max(request.visit.today, row.start)
    days = [(day.weekday, day.arrives, day.leaves, day.cycle) for day in pattern_on(row, start)]
    form = PatternForm(request.POST or None, initial={"start": start, **PatternForm.week_initial(days)})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_pattern(
                **request.visit.writer,
                enrolment=row,
                start=form.cleaned_data["start"],
                pattern=_pattern(form),
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The days are saved."),
            go=lambda _saved: _placed(request, row.child, form.cleaned_data["start"]),
        )
        if response:
            return response
    title = _("Days of %(child)s") % {"child": row.child}
    return _page(request, form, title, _("Save the days"), row.child.household, week=True)


@scoped(OWNER)
def enrolment_end(request: ScopedRequest, enrolment: str) -> HttpResponse:
    row = own(ENROLMENTS, request.visit.provider, enrolment)
    initial = {"version": row.version, "last_day": row.end - ONE_DAY if row.end else request.visit.today}
    form = EndForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.end_enrolment(
                **request.visit.writer,
                enrolment=row,
                version=form.cleaned_data["version"],
                end=_after(form.cleaned_data["last_day"]),
                submission_key=form.cleaned_data["submission_key"],
            ),
            done=_("The end of the place is saved."),
            go=lambda _saved: _child_url(request, row.child),
        )
        if response:
            return response
    title = _("End of %(child)s's place") % {"child": row.child}
    return _page(request, form, title, _("Save the end"), row.child.household)


def _placed(request: ScopedRequest, child: Child, start: date) -> str:
    warn_if_over(request, child, start)
    return _child_url(request, child)


ENROLMENTS = Enrolment.objects.select_related("child__household")


def _after(last_day: Any) -> Any:
    """A person says the last day, the books the first day without."""
    return last_day and last_day + ONE_DAY


def _pattern(form: WeekForm) -> list[PatternInput]:
    return [PatternInput(each.weekday, each.begins, each.ends, each.cycle) for each in form.week_choices]


def _url(request: ScopedRequest, row: Household) -> str:
    return reverse("provider:household", args=[request.visit.provider.slug, row.public_id])


def _child_url(request: ScopedRequest, row: Child) -> str:
    return reverse("provider:child", args=[request.visit.provider.slug, row.public_id])


def _page(
    request: ScopedRequest, form: Any, title: str, submit: str, row: Household | None = None, *, week: bool = False
) -> HttpResponse:
    back = (
        (_url(request, row), row.name)
        if row
        else (reverse("provider:families", args=[request.visit.provider.slug]), _("Families"))
    )
    template = "provider/families/place.html" if week else "provider/form_page.html"
    return show_form(request, template, form, title=title, submit=submit, back=back)
