"""Papers kept beside the records, shown to those who may see the books."""

from django.http import FileResponse, Http404
from django.utils.translation import gettext as _

from provider.access import BOOKS, ScopedRequest, own, scoped
from provider.models import StoredFile


@scoped(*BOOKS, write=())
def show_file(request: ScopedRequest, public_id: str) -> FileResponse:
    """The paper itself, under a name that says nothing about anybody."""
    stored = own(StoredFile, request.visit.provider, public_id)
    try:
        content = stored.file.open("rb")
    except FileNotFoundError as error:
        raise Http404(_("The paper is missing from the store.")) from error
    response = FileResponse(content, content_type=stored.kind, filename=f"paper.{stored.extension}")
    response["Cache-Control"] = "private, no-store"
    response["X-Content-Type-Options"] = "nosniff"
    return response
