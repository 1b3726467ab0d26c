"""Every address is tried as everybody: nobody sees across, and no lesser role gets in.

An address is either scoped (its view carries `roles`), or stands on OPEN below, or belongs to the tablet by the door
(its view carries `is_door`), which knows no login. The names of its parameters say which
row it is about, and ROWS makes one; where the parameter is only called `public_id`, ABOUT says of what.
"""

from collections.abc import Callable, Iterator
from datetime import date, timedelta
from decimal import Decimal
from functools import cached_property
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from billing.models import Invoice, Method, PaidBy, Payment, Receipt, ReceiptLine, Tender
from curriculum.models import Observation, Placement, PlannedActivity, PutAway, ThemeRun
from provider.models import (
    Child,
    Closure,
    ClosureKind,
    Enrolment,
    FamilyPaper,
    FamilyPaperKind,
    FileKind,
    Guardian,
    Household,
    Membership,
    Provider,
    Role,
    StoredFile,
    User,
)
from provider.services.door import open_device, register_device
from provider.views.door import DEVICE_COOKIE
from tests import factories as make

pytestmark = pytest.mark.django_db

# Addresses of the site itself: no business, no scope.
OPEN = {
    "health",
    "provider:home",
    "provider:sign_in",
    "provider:sign_out",
    "provider:password",
    "provider:set_up",
    "provider:feed",  # by its secret address alone: see tests/provider/test_feeds.py
}
# The link that makes a browser the tablet by the door is signed and works once; see test_door.
OPEN |= {"provider:door_open"}
METHODS = ("get", "post")
ROLES = (Role.OWNER, Role.HELPER, Role.PREPARER, Role.FAMILY)
DAY = date(2025, 3, 14)


