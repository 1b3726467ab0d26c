"""Measures of speed over an invented business with years of records, run by `manage.py bench`.

Another app adds its measures in its own `bench.py`, which is found by name, with the same decorator. A measure says how
long something takes, how many queries it makes, and how long the least comparable thing takes in the same run (its
floor), so that figures of two machines can be compared by their ratios.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import islice
from statistics import median
from time import perf_counter
from typing import Any

from django.db import connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from provider.clock import now
from provider.clock import today as today_of
from provider.models import (
    Attendance,
    AuditEntry,
    Child,
    Enrolment,
    Guardian,
    Household,
    Membership,
    PatternDay,
    Provider,
    Role,
    Submission,
    User,
)
from provider.models.base import new_public_id
from provider.services import door
from provider.views.door import DEVICE_COOKIE, GUARDIAN_COOKIE

CHILDREN = 12
ROUNDS = 5
BATCH = 2_000
HOST = "localhost"


@dataclass(frozen=True)
class Bed:
    """What is measured on: a business with twelve children and `years` of attendance up to yesterday."""

    provider: Provider
    owner: User
    children: tuple[Child, ...]
    guardians: tuple[Guardian, ...]
    today: date
    years: int
    client: Client = field(default_factory=lambda: Client(SERVER_NAME=HOST))


@dataclass(frozen=True, slots=True)
class Result:
    """Times in milliseconds; `aim` in words, `met` whether it was reached."""

    name: str
    median_ms: float
    queries: int
    floor_ms: float
    ratio: float
    aim: str
    met: bool


Measure = Callable[[Bed], Result]
MEASURES: dict[str, Measure] = {}


def measure(function: Measure) -> Measure:
    """Register a measure under the name of its function."""
    MEASURES[function.__name__] = function
    return function


def milliseconds(act: Callable[[], Any]) -> float:
    begun = perf_counter()
    act()
    return (perf_counter() - begun) * 1000


def median_ms(acts: Iterator[Callable[[], Any]], clean: Callable[[], Any] = lambda: None) -> float:
    """The median of single acts; `clean` runs untimed after each."""
    times = []
    for act in acts:
        times.append(milliseconds(act))
        clean()
    return median(times)


def queries_of(act: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as captured:
        act()
    return len(captured)


def empty_page_ms(bed: Bed) -> float:
    """The floor of every page: an answer of two letters through the same middleware."""
    return median_ms((lambda: bed.client.get(reverse("health"))) for _n in range(40))


def posted(bed: Bed, name: str, post: Callable[[Child, Guardian], Any], limit_ms: int) -> Result:
    """Measure a post that signs a child in; each child's day is cleared again, untimed."""

    def clear() -> None:
        Attendance.objects.filter(provider=bed.provider, day=bed.today).delete()

    pairs = list(zip(bed.children, bed.guardians, strict=True))
    post(*pairs[0])  # imports and templates are loaded once
    clear()
    queries = queries_of(lambda: post(*pairs[0]))
    clear()
    acts = (
        lambda child=child, guardian=guardian: post(child, guardian)
        for _n in range(ROUNDS)
        for child, guardian in pairs
    )
    taken, floor = median_ms(acts, clear), empty_page_ms(bed)
    aim = f"under {limit_ms} ms"
    return Result(name, round(taken, 2), queries, round(floor, 2), round(taken / floor, 2), aim, taken < limit_ms)


@measure
def sign_in(bed: Bed) -> Result:
    """One tap on Today."""
    bed.client.force_login(bed.owner, backend="django.contrib.auth.backends.ModelBackend")

    def post(child: Child, _guardian: Guardian) -> None:
        address = reverse("provider:sign_in_child", args=[bed.provider.slug, child.public_id])
        response = bed.client.post(address, {"submission_key": new_public_id()})
        _signed(child, bed, response.status_code == 302)

    return posted(bed, "sign_in", post, limit_ms=50)


