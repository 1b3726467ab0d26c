"""Bins, what is inside, and their labels."""

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.bins import BinForm, LabelsForm
from curriculum.models import Bin
from curriculum.selectors.bins import bins_with_counts, contents_of
from curriculum.services import bins as services
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.documents import page_pdf
from provider.qr import qr_picture
from provider.views.pages import act, show_form


@scoped(*STAFF)
def bins(request: ScopedRequest) -> HttpResponse:
    return render(request, "curriculum/bins.html", {"bins": bins_with_counts(request.visit.provider)})


@scoped(*STAFF)
def bin_page(request: ScopedRequest, bin: str) -> HttpResponse:
    """What the label on the bin opens."""
    row = own(Bin, request.visit.provider, bin)
    return render(request, "curriculum/bin.html", {"bin": row, "contents": contents_of(row)})


@scoped(OWNER)
def add_bin(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = BinForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_bin(**visit.writer, **form.values()),
            done=_("The bin was added."),
            go=_bin_url,
        )
        if response:
            return response
    back = (reverse("curriculum:bins", args=[visit.provider.slug]), _("Bins"))
    return show_form(request, "provider/form_page.html", form, title=_("Add a bin"), submit=_("Add the bin"), back=back)


@scoped(OWNER)
def change_bin(request: ScopedRequest, bin: str) -> HttpResponse:
    visit = request.visit
    row = own(Bin, visit.provider, bin)
    form = BinForm(request.POST or None, initial=BinForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_bin(
                **visit.writer, bin=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The bin was saved."),
            go=_bin_url,
        )
        if response:
            return response
    back = (_bin_url(row), row.label)
    return show_form(request, "provider/form_page.html", form, title=row.label, submit=_("Save the bin"), back=back)


@scoped(*STAFF, write=())
def bin_labels(request: ScopedRequest) -> HttpResponse:
    """Choose bins; those chosen come back as a sheet of labels to print and cut."""
    visit = request.visit
    form = LabelsForm(request.GET or None, provider=visit.provider)
    if not form.is_bound:
        form.fields["bins"].initial = [row.public_id for row in form.fields["bins"].queryset]  # type: ignore[attr-defined]
    if not form.is_valid():
        return render(request, "curriculum/bin_labels.html", {"form": form}, status=422 if form.is_bound else 200)
    chosen = bins_with_counts(visit.provider).filter(pk__in=form.cleaned_data["bins"])
    labels = [(row, qr_picture(_absolute(request, _bin_url(row)))) for row in chosen.select_related("provider")]
    sheet = page_pdf(
        "curriculum/documents/bin_labels.html",
        title=_("Bin labels"),
        issuer=visit.provider.name,
        style="curriculum/labels.css",
        labels=labels,
    )
    response = HttpResponse(sheet, content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="bin-labels.pdf"'
    return response


def _bin_url(row: Bin) -> str:
    return reverse("curriculum:bin", args=[row.provider.slug, row.public_id])


def _absolute(request: HttpRequest, path: str) -> str:
    """An address that a phone can open: the public one where there is one, else the one asked by."""
    return settings.PUBLIC_URL.geturl().rstrip("/") + path if settings.PUBLIC_URL else request.build_absolute_uri(path)
