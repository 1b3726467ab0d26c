"""The business itself, its logins, closures, families, places and what was agreed for them."""

from datetime import date, timedelta
from decimal import Decimal
from functools import partial

from billing.demo.books import ENROL, FIRST, Books, Data
from billing.services.agreements import agree
from provider.models import Child, Enrolment, Guardian, Role
from provider.services.accounts import (
    BusinessInput,
    LoginInput,
    add_business,
    add_login,
    add_member,
    temporary_password,
)
from provider.services.capacity import CUSTOM, CustomRule, set_capacity
from provider.services.families import (
    PatternInput,
    add_child,
    add_guardian,
    add_household,
    change_pattern,
    end_enrolment,
    enrol_child,
)
from provider.services.home import OpeningInput, RoomInput, add_closure, update_business

# Places, patterns and rates are agreed before the month in which they begin is billed.
NOTICE = timedelta(days=35)


def open_business(books: Books) -> None:
    """Make the owner's login and the business, and plan all that is known of its people."""
    data, given, opening = books.data, books.data["business"], books.data["opening"]
    books.day = books.first_day
    rooms = tuple(RoomInput(room["name"], Decimal(room["area"]), room["use"]) for room in data["rooms"])
    hours = tuple(OpeningInput(day, opening["opens"], opening["closes"]) for day in opening["weekdays"])
    books.owner = add_login(login=_login(next(each for each in data["logins"] if each["role"] == Role.OWNER)))
    names = ("name", "country", "region", "time_zone", "area_unit", "opened_on", "address", "phone", "email")
    business = BusinessInput(
        **{name: given[name] for name in names}, home_area=Decimal(given["home_area"]), rooms=rooms, opening=hours
    )
    books.provider = add_business(owner=books.owner, business=business, slug=books.slug, is_example=True)
    books.provider = update_business(
        **books.writer,
        version=books.provider.version,
        hourly_value=Decimal(given["hourly_value"]),
        invoice_days_due=given["invoice_days_due"],
        invoice_note=given["invoice_note"],
    )
    if limit := data.get("capacity"):
        _limit(books, limit)
    for row in books.closures:
        # Planned days are announced at New Year; illness and weather come by themselves.
        planned = row["kind"] in ("holiday", "time_off")
        known = max(books.first_day, date(row["start"].year, 1, 1)) if planned else row["start"]
        books.at(known, FIRST, partial(_close, books, row))
    for family in data["families"]:
        _add_family(books, family)
    for login in data["logins"]:
        if login["role"] != Role.OWNER:
            household = books.households.get(login.get("household", ""))
            add_member(**books.writer, role=login["role"], login=_login(login), household=household)


def _login(given: Data) -> LoginInput:
    # Nobody knows this password: one that can be told is given when the whole load is done.
    return LoginInput(given["username"], temporary_password(), given["name"])


def _limit(books: Books, given: Data) -> None:
    custom = None
    if given["rule"] == CUSTOM:
        limits = [(each["under_months"], each["most"]) for each in given["limits"]]
        custom = CustomRule(given["most"], limits, given["own_under_months"])
    set_capacity(
        **books.writer,
        rule=given["rule"],
        start=books.provider.opened_on,
        adults=given["adults"],
        licence_limit=given.get("licence_limit"),
        custom=custom,
    )


def _close(books: Books, row: Data) -> None:
    add_closure(**books.writer, **row)


def _add_family(books: Books, family: Data) -> None:
    names = ("name", "address", "phone", "email")
    household = add_household(
        **books.writer, **{name: family[name] for name in names}, language=family.get("language", "en")
    )
    books.households[household.name] = household
    guardians = [
        (
            add_guardian(
                **books.writer, household=household, name=each["name"], email=each["email"], phone=each["phone"]
            ),
            Decimal(each.get("share", "1")),
        )
        for each in family["guardians"]
    ]
    for given in family["children"]:
        known = max(books.first_day, min(place["start"] for place in given["places"]) - NOTICE)
        books.at(known, FIRST, partial(_add_child, books, family, guardians, given))


def _add_child(books: Books, family: Data, guardians: list[tuple[Guardian, Decimal]], given: Data) -> None:
    child = add_child(
        **books.writer,
        household=books.households[family["name"]],
        name=given["name"],
        preferred_name=given["preferred_name"],
        birth_date=given["born"],
        is_own_child=given.get("own_child", False),
        physician=given.get("physician", ""),
    )
    for place in given["places"]:
        known = max(books.day, place["start"] - NOTICE)
        books.at(known, ENROL, partial(_enrol, books, child, guardians, place))


def _enrol(books: Books, child: Child, guardians: list[tuple[Guardian, Decimal]], place: Data) -> None:
    end = place.get("end")
    # A short place is agreed with its end; of another the family gives notice.
    known_end = end if end and end - NOTICE <= max(books.day, place["start"]) else None
    enrolment = enrol_child(
        **books.writer,
        child=child,
        start=place["start"],
        end=known_end,
        is_free_place=place.get("free", False),
        pattern=_pattern(place["days"]),
    )
    books.enrolments.append((enrolment, place))
    if end is not None and known_end is None:
        books.at(end - NOTICE, ENROL, partial(_end, books, enrolment, end))
    for rate in place.get("rates", ()):
        books.at(max(books.day, rate["start"] - NOTICE), ENROL, partial(_agree, books, enrolment, guardians, rate))
    for change in place.get("changes", ()):
        books.at(change["start"] - NOTICE, ENROL, partial(_change, books, enrolment, change))


def _end(books: Books, enrolment: Enrolment, end: date) -> None:
    enrolment.refresh_from_db()
    end_enrolment(**books.writer, enrolment=enrolment, version=enrolment.version, end=end)


def _agree(books: Books, enrolment: Enrolment, guardians: list[tuple[Guardian, Decimal]], rate: Data) -> None:
    agree(
        **books.writer,
        enrolment=enrolment,
        rate=Decimal(rate["rate"]),
        period=rate["period"],
        start=rate["start"],
        shares=dict(guardians),
        note=rate.get("note", ""),
    )


def _change(books: Books, enrolment: Enrolment, change: Data) -> None:
    change_pattern(**books.writer, enrolment=enrolment, start=change["start"], pattern=_pattern(change["days"]))


def _pattern(days: list[Data]) -> list[PatternInput]:
    return [
        PatternInput(weekday, each["arrives"], each["leaves"], each.get("cycle", "every"))
        for each in days
        for weekday in each["on"]
    ]
