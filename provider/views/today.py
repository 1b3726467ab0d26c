"""Today: who is expected, here and gone, and what is due."""

from django.http import HttpResponse
from django.shortcuts import render

from provider.access import STAFF, ScopedRequest, scoped


@scoped(*STAFF)
def today(request: ScopedRequest) -> HttpResponse:
    return render(request, "provider/today/today.html")
