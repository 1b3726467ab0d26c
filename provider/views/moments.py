"""The day in between: taps about the smallest, and notes on the day."""

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from provider.access import STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.errors import DomainError
from provider.forms.attendance import ReasonForm
from provider.forms.moments import DayNoteForm, MomentForm, NewDayNoteForm, TapForm
from provider.models import CareMoment, Child, DayNote
from provider.periods import ONE_DAY
from provider.selectors.attendance import day_sheet
from provider.selectors.moments import is_small, small_days
from provider.services import moments as services
from provider.views.months import day_of
from provider.views.pages import act, show_form

NOTES = DayNote.objects.filter(voided_at__isnull=True).select_related("child")


@scoped(*STAFF)
def moments(request: ScopedRequest) -> HttpResponse:
    """The children here now, the smallest first asked for; one tap each."""
    visit = request.visit
    here = [each.child for each in day_sheet(visit.provider, visit.today).among("here")]
    everybody = "all" in request.GET
    shown = here if everybody else [child for child in here if is_small(child, visit.today)]
    context = {
        "days": small_days(visit.provider, shown, visit.today),
        "others": len(here) - len(shown),
        "everybody": everybody,
        "day": visit.today,
    }
    return render(request, "provider/moments/today.html", context)


@scoped(*STAFF)
def moments_day(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    """What was recorded of a day, by child, to be read or printed."""
    visit, asked = request.visit, day_of(year, month, day)
    children = [each.child for each in day_sheet(visit.provider, asked).children]
    days = [each for each in small_days(visit.provider, children, asked) if each.moments or each.notes]
    context = {"days": days, "day": asked, "before": asked - ONE_DAY, "after": asked + ONE_DAY}
    return render(request, "provider/moments/day.html", context)


@scoped(*STAFF, write=STAFF)
@require_POST
def moment_tap(request: ScopedRequest, child: str) -> HttpResponse:
    """Carry out one tap. There is no form to show again: a refusal is said on the page."""
    row = own(Child, request.visit.provider, child)
    form = TapForm(request.POST)
    try:
        if not form.is_valid():
            raise DomainError(_("Nothing was recorded: %(problem)s") % {"problem": _first(form)})
        moment = services.record_moment(**request.visit.writer, now=now(), child=row, **form.values())
        messages.success(request, _("%(child)s: %(what)s") % {"child": row, "what": moment})
    except DomainError as error:
        messages.error(request, error.message)
    return HttpResponseRedirect(_url(request, "moments") + ("?all" if "all" in request.GET else ""))


@scoped(*STAFF, write=STAFF)
def moment_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    initial = {"child": request.GET.get("child", ""), "at": now()}
    form = MomentForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_moment(**visit.writer, now=now(), **form.values()),
            done=_("Recorded."),
            go=lambda _row: _url(request, "moments"),
        )
        if response:
            return response
    return _page(request, form, _("Write down a moment"), _("Save the moment"))


@scoped(*STAFF, write=STAFF)
def moment_undo(request: ScopedRequest, moment: str) -> HttpResponse:
    """One tap for a while; after that the reason is asked for."""
    row = own(CareMoment.objects.select_related("child"), request.visit.provider, moment)
    form = ReasonForm(request.POST if request.method == "POST" else None)
    form.fields["reason"].required = False
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.undo_moment(**request.visit.writer, now=now(), moment=row, **form.values()),
            done=_("Taken back."),
            go=lambda _row: _url(request, "moments"),
        )
        if response:
            return response
    title = _("Take back “%(what)s” of %(child)s?") % {"what": row, "child": row.child}
    return _page(request, form, title, _("Take it back"), danger=True)


@scoped(*STAFF, write=STAFF)
def day_note_add(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    initial = {"child": request.GET.get("child", ""), "day": _asked_day(request)}
    form = NewDayNoteForm(request.POST or None, provider=visit.provider, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_day_note(**visit.writer, **form.values()),
            done=_("The note is saved."),
            go=lambda row: _day_url(request, row),
        )
        if response:
            return response
    return _page(request, form, _("A note on the day"), _("Save the note"))


@scoped(*STAFF, write=STAFF)
def day_note_change(request: ScopedRequest, note: str) -> HttpResponse:
    row = own(NOTES, request.visit.provider, note)
    form = DayNoteForm(request.POST or None, initial=DayNoteForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_day_note(
                **request.visit.writer, note=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("Saved."),
            go=lambda saved: _day_url(request, saved),
        )
        if response:
            return response
    title = _("A note on %(child)s") % {"child": row.child}
    return _page(request, form, title, _("Save the note"), template="provider/moments/note_form.html", note=row)


@scoped(*STAFF, write=STAFF)
def day_note_void(request: ScopedRequest, note: str) -> HttpResponse:
    row = own(DayNote.objects.select_related("child"), request.visit.provider, note)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_day_note(**request.visit.writer, note=row, **form.values()),
            done=_("Taken out. The family no longer sees it."),
            go=lambda saved: _day_url(request, saved),
        )
        if response:
            return response
    title = _("Take out the note on %(child)s?") % {"child": row.child}
    return _page(request, form, title, _("Take it out"), danger=True)


def _first(form: TapForm) -> str:
    return str(next(iter(form.errors.values()))[0])


def _asked_day(request: ScopedRequest) -> Any:
    try:
        return parse_date(request.GET.get("day", "")) or request.visit.today
    except ValueError:
        return request.visit.today


def _url(request: ScopedRequest, name: str) -> str:
    return reverse(f"provider:{name}", args=[request.visit.provider.slug])


def _day_url(request: ScopedRequest, row: DayNote) -> str:
    day = row.day
    return reverse("provider:moments_day", args=[request.visit.provider.slug, day.year, day.month, day.day])


def _page(
    request: ScopedRequest,
    form: Any,
    title: str,
    submit: str,
    template: str = "provider/form_page.html",
    **context: Any,
) -> HttpResponse:
    back = (_url(request, "moments"), _("The day in between"))
    return show_form(request, template, form, title=title, submit=submit, back=back, **context)
