"""The owner's own papers, the people who work here, and pay as it was entered."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError, PeriodLocked, StaleRow
from provider.models import Engagement, HelperPay, Membership, OwnPaper, Person, Provider, Role
from provider.notices import papers_due
from provider.selectors.papers import own_papers, own_papers_due, person_record
from provider.services import papers, staff
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
GIVEN: dict[str, Any] = {
    "paid_on": date(2026, 3, 13),
    "period_start": date(2026, 3, 1),
    "period_end": date(2026, 3, 15),
    "gross": Decimal("412.50"),
}


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _who(provider: Provider) -> dict[str, Any]:
    return {"provider": provider, "actor": None, "today": TODAY}


def _address(name: str, *rows: Any, provider: Provider) -> str:
    return reverse(f"provider:{name}", args=[provider.slug, *(row.public_id for row in rows)])


def test_it_lists_the_business_first_then_who_works_here(
    provider: Provider, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    helper = make.make_person(provider, name="Helper")
    make.make_person(provider, name="Gone", end=TODAY)
    licence = make.make_own_paper(provider)
    for _n in range(3):
        make.make_own_paper(provider, helper, kind="first_aid")

    with django_assert_num_queries(2):
        people = own_papers(provider, TODAY)

    assert [(each.person, len(each.cards)) for each in people] == [(None, 1), (helper, 3)]
    assert people[0].cards[0].paper == licence


def test_the_same_title_again_renews_a_paper_but_every_course_counts(provider: Provider) -> None:
    person = make.make_person(provider)
    for issued in (date(2024, 3, 1), date(2026, 3, 1)):
        make.make_own_paper(provider, person, kind="first_aid", title="First aid", issued_on=issued)
        make.make_own_paper(provider, person, kind="training", title="Play", issued_on=issued, hours=Decimal("3.00"))

    cards = person_record(person, TODAY).cards

    assert sorted((card.paper.kind, len(card.earlier)) for card in cards) == [
        ("first_aid", 1),
        ("training", 0),
        ("training", 0),
    ]


def test_today_names_the_first_own_paper_that_lapses(provider: Provider) -> None:
    make.make_own_paper(provider, title="Insurance", expires_on=TODAY + timedelta(days=30))
    make.make_own_paper(provider, title="Licence", expires_on=TODAY)
    make.make_own_paper(provider, title="Far away", expires_on=TODAY + timedelta(days=31))

    told = [notice.text for notice in papers_due(provider, Role.OWNER, TODAY)]

    assert told == ["2 papers of your own lapse within 30 days or have lapsed, first: Licence."]


def test_it_reminds_of_nothing_of_who_left_or_was_voided(provider: Provider) -> None:
    make.make_own_paper(provider, make.make_person(provider, end=TODAY), expires_on=TODAY)
    paper = make.make_own_paper(provider, expires_on=TODAY)
    papers.void_paper(**_who(provider), paper=paper, reason="Entered twice")

    assert own_papers_due(provider, TODAY) == []


def test_it_adds_up_each_year_as_entered(provider: Provider, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    person = make.make_person(provider)
    for paid_on, gross in ((date(2025, 12, 31), "400.10"), (date(2026, 1, 1), "300.20"), (date(2026, 2, 1), "300.20")):
        make.make_pay(person, paid_on, gross=Decimal(gross), withheld=Decimal("50.05"), employer_part=Decimal("20.00"))
    make.make_pay(person, date(2026, 2, 2), gross=Decimal("999.00"), voided_at="2026-02-03T00:00Z")
    make.make_own_paper(provider, person, kind="training", issued_on=date(2024, 5, 1), hours=Decimal("2.50"))
    make.make_own_paper(provider, person, kind="training", issued_on=date(2026, 1, 9), hours=Decimal("1.25"))

    with django_assert_num_queries(4):
        record = person_record(person, TODAY)

    assert [(each.year, each.training, each.gross, each.withheld, each.paid_out) for each in record.years] == [
        (2026, Decimal("1.25"), Decimal("600.40"), Decimal("100.10"), Decimal("500.30")),
        (2025, None, Decimal("400.10"), Decimal("50.05"), Decimal("350.05")),
        (2024, Decimal("2.50"), None, None, None),
    ]
    assert record.years[0].employer_part == Decimal("40.00")


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"paid_on": TODAY + timedelta(days=1)}, "paid_on"),
        ({"period_end": date(2026, 3, 1)}, "period_last_day"),
        ({"gross": Decimal("0.00")}, "gross"),
        ({"withheld": Decimal("412.51")}, "withheld"),
    ],
)
def test_it_refuses_pay_that_cannot_be(provider: Provider, changes: dict[str, Any], field: str) -> None:
    with pytest.raises(DomainError) as refusal:
        staff.record_pay(**_who(provider), person=make.make_person(provider), **{**GIVEN, **changes})

    assert refusal.value.field == field


@pytest.mark.parametrize("name", ["withheld", "employer_part"])
def test_it_asks_whether_a_contractor_from_whom_is_withheld_is_an_employee(provider: Provider, name: str) -> None:
    person = make.make_person(provider, Engagement.CONTRACTOR)

    with pytest.raises(DomainError) as refusal:
        staff.record_pay(**_who(provider), person=person, **GIVEN, **{name: Decimal("1.00")})

    assert refusal.value.field == name


@pytest.mark.parametrize("engagement", [Engagement.OWNER, Engagement.VOLUNTEER])
def test_it_keeps_no_pay_of_owner_and_volunteer(provider: Provider, engagement: str) -> None:
    with pytest.raises(DomainError):
        staff.record_pay(**_who(provider), person=make.make_person(provider, engagement), **GIVEN)


def test_it_leaves_the_pay_of_a_closed_year_alone(provider: Provider) -> None:
    person = make.make_person(provider)
    pay = make.make_pay(person, date(2025, 3, 14))
    make.lock_year(provider, 2025)

    with pytest.raises(PeriodLocked):
        staff.record_pay(**_who(provider), person=person, **{**GIVEN, "paid_on": date(2025, 12, 31)})
    with pytest.raises(PeriodLocked):
        staff.void_pay(**_who(provider), pay=pay, reason="Wrong")


def test_it_records_a_payday_once_for_a_double_click(provider: Provider) -> None:
    given = {**_who(provider), "person": make.make_person(provider), **GIVEN, "submission_key": "one"}

    assert staff.record_pay(**given) == staff.record_pay(**given)
    assert HelperPay.objects.count() == 1


def test_it_questions_a_stale_change_of_a_person(provider: Provider) -> None:
    person = make.make_person(provider)
    staff.change_person(**_who(provider), person=person, version=1, name="Saved first")

    with pytest.raises(StaleRow):
        staff.change_person(**_who(provider), person=person, version=1, name="Too late")


def test_nobody_works_here_through_the_login_of_a_family(provider: Provider) -> None:
    login = Membership.objects.get(user=make.make_member(provider, Role.FAMILY))

    with pytest.raises(DomainError) as refusal:
        staff.add_person(**_who(provider), name="A", engagement=Engagement.EMPLOYEE, start=TODAY, membership=login)

    assert refusal.value.field == "membership"


def test_it_suggests_the_owner_first(client: Client, provider: Provider) -> None:
    owner = make.make_member(provider)
    client.force_login(owner)

    form = client.get(_address("person_add", provider=provider)).context["form"]
    client.post(_address("person_add", provider=provider), {name: form[name].value() or "" for name in form.fields})

    person = Person.objects.get()
    assert (person.name, person.engagement, person.start) == (str(owner), Engagement.OWNER, provider.opened_on)
    assert person.membership is not None
    assert person.membership.user == owner


def test_the_owner_keeps_papers_and_pay_from_the_pages(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    person = make.make_person(provider, name="Tam Reed")

    client.post(
        _address("own_paper_add", provider=provider),
        {"kind": "training", "person": person.public_id, "title": "Play", "issued_on": "2026-01-09", "hours": "2.5"},
    )
    client.post(
        _address("pay_add", person, provider=provider),
        {
            "paid_on": "2026-01-16",
            "period_start": "2026-01-01",
            "period_last_day": "2026-01-15",
            "gross": "1,412.50",
            "withheld": "150",
        },
    )
    page = client.get(_address("person", person, provider=provider)).content.decode()

    assert OwnPaper.objects.get().hours == Decimal("2.50")
    assert all(words in page for words in ("$1,412.50", "$150.00", "$1,262.50", "2.50", "nothing is computed"))


def test_it_takes_a_payday_out_with_its_reason(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    pay = make.make_pay(make.make_person(provider))

    client.post(_address("pay_void", pay, provider=provider), {"reason": "Entered twice"})

    assert person_record(pay.person, TODAY).pay == ()
