"""Calendar days as people type them."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime

_month_first = ContextVar("month_first", default=False)


@contextmanager
def typed_month_first(habit: bool) -> Iterator[None]:
    """Within this block `read_typed_day` follows the habit of the place, as times follow its zone."""
    before = _month_first.set(habit)
    try:
        yield
    finally:
        _month_first.reset(before)


def read_typed_day(text: str) -> date:
    """`read_day` by the habit of the place that is being worked for."""
    return read_day(text, month_first=_month_first.get())


_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?: 00:00(?::00)?)?")
_SLASHED = re.compile(r"(\d{1,2})[-/.](\d{1,2})[-/.](\d{4})")


def read_day(text: str, *, month_first: bool) -> date:
    """`2026-03-04`, `4 March 2026`, and `3/4/2026` as the fourth of March with `month_first`.

    ValueError with the code bad_date, or unclear_date where day and month could be either.
    """
    try:
        if match := _ISO.fullmatch(text):
            return date(*(int(part) for part in match.groups()))
        if match := _SLASHED.fullmatch(text):
            first, second, year = (int(part) for part in match.groups())
            if month_first or second > 12:
                return date(year, first, second)
            if first > 12 or first == second:
                return date(year, second, first)
        for form in ("%d %B %Y", "%d %b %Y", "%B %d, %Y", "%b %d, %Y", "%B %d %Y", "%b %d %Y"):
            try:
                return datetime.strptime(text, form).date()  # noqa: DTZ007 a day has no zone
            except ValueError:
                continue
    except ValueError as error:
        raise ValueError("bad_date") from error
    raise ValueError("unclear_date" if _SLASHED.fullmatch(text) else "bad_date")
