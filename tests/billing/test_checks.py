import pytest
from django.core.checks import run_checks

from billing import checks
from provider.rule_files import RuleFileError


@pytest.fixture
def faulty(monkeypatch):
    def fail():
        raise RuleFileError("us_2025.toml: a figure is no number")

    monkeypatch.setattr(checks, "validate_all", fail)


def test_the_rule_files_that_we_ship_are_sound():
    assert checks.rule_files(None) == []


def test_a_faulty_rule_file_stops_every_command_and_is_named(faulty):
    (error,) = [message for message in run_checks() if message.id == "billing.E001"]
    assert error.msg == "us_2025.toml: a figure is no number"
    assert error.is_serious()
