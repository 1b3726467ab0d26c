"""Small pieces that keep views thin."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render

from provider.errors import DomainError, StaleRow
from provider.forms.base import DeskForm


def act(
    request: HttpRequest,
    form: DeskForm,
    service: Callable[[], Any],
    *,
    done: str,
    go: Callable[[Any], str],
) -> HttpResponse | None:
    """Carry out ONE service for a valid form; None when something is wrong and the form must be shown again.

    `service` is called without arguments; `done` is said on the next page, whose address `go(result)` gives.
    """
    if not form.is_valid():
        return None
    try:
        result = service()
    except StaleRow as error:
        form.question(error)
        return None
    except DomainError as error:
        form.add_domain_error(error)
        return None
    messages.success(request, done)
    return HttpResponseRedirect(go(result))


def show_form(request: HttpRequest, template: str, form: DeskForm, **context: Any) -> HttpResponse:
    """Render a form page; 422 when it was posted with errors, so that scripts and tests can tell."""
    return render(request, template, {"form": form, **context}, status=422 if form.is_bound and form.errors else 200)


def pdf_response(pdf: bytes, name: str) -> HttpResponse:
    """A PDF to look at, kept by nobody on the way; `name` never says who it is about."""
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    response["Cache-Control"] = "private, no-store"
    return response
