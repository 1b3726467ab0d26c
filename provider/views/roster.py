"""A roster from a spreadsheet: sent in, looked at, taken over."""

import csv

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from provider.access import OWNER, ScopedRequest, scoped
from provider.forms.roster import COLUMN_HELP, RosterConfirmForm, RosterFileForm, in_words, unreadable
from provider.roster import COLUMNS, Table, UnreadableRoster
from provider.selectors.roster import roster_plan
from provider.services.roster import digest, import_roster
from provider.views.pages import act, show_form


@scoped(OWNER)
def roster(request: ScopedRequest) -> HttpResponse:
    form = RosterFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        try:
            return _preview(request, form.table, RosterConfirmForm(provider=request.visit.provider))
        except UnreadableRoster as error:
            form.add_error("file", unreadable(error.code, error.detail))
    slug = request.visit.provider.slug
    return show_form(
        request,
        "provider/roster/send.html",
        form,
        title=_("Import a roster"),
        lead=_(
            "Many families at once, from a spreadsheet with one row for each child. "
            "You see what every row will do before anything is saved."
        ),
        submit=_("Show what it does"),
        back=(reverse("provider:families", args=[slug]), _("Families")),
        columns=[(column, COLUMN_HELP[column.name]) for column in COLUMNS.values()],
    )


@scoped(OWNER)
@require_POST
def roster_import(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    form = RosterConfirmForm(request.POST, provider=provider)
    response = act(
        request,
        form,
        lambda: import_roster(
            **request.visit.writer,
            table=form.cleaned_data["rows"],
            shown=form.cleaned_data["shown"],
            leave_out=form.cleaned_data["leave_out"],
            submission_key=form.cleaned_data["submission_key"],
        ),
        done=_("The roster is taken over."),
        go=lambda _child: reverse("provider:families", args=[provider.slug]),
    )
    if response:
        return response
    if "rows" in form.cleaned_data:
        return _preview(request, form.cleaned_data["rows"], form)
    messages.error(request, str(form.errors["rows"][0]))
    return HttpResponseRedirect(reverse("provider:roster", args=[provider.slug]))


@scoped(OWNER, write=())
def roster_template(request: ScopedRequest) -> HttpResponse:
    """An empty file with the headings."""
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="roster.csv"'
    csv.writer(response).writerow(COLUMNS)
    return response


def _preview(request: ScopedRequest, table: Table, form: RosterConfirmForm) -> HttpResponse:
    found, planned = roster_plan(request.visit.provider, table, request.visit.today)
    context = {
        "form": form,
        "unused": found.unused,
        "rows": in_words(planned),
        "signed": form.sign(table),
        "shown": digest(planned),
        "left_out": [int(number) for number in form["leave_out"].value() or () if number.isdigit()],
        "problems": sum(1 for each in planned if each.problems),
        "adds": sum(1 for each in planned if each.act not in ("there", "problem")),
        "back": (reverse("provider:roster", args=[request.visit.provider.slug]), _("Import a roster")),
    }
    return render(request, "provider/roster/preview.html", context, status=422 if form.is_bound else 200)
