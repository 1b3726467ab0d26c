"""The measure of the cost sheet, on a small business."""

import pytest

from billing import bench as measures
from provider import bench

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _small(monkeypatch):
    monkeypatch.setattr(bench, "CHILDREN", 2)
    monkeypatch.setattr(bench, "HOST", "testserver")
    monkeypatch.setattr(measures, "MATERIALS", 60)
    monkeypatch.setattr(measures, "LOTS_A_RUN", 4)


def test_it_measures_the_cost_sheet_against_the_empty_page():
    result = measures.run_cost_sheet(bench.make_bed(1))
    assert (result.name, result.median_ms > result.floor_ms > 0) == ("run_cost_sheet", True)


def test_it_is_measured_by_the_command():
    assert bench.MEASURES["run_cost_sheet"] is measures.run_cost_sheet
