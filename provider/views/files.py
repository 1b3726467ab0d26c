"""Papers kept beside the records, shown to those who may see the books."""

from typing import Any

from django.http import FileResponse, Http404
from django.utils.translation import gettext as _

from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.models import StoredFile
from provider.selectors.papers import is_of_the_day_book
from provider.services.files import store_upload


@scoped(*BOOKS, write=())
def show_file(request: ScopedRequest, public_id: str) -> FileResponse:
    """Papers of children and people are no business of a tax preparer; those of the books are."""
    stored = own(StoredFile, request.visit.provider, public_id)
    return send_paper(None if request.visit.role != OWNER and is_of_the_day_book(stored) else stored)


def send_paper(stored: StoredFile | None) -> FileResponse:
    """The paper itself, under a name that says nothing about anybody; 404 when there is none."""
    if stored is None:
        raise Http404(_("No such record."))
    try:
        content = stored.file.open("rb")
    except FileNotFoundError as error:
        raise Http404(_("The paper is missing from the store.")) from error
    response = FileResponse(content, content_type=stored.kind, filename=f"paper.{stored.extension}")
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response


def store_sent(request: ScopedRequest, form: Any) -> StoredFile | None:
    """Keep what was sent in the box `file` of a valid form, if anything. Raises PaperRefused."""
    upload = form.cleaned_data["file"]
    visit = request.visit
    return store_upload(provider=visit.provider, actor=visit.user, upload=upload) if upload else None
