from datetime import date
from pathlib import Path

import pytest

from provider import retention
from provider.checks import rule_files
from provider.periods import years_after
from provider.retention import Record, keep_until, load
from provider.rule_files import RuleFileError

LAST, CARE_END = date(2025, 3, 14), date(2025, 7, 1)


@pytest.mark.parametrize(
    ("record", "country", "region", "until"),
    [
        ("attendance", "US", "WA", date(2030, 3, 14)),  # 5 years from the day itself
        ("incident", "US", "WA", date(2028, 7, 1)),  # other records 3 years
        ("attendance", "CA", "QC", date(2031, 7, 1)),  # 6 years after care ended
        ("incident", "CA", "ON", date(2028, 7, 1)),  # 3 years after care ended
        ("safety", "CA", "ON", date(2026, 3, 14)),  # 12 months
        ("attendance", "CA", "BC", date(2031, 7, 1)),  # no rule known: our cautious six years
        ("meals", "CA", "ON", date(2031, 7, 1)),  # the region says nothing about meals
        ("money", "US", "TX", date(2033, 1, 1)),  # 7 years from the end of the tax year
        ("money", "CA", "ON", date(2032, 1, 1)),  # 6 years from the end of the tax year
    ],
)
def test_it_keeps_a_record_as_long_as_its_place_asks(record: Record, country: str, region: str, until: date) -> None:
    assert keep_until(record, country, region, last=LAST, care_end=CARE_END).until == until


@pytest.mark.parametrize(
    ("day", "until"), [(date(2024, 9, 30), date(2027, 12, 1)), (date(2024, 10, 1), date(2028, 12, 1))]
)
def test_it_counts_meals_from_the_final_claim_of_the_food_programmes_year(day: date, until: date) -> None:
    keep = keep_until("meals", "US", "WA", last=day, care_end=day)

    assert keep.until == until
    assert keep.rule is not None
    assert keep.rule.code == "us_food_programme"


def test_it_lets_the_longest_of_several_rules_count() -> None:
    keep = keep_until("attendance", "US", "WA", last=date(2019, 1, 1), care_end=CARE_END)

    assert keep.until == date(2024, 1, 1)


def test_it_says_when_no_rule_is_known_for_a_childs_file() -> None:
    keep = keep_until("child_file", "US", "TX", last=LAST, care_end=CARE_END)

    assert (keep.until, keep.rule) == (None, None)


def test_it_names_the_source_and_how_it_was_read() -> None:
    keep = keep_until("attendance", "CA", "ON", last=LAST, care_end=CARE_END)

    assert keep.rule is not None
    assert (keep.rule.status, keep.rule.source) == ("memory", "O. Reg. 137/15 s. 82")


def test_it_moves_a_leap_day_to_the_first_of_march() -> None:
    assert years_after(date(2024, 2, 29), 3) == date(2027, 3, 1)
    assert years_after(date(2024, 2, 29), 4) == date(2028, 2, 29)


@pytest.mark.parametrize(
    "change",
    [("years = 5", "years = 0"), ('counts_from = "record"', 'counts_from = "now"'), ('country = "US"\n', "")],
)
def test_it_refuses_a_faulty_file(change: tuple[str, str], tmp_path: Path) -> None:
    good = """
[[rules]]
code = "one"
country = "US"
records = ["attendance"]
years = 5
counts_from = "record"
source = "A rule"
status = "published"
checked_on = 2026-01-01
"""
    path = tmp_path / "retention.toml"
    path.write_text(good.replace(*change) + good.replace("[[rules]]", "[[cautious]]").replace('"one"', '"two"'))

    with pytest.raises(RuleFileError, match=r"retention\.toml"):
        load(path)


def test_it_finds_a_faulty_file_before_anything_is_served(monkeypatch: pytest.MonkeyPatch) -> None:
    def faulty() -> None:
        raise RuleFileError("retention.toml: years missing")

    assert rule_files(None) == []
    monkeypatch.setattr(retention, "load", faulty)

    (error,) = rule_files(None)
    assert "retention.toml" in error.msg
