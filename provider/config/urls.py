"""The root of all addresses. Each app keeps its own under its namespace."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.urls import include, path
from django.views.decorators.cache import never_cache


@login_not_required
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Say that the server answers; asked by `start` and by whatever watches it."""
    return HttpResponse("ok", content_type="text/plain")


urlpatterns = [
    path("health/", health, name="health"),
    path("", include("provider.urls")),
    path("", include("curriculum.urls")),
    path("", include("billing.urls")),
]
