"""Run the project as a process of its own, as a person would, apart from the settings of the tests."""

import os
import subprocess
import sys
from pathlib import Path

from django.conf import settings

_OURS = (
    *(
        "ALLOWED_HOSTS",
        "BEHIND_PROXY",
        "DATABASE_URL",
        "DEBUG",
        "DEMO_PASSWORD",
        "EMAIL_HOST",
        "HSTS_SECONDS",
        "LOG_LEVEL",
    ),
    *("PUBLIC_URL", "SECRET_KEY"),
)


def environment(data_dir: Path, **variables: str) -> dict[str, str]:
    """The environment of a first start with `data_dir`, on SQLite unless `variables` say otherwise."""
    kept = {name: value for name, value in os.environ.items() if name not in _OURS}
    return kept | {
        "DJANGO_SETTINGS_MODULE": "provider.config.settings",
        "DATA_DIR": str(data_dir),
        "PYTHONPATH": str(settings.BASE_DIR),
        **variables,
    }


def run_python(data_dir: Path, *arguments: str, **variables: str) -> subprocess.CompletedProcess[str]:
    """Run Python at the project's top to its end, at most a minute, with its output kept as text."""
    return subprocess.run(
        [sys.executable, *arguments],
        cwd=settings.BASE_DIR,
        env=environment(data_dir, **variables),
        capture_output=True,
        text=True,
        timeout=60,
    )
