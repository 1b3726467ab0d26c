"""The papers, read back by other programs."""

import io
import subprocess
from decimal import Decimal

import pikepdf
import pytest

from billing.documents.invoices import invoices_pdf
from billing.selectors.invoices import invoice_papers, invoices_of
from billing.services.invoices import credit_note
from billing.services.payments import record_payment
from tests.billing.tuition_cast import TODAY, issue, issue_one, place
from tests.factories import make_provider

pytestmark = pytest.mark.django_db


def provider_with_details():
    return make_provider(
        name="Larch Lane Care", address="14 Larch Lane", phone="555-0142", invoice_note="By transfer, please."
    )


def printed(provider):
    papers = invoice_papers(invoices_of(provider).order_by("-series", "number"), TODAY)
    return invoices_pdf(papers, "Invoices for November 2026")


def text_of(pdf):
    """What poppler reads, with every run of white space as one blank."""
    read = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(read.stdout.decode().split())


def test_it_says_who_to_whom_for_what_until_when_and_how():
    provider = provider_with_details()
    invoice = issue_one(provider, "200.00", period="weekly")
    text = text_of(printed(provider))
    for words in (
        "Larch Lane Care",
        "14 Larch Lane",
        "555-0142",
        "Invoice 2026-0001",
        "November 2026",
        invoice.payer_name,
        "Oct. 28, 2026",
        "To be paid by Nov. 2, 2026",
        "week of Nov. 2, 2026",
        "$200.00 a week",
        "Total $1,000.00",
        "Still to pay $1,000.00",
        "By transfer, please.",
    ):
        assert words in text


def test_it_shows_what_was_received_by_the_day_of_printing():
    provider = make_provider()
    invoice = issue_one(provider)
    record_payment(
        provider=provider,
        actor=None,
        today=TODAY,
        household=invoice.household,
        on=TODAY,
        amount=Decimal("300.00"),
        method="cash",
    )
    text = text_of(printed(provider))
    assert "Received up to Oct. 28, 2026 $300.00" in text
    assert "Still to pay $540.00" in text


def test_a_credit_note_says_what_it_takes_back_and_why():
    provider = make_provider()
    invoice = issue_one(provider)
    credit_note(provider=provider, actor=None, today=TODAY, invoice=invoice, reason="The rate was wrong")
    text = text_of(printed(provider))
    assert "Credit note C2026-0001" in text
    assert "Takes back invoice 2026-0001 of Oct. 28, 2026, whole. Reason: The rate was wrong" in text
    assert "-$840.00" in text


def test_it_stays_as_issued_when_names_change():
    provider = provider_with_details()
    invoice = issue_one(provider)
    invoice.guardian.name = "Somebody Else"
    invoice.guardian.save()
    provider.name = "Another Name"
    provider.save()
    text = text_of(printed(provider))
    assert "Somebody Else" not in text
    assert "Another Name" not in text


def test_a_month_has_one_page_for_each_paper_on_letter_paper():
    provider = make_provider()
    place(provider)
    place(provider)
    issue(provider)
    with pikepdf.open(io.BytesIO(printed(provider))) as pdf:
        assert [[int(side) for side in page.mediabox] for page in pdf.pages] == [[0, 0, 612, 792]] * 2


def test_it_is_tagged_and_has_title_and_language():
    provider = make_provider()
    issue_one(provider)
    with pikepdf.open(io.BytesIO(printed(provider))) as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
        assert "/StructTreeRoot" in pdf.Root
        assert (str(pdf.Root.Lang), str(pdf.docinfo.Title)) == ("en", "Invoices for November 2026")


def test_it_is_in_the_language_of_the_family():
    provider = make_provider()
    agreement = place(provider)
    household = agreement.enrolment.child.household
    household.language = "fr"
    household.save()
    issue(provider)
    pdf = printed(provider)
    with pikepdf.open(io.BytesIO(pdf)) as opened:
        assert str(opened.Root.Lang) == "fr"
    assert "28 octobre 2026" in text_of(pdf)


def test_what_people_typed_is_never_markup():
    provider = make_provider(name="<b>Larch</b> & Co")
    issue_one(provider)
    assert "<b>Larch</b> & Co" in text_of(printed(provider))


def test_a_pdf_needs_a_paper():
    with pytest.raises(ValueError, match="at least one"):
        invoices_pdf([], "Nothing")
