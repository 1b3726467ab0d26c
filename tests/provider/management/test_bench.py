import json
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from provider import bench
from provider.models import Attendance
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _small(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench, "CHILDREN", 2)
    monkeypatch.setattr(bench, "ROUNDS", 1)
    monkeypatch.setattr(bench, "HOST", "testserver")


@pytest.mark.parametrize("name", ["sign_in", "sign_in_at_door"])
def test_it_measures_a_signature_against_the_empty_page(name: str, tmp_path: Path) -> None:
    file = tmp_path / "results.json"

    call_command("bench", "--here", "--only", name, "--years", "1", "--json", file)

    [result] = json.loads(file.read_text())
    assert result["name"] == name
    assert result["median_ms"] > result["floor_ms"] > 0
    assert result["met"] == (result["median_ms"] < 50)


def test_it_needs_no_more_queries_after_more_years() -> None:
    bed = bench.make_bed(1)
    before = bench.sign_in(bed).queries
    bench._write(bench._stays(bed.provider, bed.children, bed.children[0].birth_date, 1))

    assert bench.sign_in(bed).queries == before


def test_it_builds_a_year_of_weekdays_for_each_child() -> None:
    bed = bench.make_bed(1)

    assert Attendance.objects.filter(child=bed.children[0]).count() in (260, 261)


def test_it_never_measures_on_the_records_of_a_business() -> None:
    make.make_provider()

    with pytest.raises(CommandError, match="holds a business"):
        call_command("bench", "--here", "--years", "1")


def test_it_knows_which_measures_there_are() -> None:
    with pytest.raises(CommandError, match="sign_in_at_door"):
        call_command("bench", "--only", "nonsense")
