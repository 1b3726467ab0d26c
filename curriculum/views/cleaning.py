"""What is to be cleaned, and by which routine."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from curriculum.cleaning import suggestions
from curriculum.forms.checks import RoutineForm
from curriculum.models import CleaningRoutine, Material
from curriculum.selectors.cleaning import cleanings
from curriculum.services import cleaning as services
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.errors import DomainError
from provider.forms.base import DeskForm
from provider.views.pages import act, show_form

ROUTINES = CleaningRoutine.objects.filter(voided_at__isnull=True).select_related("material")


@scoped(*STAFF)
def cleaning(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    found = cleanings(visit.provider, visit.today)
    due = [each for each in found if each.is_due(visit.today)]
    return render(
        request,
        "curriculum/cleaning.html",
        {"due": due, "later": [each for each in found if each not in due], "suggestions": suggestions().values()},
    )


@scoped(*STAFF, write=STAFF)
@require_POST
def tick_cleaned(request: ScopedRequest, routine: str) -> HttpResponse:
    """One tap. There is no form to show again: a refusal is said on the list."""
    visit = request.visit
    row = own(ROUTINES, visit.provider, routine)
    try:
        services.tick_cleaned(**visit.writer, routine=row, submission_key=request.POST.get("submission_key", "")[:64])
        messages.success(request, _("%(what)s: done.") % {"what": row})
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(reverse("curriculum:cleaning", args=[visit.provider.slug]))


@scoped(OWNER)
def add_routine(request: ScopedRequest, material: str) -> HttpResponse:
    visit = request.visit
    row = own(Material, visit.provider, material)
    like = suggestions().get(request.GET.get("like", ""))
    form = RoutineForm(request.POST or None, initial={"act": like.act, "every_days": like.every_days} if like else {})
    address = reverse("curriculum:material", args=[visit.provider.slug, row.public_id])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_routine(**visit.writer, material=row, **form.values()),
            done=_("The routine was added."),
            go=lambda _row: address,
        )
        if response:
            return response
    return show_form(
        request,
        "curriculum/routine_form.html",
        form,
        title=_("Add a cleaning routine"),
        submit=_("Add the routine"),
        back=(address, row.name),
        suggestions=suggestions().values(),
        like=like,
    )


@scoped(OWNER)
def change_routine(request: ScopedRequest, routine: str) -> HttpResponse:
    visit = request.visit
    row = own(ROUTINES, visit.provider, routine)
    form = RoutineForm(request.POST or None, initial=RoutineForm.of(row))
    address = reverse("curriculum:material", args=[visit.provider.slug, row.material.public_id])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_routine(
                **visit.writer, routine=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The routine was saved."),
            go=lambda _row: address,
        )
        if response:
            return response
    return show_form(
        request,
        "curriculum/routine_form.html",
        form,
        title=str(row),
        submit=_("Save the routine"),
        back=(address, row.material.name),
        routine=row,
    )


@scoped(OWNER)
def end_routine(request: ScopedRequest, routine: str) -> HttpResponse:
    visit = request.visit
    row = own(ROUTINES, visit.provider, routine)
    form = DeskForm(request.POST or None, initial={"version": row.version})
    address = reverse("curriculum:material", args=[visit.provider.slug, row.material.public_id])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.end_routine(**visit.writer, routine=row, version=form.cleaned_data["version"]),
            done=_("The routine was ended."),
            go=lambda _row: address,
        )
        if response:
            return response
    return show_form(
        request,
        "provider/form_page.html",
        form,
        title=_("End the routine?"),
        lead=str(row),
        submit=_("End the routine"),
        back=(address, row.material.name),
        danger=True,
    )
