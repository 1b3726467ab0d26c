"""HTML to PDF: tagged, and closed to everything but our own static files."""

from functools import cache
from mimetypes import guess_type
from pathlib import Path
from typing import Any

from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.utils.translation import get_language
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

SCHEME = "static:"


class ForbiddenAddress(Exception):
    """A document names a file or host that is not ours to embed."""


class OwnFilesOnly(URLFetcher):
    """Serves `static:<path>` from the apps' static files and refuses every other address, files and hosts alike."""

    def fetch(self, url: str, headers: dict[str, str] | None = None) -> URLFetcherResponse:
        found = finders.find(url.removeprefix(SCHEME)) if url.startswith(SCHEME) else None
        if found is None:
            raise FatalURLFetchingError(f"A document may not fetch {url}")
        kind, _encoding = guess_type(found)
        return URLFetcherResponse(url, Path(found).read_bytes(), {"Content-Type": kind or "application/octet-stream"})


@cache
def _fonts() -> FontConfiguration:
    """Reading the machine's fonts takes longer than a page: once for each process."""
    return FontConfiguration()


def write_pdf(html: str, style: str) -> bytes:
    """A tagged PDF/UA-1 of a page whose language and title stand in the HTML; `style` is a static file of ours.

    Raises ForbiddenAddress. Never call it inside a transaction: a page takes a good part of a second.
    """
    fetcher = OwnFilesOnly()
    try:
        sheet = CSS(url=f"{SCHEME}{style}", url_fetcher=fetcher, font_config=_fonts())
        page = HTML(string=html, url_fetcher=fetcher)
        pdf: bytes = page.write_pdf(stylesheets=[sheet], font_config=_fonts(), pdf_variant="pdf/ua-1", pdf_tags=True)
    except FatalURLFetchingError as error:
        # It is no Exception, so that nothing inside swallows it; outside nothing would catch it either.
        raise ForbiddenAddress(str(error)) from error
    return pdf


def page_pdf(template: str, *, title: str, issuer: str, style: str = "provider/document.css", **context: Any) -> bytes:
    """The PDF of a template that extends `provider/documents/page.html`, in the language in force.

    `issuer` is the name of the business. Raises what `write_pdf` raises.
    """
    page = {"title": title, "issuer": issuer, "language": get_language(), **context}
    return write_pdf(render_to_string(template, page), style)
