"""What must hold before anything is served: faulty rule files are found at start, not on a page."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error

from curriculum.cleaning import suggestions
from curriculum.conversion import conversion_rules
from curriculum.screening import screening_checks
from curriculum.skills import frameworks
from provider.rule_files import RuleFileError


def rule_files(app_configs: Sequence[AppConfig] | None, **options: Any) -> list[CheckMessage]:
    """An error with the file and entry when a rule of screening, conversion or cleaning, or a framework is faulty."""
    try:
        screening_checks()
        conversion_rules()
        suggestions()
        frameworks()
    except RuleFileError as error:
        return [Error(str(error), hint="Correct the file in curriculum/rules/.", id="curriculum.E001")]
    return []
