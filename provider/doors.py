"""The five doors and the registries through which later rooms add to pages of earlier ones."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from provider.models import Provider, Role


@dataclass(frozen=True, slots=True)
class Door:
    key: str
    label: Any
    view: str
    roles: tuple[Role, ...]


DOORS = (
    Door("today", _("Today"), "provider:today", (Role.OWNER, Role.HELPER)),
    Door("theme", _("Theme"), "curriculum:theme", (Role.OWNER, Role.HELPER)),
    Door("families", _("Families"), "provider:families", (Role.OWNER, Role.HELPER)),
    Door("money", _("Money"), "billing:money", (Role.OWNER, Role.PREPARER)),
    Door("year_end", _("Year end"), "billing:year_end", (Role.OWNER, Role.PREPARER)),
    Door("papers", _("My papers"), "billing:family_papers", (Role.FAMILY,)),
)


def home_of(role: str) -> str:
    """The first door a role may open, as a view name."""
    return next(door.view for door in DOORS if role in door.roles)


@dataclass(frozen=True, slots=True)
class OpenDoor:
    key: str
    label: Any
    url: str
    is_current: bool


def open_doors(provider: Provider, role: str, current: str) -> list[OpenDoor]:
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
    def __call__(self, provider: Provider, role: str, today: date) -> Iterable[Notice]: ...


# Filled by the other apps in `AppConfig.ready`.
theme_of_day: list[Callable[[Provider, date], MonthTheme | None]] = []
notices: list[NoticeSource] = []
