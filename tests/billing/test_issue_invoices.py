"""`manage.py issue_invoices`."""

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from billing.models import Invoice
from tests.billing.tuition_cast import place
from tests.factories import make_child, make_enrolment, make_household, make_provider

pytestmark = pytest.mark.django_db


def run(*arguments):
    out, err = StringIO(), StringIO()
    call_command("issue_invoices", *arguments, "--today", "2026-10-28", stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def test_it_issues_the_month_and_lists_what_it_issued():
    provider = make_provider()
    place(provider)
    out, _err = run("2026-11", "--provider", provider.slug)
    assert "2026-0001" in out
    assert "Issued 1 for 2026-11, $840.00 together." in out


def test_run_again_it_issues_nothing():
    provider = make_provider()
    place(provider)
    run("2026-11", "--provider", provider.slug)
    out, _err = run("2026-11", "--provider", provider.slug)
    assert out == "Nothing was left to issue for 2026-11.\n"
    assert Invoice.objects.count() == 1


def test_it_refuses_with_the_list_of_problems():
    provider = make_provider()
    place(provider)
    make_enrolment(make_child(make_household(provider), name="Iris"))
    with pytest.raises(CommandError, match="Iris has no agreement"):
        run("2026-11", "--provider", provider.slug)
    assert Invoice.objects.count() == 0


def test_it_issues_the_rest_and_names_who_was_left_out():
    provider = make_provider()
    place(provider)
    make_enrolment(make_child(make_household(provider), name="Iris"))
    out, err = run("2026-11", "--provider", provider.slug, "--issue-the-rest")
    assert ("Issued 1" in out, err.startswith("Left out: Iris has no agreement")) == (True, True)


def test_it_writes_the_papers_of_the_month(tmp_path):
    provider = make_provider()
    place(provider)
    file = tmp_path / "november.pdf"
    run("2026-11", "--provider", provider.slug, "--pdf", str(file))
    assert file.read_bytes().startswith(b"%PDF-")


@pytest.mark.parametrize("where", ["missing/november.pdf", "."])
def test_it_says_when_the_pdf_cannot_be_written(tmp_path, where):
    provider = make_provider()
    place(provider)
    with pytest.raises(CommandError, match="could not be written"):
        run("2026-11", "--provider", provider.slug, "--pdf", str(tmp_path / where))


def test_there_is_no_pdf_without_invoices(tmp_path):
    provider = make_provider()
    with pytest.raises(CommandError, match="nothing to print"):
        run("2026-11", "--provider", provider.slug, "--pdf", str(tmp_path / "november.pdf"))


def test_it_knows_no_other_business():
    with pytest.raises(CommandError, match="There is no business"):
        run("2026-11", "--provider", "nowhere")


@pytest.mark.parametrize("month", ["2026-13", "November", "2026", "2026-11-01"])
def test_it_refuses_what_is_no_month(month):
    with pytest.raises(CommandError, match="is not a month"):
        run(month, "--provider", make_provider().slug)
