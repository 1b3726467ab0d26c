"""What she owns: materials and their lots."""

from io import BytesIO
from typing import IO, Any

from django.contrib import messages
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from curriculum.conversion import Conversion, converted_basis
from curriculum.forms.intake import FromHomeForm, SetForm
from curriculum.forms.materials import LotForm, MaterialFilter, MaterialForm, VoidForm
from curriculum.models import Acquisition, Material
from curriculum.pictures import small_picture
from curriculum.selectors.cleaning import routines_of
from curriculum.selectors.history import history_of
from curriculum.selectors.mending import broken_before, past_lives
from curriculum.selectors.screening import checks_of_lots, screening_of_week
from curriculum.selectors.stock import lot_views, lots_of, on_hand_of
from curriculum.services import intake
from curriculum.services import materials as services
from curriculum.stock import whole_sets
from curriculum.tables import MaterialTable
from curriculum.views.check import check_line
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.models import StoredFile
from provider.money import format_money
from provider.periods import DateSpan
from provider.services.files import store_upload
from provider.views.pages import act, show_form

LOTS = Acquisition.objects.select_related("material")
MATERIALS = Material.objects.select_related("bin", "photo")


@scoped(*STAFF)
def materials(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    every = Material.objects.filter(provider=visit.provider)
    found = MaterialFilter(request.GET, queryset=every.select_related("bin"), provider=visit.provider)
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
    row = own(MATERIALS, visit.provider, material)
    views = lot_views(lots_of(row).prefetch_related("receipt_lines__receipt"), visit.today)
    on_hand = on_hand_of([row])[row.pk]
    return render(
        request,
        "curriculum/material.html",
        {
            "material": row,
            "lots": views,
            "on_hand": on_hand,
            "sets": whole_sets(on_hand, row.pieces_in_set) if row.pieces_in_set else None,
            "screening": (screening := screening_of_week(visit.provider, [row], visit.today)),
            "checks": screening.of(row),
            "routines": routines_of(row),
            "lives": past_lives(row),
            "breakage": broken_before([row]).get(row.pk),
        },
    )


@scoped(*STAFF)
def material_picture(request: ScopedRequest, picture: str) -> FileResponse:
    """The photo of a material; with `?small` a small one for lists. A photo never changes under its address."""
    shown = Material.objects.filter(provider=request.visit.provider, photo__public_id=picture)
    row = shown.select_related("photo").first()
    if row is None or row.photo is None:
        raise Http404(_("No such record."))
    try:
        content: IO[bytes] = row.photo.file.open("rb")
    except FileNotFoundError as error:
        raise Http404(_("The paper is missing from the store.")) from error
    if "small" in request.GET:
        with content:
            content = BytesIO(small_picture(content))
    response = FileResponse(content, content_type=row.photo.kind, filename=f"photo.{row.photo.extension}")
    response["Cache-Control"] = "private, max-age=604800"
    response["X-Content-Type-Options"] = "nosniff"
    return response


@scoped(OWNER)
def add_material(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = MaterialForm(
        request.POST or None, request.FILES or None, provider=visit.provider, initial={"bin": request.GET.get("bin")}
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_material(**visit.writer, photo=_kept(request, form), **form.values()),
            done=_("The material was added. Say how it came."),
            go=lambda row: reverse("curriculum:add_lot", args=[visit.provider.slug, row.public_id]),
        )
        if response:
            return response
    return _material_form(request, form)


@scoped(OWNER)
def change_material(request: ScopedRequest, material: str) -> HttpResponse:
    visit = request.visit
    row = own(MATERIALS, visit.provider, material)
    form = MaterialForm(
        request.POST or None,
        request.FILES or None,
        provider=visit.provider,
        material=row,
        initial=MaterialForm.of(row),
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_material(
                **visit.writer,
                material=row,
                version=form.cleaned_data["version"],
                photo=_kept(request, form),
                **form.values("submission_key"),
            ),
            done=_("The material was saved."),
            go=_material_url,
        )
        if response:
            return response
    return _material_form(request, form, row)


@scoped(OWNER)
def add_set(request: ScopedRequest) -> HttpResponse:
    """A set bought for one price, split over its materials."""
    visit = request.visit
    form = SetForm(request.POST or None, initial={"on": visit.today})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: intake.acquire_set(**visit.writer, **form.values()),
            done=_("The set was added."),
            go=lambda lots: _tell_split(request, lots),
        )
        if response:
            return response
    known = Material.objects.filter(provider=visit.provider).order_by("name").values_list("name", flat=True)
    return show_form(request, "curriculum/set_form.html", form, known=known)


@scoped(OWNER)
def from_home(request: ScopedRequest, material: str) -> HttpResponse:
    """A thing of the household: its basis is worked out and shown before anything is saved."""
    visit = request.visit
    row = own(Material, visit.provider, material)
    form = FromHomeForm(request.POST or None, material=row, initial={"on": visit.today})
    found: Conversion | None = None
    if request.method == "POST":
        if "save" in request.POST:
            response = act(
                request,
                form,
                lambda: intake.bring_from_home(**visit.writer, material=row, **form.values()),
                done=_("The lot was added."),
                go=lambda _lot: _material_url(row),
            )
            if response:
                return response
        elif form.is_valid():
            found = converted_basis(visit.provider.country, form.cleaned_data["cost"], form.cleaned_data["fair_value"])
    return show_form(request, "curriculum/from_home.html", form, material=row, found=found)


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
    screening = screening_of_week(visit.provider, [row.material], visit.today)
    return render(
        request,
        "curriculum/lot.html",
        {
            "lot": row,
            "view": view,
            "has_receipt": services.has_receipt(row),
            "has_recipe": services.has_recipe(row),
            "uses": services.component_uses(row),
            "recall_checks": checks_of_lots([row])[row.pk],
            "history": history_of(row) if visit.may_write else [],
            "screening": screening,
            "checks": screening.of(row.material),
        },
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


def _kept(request: ScopedRequest, form: MaterialForm) -> StoredFile | None:
    """The photo that was sent, kept before the material: a file is never written inside a transaction."""
    upload = form.cleaned_data["file"]
    return store_upload(provider=request.visit.provider, actor=request.visit.user, upload=upload) if upload else None


def _material_form(request: ScopedRequest, form: MaterialForm, row: Material | None = None) -> HttpResponse:
    slug = request.visit.provider.slug
    return show_form(
        request,
        "curriculum/material_form.html",
        form,
        material=row,
        title=row.name if row else _("Add a material"),
        submit=_("Save the material") if row else _("Add the material"),
        back=(_material_url(row), row.name) if row else (reverse("curriculum:materials", args=[slug]), _("Materials")),
    )


def _tell_split(request: ScopedRequest, lots: list[Acquisition]) -> str:
    """Say how the price was shared out, and go on to the first of the materials."""
    parts = ", ".join(f"{lot.material} {format_money(lot.basis)}" for lot in lots)
    messages.info(request, _("Cost by thing: %(parts)s") % {"parts": parts})
    return _material_url(lots[0].material)


def _material_url(row: Material) -> str:
    return reverse("curriculum:material", args=[row.provider.slug, row.public_id])


def _lot_url(slug: str, lot: Acquisition) -> str:
    return reverse("curriculum:lot", args=[slug, lot.public_id])


def _check(request: Any) -> str:
    return check_line(request.visit.provider, DateSpan.day(request.visit.today))
