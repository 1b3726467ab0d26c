import shutil
from datetime import date
from decimal import Decimal

import pytest

from billing import rulebook
from billing.rulebook import (
    RulebookMissing,
    UnknownCategory,
    categories,
    category,
    load_rulebook,
    supported_years,
    validate_all,
)
from provider.rule_files import RuleFileError


@pytest.fixture
def rules(tmp_path, monkeypatch):
    """A copy of the rule files that a test may spoil."""
    shutil.copytree(rulebook.RULES, tmp_path, dirs_exist_ok=True)
    monkeypatch.setattr(rulebook, "RULES", tmp_path)
    caches = (load_rulebook, categories)
    for cached in caches:
        cached.cache_clear()
    yield tmp_path
    for cached in caches:
        cached.cache_clear()


def spoil(path, before, after):
    text = path.read_text(encoding="utf-8")
    assert before in text
    path.write_text(text.replace(before, after, 1), encoding="utf-8")


def test_both_countries_have_rules_for_2023_to_2026():
    assert supported_years() == tuple((country, year) for country in ("CA", "US") for year in range(2023, 2027))


def test_the_shipped_rule_files_are_sound(rules):
    validate_all()
    assert load_rulebook.cache_info().currsize == len(supported_years())


@pytest.mark.parametrize(("country", "year"), supported_years())
def test_every_category_goes_to_a_line_in_every_year(country, year):
    book = load_rulebook(country, year)
    assert all(code in book.line_for(code).categories for code in categories())


@pytest.mark.parametrize(
    ("country", "code", "line"),
    [
        ("US", "craft_supplies", "Schedule C 22 Supplies"),
        ("US", "electricity", "Form 8829 21 Utilities"),
        ("CA", "craft_supplies", "T2125 8811 Office stationery and supplies"),
        ("CA", "electricity", "T2125 Part 7 7B Electricity"),
    ],
)
def test_a_category_goes_to_the_line_of_its_country(country, code, line):
    assert str(load_rulebook(country, 2025).line_for(code)) == line


def test_household_bills_go_to_the_home_in_both_countries():
    household = [each.code for each in categories().values() if each.treatment == "household"]
    forms = {load_rulebook(country, 2025).line_for(code).form for country in ("US", "CA") for code in household}
    assert forms == {"Form 8829", "T2125 Part 7"}


def test_the_countries_differ_in_basis_and_method():
    books = [load_rulebook(country, 2025) for country in ("US", "CA")]
    assert [(book.income.basis, book.home.method) for book in books] == [
        ("cash", "hours_of_year"),
        ("accrual", "usual_week"),
    ]


def test_a_figure_is_an_exact_decimal_with_its_source():
    figure = load_rulebook("US", 2026).figure("mileage_rate", date(2026, 7, 1))
    assert (figure.value, figure.unit, bool(figure.source)) == (Decimal("0.725"), "dollars per mile", True)


def test_a_figure_does_not_reach_into_another_year():
    with pytest.raises(LookupError, match="mileage_rate"):
        load_rulebook("US", 2025).figure("mileage_rate", date(2026, 1, 1))


def test_what_was_not_read_is_known_as_from_memory():
    book = load_rulebook("US", 2025)
    assert (book.line_for("craft_supplies") in book.from_memory, book.line_for("rent") in book.from_memory) == (
        True,
        False,
    )


def test_a_year_whose_forms_were_not_seen_says_so():
    assert (bool(load_rulebook("CA", 2026).forms_note), load_rulebook("CA", 2025).forms_note) == (True, "")


@pytest.mark.parametrize(("country", "year"), [("US", 2022), ("CA", 2090), ("FR", 2025), ("us", 2025), ("../US", 2025)])
def test_a_year_without_a_file_is_refused(country, year):
    with pytest.raises(RulebookMissing) as refusal:
        load_rulebook(country, year)
    assert (refusal.value.country, refusal.value.year) == (country, year)


def test_an_unknown_category_is_refused():
    with pytest.raises(UnknownCategory):
        load_rulebook("US", 2025).line_for("yachts")
    with pytest.raises(UnknownCategory):
        category("yachts")


def test_a_category_is_found_by_its_code():
    assert category("food").treatment == "food"


@pytest.mark.parametrize(
    ("file", "before", "after", "complaint"),
    [
        ("us_2025.toml", "source = ", "origin = ", "missing source, unknown origin"),
        ("us_2025.toml", 'source = "', 'source = "" # "', "source cannot be ''"),
        ("us_2025.toml", '"published"', '"hearsay"', "checked cannot be 'hearsay'"),
        ("us_2025.toml", 'value = "0.70"', "value = 0.70", "value cannot be 0.7"),
        ("us_2025.toml", 'value = "0.70"', 'value = "much"', "value is no number"),
        ("us_2025.toml", 'value = "0.70"', 'value = "NaN"', "value cannot be"),
        ("us_2025.toml", "effective_to = 2026-01-01", "effective_to = 2024-01-01", "end after it starts"),
        ("us_2025.toml", "effective_from = 2025-01-01", 'effective_from = "2025"', "must be dates"),
        ("us_2025.toml", '"meal_snack"', '"mileage_rate"', "two figures mileage_rate"),
        ("us_2025.toml", "year = 2025", "year = 2024", "is another one"),
        ("us_2025.toml", "year = 2025", "year = ", "us_2025.toml"),
        ("us.toml", '"schedule_c.6"', '"schedule_c.1"', "line more than once: schedule_c.1"),
        ("us.toml", '"toys_books"', '"craft_supplies"', "category more than once: craft_supplies"),
        ("us.toml", '"toys_books"', '"yachts"', "toys_books, yachts"),
        ("us.toml", 'method = "hours_of_year"', 'method = "guess"', "method cannot be 'guess'"),
        ("us.toml", 'currency = "USD"', "", "missing currency"),
        ("categories.toml", 'treatment = "expense"', 'treatment = "magic"', "treatment cannot be 'magic'"),
        ("categories.toml", '"toys_books"', '"craft_supplies"', "category more than once"),
    ],
)
def test_a_faulty_rule_file_is_refused_at_start_up(rules, file, before, after, complaint):
    spoil(rules / file, before, after)
    with pytest.raises(RuleFileError, match=complaint) as refusal:
        validate_all()
    assert file in str(refusal.value)
