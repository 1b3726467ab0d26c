from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import Max, Sum

from provider.fields import MoneyField, MoneyFormField, ScaledField
from provider.models import Provider, Room
from tests.factories import make_provider, make_room

pytestmark = pytest.mark.django_db


def test_a_scaled_number_is_an_integer_in_the_database():
    room = make_room(make_provider(), area="12.25")

    with connection.cursor() as cursor:
        cursor.execute("SELECT area FROM provider_room WHERE id = %s", [room.pk])
        assert cursor.fetchone() == (1225,)


def test_a_scaled_number_comes_back_with_its_places():
    room = make_room(make_provider(), area="12.50")

    assert str(Room.objects.get(pk=room.pk).area) == "12.50"


def test_sum_and_max_keep_the_scale():
    provider = make_provider()
    make_room(provider, area="10.05")
    make_room(provider, area="20.10")

    totals = Room.objects.filter(provider=provider).aggregate(Sum("area"), Max("area"))

    assert totals == {"area__sum": Decimal("30.15"), "area__max": Decimal("20.10")}


def test_a_filter_compares_in_the_unit_of_python():
    provider = make_provider()
    make_room(provider, area="10.05")

    assert Room.objects.filter(area__gt=Decimal("10.04"), area__lt=Decimal("10.06")).exists()


@pytest.mark.parametrize("value", ["1.005", "abc", "NaN"])
def test_a_value_that_does_not_fit_the_places_is_refused_not_rounded(value):
    with pytest.raises(ValidationError):
        ScaledField(places=2).to_python(value)


def test_a_float_is_never_taken_for_money():
    with pytest.raises(TypeError):
        MoneyField().to_python(0.1)


@pytest.mark.parametrize(("typed", "amount"), [("1,234.5", "1234.50"), ("$12", "12.00"), ("12,50", "12.50")])
def test_money_is_read_as_people_type_it(typed, amount):
    assert MoneyFormField().clean(typed) == Decimal(amount)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "required"),
        ("twelve", "in figures"),
        ("1.234", "two decimals"),
        ("-3", "negative"),
        ("123456789", "ten million"),
    ],
)
def test_money_says_what_is_wrong(typed, words):
    with pytest.raises(ValidationError, match=words):
        MoneyFormField().clean(typed)


def test_an_empty_home_area_is_refused_by_the_database_too():
    provider = make_provider()

    with pytest.raises(Exception, match="provider_home_area_positive"):
        Provider.objects.filter(pk=provider.pk).update(home_area=Decimal(0))
