"""What is kept beside the children, papers with dates, the people who work here, and the waiting list."""

from datetime import date, time, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from billing.demo.books import CARE, Books, Data
from provider.models import CareNeed, Child, Collector, EmergencyContact, Household, Person
from provider.services.papers import record_family_paper, record_own_paper
from provider.services.people import add_beside
from provider.services.staff import add_person, record_pay
from provider.services.waiting import add_waiting


def plan_papers(books: Books) -> None:
    """Everything on its own day, where the files name any."""
    tell = {
        "care": _need,
        "contacts": _contact,
        "collectors": _collector,
        "papers": _family_paper,
        "people": _person,
        "own_papers": _own_paper,
        "waiting": _wait,
    }
    for kind, act in tell.items():
        for given in books.data.get(kind, ()):
            books.at(given["on"], CARE, partial(act, books, given))
    for given in books.data.get("pay", ()):
        for payday in given["paydays"]:
            books.at(payday, CARE, partial(_pay, books, given))


def _need(books: Books, given: Data) -> None:
    fields = {"action": "", "posted": True, **_without(given, "child", "on")}
    add_beside(**books.writer, child=_child(books, given["child"]), model=CareNeed, start=given["on"], **fields)


def _contact(books: Books, given: Data) -> None:
    for name in given["children"]:
        fields = _without(given, "children", "on")
        add_beside(**books.writer, child=_child(books, name), model=EmergencyContact, position=1, **fields)


def _collector(books: Books, given: Data) -> None:
    for name in given["children"]:
        fields = _without(given, "children", "on")
        add_beside(**books.writer, child=_child(books, name), model=Collector, start=given["on"], **fields)


def _family_paper(books: Books, given: Data) -> None:
    whose: list[tuple[Household, Child | None]] = [(books.households[name], None) for name in given.get("families", ())]
    whose += [(each.household, each) for each in (_child(books, name) for name in given.get("children", ()))]
    fields = _without(given, "families", "children", "on", "lapses_in")
    for household, child in whose:
        record_family_paper(
            **books.writer,
            household=household,
            child=child,
            signed_on=given["on"],
            expires_on=_expiry(books, given),
            **fields,
        )


def _person(books: Books, given: Data) -> None:
    add_person(**books.writer, start=given["on"], **_without(given, "on"))


def _own_paper(books: Books, given: Data) -> None:
    record_own_paper(
        **books.writer,
        kind=given["kind"],
        title=given["title"],
        issued_on=given["on"],
        expires_on=_expiry(books, given),
        person=_worker(books, given["person"]) if "person" in given else None,
        hours=Decimal(given["hours"]) if "hours" in given else None,
    )


def _pay(books: Books, given: Data) -> None:
    record_pay(
        **books.writer,
        person=_worker(books, given["person"]),
        paid_on=books.day,
        period_start=books.day.replace(day=1),
        period_end=books.day + timedelta(days=1),
        gross=Decimal(given["gross"]),
        withheld=Decimal(given["withheld"]),
        employer_part=Decimal(given["employer_part"]),
    )


def _wait(books: Books, given: Data) -> None:
    add_waiting(**books.writer, arrives=time(8), leaves=time(16), **_without(given, "on"))


def _expiry(books: Books, given: Data) -> date | None:
    return books.until + timedelta(days=given["lapses_in"]) if "lapses_in" in given else None


def _child(books: Books, name: str) -> Child:
    return Child.objects.select_related("household").get(provider=books.provider, name=name)


def _worker(books: Books, name: str) -> Person:
    return Person.objects.get(provider=books.provider, name=name)


def _without(given: Data, *names: str) -> dict[str, Any]:
    return {name: value for name, value in given.items() if name not in names}
