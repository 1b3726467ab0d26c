"""Keeps a tablet that was made the door's at the door."""

import re
from collections.abc import Callable

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

# Says only that this browser belongs to the door; it opens nothing. What opens the door page is the tablet's token,
# which is sent to no other address.
LOCK_COOKIE = "door"


def door_lock(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[[HttpRequest], HttpResponse]:
    """Lead every other address back to the door page; taking the tablet away in the settings unlocks it."""

    def middleware(request: HttpRequest) -> HttpResponse:
        slug = request.COOKIES.get(LOCK_COOKIE, "")
        if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,39}", slug):
            door = reverse("provider:door", args=[slug])
            # Another business's door is elsewhere too: it does not know the tablet and would unlock it.
            if not request.path.startswith(door):
                return HttpResponseRedirect(door)
        return get_response(request)

    return middleware
