"""Papers kept beside the records, shown to those who may see the books."""

from typing import Any

from django.http import FileResponse, Http404
from django.utils.translation import gettext as _

from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.doors import in_the_books
from provider.models import StoredFile
from provider.services.files import store_upload


@scoped(*BOOKS, write=())
def show_file(request: ScopedRequest, public_id: str) -> FileResponse:
    """The owner sees every paper, a tax preparer those of the books: children's are no business of hers."""
    stored = own(StoredFile, request.visit.provider, public_id)
    may_see = request.visit.role == OWNER or any(asks(stored) for asks in in_the_books)
    return send_paper(stored if may_see else None)


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
