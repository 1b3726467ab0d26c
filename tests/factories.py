"""The least that a test needs, made with raw rows. Scenario names are invented."""

from datetime import UTC, date, datetime, time
from decimal import Decimal
from itertools import count
from typing import Any

from billing.models import Agreement, Asset, Payer, RatePeriod
from curriculum.models import Acquisition, How, LearningCentre, Material, Theme, ThemeRun
from provider.models import (
    AreaUnit,
    Attendance,
    Child,
    Country,
    Enrolment,
    Guardian,
    Household,
    Membership,
    OpeningHours,
    PatternDay,
    PeriodLock,
    Provider,
    Role,
    Room,
    RoomUse,
    Use,
    User,
    WorkEntry,
    WorkKind,
)

_number = count(1)
PASSWORD = "a-long-invented-password"
OPENED = date(2024, 1, 1)


def make_provider(country: str = Country.US, **fields: Any) -> Provider:
    """A business open weekdays 7:30-17:30 in a home of 1,600 ft² (US) or 160 m² (CA)."""
    n = next(_number)
    us = country == Country.US
    provider = Provider.objects.create(
        **{
            "slug": f"home-{n}",
            "name": f"Home {n}",
            "country": country,
            "time_zone": "America/Chicago" if us else "America/Toronto",
            "area_unit": AreaUnit.SQUARE_FEET if us else AreaUnit.SQUARE_METRES,
            "home_area": Decimal("1600.00" if us else "160.00"),
            "opened_on": OPENED,
            **fields,
        }
    )
    for weekday in range(5):
        OpeningHours.objects.create(
            provider=provider, weekday=weekday, opens=time(7, 30), closes=time(17, 30), start=provider.opened_on
        )
    return provider


def make_user(name: str | None = None, **fields: Any) -> User:
    return User.objects.create_user(username=name or f"user{next(_number)}", password=PASSWORD, **fields)


def make_member(provider: Provider, role: str = Role.OWNER, household: Household | None = None) -> User:
    """A user with a role in the business; a family member gets a household."""
    user = make_user()
    if role == Role.FAMILY and household is None:
        household = make_household(provider)
    Membership.objects.create(provider=provider, user=user, role=role, household=household)
    return user


def make_room(provider: Provider, area: str = "400.00", use: str = Use.REGULAR, name: str | None = None) -> Room:
    room = Room.objects.create(provider=provider, name=name or f"Room {next(_number)}", area=Decimal(area))
    RoomUse.objects.create(provider=provider, room=room, use=use, start=provider.opened_on)
    return room


def make_household(provider: Provider, **fields: Any) -> Household:
    return Household.objects.create(provider=provider, **{"name": f"Family {next(_number)}", **fields})


def make_guardian(household: Household, **fields: Any) -> Guardian:
    return Guardian.objects.create(
        provider=household.provider, household=household, **{"name": f"Parent {next(_number)}", **fields}
    )


def make_child(household: Household, **fields: Any) -> Child:
    return Child.objects.create(
        provider=household.provider,
        household=household,
        **{"name": f"Child {next(_number)}", "birth_date": date(2022, 5, 14), **fields},
    )


def make_enrolment(
    child: Child, start: date = date(2024, 1, 1), weekdays: tuple[int, ...] = (0, 1, 2, 3, 4), **fields: Any
) -> Enrolment:
    enrolment = Enrolment.objects.create(provider=child.provider, child=child, start=start, **fields)
    for weekday in weekdays:
        PatternDay.objects.create(
            provider=child.provider,
            enrolment=enrolment,
            weekday=weekday,
            arrives=time(8, 0),
            leaves=time(17, 0),
            start=start,
        )
    return enrolment


def make_agreement(
    enrolment: Enrolment,
    rate: str = "800.00",
    period: str = RatePeriod.MONTHLY,
    payers: dict[Guardian, str] | None = None,
    **fields: Any,
) -> Agreement:
    """An agreement paid by one new guardian unless `payers` gives shares."""
    agreement = Agreement.objects.create(
        provider=enrolment.provider,
        enrolment=enrolment,
        rate=Decimal(rate),
        period=period,
        **{"start": enrolment.start, **fields},
    )
    for guardian, share in (payers or {make_guardian(enrolment.child.household): "1.0000"}).items():
        Payer.objects.create(provider=enrolment.provider, agreement=agreement, guardian=guardian, share=Decimal(share))
    return agreement


def make_attendance(child: Child, day: date, arrives: int = 8, leaves: int | None = 17) -> Attendance:
    zone = child.provider.zone
    return Attendance.objects.create(
        provider=child.provider,
        child=child,
        day=day,
        arrived_at=datetime.combine(day, time(arrives), zone).astimezone(UTC),
        left_at=None if leaves is None else datetime.combine(day, time(leaves), zone).astimezone(UTC),
    )


def make_work(provider: Provider, day: date, begins: int = 18, ends: int = 19, **fields: Any) -> WorkEntry:
    zone = provider.zone
    return WorkEntry.objects.create(
        provider=provider,
        started_at=datetime.combine(day, time(begins), zone),
        ended_at=datetime.combine(day, time(ends), zone),
        **{"kind": WorkKind.PREPARE, **fields},
    )


def make_run(
    provider: Provider, start: date = date(2025, 3, 1), end: date = date(2025, 4, 1), **fields: Any
) -> ThemeRun:
    theme = Theme.objects.create(provider=provider, name=f"Theme {next(_number)}")
    return ThemeRun.objects.create(provider=provider, theme=theme, start=start, end=end, **fields)


def make_centre(provider: Provider, **fields: Any) -> LearningCentre:
    return LearningCentre.objects.create(provider=provider, **{"name": f"Centre {next(_number)}", **fields})


def make_lot(provider: Provider, basis: str = "48.00", **fields: Any) -> Acquisition:
    material = fields.pop("material", None) or Material.objects.create(
        provider=provider, name=f"Material {next(_number)}"
    )
    return Acquisition.objects.create(
        provider=provider,
        material=material,
        basis=Decimal(basis),
        **{
            "on": date(2025, 1, 10),
            "how": How.BOUGHT if Decimal(basis) else How.GIVEN,
            "quantity": Decimal(1),
            "expected_uses": 4,
            **fields,
        },
    )


def make_asset(provider: Provider, **fields: Any) -> Asset:
    return Asset.objects.create(
        provider=provider, **{"name": f"Asset {next(_number)}", "in_service_on": date(2025, 2, 1), **fields}
    )


def lock_year(provider: Provider, year: int) -> PeriodLock:
    return PeriodLock.objects.create(
        provider=provider, start=date(year, 1, 1), end=date(year + 1, 1, 1), reason=f"{year} is closed"
    )
