"""Looking back on a run, and what next year's starts from."""

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.looking_back import ReviewForm
from curriculum.models import ThemeRun
from curriculum.selectors.looking_back import looking_back_on, starting_list
from curriculum.services import looking_back as services
from provider.access import OWNER, ScopedRequest, own, scoped
from provider.forms.base import DeskForm, new_submission_key
from provider.views.pages import act, show_form

RUNS = ThemeRun.objects.live().select_related("theme", "provider")


@scoped(OWNER)
def look_back(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    found = looking_back_on(row)
    initial = ReviewForm.of(found.review) if found.review else {"version": 0}
    form = ReviewForm(request.POST or None, looking_back=found, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.save_review(
                **visit.writer,
                run=row,
                version=form.cleaned_data["version"] or 0,
                loved=form.cleaned_data["loved"],
                next_time=form.cleaned_data["next_time"],
                marks=form.marks(),
            ),
            done=_("Saved. This is what next time starts from."),
            go=lambda _review: _next_time_url(row),
        )
        if response:
            return response
    return show_form(request, "curriculum/look_back.html", form, run=row)


@scoped(OWNER)
def next_time(request: ScopedRequest, run: str) -> HttpResponse:
    """What a run that starts from this one takes over; posting plans what only lay out."""
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    if request.method == "POST":
        form = DeskForm(request.POST)
        response = act(
            request,
            form,
            lambda: services.plan_what_lay_out(**visit.writer, run=row, **form.values()),
            done=_("It is on the starting list."),
            go=lambda _need: _next_time_url(row),
        )
        if response:
            return response
        for message in form.non_field_errors():
            messages.error(request, str(message))
        return HttpResponseRedirect(_next_time_url(row))
    context = {"run": row, "list": starting_list(row), "key": new_submission_key}
    return render(request, "curriculum/next_time.html", context)


def _next_time_url(run: ThemeRun) -> str:
    return reverse("curriculum:next_time", args=[run.provider.slug, run.public_id])
