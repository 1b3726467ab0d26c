"""The year-end workbook from the shell."""

from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from openpyxl import load_workbook

from tests.billing.books import make_year
from tests.factories import make_provider

pytestmark = pytest.mark.django_db


@pytest.fixture
def provider():
    return make_provider()


def test_it_writes_the_workbook_and_says_its_totals(provider, tmp_path, capsys):
    make_year(provider)
    target = tmp_path / "year.xlsx"
    call_command("year_end", "2025", f"--provider={provider.slug}", f"--output={target}", "--today=2026-02-01")
    said = capsys.readouterr().out
    assert load_workbook(target)["Income earned"]["E8"].value == "=ROUND(SUM(E5:E7),2)"
    assert "2,437.05" in said
    assert [path.name for path in tmp_path.iterdir()] == ["year.xlsx"]


def test_it_replaces_an_earlier_file(provider, tmp_path):
    target = tmp_path / "year.xlsx"
    target.write_text("earlier")
    call_command("year_end", "2025", f"--provider={provider.slug}", f"--output={target}", "--today=2026-02-01")
    assert target.read_bytes().startswith(b"PK")


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"slug": "nobody"}, "no business nobody"),
        ({"year": "2023"}, "did not run in 2023"),
        ({"year": "2027"}, "did not run in 2027"),
        ({"folder": "missing"}, "cannot be written"),
    ],
)
def test_it_refuses_what_it_cannot_do(provider, tmp_path, changed, words):
    target: Path = tmp_path / changed.get("folder", "") / "year.xlsx"
    with pytest.raises(CommandError, match=words):
        call_command(
            "year_end",
            changed.get("year", "2025"),
            f"--provider={changed.get('slug', provider.slug)}",
            f"--output={target}",
            "--today=2026-02-01",
        )
    assert not target.exists()
