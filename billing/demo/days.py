"""What was recorded on each day: who came, who did not, and the work around it."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from functools import partial

from billing.demo.books import CARE, WORK, Books, Data
from provider.models import Child
from provider.periods import DateSpan, WeekPattern, WeekSlot
from provider.services.attendance import StayInput, record_day
from provider.services.hours import WorkInput, log_work_many

ABSENCES = ("Cough and fever", "At grandmother's", "Doctor's appointment", "Away with the family")
ABSENT_IN_A_HUNDRED = 4
WEEK = timedelta(days=7)


def plan_days(books: Books) -> None:
    """Every open day, and each week's work when the week is over.

    Of the story's last day only absences are known: its arrivals lie ahead of whoever looks.
    """
    for day in books.open_days(DateSpan(books.first_day, books.until + timedelta(days=1))):
        books.at(day, CARE, partial(_record_day, books))
    sunday = DateSpan.week(books.first_day).last_day
    while sunday <= books.until:
        books.at(sunday, WORK, partial(_log_week, books))
        sunday += WEEK


def _record_day(books: Books) -> None:
    day = books.day
    stays = list(_stays(books, day))
    if day == books.until:
        stays = [stay for stay in stays if stay.absence]
    if stays:
        record_day(**books.writer, now=books.now, day=day, stays=stays)


def _stays(books: Books, day: date) -> Iterator[StayInput]:
    for enrolment, place in books.enrolments:
        if day not in DateSpan(place["start"], place.get("end")):
            continue
        for slot in _slots(place, day):
            yield _stay(books, enrolment.child, day, slot)


def _slots(place: Data, day: date) -> tuple[WeekSlot, ...]:
    days = place["days"]
    for change in place.get("changes", ()):
        if change["start"] <= day:
            days = change["days"]
    pattern = WeekPattern(
        tuple(
            WeekSlot(weekday, each["arrives"], each["leaves"], each.get("cycle", "every"))
            for each in days
            for weekday in each["on"]
        )
    )
    return pattern.on(day)


def _stay(books: Books, child: Child, day: date, slot: WeekSlot) -> StayInput:
    dice = books.dice(f"stay of {child.name}", day)
    if dice.randrange(100) < ABSENT_IN_A_HUNDRED and not child.is_own_child:
        return StayInput(child, absence=dice.choice(ABSENCES))
    arrived = books.moment(day, slot.start) + timedelta(minutes=dice.randint(-6, 12))
    left = books.moment(day, slot.end) + timedelta(minutes=dice.randint(-15, 8))
    return StayInput(child, arrived, left)


def _log_week(books: Books) -> None:
    week = DateSpan.week(books.day)
    entries = [
        _work(books, row, day)
        for day in week.iter_days()
        for row in books.data["work"]
        if day >= books.first_day and day.weekday() in row["days"] and (day.weekday() > 4 or books.is_open(day))
    ]
    if entries:
        log_work_many(**books.writer, now=books.now, entries=entries)


def _work(books: Books, row: Data, day: date) -> WorkInput:
    over = timedelta(minutes=books.dice(f"{row['kind']} {row['begins']}", day).randint(0, row["late"]))
    ended: datetime = books.moment(day, row["ends"]) + over
    return WorkInput(
        row["kind"],
        books.moment(day, row["begins"]),
        ended,
        at_home=not row.get("away", False),
        person=row.get("person", ""),
    )
