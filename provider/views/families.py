"""Families: households with their guardians, children and enrolments."""

from django.http import HttpResponse
from django.shortcuts import render

from provider.access import STAFF, ScopedRequest, scoped


@scoped(*STAFF)
def families(request: ScopedRequest) -> HttpResponse:
    return render(request, "provider/families/list.html")
