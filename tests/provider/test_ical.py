from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from provider.ical import Entry, feed
from provider.periods import DateSpan

STAMP = datetime(2026, 1, 2, 12, 30, tzinfo=UTC)
WEEK_OFF = DateSpan(date(2026, 7, 6), date(2026, 7, 11))


def closure(key="c1", title="Closed", span=WEEK_OFF, **more):
    return Entry("closure", key, title, span, **more)


def made(*entries, name="Playroom", stamped=STAMP):
    return feed(entries, name=name, stamped=stamped)


def parsed(*entries, **more):
    return Calendar.from_ical(made(*entries, **more))


def event(*entries, **more):
    (found,) = parsed(*entries, **more).walk("VEVENT")
    return found


def unfolded(content):
    return content.replace(b"\r\n ", b"")


def test_a_closure_is_an_all_day_event_that_ends_the_day_after():
    found = event(closure())
    assert (found.decoded("dtstart"), found.decoded("dtend")) == (date(2026, 7, 6), date(2026, 7, 11))
    assert b"DTSTART;VALUE=DATE:20260706\r\nDTEND;VALUE=DATE:20260711\r\n" in made(closure())


def test_only_a_closure_makes_the_day_busy():
    entries = [closure(), Entry("theme", "t", "Sea", WEEK_OFF), Entry("task", "k", "Fire drill", WEEK_OFF)]
    assert sorted(str(found["transp"]) for found in parsed(*entries).walk("VEVENT")) == [
        "OPAQUE",
        "TRANSPARENT",
        "TRANSPARENT",
    ]


def test_the_identifier_stays_when_the_entry_moves_and_its_sequence_rises():
    before = event(closure())
    after = event(closure(title="Closed, moved", span=DateSpan.day(date(2026, 8, 1)), sequence=1))
    assert (before["uid"], before["sequence"], after["sequence"]) == (after["uid"], 0, 1)


def test_the_identifier_hides_the_key_and_differs_by_kind():
    entries = [Entry(kind, "secret-key", "x", WEEK_OFF) for kind in ("closure", "theme", "task")]
    assert len({each.uid for each in entries}) == 3
    assert b"secret-key" not in made(*entries)


def test_the_stamp_is_in_utc():
    stamped = datetime(2026, 1, 2, 7, 30, tzinfo=timezone(timedelta(hours=-5)))
    assert b"DTSTAMP:20260102T123000Z\r\n" in made(closure(), stamped=stamped)


def test_the_calendar_tells_its_name_version_and_maker():
    calendar = parsed(name="Playroom, closures")
    assert (calendar["version"], calendar["name"], calendar["x-wr-calname"]) == (
        "2.0",
        "Playroom, closures",
        "Playroom, closures",
    )
    assert calendar["prodid"]


def test_an_empty_feed_is_a_calendar():
    assert parsed().walk("VEVENT") == []


def test_commas_semicolons_and_backslashes_are_escaped():
    assert rb"SUMMARY:Ill\; back \\ soon\, maybe" in unfolded(made(closure(title=r"Ill; back \ soon, maybe")))


def test_a_title_cannot_begin_a_line_of_its_own():
    content = made(closure(title="Closed\r\nEND:VEVENT\r\nATTENDEE:x\x00\x07"))
    assert b"SUMMARY:Closed END:VEVENT ATTENDEE:x\r\n" in unfolded(content)


def test_the_order_of_the_entries_changes_nothing():
    entries = [closure(str(number)) for number in range(5)]
    assert made(*entries) == made(*reversed(entries))


def test_one_entry_twice_is_refused():
    with pytest.raises(ValueError, match="twice"):
        made(closure(), closure(title="Again"))


def test_an_entry_without_an_end_is_refused():
    with pytest.raises(ValueError, match="has no end"):
        closure(span=DateSpan(date(2026, 7, 6)))


def test_a_stamp_without_a_time_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        made(closure(), stamped=datetime(2026, 1, 2))


@given(st.text(max_size=300))
def test_every_title_comes_back_in_lines_of_at_most_75_octets(title):
    content = made(closure(title=title), name=title)
    lines = content.split(b"\r\n")
    assert content.endswith(b"END:VCALENDAR\r\n")
    assert not [line for line in lines if len(line) > 75 or b"\n" in line or b"\r" in line]
    assert all(line.decode("utf-8") is not None for line in lines)
    expected = "".join(each for each in " ".join(title.split()) if each.isprintable())
    (found,) = Calendar.from_ical(content).walk("VEVENT")
    assert str(found["summary"]) == expected
