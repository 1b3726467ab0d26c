"""What must hold before anything is served: faulty rule files are found at start, not on a page."""

from collections.abc import Sequence
from typing import Any

from django.apps import AppConfig
from django.core.checks import CheckMessage, Error

from provider import menus, retention
from provider.capacity import capacity_rules
from provider.rule_files import RuleFileError


def rule_files(app_configs: Sequence[AppConfig] | None, **options: Any) -> list[CheckMessage]:
    """An error with the file and entry when a rule of keeping, menus or capacity cannot be read."""
    try:
        retention.load()
        menus.load()
        capacity_rules()
    except RuleFileError as error:
        return [Error(str(error), hint="Correct the file in provider/rules/.", id="provider.E001")]
    return []
