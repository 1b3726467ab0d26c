"""Laying lots out for a run, and counting them back in."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.materials import PlaceForm, PutAwayForm
from curriculum.models import Acquisition, LearningCentre, Placement, PutAway, ThemeRun
from curriculum.selectors.runs import lots_to_place, room_of, still_to_count
from curriculum.selectors.screening import screening_of
from curriculum.selectors.stock import stock_of, stocks_of, with_mended
from curriculum.services import placements as services
from curriculum.views.check import check_line
from provider.access import OWNER, ScopedRequest, own, scoped
from provider.forms.base import DeskForm
from provider.views.pages import act, show_form

SHOWN = 60  # lots in the list to choose from; a word narrows it
RUNS = ThemeRun.objects.live().select_related("theme", "provider")
PLACEMENTS = Placement.objects.filter(voided_at__isnull=True).select_related(
    "run__theme", "run__provider", "lot__material", "centre"
)


@scoped(OWNER)
def choose(request: ScopedRequest, run: str) -> HttpResponse:
    """Find the lot to lay out."""
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    word = request.GET.get("word", "")[:80]
    lots = list(lots_to_place(row, word)[: SHOWN + 1])
    stocks = stocks_of(lots[:SHOWN])
    return render(
        request,
        "curriculum/choose_lot.html",
        {
            "run": row,
            "word": word,
            "centre": request.GET.get("centre", "")[:16],
            "lots": [(lot, free) for lot in lots[:SHOWN] if (free := stocks[lot.pk].free)],
            "is_cut": len(lots) > SHOWN,
            "check": check_line(visit.provider, row.span),
        },
    )


@scoped(OWNER)
def place(request: ScopedRequest, run: str, lot: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    chosen = own(Acquisition.objects.select_related("material"), visit.provider, lot)
    free = stock_of(chosen).free
    form = PlaceForm(
        request.POST or None,
        provider=visit.provider,
        free=free,
        unit=chosen.material.unit,
        initial={"centre": request.GET.get("centre")},
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.place_lot(**visit.writer, run=row, lot=chosen, **form.values()),
            done=_("%(lot)s lies out.") % {"lot": chosen.material},
            go=lambda placement: _centre_url(row, placement.centre),
        )
        if response:
            return response
    screening = screening_of(visit.provider, [chosen.material], row.span, visit.today)
    context = {"run": row, "lot": chosen, "free": free, "screening": screening, "checks": screening.of(chosen.material)}
    return show_form(request, "curriculum/place_form.html", form, **context)


@scoped(OWNER)
def unplace(request: ScopedRequest, placement: str) -> HttpResponse:
    visit = request.visit
    row = own(PLACEMENTS, visit.provider, placement)
    form = DeskForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.unplace(**visit.writer, placement=row, version=form.cleaned_data["version"]),
            done=_("%(lot)s was taken out of the run.") % {"lot": row.lot.material},
            go=lambda _row: _centre_url(row.run, row.centre),
        )
        if response:
            return response
    return show_form(request, "curriculum/unplace_form.html", form, placement=row, run=row.run)


@scoped(OWNER)
def put_away(request: ScopedRequest, placement: str) -> HttpResponse:
    """Count one placement; then the walk goes on to the next that still lies out."""
    visit = request.visit
    row = own(PLACEMENTS, visit.provider, placement)
    room = room_of(row.run)
    walk = still_to_count(room)
    laid = next(each for view in room for each in view.laid if each.placement.pk == row.pk)
    form = PutAwayForm(
        request.POST or None,
        keeping=row.lot.material.keeping,
        initial={"on": visit.today, "returned": laid.still_out},
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.put_away(**visit.writer, placement=row, **form.values()),
            done=_("%(lot)s was counted.") % {"lot": row.lot.material},
            go=lambda _row: _next_url(row),
        )
        if response:
            return response
    return show_form(
        request, "curriculum/put_away_form.html", form, placement=row, run=row.run, laid=laid, left=len(walk)
    )


@scoped(OWNER)
def void_put_away(request: ScopedRequest, row: str) -> HttpResponse:
    visit = request.visit
    counts = PutAway.objects.filter(voided_at__isnull=True).select_related(
        "placement__run__theme", "placement__run__provider", "placement__lot__material", "placement__centre"
    )
    count = own(with_mended(counts), visit.provider, row)
    form = DeskForm(request.POST or None, initial={"version": count.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_put_away(**visit.writer, row=count, version=form.cleaned_data["version"]),
            done=_("The count was undone."),
            go=lambda _row: _centre_url(count.placement.run, count.placement.centre),
        )
        if response:
            return response
    return show_form(request, "curriculum/undo_form.html", form, count=count, run=count.placement.run)


def _centre_url(run: ThemeRun, centre: LearningCentre | None) -> str:
    address = reverse("curriculum:run", args=[run.provider.slug, run.public_id])
    return f"{address}#centre-{centre.public_id if centre else 'none'}"


def _next_url(placement: Placement) -> str:
    """The next placement that lies out, beginning with what is left of this one's centre; else the room."""
    run = placement.run
    walk = [laid.placement for laid in still_to_count(room_of(run))]
    here = [each for each in walk if each.centre_id == placement.centre_id]
    if not walk:
        return reverse("curriculum:put_away_room", args=[run.provider.slug, run.public_id])
    return reverse("curriculum:put_away", args=[run.provider.slug, (here or walk)[0].public_id])
