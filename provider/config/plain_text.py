"""No NUL comes in: a text column of PostgreSQL can neither hold one nor be compared with it, and nobody types one."""

from collections.abc import Callable
from urllib.parse import unquote

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse


class RefuseNul:
    """Middleware that answers 400 to a NUL in the address or in what was posted."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        posted = (value for _name, values in request.POST.lists() for value in values)
        if "\x00" in unquote(request.get_full_path()) or any("\x00" in value for value in posted):
            raise BadRequest("a NUL character")
        return self.get_response(request)
