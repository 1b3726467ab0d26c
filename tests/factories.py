"""The least that a test needs, made with raw rows. Scenario names are invented."""

import hashlib
from datetime import UTC, date, datetime, time
from decimal import Decimal
from itertools import count
from typing import Any

from billing.models import Agreement, Asset, FoodProgramme, Payer, RatePeriod
from curriculum.models import (
    Acquisition,
    Activity,
    ActivityGoal,
    Bin,
    BrokenThing,
    CleaningAct,
    CleaningRoutine,
    How,
    LearningCentre,
    Making,
    MarkedPiece,
    Material,
    Mending,
    Observation,
    OwnGoal,
    PieceText,
    Placement,
    PlannedActivity,
    PlannedMaterial,
    PutAway,
    Recipe,
    ShoppingItem,
    Theme,
    ThemeRun,
    WishItem,
)
from provider.models import (
    AreaUnit,
    Attendance,
    CalendarFeed,
    CapacitySetting,
    CareMoment,
    CareNeed,
    CareNeedKind,
    Child,
    Collector,
    Country,
    DayNote,
    Dose,
    Drill,
    DrillKind,
    EmergencyContact,
    Engagement,
    Enrolment,
    FamilyNotice,
    FamilyPaper,
    FamilyPaperKind,
    Guardian,
    HelperPay,
    HomeCheck,
    Household,
    Incident,
    IncidentKind,
    MealKind,
    MealServed,
    Medication,
    Membership,
    MenuItem,
    MomentKind,
    OpeningHours,
    OwnPaper,
    OwnPaperKind,
    PatternDay,
    PeriodLock,
    Person,
    Provider,
    Role,
    Room,
    RoomUse,
    Use,
    User,
    WaitingChild,
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


def make_care_need(child: Child, **fields: Any) -> CareNeed:
    given = {"kind": CareNeedKind.ALLERGY, "what": "Sesame", "start": OPENED, **fields}
    return CareNeed.objects.create(provider=child.provider, child=child, **given)


def make_incident(child: Child, at: datetime = datetime(2025, 3, 10, 15, 0, tzinfo=UTC), **fields: Any) -> Incident:
    given = {"kind": IncidentKind.INJURY, "happened_at": at, "what": "A fall", "written_by": "Owner", **fields}
    return Incident.objects.create(provider=child.provider, child=child, **given)


def make_drill(provider: Provider, at: datetime = datetime(2025, 3, 10, 15, 0, tzinfo=UTC), **fields: Any) -> Drill:
    given = {"kind": DrillKind.FIRE, "held_at": at, "adults": 1, "children": 4, "led_by": "Owner", **fields}
    return Drill.objects.create(provider=provider, **given)


def make_home_check(provider: Provider, on: date = date(2025, 3, 10), **fields: Any) -> HomeCheck:
    given = {"done_by": "Owner", "items": [{"item": "Exits", "ok": True, "note": ""}], **fields}
    return HomeCheck.objects.create(provider=provider, done_on=on, **given)


def make_medication(child: Child, **fields: Any) -> Medication:
    """5 ml at most three times a day, four hours apart, from 10 to 14 March 2025."""
    given = {
        "name": "Fever drops",
        "dose": Decimal("5.00"),
        "unit": "ml",
        "most_per_day": 3,
        "hours_between": 4,
        "start": date(2025, 3, 10),
        "end": date(2025, 3, 15),
        "signed_by": "Parent",
        "signed_on": date(2025, 3, 10),
        **fields,
    }
    return Medication.objects.create(provider=child.provider, child=child, **given)


def make_dose(medication: Medication, at: datetime = datetime(2025, 3, 12, 14, 0, tzinfo=UTC), **fields: Any) -> Dose:
    given = {"given_at": at, "amount": medication.dose, "given_by": "Owner", **fields}
    return Dose.objects.create(provider=medication.provider, medication=medication, **given)


def make_moment(
    child: Child, at: datetime = datetime(2025, 3, 12, 15, 0, tzinfo=UTC), kind: str = MomentKind.DIAPER, **fields: Any
) -> CareMoment:
    return CareMoment.objects.create(provider=child.provider, child=child, at=at, kind=kind, **fields)


def make_day_note(child: Child, day: date = date(2025, 3, 12), **fields: Any) -> DayNote:
    return DayNote.objects.create(provider=child.provider, child=child, day=day, **{"text": "A good day", **fields})


def make_notice(provider: Provider, day: date = date(2025, 3, 12), **fields: Any) -> FamilyNotice:
    given = {"subject": "Closed today, ill", "text": "See you soon", **fields}
    queued_at = datetime(2025, 3, 12, 11, 0, tzinfo=UTC)
    return FamilyNotice.objects.create(provider=provider, day=day, queued_at=queued_at, **given)


def make_observation(child: Child, day: date = date(2025, 3, 12), **fields: Any) -> Observation:
    return Observation.objects.create(provider=child.provider, child=child, day=day, **{"text": "Stacked", **fields})


def make_feed(provider: Provider, token: str = "a-secret-address", **fields: Any) -> CalendarFeed:
    """A calendar feed behind `token`, made longer so that no two are the same."""
    secret = f"{token}-{next(_number)}"
    return CalendarFeed.objects.create(
        provider=provider,
        token_hash=hashlib.sha256(secret.encode()).hexdigest(),
        **{"name": "My phone", **fields},
    )


def make_capacity(provider: Provider, most: int, start: date = OPENED, **fields: Any) -> CapacitySetting:
    """The owner's own limit: at most `most` children at once, own ones like the others."""
    custom = {
        "most": most,
        "limits": fields.pop("limits", []),
        "own_under_months": fields.pop("own_under_months", None),
    }
    return CapacitySetting.objects.create(
        provider=provider, start=start, **{"rule": "custom", "custom": custom, **fields}
    )


def make_meal(child: Child, day: date, kind: str = MealKind.LUNCH, **fields: Any) -> MealServed:
    return MealServed.objects.create(provider=child.provider, child=child, day=day, kind=kind, **fields)


def make_menu_item(provider: Provider, day: date, kind: str = MealKind.LUNCH, **fields: Any) -> MenuItem:
    return MenuItem.objects.create(provider=provider, day=day, kind=kind, **{"text": "Lentil soup", **fields})


def make_food_programme(provider: Provider, **fields: Any) -> FoodProgramme:
    return FoodProgramme.objects.create(provider=provider, **{"tier": 1, "start": OPENED, **fields})


def make_contact(child: Child, **fields: Any) -> EmergencyContact:
    given = {"name": f"Contact {next(_number)}", "phone": "555-0100", "position": 1, **fields}
    return EmergencyContact.objects.create(provider=child.provider, child=child, **given)


def make_collector(child: Child, **fields: Any) -> Collector:
    given = {"name": f"Collector {next(_number)}", "start": OPENED, **fields}
    return Collector.objects.create(provider=child.provider, child=child, **given)


def make_family_paper(household: Household, child: Child | None = None, **fields: Any) -> FamilyPaper:
    given = {"kind": FamilyPaperKind.IMMUNISATION, "signed_on": OPENED, **fields}
    return FamilyPaper.objects.create(provider=household.provider, household=household, child=child, **given)


def make_waiting(provider: Provider, **fields: Any) -> WaitingChild:
    n = next(_number)
    given = {
        "child_name": f"Waiting {n}",
        "contact_name": f"Asker {n}",
        "asked_on": date(2025, 1, 10),
        "wanted_start": date(2025, 9, 1),
        "arrives": time(8),
        "leaves": time(17),
        **fields,
    }
    return WaitingChild.objects.create(provider=provider, **given)


def make_person(provider: Provider, engagement: str = Engagement.EMPLOYEE, **fields: Any) -> Person:
    given = {"name": f"Person {next(_number)}", "start": OPENED, **fields}
    return Person.objects.create(provider=provider, engagement=engagement, **given)


def make_own_paper(provider: Provider, person: Person | None = None, **fields: Any) -> OwnPaper:
    given = {"kind": OwnPaperKind.LICENCE, "title": f"Licence {next(_number)}", "issued_on": OPENED, **fields}
    return OwnPaper.objects.create(provider=provider, person=person, **given)


def make_pay(person: Person, paid_on: date = date(2025, 3, 14), **fields: Any) -> HelperPay:
    given = {"period_start": date(2025, 3, 1), "period_end": date(2025, 3, 15), "gross": Decimal("400.00"), **fields}
    return HelperPay.objects.create(provider=person.provider, person=person, paid_on=paid_on, **given)


def make_bin(provider: Provider, **fields: Any) -> Bin:
    return Bin.objects.create(provider=provider, **{"label": f"B{next(_number)}", **fields})


def make_routine(material: Material, **fields: Any) -> CleaningRoutine:
    given = {"act": CleaningAct.CLEAN, "every_days": 7, **fields}
    return CleaningRoutine.objects.create(provider=material.provider, material=material, **given)


def make_recipe(provider: Provider, **fields: Any) -> Recipe:
    """A recipe without components, for pieces that carry a child's letters."""
    product = Material.objects.create(provider=provider, name=f"Game {next(_number)}")
    return Recipe.objects.create(provider=provider, product=product, **{"pieces": PieceText.LETTERS, **fields})


def make_making(recipe: Recipe, on: date = date(2025, 2, 1), texts: tuple[str, ...] = ("A",)) -> Making:
    """Pieces that carry `texts`, made by a recipe."""
    lot = make_lot(recipe.provider, "0.00", material=recipe.product, how=How.MADE, on=on, quantity=Decimal(len(texts)))
    for text in texts:
        MarkedPiece.objects.create(provider=recipe.provider, lot=lot, text=text)
    return Making.objects.create(provider=recipe.provider, recipe=recipe, lot=lot, on=on, quantity=lot.quantity)


def make_need(run: ThemeRun, material: Material, quantity: str = "1", **fields: Any) -> PlannedMaterial:
    return PlannedMaterial.objects.create(
        provider=run.provider, run=run, material=material, quantity=Decimal(quantity), **fields
    )


def make_item(run: ThemeRun, **fields: Any) -> ShoppingItem:
    return ShoppingItem.objects.create(provider=run.provider, run=run, **{"text": "Glue", **fields})


def make_broken(run: ThemeRun, pieces: str = "2", *, lot: Acquisition | None = None, **fields: Any) -> BrokenThing:
    """Pieces of a lot that lay out in the run and came back broken, to be repaired."""
    quantity = Decimal(pieces)
    placed = Placement.objects.create(
        provider=run.provider, run=run, lot=lot or make_lot(run.provider, quantity=quantity), quantity=quantity
    )
    count = PutAway.objects.create(provider=run.provider, placement=placed, on=run.start, broken=quantity)
    given = {"quantity": quantity, "plan": Mending.REPAIR, **fields}
    return BrokenThing.objects.create(provider=run.provider, put_away=count, **given)


def make_activity(provider: Provider, *goals: str, main: str = "", **fields: Any) -> Activity:
    """An activity that practises the goals with these codes, and `main` most."""
    row = Activity.objects.create(provider=provider, **{"name": f"Activity {next(_number)}", **fields})
    for code in filter(None, [main, *goals]):
        ActivityGoal.objects.create(provider=provider, activity=row, goal=code, is_main=code == main)
    return row


def make_planned(run: ThemeRun, centre: LearningCentre, activity: Activity, **fields: Any) -> PlannedActivity:
    return PlannedActivity.objects.create(provider=run.provider, run=run, centre=centre, activity=activity, **fields)


def make_own_goal(provider: Provider, **fields: Any) -> OwnGoal:
    n = next(_number)
    given = {"code": f"own-{n}", "domain": "Garden", "title": f"Goal {n}", **fields}
    return OwnGoal.objects.create(provider=provider, **given)


def make_wish(run: ThemeRun, **fields: Any) -> WishItem:
    return WishItem.objects.create(provider=run.provider, run=run, **{"text": "Clean jar lids", **fields})
