"""The frameworks as data, and how a mistake in a file is named."""

from pathlib import Path

import pytest

from curriculum import skills
from curriculum.skills import Goal, Own, frameworks, goal, with_own
from provider.rule_files import RuleFileError


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """Write files that take the place of those shipped."""
    monkeypatch.setattr(skills, "RULES", tmp_path)
    skills.frameworks.cache_clear()
    yield tmp_path
    skills.frameworks.cache_clear()


HEAD = """code = "x"
name = "X"
edition = "1"
publisher = "P"
regions = ["US"]
source = "S"
licence = "L"
checked = "published"
"""


def test_a_goal_is_found_by_its_official_number():
    assert goal("P-ATL 6").title == "Sustains attention"


def test_a_number_that_no_framework_has_is_not_found():
    with pytest.raises(KeyError):
        goal("P-ATL 14")


@pytest.mark.parametrize(
    ("prefix", "count", "ages"),
    [
        ("P-ATL", 13, (36, 60)),
        ("P-SE", 11, (36, 60)),
        ("P-LC", 7, (36, 60)),
        ("P-LIT", 6, (36, 60)),
        ("P-MATH", 10, (36, 60)),
        ("P-SCI", 6, (36, 60)),
        ("P-PMP", 6, (36, 60)),
        ("IT-ATL", 9, (0, 36)),
        ("IT-SE", 13, (0, 36)),
        ("IT-LC", 13, (0, 36)),
        ("IT-C", 13, (0, 36)),
        ("IT-PMP", 11, (0, 36)),
    ],
)
def test_a_domain_has_its_goals_numbered_from_one(prefix, count, ages):
    goals = [each for each in _framework("elof-2015").goals if each.code.rpartition(" ")[0] == prefix]

    assert sorted(int(each.code.split()[1]) for each in goals) == list(range(1, count + 1))
    assert {(each.from_months, each.to_months) for each in goals} == {ages}


def test_what_was_only_remembered_says_so():
    assert {goal("P-ATL 1").checked, goal("P-SE 3").checked, goal("P-SE 11").checked} == {
        "published",
        "second_hand",
        "memory",
    }


def test_a_framework_of_names_only_has_its_domains_for_goals():
    names = _framework("on-foundations-2014")

    assert [each.title for each in names.goals] == ["Belonging", "Well-being", "Engagement", "Expression"]


def test_two_editions_share_no_code():
    assert {each.code for each in _framework("bc-2008").goals}.isdisjoint(
        each.code for each in _framework("bc-2019").goals
    )


@pytest.mark.parametrize(
    ("region", "first"), [("US-WI", "elof-2015"), ("CA-ON", "on-elect-2007"), ("CA-BC", "bc-2008")]
)
def test_what_was_written_for_the_region_comes_first(region, first):
    assert with_own([], region, word="My own")[0].code == first


def test_a_goal_of_her_own_joins_the_domain_that_it_names():
    known = {each.code: each for each in with_own([Own("mine", "SE", "Waits for its turn")], "US-WI", word="My own")}

    assert "own" not in known
    assert Goal("mine", "Waits for its turn") in known["elof-2015"].goals


def test_goals_under_her_own_word_make_a_framework_of_their_own():
    own = with_own([Own("a", "Garden", "Plants"), Own("b", "Garden", "Waters")], "CA-BC", word="My own")

    (mine,) = (each for each in own if each.code == "own")
    assert [(each.name, len(each.goals)) for each in mine.domains] == [("Garden", 2)]


def test_a_number_that_stands_twice_is_named(folder: Path):
    part = '[[domain]]\ncode = "D"\nname = "D"\n'
    _write(folder, part + '[[subdomain]]\ncode = "s"\ndomain = "D"\nname = "S"\n' + _goals("G 1", "G 1"))

    with pytest.raises(RuleFileError, match="goals more than once: G 1"):
        frameworks()


@pytest.mark.parametrize(
    ("rest", "said"),
    [
        ('[[subdomain]]\ncode = "s"\ndomain = "E"\nname = "S"\ngoals = []\n', "unknown domains"),
        ('[[subdomain]]\ncode = "s"\ndomain = "D"\nname = "S"\ngoals = []\n', "no goals in"),
        ('[[subdomain]]\ncode = "s"\ndomain = "D"\n', "missing"),
        ('colour = "red"\n', "unknown colour"),
    ],
)
def test_a_faulty_file_is_refused(folder: Path, rest, said):
    _write(folder, '[[domain]]\ncode = "D"\nname = "D"\n' + rest)

    with pytest.raises(RuleFileError, match=said):
        frameworks()


def test_ages_that_run_backwards_are_refused():
    with pytest.raises(ValueError, match="ages run upwards"):
        Goal("G", "Title", from_months=36, to_months=36)


def _framework(code):
    return next(each for each in frameworks() if each.code == code)


def _goals(*codes):
    return "goals = [" + ", ".join(f'{{ code = "{code}", title = "T" }}' for code in codes) + "]\n"


def _write(folder, rest):
    (folder / "x.toml").write_text(HEAD + rest, encoding="utf-8")
