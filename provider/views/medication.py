"""Medicine: the log of a child, its signed instructions, and a dose in two taps."""

from typing import Any

from django.http import FileResponse, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.attendance import ReasonForm
from provider.forms.medication import CorrectDoseForm, DoseForm, MedicationForm
from provider.models import Child, Dose, Medication
from provider.selectors import safety as selectors
from provider.services import medication as services
from provider.services.files import store_upload
from provider.views.files import send_paper
from provider.views.pages import act, show_form

MEDICATIONS = Medication.objects.select_related("child", "provider")
DOSES = Dose.objects.select_related("medication__child", "provider")


@scoped(*STAFF)
def medication(request: ScopedRequest, child: str) -> HttpResponse:
    """Instructions and doses of a child, to be printed as its log."""
    row = own(Child.objects.select_related("household"), request.visit.provider, child)
    medicines = selectors.medicines_of(row)
    return render(request, "provider/safety/medication.html", {"child": row, "medicines": medicines})


@scoped(*STAFF, write=STAFF)
def medication_add(request: ScopedRequest, child: str) -> HttpResponse:
    visit = request.visit
    row = own(Child, visit.provider, child)
    form = MedicationForm(
        request.POST or None, request.FILES or None, initial={"start": visit.today, "signed_on": visit.today}
    )
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_medication(
                **visit.writer, child=row, file=_kept(request, form.cleaned_data["file"]), **form.values()
            ),
            done=_("The instruction is saved."),
            go=lambda _saved: _log(request, row),
        )
        if response:
            return response
    title = _("A medicine for %(child)s") % {"child": row}
    return _page(request, form, row, title, _("Save the instruction"), with_file=True)


@scoped(*STAFF, write=STAFF)
def medication_withdraw(request: ScopedRequest, medication: str) -> HttpResponse:
    row = own(MEDICATIONS, request.visit.provider, medication)
    form = ReasonForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.withdraw_medication(**request.visit.writer, medication=row, **form.values()),
            done=_("Withdrawn. The doses given stay on the log."),
            go=lambda _saved: _log(request, row.child),
        )
        if response:
            return response
    title = _("Withdraw the instruction for %(medicine)s?") % {"medicine": row}
    return _page(request, form, row.child, title, _("Withdraw it"), danger=True)


@scoped(*STAFF, write=())
def medication_paper(request: ScopedRequest, medication: str) -> FileResponse:
    row = own(Medication.objects.select_related("file"), request.visit.provider, medication)
    return send_paper(row.file)


@scoped(*STAFF, write=STAFF)
def dose_give(request: ScopedRequest, medication: str) -> HttpResponse:
    visit = request.visit
    row = own(MEDICATIONS, visit.provider, medication)
    initial = {"amount": row.dose, "at": now(), "given_by": str(visit.user)}
    form = DoseForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.give_dose(
                **visit.writer,
                now=now(),
                medication=row,
                outside_because=form.because(),
                **form.values("anyway", "outside_because"),
            ),
            done=_("The dose is recorded."),
            go=lambda _saved: _log(request, row.child),
        )
        if response:
            return response
    title = _("%(medicine)s for %(child)s") % {"medicine": row, "child": row.child}
    return _page(request, form, row.child, title, _("Record the dose"), "dose", medicine=_of(row))


@scoped(*STAFF, write=STAFF)
def dose_correct(request: ScopedRequest, dose: str) -> HttpResponse:
    visit = request.visit
    row = own(DOSES, visit.provider, dose)
    initial = {"amount": row.amount, "at": row.given_at, "given_by": row.given_by}
    form = CorrectDoseForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.correct_dose(
                **visit.writer,
                now=now(),
                dose=row,
                given_at=form.cleaned_data["at"],
                outside_because=form.because(),
                **form.values("anyway", "outside_because", "at"),
            ),
            done=_("Corrected. The earlier record is kept beside it."),
            go=lambda _saved: _log(request, row.medication.child),
        )
        if response:
            return response
    title = _("Correct a dose of %(child)s") % {"child": row.medication.child}
    child, medicine = row.medication.child, _of(row.medication)
    return _page(request, form, child, title, _("Save the correction"), "dose", medicine=medicine)


@scoped(*STAFF)
def dose(request: ScopedRequest, dose: str) -> HttpResponse:
    """A dose with the earlier records it corrects."""
    row = own(DOSES, request.visit.provider, dose)
    versions = selectors.dose_versions(row)
    return render(request, "provider/safety/dose.html", {"row": row, "versions": versions, "newest": versions[0]})


def _of(row: Medication) -> selectors.Medicine:
    return next(each for each in selectors.medicines_of(row.child) if each.medication.pk == row.pk)


def _kept(request: ScopedRequest, upload: Any) -> Any:
    """The paper that was sent, kept before the instruction: a file is never written inside a transaction."""
    return store_upload(provider=request.visit.provider, actor=request.visit.user, upload=upload) if upload else None


def _log(request: ScopedRequest, child: Child) -> str:
    return reverse("provider:medication", args=[request.visit.provider.slug, child.public_id])


def _page(
    request: ScopedRequest, form: Any, child: Child, title: str, submit: str, template: str = "", **context: Any
) -> HttpResponse:
    back = (_log(request, child), _("Medicine of %(child)s") % {"child": child})
    page = f"provider/safety/{template}_form.html" if template else "provider/safety/medication_form.html"
    return show_form(request, page, form, title=title, submit=submit, back=back, **context)
