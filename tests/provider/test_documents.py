"""The writer of PDFs fetches only what is ours."""

import pytest
from django.core.exceptions import SuspiciousFileOperation
from weasyprint.urls import FatalURLFetchingError

from provider.documents import ForbiddenAddress, OwnFilesOnly, write_pdf

PICTURE = '<html lang="en"><title>A</title><img alt="" src="file:///etc/hostname"></html>'


@pytest.mark.parametrize(
    "address", ["file:///etc/hostname", "https://example.org/a.png", "data:text/plain,a", "static:a"]
)
def test_a_document_fetches_nothing_but_our_own_files(address: str) -> None:
    with pytest.raises(FatalURLFetchingError):
        OwnFilesOnly().fetch(address)


def test_a_document_fetches_nothing_beside_our_own_files() -> None:
    with pytest.raises(SuspiciousFileOperation):
        OwnFilesOnly().fetch("static:../models/__init__.py")


def test_a_forbidden_picture_stops_the_document() -> None:
    with pytest.raises(ForbiddenAddress):
        write_pdf(PICTURE, "provider/document.css")
