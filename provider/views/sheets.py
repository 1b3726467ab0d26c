"""The sign-in sheet to print: of a day or a month, as a page and as a PDF."""

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from provider.access import STAFF, ScopedRequest, scoped
from provider.documents import page_pdf
from provider.periods import ONE_DAY, DateSpan
from provider.selectors.sheets import sign_in_sheet
from provider.views.months import day_of, month_turn


@scoped(*STAFF)
def sheet_day(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    return _page(request, *_of_day(request, day_of(year, month, day)))


@scoped(*STAFF)
def sheet_day_pdf(request: ScopedRequest, year: int, month: int, day: int) -> HttpResponse:
    return _pdf(request, *_of_day(request, day_of(year, month, day)))


@scoped(*STAFF)
def sheet_month(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    return _page(request, *_of_month(request, year, month))


@scoped(*STAFF)
def sheet_month_pdf(request: ScopedRequest, year: int, month: int) -> HttpResponse:
    return _pdf(request, *_of_month(request, year, month))


def _of_day(request: ScopedRequest, day: date) -> tuple[dict[str, Any], str]:
    title = _("Sign-in sheet, %(day)s") % {"day": date_format(day)}
    sheet = sign_in_sheet(request.visit.provider, DateSpan(day, day + ONE_DAY))
    return {"sheet": sheet, "title": title, "is_day": True}, f"sign-in-{day:%Y-%m-%d}"


def _of_month(request: ScopedRequest, year: int, month: int) -> tuple[dict[str, Any], str]:
    span = month_turn(year, month).span
    title = _("Sign-in sheet, %(month)s") % {"month": date_format(span.start, "YEAR_MONTH_FORMAT")}
    return {"sheet": sign_in_sheet(request.visit.provider, span), "title": title}, f"sign-in-{span.start:%Y-%m}"


def _page(request: ScopedRequest, context: dict[str, Any], _file_name: str) -> HttpResponse:
    return render(request, "provider/attendance/sheet.html", context)


def _pdf(request: ScopedRequest, context: dict[str, Any], file_name: str) -> HttpResponse:
    pdf = page_pdf("provider/documents/sign_in.html", issuer=request.visit.provider.name, **context)
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{file_name}.pdf"'
    return response
