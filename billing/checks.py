"""What must hold before anything is served: faulty rule files are found at start, not on a tax page."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error

from billing.food import food_rules
from billing.rulebook import validate_all
from provider.rule_files import RuleFileError


def rule_files(app_configs: Sequence[AppConfig] | None, **options: Any) -> list[CheckMessage]:
    """An error with the file and entry when a rule file cannot be read."""
    try:
        validate_all()
        food_rules()
    except RuleFileError as error:
        return [Error(str(error), hint="Correct the file in billing/rules/.", id="billing.E001")]
    return []
