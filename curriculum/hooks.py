"""What a later room tells the pages of this one. Filled in its `AppConfig.ready`."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal

from curriculum.models import ThemeRun

# What a run cost so far, seen from a day.
cost_so_far: list[Callable[[ThemeRun, date], Decimal]] = []
