from datetime import date

import pytest
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from provider.days import read_day, typed_month_first
from provider.forms.base import DayField
from provider.models import Closure, Country
from tests import factories as make


@pytest.mark.parametrize(
    ("text", "month_first", "day"),
    [
        ("2026-03-04", True, date(2026, 3, 4)),
        ("2026/3/4", False, date(2026, 3, 4)),
        ("3/4/2026", True, date(2026, 3, 4)),
        ("3/14/2026", False, date(2026, 3, 14)),
        ("14/3/2026", False, date(2026, 3, 14)),
        ("3/3/2026", False, date(2026, 3, 3)),
        ("4 March 2026", True, date(2026, 3, 4)),
        ("Mar 4, 2026", False, date(2026, 3, 4)),
        ("2024-02-29", True, date(2024, 2, 29)),
    ],
)
def test_it_reads_dates_as_people_type_them(text: str, month_first: bool, day: date) -> None:
    assert read_day(text, month_first=month_first) == day


@pytest.mark.parametrize(
    ("text", "month_first", "code"),
    [("3/4/2026", False, "unclear_date"), ("14/3/2026", True, "bad_date"), ("14/14/2026", False, "bad_date")],
)
def test_it_never_guesses_a_date(text: str, month_first: bool, code: str) -> None:
    with pytest.raises(ValueError, match=code):
        read_day(text, month_first=month_first)


def test_a_form_reads_the_month_first_where_people_write_it_so() -> None:
    with typed_month_first(True):
        assert DayField().clean(" 3/4/2026 ") == date(2026, 3, 4)


def test_a_form_asks_when_day_and_month_could_be_either() -> None:
    with pytest.raises(ValidationError) as caught:
        DayField().clean("3/4/2026")
    assert caught.value.code == "unclear"


@pytest.mark.parametrize("text", ["soon", "2026-02-30", "31/31/2026", "0001-01-01"])
def test_a_form_takes_no_day_that_is_not_one(text: str) -> None:
    with pytest.raises(ValidationError):
        DayField().clean(text)


def test_a_form_takes_an_empty_day_that_is_not_required() -> None:
    assert DayField(required=False).clean("  ") is None


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("country", "region", "text", "day"),
    [
        (Country.US, "WI", "12/10/2026", date(2026, 12, 10)),
        (Country.CANADA, "ON", "26/11/2026", date(2026, 11, 26)),
        (Country.CANADA, "ON", "11/26/2026", date(2026, 11, 26)),
    ],
)
def test_a_page_reads_a_day_by_the_habit_of_the_place(country: str, region: str, text: str, day: date) -> None:
    provider = make.make_provider(country=country, region=region)
    owner = Client()
    owner.force_login(make.make_member(provider))
    closure = {"start": text, "kind": "holiday", "reason": "Roof", "paid": "yes"}
    owner.post(reverse("provider:closure_add", args=[provider.slug]), closure)
    assert Closure.objects.get().start == day
