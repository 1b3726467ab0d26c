"""Rules as data: TOML files read into frozen dataclasses, checked so that a typing mistake is named, never used.

Every entry names its source and how it was checked. Decimals are quoted in the files, so that no float comes near them.
"""

import tomllib
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from pathlib import Path
from types import NoneType
from typing import Any, Literal, TypeVar, get_args, get_origin

from provider.periods import DateSpan

Entry = TypeVar("Entry")


class RuleFileError(ValueError):
    """A rule file is faulty; the message names the file and the entry."""


def read_file(path: Path, required: set[str], optional: Iterable[str] = ()) -> dict[str, Any]:
    """The content of a file whose top keys are known. Raises RuleFileError."""
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise RuleFileError(f"{path.name}: {error}") from error
    _check_keys(path, "the file", content, required, optional)
    return content


def build(path: Path, raw: Mapping[str, Any], kind: type[Entry]) -> Entry:
    """An entry of the file as `kind`, with every key there and nothing empty, floating or outside its allowed words.

    A field `effective` is read from `effective_from` and `effective_to`; a field that holds a dataclass, or a tuple of
    them, from tables. What the dataclass itself refuses with a ValueError is refused here. Raises RuleFileError.
    """
    what, values = f"{kind.__name__} {raw.get('code', '')}".strip(), dict(raw)
    known = {field.name: field for field in fields(kind)}  # type: ignore[arg-type]
    if "effective" in known:
        values["effective"] = _span(path, what, values.pop("effective_from", None), values.pop("effective_to", None))
    required = {name for name, field in known.items() if field.default is MISSING and field.default_factory is MISSING}
    _check_keys(path, what, values, required, known)
    for name, value in values.items():
        values[name] = _value(path, what, name, value, known[name].type)
    try:
        return kind(**values)
    except ValueError as error:
        raise RuleFileError(f"{path.name}, {what}: {error}") from error


def check_once(path: Path, what: str, codes: Sequence[str]) -> None:
    """Raises RuleFileError when a code is there twice."""
    twice = [code for code, count in Counter(codes).items() if count > 1]
    if twice:
        raise RuleFileError(f"{path.name}: {what} more than once: {', '.join(twice)}")


def _value(path: Path, what: str, name: str, value: Any, wanted: Any) -> Any:
    tables = next((part for part in (wanted, *get_args(wanted)) if isinstance(part, type) and is_dataclass(part)), None)
    if tables and isinstance(value, dict):
        return build(path, value, tables)
    if get_origin(wanted) is tuple and isinstance(value, list):
        if tables:
            return tuple(build(path, each, tables) for each in value)
        return tuple(_value(path, what, name, each, get_args(wanted)[0]) for each in value)
    try:
        read = Decimal(value) if Decimal in (wanted, *get_args(wanted)) and isinstance(value, str) else value
    except InvalidOperation as error:
        raise RuleFileError(f"{path.name}, {what}: {name} is no number: {value!r}") from error
    allowed = get_args(wanted) if get_origin(wanted) is Literal else None
    plain = get_origin(wanted) if get_origin(wanted) is tuple else wanted
    right = read in allowed if allowed else isinstance(read, plain)
    unasked_bool = isinstance(read, bool) and wanted is not bool
    if read == "" or not right or unasked_bool or (isinstance(read, Decimal) and not read.is_finite()):
        raise RuleFileError(f"{path.name}, {what}: {name} cannot be {value!r}")
    return read


def _span(path: Path, what: str, start: Any, end: Any) -> DateSpan:
    if type(start) is not date or type(end) not in (date, NoneType):
        raise RuleFileError(f"{path.name}, {what}: effective_from (and effective_to) must be dates")
    try:
        return DateSpan(start, end)
    except ValueError as error:
        raise RuleFileError(f"{path.name}, {what}: {error}") from error


def _check_keys(path: Path, what: str, raw: Mapping[str, Any], required: set[str], optional: Iterable[str]) -> None:
    missing, unknown = required - raw.keys(), raw.keys() - required - set(optional)
    if missing or unknown:
        problems = [f"missing {key}" for key in sorted(missing)] + [f"unknown {key}" for key in sorted(unknown)]
        raise RuleFileError(f"{path.name}, {what}: {', '.join(problems)}")
