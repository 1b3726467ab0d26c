import hashlib
import io
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image, ImageFile
from pillow_heif import from_pillow

from billing.models import Receipt
from provider.desk import Desk
from provider.errors import DomainError
from provider.models import FileKind, Provider, Role, StoredFile
from provider.services import files
from provider.services.files import PaperRefused, discard_upload, store_upload
from tests.factories import make_member, make_provider

pytestmark = pytest.mark.django_db(transaction=True)

GPS = {1: "N", 2: (51.0, 2.0, 0.0)}


@pytest.fixture
def provider() -> Provider:
    return make_provider()


def keep(provider: Provider, content: bytes, name: str = "slip.jpg") -> StoredFile:
    return store_upload(provider=provider, actor=None, upload=SimpleUploadedFile(name, content))


def picture(kind: str = "JPEG", size: tuple[int, int] = (40, 60), mode: str = "RGB", **options: object) -> bytes:
    out = BytesIO()
    Image.new(mode, size).save(out, kind, **options)
    return out.getvalue()


def heic() -> bytes:
    out = BytesIO()
    from_pillow(Image.new("RGB", (64, 96), "ivory")).save(out)
    return out.getvalue()


def document(pages: int = 1, **options: object) -> bytes:
    out = BytesIO()
    with pikepdf.new() as pdf:
        for _number in range(pages):
            pdf.add_blank_page()
        pdf.save(out, **options)
    return out.getvalue()


def spiked(where: str) -> bytes:
    """A one-page PDF that holds something that a paper has no need of."""
    out = BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        if where == "script":
            pdf.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS="app.alert(1)")
        elif where == "command":
            note = pikepdf.Dictionary(
                Type=pikepdf.Name.Annot,
                Subtype=pikepdf.Name.Link,
                Rect=[0, 0, 9, 9],
                A=pdf.make_indirect(pikepdf.Dictionary(S=pikepdf.Name.Launch, F="run.exe")),
            )
            pdf.pages[0].Annots = pdf.make_indirect([pdf.make_indirect(note)])
        else:
            pdf.attachments["more.txt"] = b"hidden"
        pdf.save(out)
    return out.getvalue()


def stored_files() -> list[Path]:
    return [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (picture("JPEG"), FileKind.JPEG),
        (picture("PNG"), FileKind.JPEG),
        (heic(), FileKind.JPEG),
        (document(), FileKind.PDF),
    ],
    ids=["jpeg", "png", "heic", "pdf"],
)
def test_it_tells_a_paper_by_its_content_whatever_its_name(provider: Provider, content: bytes, kind: FileKind) -> None:
    stored = keep(provider, content, name="slip.txt")

    assert stored.kind == kind
    assert stored.sha256 == hashlib.sha256(content).hexdigest()
    with stored.file.open() as file:
        head = file.read(5)
    assert head.startswith(b"\xff\xd8" if kind == FileKind.JPEG else b"%PDF-")


def test_a_text_file_named_jpg_is_refused(provider: Provider) -> None:
    with pytest.raises(PaperRefused, match="Send a JPEG, PNG, HEIC or PDF") as refused:
        keep(provider, b"bread 3.20\nfelt 4.10\n", name="slip.jpg")

    assert refused.value.field == "file"
    assert stored_files() == []


@pytest.mark.parametrize(
    "content", [b"", picture("GIF"), picture("JPEG", size=(900, 900))[:900], b"%PDF-1.7 nothing more"]
)
def test_what_is_empty_damaged_or_of_another_kind_is_refused(provider: Provider, content: bytes) -> None:
    with pytest.raises(PaperRefused):
        keep(provider, content)

    assert not StoredFile.objects.exists()


def test_half_a_photo_is_refused_even_after_the_pdf_library_was_loaded(
    provider: Provider, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImageFile, "LOAD_TRUNCATED_IMAGES", True)

    with pytest.raises(PaperRefused):
        keep(provider, picture("JPEG", size=(900, 900))[:900])


def test_a_photo_of_30_mb_is_refused_with_its_size(provider: Provider) -> None:
    with pytest.raises(PaperRefused, match="The file is 30 MB; at most 25 MB can be kept"):
        keep(provider, bytes(30 * 1024 * 1024))


def test_a_picture_with_too_many_pixels_is_refused(provider: Provider) -> None:
    with pytest.raises(PaperRefused, match="60 megapixels"):
        keep(provider, picture("PNG", size=(10_000, 6_001), mode="1"))


def test_a_picture_that_unpacks_to_a_bomb_is_refused(provider: Provider) -> None:
    with pytest.raises(PaperRefused, match="60 megapixels"):
        keep(provider, picture("PNG", size=(20_000, 20_000), mode="1"))


def test_a_large_picture_is_kept_at_a_readable_size(provider: Provider) -> None:
    stored = keep(provider, picture("JPEG", size=(6000, 4000)))

    with Image.open(stored.file.path) as kept:
        assert 11_000_000 < kept.width * kept.height <= 12_000_000


def test_a_photo_is_turned_upright_and_loses_where_it_was_taken(provider: Provider) -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by a quarter
    exif[0x010F] = "Somebody's phone"
    exif.get_ifd(0x8825).update(GPS)

    stored = keep(provider, picture("JPEG", size=(40, 60), exif=exif))

    with Image.open(stored.file.path) as kept:
        assert kept.size == (60, 40)
        assert dict(kept.getexif()) == {}
        assert "exif" not in kept.info


