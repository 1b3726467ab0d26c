"""Themes to run again, and the learning centres."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.themes import HUES, CentreForm, ThemeForm
from curriculum.models import LearningCentre, Theme
from curriculum.selectors.themes import centres_in_order, retired_centres, themes_with_runs
from curriculum.services import themes as services
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.forms.base import DeskForm
from provider.views.pages import act, show_form


@scoped(*STAFF)
def themes(request: ScopedRequest) -> HttpResponse:
    return render(request, "curriculum/themes.html", {"themes": themes_with_runs(request.visit.provider)})


@scoped(OWNER)
def add_theme(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = ThemeForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_theme(**visit.writer, **form.values()),
            done=_("The theme was added. Plan when it runs."),
            go=lambda theme: f"{reverse('curriculum:plan', args=[visit.provider.slug])}?theme={theme.public_id}",
        )
        if response:
            return response
    return show_form(request, "curriculum/theme_form.html", form)


@scoped(OWNER)
def change_theme(request: ScopedRequest, theme: str) -> HttpResponse:
    visit = request.visit
    row = own(Theme, visit.provider, theme)
    step = 360 // len(HUES)
    nearest = round(row.hue / step) * step % 360
    form = ThemeForm(request.POST or None, initial={**ThemeForm.of(row), "hue": nearest})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_theme(
                **visit.writer, theme=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The theme was saved."),
            go=lambda _row: reverse("curriculum:themes", args=[visit.provider.slug]),
        )
        if response:
            return response
    return show_form(request, "curriculum/theme_form.html", form, theme=row)


@scoped(*STAFF)
def centres(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    context = {"centres": centres_in_order(provider), "retired": retired_centres(provider)}
    return render(request, "curriculum/centres.html", context)


@scoped(OWNER)
def add_centre(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = CentreForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_centre(**visit.writer, **form.values()),
            done=_("The centre was added."),
            go=lambda _row: reverse("curriculum:centres", args=[visit.provider.slug]),
        )
        if response:
            return response
    return show_form(request, "curriculum/centre_form.html", form)


@scoped(OWNER)
def change_centre(request: ScopedRequest, centre: str) -> HttpResponse:
    visit = request.visit
    row = own(LearningCentre, visit.provider, centre)
    form = CentreForm(request.POST or None, initial=CentreForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_centre(
                **visit.writer, centre=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The centre was saved."),
            go=lambda _row: reverse("curriculum:centres", args=[visit.provider.slug]),
        )
        if response:
            return response
    return show_form(request, "curriculum/centre_form.html", form, centre=row)


@scoped(OWNER)
def retire_centre(request: ScopedRequest, centre: str) -> HttpResponse:
    """Take a centre out of the room, or bring it back."""
    visit = request.visit
    row = own(LearningCentre, visit.provider, centre)
    form = DeskForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.retire_centre(**visit.writer, centre=row, version=form.cleaned_data["version"]),
            done=_("The room was saved."),
            go=lambda _row: reverse("curriculum:centres", args=[visit.provider.slug]),
        )
        if response:
            return response
    context = {
        "title": _("Bring back %(centre)s?") % {"centre": row}
        if row.retired_at
        else _("Retire %(centre)s?") % {"centre": row},
        "lead": _("Runs that had something in it still show it; new plans do not offer a retired centre."),
        "submit": _("Bring it back") if row.retired_at else _("Retire it"),
        "back": (reverse("curriculum:centres", args=[visit.provider.slug]), _("Centres")),
    }
    return show_form(request, "provider/form_page.html", form, **context)
