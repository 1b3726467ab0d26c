"""The five doors and the registries through which later rooms add to pages of earlier ones."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Protocol

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from provider.access import BOOKS, FAMILY, STAFF
from provider.ical import Entry
from provider.models import Household, Provider, ProviderRow, Role, StoredFile, WorkEntry
from provider.periods import DateSpan
from provider.retention import Record

if TYPE_CHECKING:
    from provider.desk import Desk


@dataclass(frozen=True, slots=True)
class Door:
    """One of the places in the frame of every page, with its view and the roles that may open it."""

    key: str
    label: Any
    view: str
    roles: tuple[Role, ...]


DOORS = (
    Door("today", _("Today"), "provider:today", STAFF),
    Door("theme", _("Theme"), "curriculum:theme", STAFF),
    Door("families", _("Families"), "provider:families", STAFF),
    Door("money", _("Money"), "billing:money", BOOKS),
    Door("year_end", _("Year end"), "billing:year_end", BOOKS),
    Door("papers", _("My papers"), "billing:family_papers", (FAMILY,)),
)


def home_of(role: str) -> str:
    """The first door a role may open, as a view name."""
    return next(door.view for door in DOORS if role in door.roles)


@dataclass(frozen=True, slots=True)
class OpenDoor:
    """A door as a visitor sees it."""

    key: str
    label: Any
    url: str
    is_current: bool


def open_doors(provider: Provider, role: str, current: str) -> list[OpenDoor]:
    """The doors that a role may open; `current` is the key of the one that the page lies behind."""
    return [
        OpenDoor(door.key, door.label, reverse(door.view, args=[provider.slug]), door.key == current)
        for door in DOORS
        if role in door.roles
    ]


@dataclass(frozen=True, slots=True)
class MonthTheme:
    """The theme whose name and hue the month strip shows."""

    name: str
    hue: int
    url: str


@dataclass(frozen=True, slots=True)
class Notice:
    """One line on Today: what is due, and the act it leads to. `kind` is info, caution or problem."""

    text: str
    url: str
    act: str
    kind: str = "info"


class NoticeSource(Protocol):
    """Gives what a role should be told on the day; nothing for a role that it does not concern."""

    def __call__(self, provider: Provider, role: str, today: date) -> Iterable[Notice]: ...


@dataclass(frozen=True, slots=True)
class Kept:
    """What a room must keep about a family, and why. `until` is the first day it need not be kept any longer; None says
    that the family cannot be erased while this lasts."""

    what: str
    because: str
    until: date | None


@dataclass(frozen=True, slots=True)
class Blank:
    """Words and papers about a family that an erase request blanks: which rows, and what their fields hold afterwards.

    `family` looks up the household from a row. `record` names the kind of record whose rule keeps it until its date;
    None when nobody asks to keep it. `name` marks what says who it was: it stays as long as anything is kept.
    """

    label: Any
    model: type[ProviderRow]
    family: str
    fields: Mapping[str, Any]
    record: Record | None = None
    files: tuple[str, ...] = ()
    name: bool = False


@dataclass(frozen=True, slots=True)
class RunChoice:
    """A theme run that work can be for, by its public id."""

    public_id: str
    name: str


class WorkSink(Protocol):
    """Takes work that was just logged for the theme run `run` (in a learning centre), inside the same transaction."""

    def __call__(self, desk: "Desk", work: WorkEntry, run: str, centre: str) -> None: ...


# Filled by the other apps in `AppConfig.ready`.
theme_of_day: list[Callable[[Provider, date], MonthTheme | None]] = []
notices: list[NoticeSource] = []
# Lines about guardians by their key, for those who may read them: facts(household, role, today).
guardian_facts: list[Callable[[Household, str, date], dict[int, list[str]]]] = []
# Whether a stored paper belongs to the books, so that a preparer may open it.
in_the_books: list[Callable[[StoredFile], bool]] = []
keepers: list[Callable[[Household, date], Iterable[Kept]]] = []
blanks: list[Blank] = []
# What an erase request takes away beyond `blanks`, inside its transaction and before the names are gone.
forgetters: list[Callable[["Desk", Household], None]] = []
runs_to_work_for: list[Callable[[Provider, date], Iterable[RunChoice]]] = []
work_recorded: list[WorkSink] = []

# What calendar feeds tell of a span: titles must name no child and no health matter.
feed_events: list[Callable[[Provider, DateSpan, date], Iterable[Entry]]] = []


def facts_of_guardians(household: Household, role: str, today: date) -> dict[int, list[str]]:
    """The lines of every source about the guardians of a household, by their key."""
    facts: dict[int, list[str]] = {}
    for source in guardian_facts:
        for guardian, lines in source(household, role, today).items():
            facts.setdefault(guardian, []).extend(lines)
    return facts