@measure
def sign_in_at_door(bed: Bed) -> Result:
    """One signature at the tablet by the door, its page included."""
    writer: dict[str, Any] = {"provider": bed.provider, "actor": None, "today": bed.today}
    device = door.register_device(**writer, name="Hall")
    door.open_device(device=device, token=DEVICE_COOKIE)
    tablets = {}
    for guardian in bed.guardians:
        pin = door.renew_pin(**writer, guardian=guardian).pin
        tablet = Client(SERVER_NAME=HOST)
        tablet.cookies[DEVICE_COOKIE] = DEVICE_COOKIE
        tablet.post(reverse("provider:door", args=[bed.provider.slug]), {"pin": pin})
        tablets[guardian.pk] = (tablet, tablet.cookies[GUARDIAN_COOKIE].value)

    def post(child: Child, guardian: Guardian) -> None:
        tablet, ticket = tablets[guardian.pk]
        tablet.cookies[GUARDIAN_COOKIE] = ticket
        address = reverse("provider:door_sign", args=[bed.provider.slug, child.public_id])
        response = tablet.post(address, {"act": "in", "submission_key": new_public_id()})
        _signed(child, bed, response.status_code == 200)

    return posted(bed, "sign_in_at_door", post, limit_ms=50)


def _signed(child: Child, bed: Bed, answered: bool) -> None:
    if not answered or not Attendance.objects.filter(child=child, day=bed.today).exists():
        raise AssertionError("the post that was measured signed nobody in")


# --- The data --------------------------------------------------------------------------------------------------------


def make_bed(years: int) -> Bed:
    """Build the business in bulk, under the constraints of the database. The same every time but for its ids."""
    moment = now()
    with transaction.atomic():
        provider = Provider.objects.create(
            slug="bench",
            name="Bench",
            country="US",
            region="MN",
            time_zone="America/Chicago",
            area_unit="ft2",
            home_area=Decimal("1600.00"),
            opened_on=date(moment.year - years - 1, 1, 1),
        )
        today = today_of(provider)
        owner = User.objects.create_user("bench")
        Membership.objects.create(provider=provider, user=owner, role=Role.OWNER)
        families = [_family(provider, n, date(moment.year - years, 1, 1)) for n in range(CHILDREN)]
        children = tuple(child for child, _guardian in families)
        _write(_stays(provider, children, today, years))
        return Bed(provider, owner, children, tuple(guardian for _child, guardian in families), today, years)


def _family(provider: Provider, number: int, start: date) -> tuple[Child, Guardian]:
    household = Household.objects.create(provider=provider, name=f"Family {number}")
    guardian = Guardian.objects.create(provider=provider, household=household, name=f"Parent {number}")
    child = Child.objects.create(
        provider=provider, household=household, name=f"Child {number}", birth_date=start - timedelta(days=400)
    )
    enrolment = Enrolment.objects.create(provider=provider, child=child, start=start)
    PatternDay.objects.bulk_create(
        PatternDay(
            provider=provider, enrolment=enrolment, weekday=weekday, arrives=time(8), leaves=time(17), start=start
        )
        for weekday in range(7)
    )
    return child, guardian


def _stays(provider: Provider, children: tuple[Child, ...], today: date, years: int) -> Iterator[Attendance]:
    for back in range(1, years * 365):
        day = today - timedelta(days=back)
        if day.weekday() < 5:
            for child in children:
                came, left = (datetime.combine(day, time(hour), provider.zone).astimezone(UTC) for hour in (8, 17))
                yield Attendance(provider=provider, child=child, day=day, arrived_at=came, left_at=left)


def _write(stays: Iterator[Attendance]) -> None:
    """Each stay with what its two taps left behind: two lines of the trail and two submissions."""
    while batch := list(islice(stays, BATCH)):
        Attendance.objects.bulk_create(batch)
        pairs = [(stay, verb) for stay in batch for verb in ("sign in", "sign out")]
        AuditEntry.objects.bulk_create(
            AuditEntry(
                provider=stay.provider,
                actor_label="Bench",
                verb=verb,
                object_kind="provider.attendance",
                object_public_id=stay.public_id,
                object_label=str(stay.day),
                summary=verb,
            )
            for stay, verb in pairs
        )
        entries = AuditEntry.objects.filter(object_public_id__in=[stay.public_id for stay in batch])
        entries.update(at=batch[0].arrived_at)
        Submission.objects.bulk_create(
            Submission(
                provider=stay.provider,
                key=new_public_id(),
                kind="provider.attendance",
                result_public_id=stay.public_id,
            )
            for stay, _verb in pairs
        )
