"""A calendar feed (RFC 5545) of closures, theme months and due tasks as all-day entries.

A feed is read by whoever has its address: titles must name no child and no health matter.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal
from uuid import UUID, uuid5

from icalendar import Calendar, Event

from provider.periods import DateSpan

PRODUCT = "-//Playroom//Calendar feed//EN"
UIDS = UUID("5d2f2b0e-6a0c-4c39-9b3e-0a1f7c6d8e52")
READ_AGAIN = timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class Entry:
    """All day from `span.start` to its last day. `key` stays with the row; `sequence` rises when the row changes.

    The identifier is made from `kind` and `key`, so that a reader updates an entry it knows and never learns the key.
    ValueError for an open span: an entry must end.
    """

    kind: Literal["closure", "theme", "task"]
    key: str
    title: str
    span: DateSpan
    sequence: int = 0

    def __post_init__(self) -> None:
        if self.span.end is None:
            raise ValueError(f"{self.title} has no end")

    @property
    def uid(self) -> str:
        return str(uuid5(UIDS, f"{self.kind}:{self.key}"))


def feed(entries: Iterable[Entry], *, name: str, stamped: datetime) -> bytes:
    """The feed in UTF-8, the same bytes for the same entries in any order.

    `stamped` is an aware datetime: when the newest of the entries was written or the feed made. Only a closure makes
    the day look busy. ValueError: a naive `stamped`, one entry twice.
    """
    if stamped.tzinfo is None:
        raise ValueError("the stamp needs a time zone")
    calendar = Calendar()
    calendar.add("version", "2.0")
    calendar.add("prodid", PRODUCT)
    # NAME and REFRESH-INTERVAL are of RFC 7986; older readers know the calendar's name by the extension only.
    calendar.add("name", _text(name))
    calendar.add("x-wr-calname", _text(name))
    calendar.add("refresh-interval", READ_AGAIN, parameters={"VALUE": "DURATION"})
    seen: set[str] = set()
    for entry in sorted(entries, key=lambda each: (each.span.start, each.kind, each.key)):
        if entry.uid in seen:
            raise ValueError(f"{entry.title} is there twice")
        seen.add(entry.uid)
        calendar.add_component(_event(entry, stamped))
    return calendar.to_ical()


def _event(entry: Entry, stamped: datetime) -> Event:
    event = Event()
    event.add("uid", entry.uid)
    event.add("dtstamp", stamped)
    event.add("dtstart", entry.span.start)
    event.add("dtend", entry.span.end)
    event.add("summary", _text(entry.title))
    event.add("sequence", entry.sequence)
    event.add("transp", "OPAQUE" if entry.kind == "closure" else "TRANSPARENT")
    return event


def _text(text: str) -> str:
    """On one line and without the control characters that RFC 5545 forbids in text."""
    return "".join(each for each in " ".join(text.split()) if each.isprintable())
