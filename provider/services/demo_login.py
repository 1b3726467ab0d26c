"""A way into the example businesses: one password for their logins."""

import os
import secrets

from provider.models import Provider, User

DEMO_SLUG = "demo"
DEMO_USERNAMES = ("owner", "helper", "preparer", "family")
# Owners of the two other example businesses, which show that nobody sees across.
NEIGHBOUR_USERNAMES = ("owner-north", "owner-east")


def demo_exists() -> bool:
    """Whether the demo business has been loaded."""
    return Provider.objects.filter(slug=DEMO_SLUG, is_example=True).exists()


def reset_demo_password() -> str | None:
    """Give the example logins a fresh password, or the one in `DEMO_PASSWORD`, and return it; None without a demo.

    Only logins that belong to no other business are touched: a real owner may be called "owner" too.
    """
    if not demo_exists():
        return None
    password = os.environ.get("DEMO_PASSWORD") or secrets.token_urlsafe(9)
    names = (*DEMO_USERNAMES, *NEIGHBOUR_USERNAMES)
    users = User.objects.filter(username__in=names, memberships__provider__is_example=True).distinct()
    for user in users.exclude(memberships__provider__is_example=False):
        user.set_password(password)
        user.save(update_fields=["password"])
    return password