def _routes(resolver: URLResolver, prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    for entry in resolver.url_patterns:
        if isinstance(entry, URLResolver):
            yield from _routes(entry, f"{prefix}{entry.namespace}:" if entry.namespace else prefix)
        else:
            yield f"{prefix}{entry.name}", entry


ROUTES = dict(_routes(get_resolver()))
DOOR = sorted(name for name, route in ROUTES.items() if getattr(route.callback, "is_door", False))
SCOPED = sorted(set(ROUTES) - OPEN - set(DOOR))


def view_of(name: str) -> Any:
    """What `scoped` made, also under a class-based view."""
    callback: Any = ROUTES[name].callback
    return callback if hasattr(callback, "roles") else getattr(callback, "view_class", callback)


class Cast:
    """One business with its people; rows are made when an address asks for them."""

    def __init__(self) -> None:
        self.provider: Provider = make.make_provider()
        self.household: Household = make.make_household(self.provider)
        self.users: dict[Role, User] = {
            role: make.make_member(self.provider, role, self.household if role == Role.FAMILY else None)
            for role in ROLES
        }
        self.made: dict[str, Any] = {}

    def row(self, kind: str) -> Any:
        """What an address is about, made once: the parts of one business fit together."""
        if kind not in self.made:
            self.made[kind] = ROWS[kind](self)
        return self.made[kind]

    @cached_property
    def run(self) -> ThemeRun:
        return make.make_run(self.provider)

    @cached_property
    def guardian(self) -> Guardian:
        return make.make_guardian(self.household)

    @cached_property
    def child(self) -> Child:
        return make.make_child(self.household)

    @cached_property
    def enrolment(self) -> Enrolment:
        return make.make_enrolment(self.child)

    @cached_property
    def member(self) -> Membership:
        return Membership.objects.get(user=self.users[Role.HELPER])

    @cached_property
    def closure(self) -> Closure:
        end = DAY + timedelta(days=1)
        return Closure.objects.create(
            provider=self.provider, start=DAY, end=end, kind=ClosureKind.WEATHER, reason="Snow"
        )

    @cached_property
    def file(self) -> StoredFile:
        row = StoredFile(provider=self.provider, kind=FileKind.PDF, size=4, sha256="0" * 64)
        row.file.save("paper.pdf", ContentFile(b"%PDF"))
        return row

    @cached_property
    def book_paper(self) -> StoredFile:
        """The photo of a receipt."""
        paper = self.file
        receipt = self.receipt
        receipt.paper = paper
        receipt.save()
        return paper

    @cached_property
    def observation(self) -> Observation:
        """With a photo that its family may see."""
        FamilyPaper.objects.create(
            provider=self.provider, household=self.household, kind=FamilyPaperKind.PHOTOS, signed_on=DAY
        )
        return make.make_observation(self.child, photo=self.file, for_family=True)

    @cached_property
    def picture(self) -> StoredFile:
        """The photo of a material."""
        material = make.make_lot(self.provider).material
        material.photo = self.file
        material.save()
        return material.photo

    @cached_property
    def receipt(self) -> Receipt:
        """As it is always filed: with a line and a tender that add up to its total."""
        total = Decimal("9.00")
        row = Receipt.objects.create(provider=self.provider, shop="Corner shop", bill_date=DAY, total=total)
        Tender.objects.create(provider=self.provider, receipt=row, paid_by=PaidBy.CASH, amount=total)
        ReceiptLine.objects.create(
            provider=self.provider,
            receipt=row,
            position=1,
            description="Paper",
            amount=total,
            cost=total,
            category="supplies",
        )
        return row

    @cached_property
    def invoice(self) -> Invoice:
        guardian = self.guardian
        return Invoice.objects.create(
            provider=self.provider,
            year=2025,
            number=1,
            household=self.household,
            guardian=guardian,
            issued_on=DAY,
            due_on=DAY + timedelta(days=5),
            covers_start=date(2025, 3, 1),
            covers_end=date(2025, 4, 1),
            total=Decimal("800.00"),
            issuer_name=self.provider.name,
            payer_name=guardian.name,
        )

    @cached_property
    def payment(self) -> Payment:
        return Payment.objects.create(
            provider=self.provider, household=self.household, on=DAY, amount=Decimal("50.00"), method=Method.CASH
        )

    @cached_property
    def placement(self) -> Placement:
        return Placement.objects.create(
            provider=self.provider,
            run=self.run,
            lot=make.make_lot(self.provider),
            centre=make.make_centre(self.provider),
            quantity=Decimal(1),
        )

    @cached_property
    def planned(self) -> PlannedActivity:
        run, centre = self.run, make.make_centre(self.provider)
        return make.make_planned(run, centre, make.make_activity(self.provider))

    @cached_property
    def put_away(self) -> PutAway:
        return PutAway.objects.create(provider=self.provider, placement=self.placement, on=DAY, returned=Decimal(1))


# What stands in an address under each parameter name.
ROWS: dict[str, Callable[[Cast], Any]] = {
    "household": lambda cast: cast.household,
    "guardian": lambda cast: cast.guardian,
    "child": lambda cast: cast.child,
    "enrolment": lambda cast: cast.enrolment,
    "attendance": lambda cast: make.make_attendance(cast.child, DAY),
    "work": lambda cast: make.make_work(cast.provider, DAY),
    "room": lambda cast: make.make_room(cast.provider),
    "closure": lambda cast: cast.closure,
    "member": lambda cast: cast.member,
    "run": lambda cast: cast.run,
    "theme": lambda cast: cast.run.theme,
    "centre": lambda cast: make.make_centre(cast.provider),
    "material": lambda cast: make.make_lot(cast.provider).material,
    "lot": lambda cast: make.make_lot(cast.provider),
    "recipe": lambda cast: make.make_recipe(cast.provider),
    "making": lambda cast: make.make_making(make.make_recipe(cast.provider)),
    "piece": lambda cast: make.make_making(make.make_recipe(cast.provider)).lot.marked_pieces.get(),
    "placement": lambda cast: cast.placement,
    "put_away": lambda cast: cast.put_away,
    "receipt": lambda cast: cast.receipt,
    "invoice": lambda cast: cast.invoice,
    "payment": lambda cast: cast.payment,
    "agreement": lambda cast: make.make_agreement(cast.enrolment),
    "file": lambda cast: cast.file,
    "book_paper": lambda cast: cast.book_paper,
    "menu": lambda cast: make.make_menu_item(cast.provider, DAY),
    "programme": lambda cast: make.make_food_programme(cast.provider),
    "device": lambda cast: register_device(provider=cast.provider, actor=None, today=DAY, name="Hall"),
    "feed": lambda cast: make.make_feed(cast.provider),
    "incident": lambda cast: make.make_incident(cast.child),
    "drill": lambda cast: make.make_drill(cast.provider),
    "check": lambda cast: make.make_home_check(cast.provider),
    "contact": lambda cast: make.make_contact(cast.child),
    "collector": lambda cast: make.make_collector(cast.child),
    "need": lambda cast: make.make_care_need(cast.child),
    "paper": lambda cast: make.make_family_paper(cast.household, file=cast.file),
    "waiting": lambda cast: make.make_waiting(cast.provider),
    "person": lambda cast: make.make_person(cast.provider),
    "own_paper": lambda cast: make.make_own_paper(cast.provider, file=cast.file),
    "pay": lambda cast: make.make_pay(make.make_person(cast.provider)),
    "medication": lambda cast: make.make_medication(cast.child, file=cast.file),
    "dose": lambda cast: make.make_dose(make.make_medication(cast.child)),
    "moment": lambda cast: make.make_moment(cast.child),
    "note": lambda cast: make.make_day_note(cast.child),
    "notice": lambda cast: make.make_notice(cast.provider),
    "observation": lambda cast: cast.observation,
    "item": lambda cast: make.make_item(cast.run),
    "broken": lambda cast: make.make_broken(cast.run),
    "bin": lambda cast: make.make_bin(cast.provider),
    "routine": lambda cast: make.make_routine(make.make_lot(cast.provider).material),
    "picture": lambda cast: cast.picture,
    "activity": lambda cast: make.make_activity(cast.provider, "P-ATL 1"),
    "planned": lambda cast: cast.planned,
    "wanted": lambda cast: make.make_need(cast.run, make.make_lot(cast.provider).material),
    "goal": lambda cast: make.make_own_goal(cast.provider),
    "wish": lambda cast: make.make_wish(cast.run),
}
PLAIN: dict[str, Any] = {
    "meal": "lunch",
    "language": "fr",
    "year": 2025,
    "month": 3,
    "day": 14,
    "first": date(2025, 3, 1),
}

# Of what the `public_id` (or `row`) in an address is.
ABOUT = {
    "provider:file": "book_paper",
    "provider:contact_change": "contact",
    "provider:contact_void": "contact",
    "provider:collector_change": "collector",
    "provider:collector_void": "collector",
    "provider:need_change": "need",
    "provider:need_void": "need",
    "curriculum:void_put_away": "put_away",
    "curriculum:plan_broken": "put_away",
    "billing:receipt": "receipt",
    "billing:receipt_correct": "receipt",
    "billing:receipt_return": "receipt",
    "billing:receipt_void": "receipt",
    "billing:statement": "household",
    "billing:invoice": "invoice",
    "billing:invoice_pdf": "invoice",
    "billing:credit_note": "invoice",
    "billing:payment_record": "household",
    "billing:payment": "payment",
    "billing:payment_void": "payment",
    "billing:place": "enrolment",
    "billing:agreement_new": "enrolment",
    "billing:agreement": "agreement",
    "billing:family_paper": "invoice",
    "billing:family_paper_pdf": "invoice",
    "billing:run_cost": "run",
    "billing:cost_sheet": "run",
    "billing:cost_sheet_pdf": "run",
}

ABOUT_A_ROW = [name for name in SCOPED if set(ROUTES[name].pattern.converters) - {"slug", *PLAIN}]


def address_of(name: str, cast: Cast) -> str:
    values: dict[str, Any] = {"slug": cast.provider.slug}
    if name == "billing:invoice_month_pdf":
        _invoice = cast.invoice  # a month without any has no paper
    for parameter in ROUTES[name].pattern.converters:
        if parameter in PLAIN:
            values[parameter] = PLAIN[parameter]
        elif parameter != "slug":
            kind = ABOUT[name] if parameter in ("public_id", "row") else parameter
            values[parameter] = cast.row(kind).public_id
    return reverse(name, kwargs=values)


def visit(user: User | None, method: str, address: str) -> Any:
    client = Client()
    if user is not None:
        client.force_login(user)
    response: Any = getattr(client, method)(address)
    if response.streaming:
        b"".join(response.streaming_content)  # a file that is sent stays open until it was read
    return response


@pytest.fixture
def cast() -> Cast:
    return Cast()


def test_it_knows_of_every_address_whether_it_is_scoped_or_open() -> None:
    loose = [name for name in SCOPED if not getattr(view_of(name), "roles", None)]

    assert loose == []


def test_it_knows_the_addresses_of_the_door() -> None:
    assert DOOR == ["provider:door", "provider:door_children", "provider:door_sign"]


@pytest.mark.parametrize("name", DOOR)
def test_it_opens_the_door_page_to_no_login(name: str, cast: Cast) -> None:
    address = address_of(name, cast)

    statuses = {visit(user, method, address).status_code for user in (None, *cast.users.values()) for method in METHODS}

    assert statuses == {403}


@pytest.mark.parametrize("name", DOOR)
def test_it_opens_the_door_page_to_no_tablet_of_another_business(name: str, cast: Cast) -> None:
    device = register_device(provider=make.make_provider(), actor=None, today=DAY, name="Hall")
    open_device(device=device, token="secret")
    client = Client()
    client.cookies[DEVICE_COOKIE] = "secret"

    statuses = [getattr(client, method)(address_of(name, cast)).status_code for method in METHODS]

    assert statuses == [403, 403]


def test_it_opens_nothing_but_the_door_page_to_a_tablet(cast: Cast) -> None:
    device = register_device(provider=cast.provider, actor=None, today=DAY, name="Hall")
    open_device(device=device, token="secret")
    client = Client()
    client.cookies[DEVICE_COOKIE] = "secret"
    plain = [name for name in SCOPED if set(ROUTES[name].pattern.converters) <= {"slug", *PLAIN}]

    statuses = {client.get(address_of(name, cast)).status_code for name in plain}

    assert statuses == {302}


def test_it_puts_the_business_into_every_scoped_address() -> None:
    without = [name for name in SCOPED if "slug" not in ROUTES[name].pattern.converters]

    assert without == []


@pytest.mark.parametrize("name", SCOPED)
def test_it_sends_whoever_is_signed_out_to_the_sign_in(name: str, cast: Cast) -> None:
    address = address_of(name, cast)

    responses = [visit(None, method, address) for method in METHODS]

    assert [response.status_code for response in responses] == [302, 302]
    assert all(response.headers["Location"].startswith(reverse("provider:sign_in")) for response in responses)


@pytest.mark.parametrize("name", SCOPED)
def test_it_hides_a_business_from_the_owner_of_another(name: str, cast: Cast) -> None:
    stranger, address = make.make_member(make.make_provider(), Role.OWNER), address_of(name, cast)

    statuses = [visit(stranger, method, address).status_code for method in METHODS]

    assert statuses == [404, 404]


@pytest.mark.parametrize("name", ABOUT_A_ROW)
def test_it_hides_the_rows_of_another_business_under_ones_own_slug(name: str, cast: Cast) -> None:
    other = Cast()
    foreign = address_of(name, other).replace(f"/{other.provider.slug}/", f"/{cast.provider.slug}/", 1)
    view = view_of(name)

    statuses = {("get", role): visit(cast.users[role], "get", foreign).status_code for role in view.roles}
    statuses |= {("post", role): visit(cast.users[role], "post", foreign).status_code for role in view.write_roles}

    assert set(statuses.values()) <= {404, 405}


@pytest.mark.parametrize("name", SCOPED)
def test_it_refuses_roles_that_may_not_read(name: str, cast: Cast) -> None:
    address = address_of(name, cast)
    lesser = [role for role in ROLES if role not in view_of(name).roles]

    statuses = {role: visit(cast.users[role], "get", address).status_code for role in lesser}

    assert set(statuses.values()) <= {403}


@pytest.mark.parametrize("name", SCOPED)
def test_it_refuses_roles_that_may_not_write(name: str, cast: Cast) -> None:
    address = address_of(name, cast)
    lesser = [role for role in ROLES if role not in view_of(name).write_roles]

    statuses = {role: visit(cast.users[role], "post", address).status_code for role in lesser}

    assert set(statuses.values()) <= {403}


@pytest.mark.parametrize("name", SCOPED)
def test_it_answers_everybody_who_may_come_in(name: str, cast: Cast) -> None:
    address = address_of(name, cast)
    view = view_of(name)

    statuses = {("get", role): visit(cast.users[role], "get", address).status_code for role in view.roles}
    statuses |= {("post", role): visit(cast.users[role], "post", address).status_code for role in view.write_roles}

    assert {key: status for key, status in statuses.items() if status not in (200, 204, 302, 405, 422)} == {}
