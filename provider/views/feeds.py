"""Calendar feeds: the owner's addresses, and the one page that is read without a login."""

import hashlib

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from provider import clock, ical
from provider.access import OWNER, ScopedRequest, own, scoped
from provider.forms.base import DeskForm
from provider.forms.calendar import FeedForm
from provider.models import CalendarFeed
from provider.selectors.calendar import feed_entries, feeds_of
from provider.services import feeds as services
from provider.services.feeds import NewFeed, feed_of
from provider.views.pages import act, show_form


@login_not_required
@require_safe
def feed(request: HttpRequest, token: str) -> HttpResponse:
    """The calendar behind a secret address, for whoever has it; 404 for one that was taken back or never was."""
    row = feed_of(token)
    if row is None:
        raise Http404(_("No such page."))
    provider = row.provider
    with timezone.override(provider.zone):
        entries = feed_entries(provider, clock.today(provider))
    etag = f'"{hashlib.sha256(repr((provider.name, entries)).encode()).hexdigest()[:32]}"'
    response = get_conditional_response(request, etag=etag)
    if response is None:
        content = ical.feed(entries, name=provider.name, stamped=clock.now())
        response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["ETag"] = etag
    response["Cache-Control"] = "private"
    response["X-Robots-Tag"] = "noindex"
    response["Referrer-Policy"] = "no-referrer"
    return response


@scoped(OWNER)
def feeds(request: ScopedRequest) -> HttpResponse:
    return render(request, "provider/calendar/feeds.html", {"feeds": feeds_of(request.visit.provider)})


@scoped(OWNER)
def feed_add(request: ScopedRequest) -> HttpResponse:
    form = FeedForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_feed(**request.visit.writer, **form.values()),
            done=_("The address is made."),
            go=lambda made: _tell(request, made),
        )
        if response:
            return response
    lead = _("It tells closures, theme months and what is due, never the name of a child.")
    return _page(request, form, _("An address for a calendar"), _("Make the address"), lead=lead)


@scoped(OWNER)
def feed_renew(request: ScopedRequest, feed: str) -> HttpResponse:
    row = own(feeds_of(request.visit.provider), request.visit.provider, feed)
    form = DeskForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.renew_feed(**request.visit.writer, feed=row, **form.values()),
            done=_("The address is changed."),
            go=lambda made: _tell(request, made),
        )
        if response:
            return response
    title = _("Another address for %(name)s?") % {"name": row.name}
    return _page(request, form, title, _("Make another address"), lead=_("The old one stops working at once."))


@scoped(OWNER)
def feed_revoke(request: ScopedRequest, feed: str) -> HttpResponse:
    row = own(CalendarFeed, request.visit.provider, feed)
    form = DeskForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.revoke_feed(**request.visit.writer, feed=row, **form.values()),
            done=_("Taken back. The address shows nothing any more."),
            go=lambda _row: _back(request),
        )
        if response:
            return response
    title = _("Take back the address of %(name)s?") % {"name": row.name}
    return _page(request, form, title, _("Take it back"), lead=_("It stops working at once."), danger=True)


def _tell(request: ScopedRequest, made: NewFeed) -> str:
    """Show the address this once. After a second click nobody knows it any more: then say nothing."""
    if made.token:
        address = request.build_absolute_uri(reverse("provider:feed", args=[made.token]))
        messages.info(
            request,
            _("Address for %(name)s, shown only now: %(address)s") % {"name": made.row.name, "address": address},
        )
    return _back(request)


def _back(request: ScopedRequest) -> str:
    return reverse("provider:feeds", args=[request.visit.provider.slug])


def _page(request: ScopedRequest, form: DeskForm, title: str, submit: str, **context: object) -> HttpResponse:
    back = (_back(request), _("Calendar addresses"))
    return show_form(request, "provider/form_page.html", form, title=title, submit=submit, back=back, **context)
