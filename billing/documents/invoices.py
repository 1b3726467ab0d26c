"""Invoices and credit notes on paper, each in its family's language."""

from collections.abc import Sequence

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe
from django.utils.translation import override

from billing.selectors.invoices import InvoicePaper
from provider.documents import write_pdf


def invoices_pdf(papers: Sequence[InvoicePaper], title: str) -> bytes:
    """One PDF with each paper on a page of its own. ValueError when there is none."""
    if not papers:
        raise ValueError("a PDF needs at least one paper")
    sheets = []
    for paper in papers:
        with override(paper.invoice.language):
            sheets.append(render_to_string("billing/documents/invoice.html", {"paper": paper}))
    language = papers[0].invoice.language
    with override(language):
        page = render_to_string(
            "billing/documents/page.html",
            {
                "title": title,
                "language": language,
                "author": papers[0].invoice.issuer_name,
                # Rendered by the template above, which escapes.
                "sheets": [mark_safe(sheet) for sheet in sheets],  # noqa: S308
            },
        )
    return write_pdf(page, "billing/document.css")
