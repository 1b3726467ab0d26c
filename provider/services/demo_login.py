"""A way into the demo business: one password for its four logins."""

import os
import secrets

from provider.models import Provider, User

DEMO_SLUG = "demo"
DEMO_USERNAMES = ("owner", "helper", "preparer", "family")


def demo_exists() -> bool:
    """Whether the demo business has been loaded."""
    return Provider.objects.filter(slug=DEMO_SLUG, is_example=True).exists()


def reset_demo_password() -> str | None:
    """Give the demo's logins a fresh password, or the one in `DEMO_PASSWORD`, and return it; None without a demo.

    Only logins that belong to no other business are touched: a real owner may be called "owner" too.
    """
    if not demo_exists():
        return None
    password = os.environ.get("DEMO_PASSWORD") or secrets.token_urlsafe(9)
    users = User.objects.filter(username__in=DEMO_USERNAMES, memberships__provider__slug=DEMO_SLUG)
    for user in users.exclude(memberships__provider__is_example=False):
        user.set_password(password)
        user.save(update_fields=["password"])
    return password
