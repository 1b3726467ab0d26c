"""Calendar feeds under secret addresses. Only a hash of the secret is kept: whoever lost an address makes a new one."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import date

from django.utils import timezone
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import CalendarFeed, Provider, User

MOST_FEEDS = 12


@dataclass(frozen=True, slots=True)
class NewFeed:
    """A feed and the secret of its address, told only this once; empty after a second click on the same form."""

    row: CalendarFeed
    token: str


def add_feed(*, provider: Provider, actor: User | None, today: date, name: str, submission_key: str = "") -> NewFeed:
    """Make a feed. `name` says which calendar reads it."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, CalendarFeed):
            return NewFeed(earlier, "")
        if CalendarFeed.objects.filter(provider=desk.provider, revoked_at__isnull=True).count() >= MOST_FEEDS:
            raise DomainError(_("There are many addresses already. Take one back first."), field="name")
        return _make(desk, name, submission_key)


def renew_feed(
    *, provider: Provider, actor: User | None, today: date, feed: CalendarFeed, submission_key: str = ""
) -> NewFeed:
    """Another address for the same calendar; the old one stops working at once."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, CalendarFeed):
            return NewFeed(earlier, "")
        _revoke(desk, feed)
        return _make(desk, feed.name, submission_key)


def revoke_feed(
    *, provider: Provider, actor: User | None, today: date, feed: CalendarFeed, submission_key: str = ""
) -> CalendarFeed:
    """The address stops working at once."""
    with writing(provider, actor) as desk:
        return _revoke(desk, feed)


def feed_of(token: str) -> CalendarFeed | None:
    """The feed behind a secret. It is found by its hash, so that the time this takes tells nothing. One query."""
    rows = CalendarFeed.objects.select_related("provider")
    return rows.filter(token_hash=_hashed(token), revoked_at__isnull=True).first()


def _make(desk: Desk, name: str, submission_key: str) -> NewFeed:
    token = secrets.token_urlsafe(24)
    row = CalendarFeed(provider=desk.provider, name=name, token_hash=_hashed(token))
    desk.save(row, verb="add", summary=_("Made a calendar address for %(name)s") % {"name": name})
    desk.done(submission_key, row)
    return NewFeed(row, token)


def _revoke(desk: Desk, feed: CalendarFeed) -> CalendarFeed:
    row = CalendarFeed.objects.get(pk=feed.pk, provider=desk.provider)
    if row.revoked_at:
        return row
    row.revoked_at = timezone.now()
    return desk.save(row, verb="void", summary=_("Took back the calendar address of %(name)s") % {"name": row.name})


def _hashed(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
