"""What was looked at of a material, and recall look-ups."""

from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.checks import FactsForm, RecallForm
from curriculum.models import Acquisition, Material, SafetyFacts
from curriculum.selectors.screening import lots_without_look_up, recalls_to_repeat
from curriculum.services import checks as services
from provider.access import OWNER, ScopedRequest, own, scoped
from provider.views.pages import act, show_form

LOTS = Acquisition.objects.filter(voided_at__isnull=True).select_related("material")


@scoped(OWNER)
def note_facts(request: ScopedRequest, material: str) -> HttpResponse:
    visit = request.visit
    row = own(Material, visit.provider, material)
    facts = SafetyFacts.objects.filter(material=row).first()
    form = FactsForm(request.POST or None, initial=FactsForm.start(facts))
    address = reverse("curriculum:material", args=[visit.provider.slug, row.public_id])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.note_facts(
                **visit.writer, material=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("What you saw was noted."),
            go=lambda _facts: address,
        )
        if response:
            return response
    return show_form(
        request,
        "curriculum/facts_form.html",
        form,
        title=_("Look at it"),
        submit=_("Note what you saw"),
        back=(address, row.name),
    )


@scoped(OWNER)
def check_recall(request: ScopedRequest, lot: str) -> HttpResponse:
    visit = request.visit
    row = own(LOTS, visit.provider, lot)
    form = RecallForm(request.POST or None, initial={"on": visit.today})
    address = reverse("curriculum:material", args=[visit.provider.slug, row.material.public_id])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.record_recall_check(**visit.writer, lot=row, **form.values()),
            done=_("The look-up was noted."),
            go=lambda _row: address,
        )
        if response:
            return response
    return show_form(
        request,
        "provider/form_page.html",
        form,
        title=_("Was it recalled?"),
        lead=_("%(lot)s. Look it up by maker, model and number, and write down what you found.") % {"lot": row},
        submit=_("Note the look-up"),
        back=(address, row.material.name),
    )


@scoped(OWNER)
def recalls(request: ScopedRequest) -> HttpResponse:
    """Lots to look up: again, and for the first time."""
    visit = request.visit
    pages = Paginator(lots_without_look_up(visit.provider), 50)
    return render(
        request,
        "curriculum/recalls.html",
        {
            "again": recalls_to_repeat(visit.provider, visit.today),
            "page": pages.get_page(request.GET.get("page")),
        },
    )