def test_a_see_through_picture_lies_on_white(provider: Provider) -> None:
    stored = keep(provider, picture("PNG", mode="RGBA"))

    with Image.open(stored.file.path) as kept:
        assert kept.getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize("where", ["script", "command", "attachment"])
def test_a_pdf_that_holds_more_than_paper_is_refused(provider: Provider, where: str) -> None:
    with pytest.raises(PaperRefused, match="scripts, other files or commands"):
        keep(provider, spiked(where))


def test_a_pdf_with_a_password_is_refused(provider: Provider) -> None:
    with pytest.raises(PaperRefused, match="password"):
        keep(provider, document(encryption=pikepdf.Encryption(owner="one", user="two")))


def test_a_pdf_of_too_many_pages_is_refused(provider: Provider) -> None:
    with pytest.raises(PaperRefused, match="1 to 50 pages"):
        keep(provider, document(pages=51))


def test_the_file_name_on_disk_says_nothing(provider: Provider) -> None:
    stored = keep(provider, picture(), name="Receipt of Ada.jpg")

    assert "Ada" not in stored.file.name
    assert stored.file.name.endswith(".jpg")
    assert stored.original_name == "Receipt of Ada.jpg"


def test_the_original_name_is_shortened_and_loses_its_folder(provider: Provider) -> None:
    upload = SimpleUploadedFile("slip.jpg", picture())
    upload._name = "C:\\photos\\" + "x" * 300 + "\x07.jpg"

    stored = store_upload(provider=provider, actor=None, upload=upload)

    assert stored.original_name == "x" * 196 + ".jpg"


def test_the_same_paper_sent_twice_is_kept_once(provider: Provider) -> None:
    content = picture()

    assert keep(provider, content) == keep(provider, content)
    assert len(stored_files()) == 1


def test_another_business_keeps_its_own_copy(provider: Provider) -> None:
    content = picture()

    assert keep(provider, content) != keep(make_provider(), content)


def test_no_file_is_left_when_its_row_cannot_be_saved(provider: Provider, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_args: object, **_kwargs: object) -> None:
        raise DomainError("no")

    monkeypatch.setattr(Desk, "save", fail)

    with pytest.raises(DomainError):
        keep(provider, picture())

    assert stored_files() == []


def test_a_paper_that_is_not_used_can_be_taken_away(provider: Provider) -> None:
    stored = keep(provider, picture())

    discard_upload(provider=provider, actor=None, public_id=stored.public_id)

    assert not StoredFile.objects.exists()
    assert stored_files() == []


def test_another_business_cannot_take_a_paper_away(provider: Provider) -> None:
    stored = keep(provider, picture())

    discard_upload(provider=make_provider(), actor=None, public_id=stored.public_id)

    assert len(stored_files()) == 1


def test_a_file_is_shown_to_the_books_alone_and_never_cached(client: Client, provider: Provider) -> None:
    stored = keep(provider, picture(), name="Receipt of Ada.jpg")
    Receipt.objects.create(
        provider=provider, shop="Glue Pot", bill_date=date(2025, 3, 4), total=Decimal("3.20"), paper=stored
    )
    client.force_login(make_member(provider, Role.PREPARER))

    response = client.get(f"/{provider.slug}/files/{stored.public_id}/")

    assert response.headers["Content-Type"] == "image/jpeg"
    assert response.headers["Content-Disposition"] == 'inline; filename="paper.jpg"'
    assert response.headers["X-Content-Type-Options"] == "nosniff"
    assert response.headers["Cache-Control"] == "private, no-store"
    with Image.open(io.BytesIO(b"".join(response.streaming_content))) as shown:  # type: ignore[attr-defined]
        assert shown.format == "JPEG"


def test_a_paper_that_is_not_of_the_books_is_hidden_from_a_preparer(client: Client, provider: Provider) -> None:
    stored = keep(provider, picture())
    client.force_login(make_member(provider, Role.PREPARER))

    assert client.get(f"/{provider.slug}/files/{stored.public_id}/").status_code == 404


@pytest.mark.parametrize(("role", "status"), [(Role.HELPER, 403), (Role.FAMILY, 403)])
def test_a_lesser_role_sees_no_file(client: Client, provider: Provider, role: Role, status: int) -> None:
    stored = keep(provider, picture())
    client.force_login(make_member(provider, role))

    assert client.get(f"/{provider.slug}/files/{stored.public_id}/").status_code == status


def test_the_owner_of_another_business_sees_no_file(client: Client, provider: Provider) -> None:
    stored = keep(provider, picture())
    other = make_provider()
    client.force_login(make_member(other))

    assert client.get(f"/{provider.slug}/files/{stored.public_id}/").status_code == 404
    assert client.get(f"/{other.slug}/files/{stored.public_id}/").status_code == 404


def test_a_file_that_is_gone_from_the_store_is_not_found(client: Client, provider: Provider) -> None:
    stored = keep(provider, picture())
    stored.file.storage.delete(stored.file.name)
    client.force_login(make_member(provider))

    assert client.get(f"/{provider.slug}/files/{stored.public_id}/").status_code == 404


def test_a_pdf_with_endless_objects_is_refused(provider: Provider, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "MAX_PDF_OBJECTS", 3)

    with pytest.raises(PaperRefused):
        keep(provider, document(pages=5))
