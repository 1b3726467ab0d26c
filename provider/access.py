"""Doors: who may open which page of which business."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from functools import cached_property, wraps
from typing import Any, TypeVar

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from provider.clock import today
from provider.days import typed_month_first
from provider.models import Country, Membership, Provider, ProviderRow, Role, User

RowT = TypeVar("RowT", bound=ProviderRow)
OWNER, HELPER, PREPARER, FAMILY = Role.OWNER, Role.HELPER, Role.PREPARER, Role.FAMILY
STAFF = (OWNER, HELPER)
BOOKS = (OWNER, PREPARER)


@dataclass(frozen=True)
class Visit:
    """Who is looking at which business, and which day it is there."""

    membership: Membership
    today: date

    @property
    def provider(self) -> Provider:
        return self.membership.provider

    @property
    def role(self) -> Role:
        return Role(self.membership.role)

    @property
    def user(self) -> User:
        return self.membership.user

    @property
    def may_write(self) -> bool:
        return self.role == OWNER

    @cached_property
    def writer(self) -> dict[str, Any]:
        """The arguments that every service takes: `service(**visit.writer, ...)`."""
        return {"provider": self.provider, "actor": self.user, "today": self.today}


class ScopedRequest(HttpRequest):
    """A request that came through `scoped`."""

    visit: Visit


def scoped(*roles: Role, write: tuple[Role, ...] = (OWNER,)) -> Callable[..., Any]:
    """Let a view in by role: strangers get 404, a lesser role 403. `roles` may read, `write` may post.

    Sets `request.visit`, the provider's time zone and how dates are typed there. A family member is let in only where
    FAMILY is named.
    """

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @wraps(view)
        def inner(request: Any, slug: str, *args: Any, **kwargs: Any) -> HttpResponse:
            membership = (
                Membership.objects.select_related("provider", "household", "user")
                .filter(user=request.user, user__is_active=True, provider__slug=slug)
                .first()
            )
            if membership is None:
                raise Http404(_("No such page."))
            allowed = roles if request.method in ("GET", "HEAD", "OPTIONS") else write
            if membership.role not in allowed:
                raise PermissionDenied(_("Your login may not do this."))
            request.visit = Visit(membership, today(membership.provider))
            month_first = membership.provider.country == Country.US
            with timezone.override(membership.provider.zone), typed_month_first(month_first):
                return view(request, *args, **kwargs)

        inner.roles = roles  # type: ignore[attr-defined]  # read by the test that walks every address as every role
        inner.write_roles = write  # type: ignore[attr-defined]
        return inner

    return decorate


def own(source: Any, provider: Provider, public_id: str) -> Any:
    """The provider's row with this public id, from a model or queryset; 404 otherwise."""
    rows = source if hasattr(source, "filter") else source._default_manager.all()
    row = rows.filter(provider=provider, public_id=public_id).first()
    if row is None:
        raise Http404(_("No such record."))
    return row
