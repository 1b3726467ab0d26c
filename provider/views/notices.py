"""Messages to all families, what a family reads at its own door, and the erase request of a family."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from provider.access import FAMILY, OWNER, STAFF, ScopedRequest, own, scoped
from provider.clock import now
from provider.forms.attendance import ReasonForm
from provider.forms.base import DeskForm
from provider.forms.moments import NoticeForm
from provider.models import FamilyNotice, Household
from provider.selectors import notices as selectors
from provider.selectors.retention import erasure, family_records
from provider.services import notices as services
from provider.services.retention import erase_family
from provider.views.pages import act, show_form


@scoped(OWNER)
def notices(request: ScopedRequest) -> HttpResponse:
    return render(request, "provider/notices/list.html", {"notices": selectors.notices_of(request.visit.provider)[:50]})


@scoped(OWNER)
def notice_send(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    initial = {
        "day": visit.today,
        "subject": _("Closed today, ill"),
        "text": _("I am ill, so we are closed today. I am sorry for the short notice."),
    }
    form = NoticeForm(request.POST or None, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.send_notice(
                **visit.writer,
                now=now(),
                closure=form.closure(),
                **form.values("closes", "kind", "paid"),
            ),
            done=_("The families are told."),
            go=lambda row: _url(request, row),
        )
        if response:
            return response
    families = selectors.families_on(visit.provider, visit.today)
    context = {
        "reached": [each for each in families if each.addresses],
        "without": [each for each in families if not each.addresses],
        "title": _("Tell all families"),
        "submit": _("Send to all families"),
        "back": (reverse("provider:notices", args=[visit.provider.slug]), _("Messages to families")),
    }
    return show_form(request, "provider/notices/form.html", form, **context)


@scoped(OWNER)
def notice(request: ScopedRequest, notice: str) -> HttpResponse:
    """How a message went; posting sends again what was not sent."""
    row = own(FamilyNotice, request.visit.provider, notice)
    form = DeskForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.try_again(**request.visit.writer, notice=row, **form.values()),
            done=_("What was not sent is on its way again."),
            go=lambda saved: _url(request, saved),
        )
        if response:
            return response
    deliveries = selectors.deliveries_of(row)
    context = {"notice": row, "deliveries": deliveries, "unsent": any(each.sent_at is None for each in deliveries)}
    return show_form(request, "provider/notices/notice.html", form, **context)


@scoped(FAMILY, write=())
def family_days(request: ScopedRequest) -> HttpResponse:
    """The messages and day notes of the family's own children."""
    household = request.visit.membership.household
    assert household is not None  # a constraint says so of every family member
    days = selectors.family_days(household)
    return render(request, "provider/notices/family.html", {"household": household, "days": days})


@scoped(*STAFF)
def household_records(request: ScopedRequest, household: str) -> HttpResponse:
    """What is kept about a family, and until when."""
    visit = request.visit
    row = own(Household.objects.select_related("provider"), visit.provider, household)
    context = {
        "household": row,
        "found": family_records(row, visit.today),
        "may_write": visit.may_write,
    }
    return render(request, "provider/notices/records.html", context)


@scoped(OWNER)
def household_erase(request: ScopedRequest, household: str) -> HttpResponse:
    """First what would go and what stays; then the act."""
    visit = request.visit
    row = own(Household.objects.select_related("provider"), visit.provider, household)
    form = ReasonForm(request.POST or None)
    back = reverse("provider:household_records", args=[visit.provider.slug, row.public_id])
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: erase_family(**visit.writer, household=row, **form.values()),
            done=_("Erased. What must be kept stays until its date."),
            go=lambda _row: back,
        )
        if response:
            return response
    context = {
        "household": row,
        "plan": erasure(row, visit.today),
        "title": _("Erase the data of %(family)s?") % {"family": row},
        "submit": _("Erase for good"),
        "danger": True,
        "back": (back, _("Records of %(family)s") % {"family": row}),
    }
    return show_form(request, "provider/notices/erase.html", form, **context)


def _url(request: ScopedRequest, row: FamilyNotice) -> str:
    return reverse("provider:notice", args=[request.visit.provider.slug, row.public_id])
