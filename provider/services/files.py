"""Papers that are sent in: what they are is decided by their content, and only a cleaned copy is kept."""

import hashlib
from dataclasses import dataclass
from io import BytesIO
from math import sqrt
from typing import Any

from django.core.files.base import ContentFile, File
from django.db import transaction
from django.db.models import ProtectedError
from django.utils.translation import gettext as _
from PIL import Image, ImageFile, ImageOps
from pillow_heif import register_heif_opener
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import FileKind, Provider, StoredFile, User

register_heif_opener()

MAX_MEGABYTES = 25
MAX_MEGAPIXELS = 60
KEPT_MEGAPIXELS = 12  # enough to read the small print of a long till receipt
JPEG_QUALITY = 85
MAX_PAGES = 50
MAX_PDF_OBJECTS = 50_000

# What a paper has no need of: keys of a PDF dictionary, and values of an action's /S.
ACTIVE_KEYS = frozenset({"/JS", "/JavaScript", "/EmbeddedFile", "/EmbeddedFiles", "/EF", "/RichMedia", "/XFA"})
ACTIVE_ACTIONS = frozenset({"/JavaScript", "/Launch", "/ImportData", "/SubmitForm", "/GoToE", "/Rendition"})


class PaperRefused(DomainError):
    """The file is too large, of another kind, damaged, or holds more than a paper should."""

    def __init__(self, message: str) -> None:
        super().__init__(message, field="file")


@dataclass(frozen=True, slots=True)
class CleanPaper:
    kind: FileKind
    content: bytes


def store_upload(*, provider: Provider, actor: User | None, upload: File) -> StoredFile:
    """Check, clean and keep an uploaded photo or PDF; the same paper sent again gives the row that it gave before.

    The file is written before the transaction and taken away again when the row cannot be saved.
    Raises PaperRefused, with a message that says what to send instead.
    """
    if (upload.size or 0) > MAX_MEGABYTES * 1024 * 1024:
        raise PaperRefused(
            _("The file is %(size)d MB; at most %(limit)d MB can be kept. Take the photo at a smaller size.")
            % {"size": round((upload.size or 0) / 1024 / 1024), "limit": MAX_MEGABYTES}
        )
    sent = upload.read()
    digest = hashlib.sha256(sent).hexdigest()
    earlier = StoredFile.objects.filter(provider=provider, sha256=digest).first()
    if earlier:
        return earlier
    paper = clean_paper(sent)
    stored = StoredFile(
        provider=provider,
        kind=paper.kind,
        original_name=_shortened(upload.name or ""),
        size=len(paper.content),
        sha256=digest,
    )
    stored.file.save("", ContentFile(paper.content), save=False)
    try:
        with writing(provider, actor) as desk:
            return desk.save(stored, verb="attach", summary=_("Kept a paper: %(paper)s") % {"paper": stored})
    except BaseException:
        stored.file.delete(save=False)
        raise


def discard_upload(*, provider: Provider, actor: User | None, public_id: str) -> None:
    """Take away a paper that no record holds on to; one that is held, or is not the provider's, stays."""
    with writing(provider, actor) as desk:
        stored = StoredFile.objects.filter(provider=provider, public_id=public_id).first()
        if stored is not None:
            drop_paper(desk, stored)


def drop_paper(desk: Desk, stored: StoredFile) -> None:
    """The inner part of `discard_upload`, for a service that let go of a paper."""
    try:
        with transaction.atomic():
            stored.delete()
    except ProtectedError:
        return
    desk.audit("discard", stored, _("Took away a paper that was not used: %(paper)s") % {"paper": stored})
    transaction.on_commit(lambda: stored.file.delete(save=False))


def clean_paper(sent: bytes) -> CleanPaper:
    """What may be kept of the bytes that were sent: a PDF as it is, a picture as a new JPEG. Raises PaperRefused."""
    if not sent:
        raise PaperRefused(_("The file is empty."))
    if b"%PDF-" in sent[:1024]:
        _check_pdf(sent)
        return CleanPaper(FileKind.PDF, sent)
    return CleanPaper(FileKind.JPEG, _clean_picture(sent))


def _clean_picture(sent: bytes) -> bytes:
    """Turned upright and encoded anew, so that neither the place nor anything hidden in the file survives."""
    # The PDF library switches this on for the whole process, and half a photo would pass for a paper.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    try:
        with Image.open(BytesIO(sent), formats=("JPEG", "PNG", "HEIF")) as picture:
            width, height = picture.size
            if width * height > MAX_MEGAPIXELS * 1_000_000:
                raise Image.DecompressionBombError
            upright = ImageOps.exif_transpose(picture)
            if upright.has_transparency_data:
                paper = Image.new("RGBA", upright.size, "white")
                upright = Image.alpha_composite(paper, upright.convert("RGBA"))
            plain = upright.convert("RGB")
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise PaperRefused(
            _("The picture has more than %(limit)d megapixels. Take it at a smaller size.") % {"limit": MAX_MEGAPIXELS}
        ) from error
    except Exception as error:  # a decoder may raise anything on a damaged file
        raise PaperRefused(
            _("This is not a photo or PDF that can be read. Send a JPEG, PNG, HEIC or PDF file.")
        ) from error
    factor = sqrt(KEPT_MEGAPIXELS * 1_000_000 / (plain.width * plain.height))
    if factor < 1:
        plain = plain.resize((max(1, int(plain.width * factor)), max(1, int(plain.height * factor))))
    kept = BytesIO()
    Image.frombytes("RGB", plain.size, plain.tobytes()).save(kept, "JPEG", quality=JPEG_QUALITY, optimize=True)
    return kept.getvalue()


def _check_pdf(sent: bytes) -> None:
    try:
        reader = PdfReader(BytesIO(sent))
        encrypted = reader.is_encrypted
        pages = 0 if encrypted else len(reader.pages)
        active = not encrypted and _has_active_content(reader)
    except Exception as error:  # a parser may raise anything on a damaged file
        raise PaperRefused(_("This PDF is damaged and cannot be read. Save or scan it again.")) from error
    if encrypted:
        raise PaperRefused(_("This PDF is locked with a password. Save a copy without one and send that."))
    if not 1 <= pages <= MAX_PAGES:
        raise PaperRefused(_("A paper has from 1 to %(limit)d pages.") % {"limit": MAX_PAGES})
    if active:
        raise PaperRefused(
            _("This PDF holds scripts, other files or commands. Print it to a new PDF, or send a photo of it.")
        )


def _has_active_content(reader: PdfReader) -> bool:
    """Walk everything that can be reached from the document's root, each object once."""
    seen: set[tuple[int, int]] = set()
    waiting: list[Any] = [reader.trailer]
    for _step in range(MAX_PDF_OBJECTS):
        if not waiting:
            return False
        thing = waiting.pop()
        if isinstance(thing, IndirectObject):
            if (thing.idnum, thing.generation) not in seen:
                seen.add((thing.idnum, thing.generation))
                waiting.append(thing.get_object())
        elif isinstance(thing, DictionaryObject):
            if ACTIVE_KEYS & thing.keys() or str(thing.raw_get("/S") if "/S" in thing else "") in ACTIVE_ACTIONS:
                return True
            waiting.extend(thing.raw_get(key) for key in thing)
        elif isinstance(thing, ArrayObject):
            waiting.extend(list.__iter__(thing))
    return True


def _shortened(name: str) -> str:
    """The name as it was, without its folder and unprintable characters, at most 200 characters."""
    plain = "".join(letter for letter in name.replace("\\", "/").rsplit("/", 1)[-1] if letter.isprintable())
    return plain[-200:]
