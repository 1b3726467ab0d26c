"""Whose address a sign-in came from, for the lock-out after repeated failures."""

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The peer's address; behind a trusted proxy the last one that it added to X-Forwarded-For.

    Earlier entries are the visitor's own claim and are not believed.
    """
    peer = str(request.META.get("REMOTE_ADDR", ""))
    if not settings.BEHIND_PROXY:
        return peer
    return request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip() or peer
