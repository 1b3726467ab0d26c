"""Bins: what is inside, and labels that open them."""

from io import BytesIO
from subprocess import run as run_program

import pytest
import segno
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.template.loader import render_to_string
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from curriculum.models import Bin, Material
from curriculum.services.bins import add_bin, change_bin
from provider.errors import DomainError, StaleRow
from provider.models import Role
from provider.qr import qr_picture
from tests.factories import make_bin, make_lot, make_member, make_provider

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(f"curriculum:{name}", args=[provider.slug, *(row.public_id for row in rows)])


def text(response):
    return " ".join(response.content.decode().split())


def words_of(sheet, tmp_path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(sheet)
    return run_program(["pdftotext", "-layout", path, "-"], capture_output=True, check=True, text=True).stdout


def test_a_bin_is_added_once_by_two_posts_of_one_form(signed_in, url):
    posted = {"label": "B4", "room": "Basement", "shelf": "2", "submission_key": "k"}

    answers = [signed_in.post(url("add_bin"), posted) for _ in range(2)]

    row = Bin.objects.get()
    assert (row.label, row.room, row.shelf) == ("B4", "Basement", "2")
    assert {answer.url for answer in answers} == {url("bin", row)}


def test_a_label_is_taken_whatever_its_capitals(writer, provider):
    make_bin(provider, label="Dress-up")

    with pytest.raises(DomainError) as refused:
        add_bin(**writer, label="dress-UP")

    assert refused.value.field == "label"


def test_two_businesses_may_use_the_same_label(writer):
    make_bin(make_provider(), label="B4")

    assert add_bin(**writer, label="B4").label == "B4"


def test_a_bin_keeps_its_own_label(writer, provider):
    row = make_bin(provider, label="B4")

    assert change_bin(**writer, bin=row, version=1, label="b4", room="Hall").room == "Hall"


def test_a_stale_change_of_a_bin_is_questioned(writer, provider):
    row = make_bin(provider)
    change_bin(**writer, bin=row, version=1, label="B5")

    with pytest.raises(StaleRow):
        change_bin(**writer, bin=row, version=1, label="B6")


def test_the_page_asks_about_a_stale_change(signed_in, url, provider, writer):
    row = make_bin(provider)
    change_bin(**writer, bin=row, version=1, label="B5")

    answer = signed_in.post(url("change_bin", row), {"label": "B6", "version": "1"})

    assert answer.status_code == 422
    assert "B5" in text(answer)


def test_a_bin_is_renamed(signed_in, url, provider):
    row = make_bin(provider)

    signed_in.post(url("change_bin", row), {"label": "Dress-up", "version": "1"})

    row.refresh_from_db()
    assert row.label == "Dress-up"


def test_the_page_of_a_bin_shows_what_is_inside_and_how_many(signed_in, url, provider):
    row = make_bin(provider, label="B4", room="Basement")
    make_lot(provider, quantity=12, material=Material.objects.create(provider=provider, name="Felt fish", bin=row))
    make_lot(provider, material=Material.objects.create(provider=provider, name="Shells"))

    shown = text(signed_in.get(url("bin", row)))

    assert "Basement" in shown
    assert "Felt fish" in shown
    assert '<span class="num">12</span>' in shown
    assert "Shells" not in shown


def test_the_pages_of_bins_take_the_same_number_of_queries_for_many(signed_in, url, provider):
    row = make_bin(provider)

    def fill(name):
        make_lot(provider, material=Material.objects.create(provider=provider, name=name, bin=row))

    def queries(address):
        with CaptureQueriesContext(connection) as captured:
            assert signed_in.get(address).status_code == 200
        return len(captured)

    fill("Fish")
    few = queries(url("bin", row)), queries(url("bins"))
    for number in range(10):
        fill(f"Fish {number}")
        make_bin(provider)
    assert (queries(url("bin", row)), queries(url("bins"))) == few


def test_the_sheet_holds_the_chosen_bins_with_their_places(signed_in, url, provider, tmp_path):
    chosen = make_bin(provider, label="Dress-up", room="Basement", shelf="Left, below")
    Material.objects.create(provider=provider, name="Capes", bin=chosen)
    make_bin(provider, label="Blocks")

    answer = signed_in.get(url("bin_labels"), {"bins": chosen.public_id})

    words = words_of(answer.content, tmp_path)
    assert answer["Content-Type"] == "application/pdf"
    assert "Dress-up" in words
    assert "Basement" in words
    assert "Left, below" in words
    assert "1 kind of thing inside" in words
    assert "Blocks" not in words


def test_ten_labels_fill_a_letter_page(signed_in, url, provider):
    bins = [make_bin(provider, label=f"A bin with quite a long label {n}"[-40:]) for n in range(11)]

    def pages(count):
        answer = signed_in.get(url("bin_labels"), {"bins": [row.public_id for row in bins[:count]]})
        return PdfReader(BytesIO(answer.content)).pages

    assert [float(side) for side in pages(10)[0].mediabox[2:]] == [612, 792]
    assert (len(pages(10)), len(pages(11))) == (1, 2)


def test_the_code_on_a_label_is_the_address_of_the_bin(signed_in, url, provider, settings, monkeypatch):
    row = make_bin(provider)
    asked = []
    monkeypatch.setattr(
        "curriculum.views.bins.qr_picture", lambda address: asked.append(address) or qr_picture(address)
    )

    signed_in.get(url("bin_labels"), {"bins": row.public_id})

    assert asked == [f"http://testserver{url('bin', row)}"]


def test_the_code_uses_the_public_address_where_there_is_one(signed_in, url, provider, settings, monkeypatch):
    from urllib.parse import urlsplit

    settings.PUBLIC_URL = urlsplit("https://books.example:8443")
    row = make_bin(provider)
    asked = []
    monkeypatch.setattr(
        "curriculum.views.bins.qr_picture", lambda address: asked.append(address) or qr_picture(address)
    )

    signed_in.get(url("bin_labels"), {"bins": row.public_id})

    assert asked == [f"https://books.example:8443{url('bin', row)}"]


def test_a_label_draws_every_dark_module_of_its_code(provider):
    address = "https://books.example/home/theme/bins/bcdfghjkmnpqrstv/"
    row = make_bin(provider)
    row.kinds = 0

    html = render_to_string("curriculum/documents/bin_labels.html", {"labels": [(row, qr_picture(address))]})

    dark = sum(map(sum, segno.make(address, micro=False).matrix))
    assert html.count("h1v1h-1z") == dark
    assert "data:" not in html


@pytest.mark.parametrize("bins", ["nothing", "", "bcdfghjkmnpqrstv"])
def test_a_sheet_of_no_bin_asks_to_choose(signed_in, url, provider, bins):
    make_bin(provider)

    answer = signed_in.get(url("bin_labels"), {"bins": bins})

    assert answer.status_code == 422
    assert "bins" in answer.context["form"].errors


def test_a_sheet_holds_no_bin_of_another_business(signed_in, url, provider):
    other = make_bin(make_provider())

    assert signed_in.get(url("bin_labels"), {"bins": other.public_id}).status_code == 422


def test_a_helper_may_print_labels_but_add_no_bin(client, url, provider):
    client.force_login(make_member(provider, Role.HELPER))
    row = make_bin(provider)

    assert client.get(url("bin_labels"), {"bins": row.public_id}).status_code == 200
    assert client.post(url("add_bin"), {"label": "X"}).status_code == 403


def test_the_material_form_makes_a_new_bin(signed_in, url, provider):
    posted = {"name": "Capes", "keeping": "durable", "unit": "piece", "new_bin": " Dress-up "}

    signed_in.post(url("add_material"), posted)

    assert Material.objects.get().bin.label == "Dress-up"


def test_the_material_form_uses_a_bin_that_is_there(signed_in, url, provider):
    row = make_bin(provider, label="Dress-up")

    signed_in.post(url("add_material"), {"name": "Capes", "keeping": "durable", "unit": "piece", "new_bin": "dress-up"})

    assert Material.objects.get().bin == row


def test_a_bin_of_another_business_is_refused(signed_in, url):
    other = make_bin(make_provider())
    posted = {"name": "Capes", "keeping": "durable", "unit": "piece", "bin": other.public_id}

    assert "bin" in signed_in.post(url("add_material"), posted).context["form"].errors


def test_a_file_that_is_no_photo_is_refused(signed_in, url):
    sent = SimpleUploadedFile("capes.jpg", b"no photo at all")
    posted = {"name": "Capes", "keeping": "durable", "unit": "piece", "file": sent}

    answer = signed_in.post(url("add_material"), posted)

    assert "file" in answer.context["form"].errors
    assert not Material.objects.exists()
