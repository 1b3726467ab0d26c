"""What she owns: materials and their lots."""

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from curriculum.forms.materials import LotForm, MaterialFilter, MaterialForm, VoidForm
from curriculum.models import Acquisition, Material
from curriculum.selectors.stock import lot_views, lots_of
from curriculum.services import materials as services
from curriculum.tables import MaterialTable
from curriculum.views.check import check_line
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.periods import DateSpan
from provider.views.pages import act, show_form

LOTS = Acquisition.objects.select_related("material")


@scoped(*STAFF)
def materials(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    every = Material.objects.filter(provider=visit.provider)
    found = MaterialFilter(request.GET, queryset=every)
    table = MaterialTable(found.qs, slug=visit.provider.slug)
    RequestConfig(request, paginate={"per_page": 50}).configure(table)
    table.count_pieces()
    return render(
        request,
        "curriculum/materials.html",
        {"filter": found, "table": table, "has_any": bool(table.pieces) or every.exists(), "check": _check(request)},
    )


@scoped(*STAFF)
def material(request: ScopedRequest, material: str) -> HttpResponse:
    visit = request.visit
    row = own(Material, visit.provider, material)
    views = lot_views(lots_of(row), visit.today)
    return render(request, "curriculum/material.html", {"material": row, "lots": views, "check": _check(request)})


@scoped(OWNER)
def add_material(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = MaterialForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_material(**visit.writer, **form.values()),
            done=_("The material was added. Say how it came."),
            go=lambda row: reverse("curriculum:add_lot", args=[visit.provider.slug, row.public_id]),
        )
        if response:
            return response
    return show_form(request, "curriculum/material_form.html", form)


@scoped(OWNER)
def change_material(request: ScopedRequest, material: str) -> HttpResponse:
    visit = request.visit
    row = own(Material, visit.provider, material)
    form = MaterialForm(request.POST or None, initial=MaterialForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_material(
                **visit.writer, material=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The material was saved."),
            go=lambda row: reverse("curriculum:material", args=[visit.provider.slug, row.public_id]),
        )
        if response:
            return response
    return show_form(request, "curriculum/material_form.html", form, material=row)


@scoped(OWNER)
def add_lot(request: ScopedRequest, material: str) -> HttpResponse:
    visit = request.visit
    row = own(Material, visit.provider, material)
    form = LotForm(request.POST or None, material=row, initial={"on": visit.today})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.acquire_lot(**visit.writer, material=row, **form.values()),
            done=_("The lot was added."),
            go=lambda _lot: reverse("curriculum:material", args=[visit.provider.slug, row.public_id]),
        )
        if response:
            return response
    return show_form(request, "curriculum/lot_form.html", form, material=row)


@scoped(*STAFF)
def lot(request: ScopedRequest, lot: str) -> HttpResponse:
    visit = request.visit
    row = own(LOTS, visit.provider, lot)
    (view,) = lot_views([row], visit.today)
    has_receipt = services.has_receipt(row)
    return render(
        request, "curriculum/lot.html", {"lot": row, "view": view, "has_receipt": has_receipt, "check": _check(request)}
    )


@scoped(OWNER)
def correct_lot(request: ScopedRequest, lot: str) -> HttpResponse:
    visit = request.visit
    row = own(LOTS, visit.provider, lot)
    form = LotForm(
        request.POST or None,
        material=row.material,
        has_receipt=services.has_receipt(row),
        initial=LotForm.of(row),
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_lot(
                **visit.writer, lot=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The lot was corrected."),
            go=lambda _lot: _lot_url(visit.provider.slug, row),
        )
        if response:
            return response
    return show_form(request, "curriculum/lot_form.html", form, material=row.material, lot=row)


@scoped(OWNER)
def void_lot(request: ScopedRequest, lot: str) -> HttpResponse:
    visit = request.visit
    row = own(LOTS, visit.provider, lot)
    form = VoidForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.void_lot(
                **visit.writer, lot=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The lot was voided."),
            go=lambda _lot: reverse("curriculum:material", args=[visit.provider.slug, row.material.public_id]),
        )
        if response:
            return response
    return show_form(request, "curriculum/void_form.html", form, lot=row)


def _lot_url(slug: str, lot: Acquisition) -> str:
    return reverse("curriculum:lot", args=[slug, lot.public_id])


def _check(request: Any) -> str:
    return check_line(request.visit.provider, DateSpan.day(request.visit.today))
