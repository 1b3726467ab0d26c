"""Model fields that keep a fixed-point number as a scaled integer, so that the database never sees a fraction."""

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models.expressions import Combinable
from django.utils.translation import gettext_lazy as _

from provider.money import NotMoney, parse_money


class ScaledField(models.BigIntegerField):
    """A Decimal with `places` decimals, stored as an integer of the smallest unit.

    Python sees `Decimal` with exactly `places` decimals; a value with more decimals is refused, never rounded here.
    Sum, Min and Max work in the database; no other arithmetic is allowed there (1.00 x 1.00 would be 10000).
    """

    description = _("Fixed-point number")

    # What django-stubs reads to know that instances hold a Decimal, not the column's integer.
    _pyi_private_set_type: Decimal | int | str | Combinable  # type: ignore[assignment]
    _pyi_private_get_type: Decimal  # type: ignore[assignment]

    def __init__(self, *args: Any, places: int = 2, **kwargs: Any) -> None:
        self.places = places
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        kwargs["places"] = self.places
        return name, path, args, kwargs

    @property
    def unit(self) -> Decimal:
        return Decimal(1).scaleb(-self.places)

    def from_db_value(self, value: int | None, expression: Any, connection: Any) -> Decimal | None:
        # Sum of a bigint is a Decimal on PostgreSQL.
        return None if value is None else Decimal(int(value)).scaleb(-self.places)

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or value == "":
            return None
        if isinstance(value, float):
            raise TypeError(f"{self.name}: a float is not a fixed-point number")
        try:
            number = Decimal(value)
            scaled = number.quantize(self.unit)
        except (InvalidOperation, TypeError, ValueError) as error:
            raise ValidationError(_("Enter a number."), code="invalid") from error
        if scaled != number:
            raise ValidationError(_("Use at most %(places)d decimals."), code="places", params={"places": self.places})
        return scaled

    def get_prep_value(self, value: Any) -> int | None:
        if hasattr(value, "resolve_expression"):
            return value
        number = self.to_python(value)
        return None if number is None else int(number.scaleb(self.places))

    def value_to_string(self, obj: models.Model) -> str:
        value = self.value_from_object(obj)
        return "" if value is None else str(value)

    @property
    def validators(self) -> list[Any]:
        # BigIntegerField would compare the Decimal with the integer range of the column, which is the same bound
        # scaled; parse and form limits are stricter.
        return list(self._validators)  # type: ignore[attr-defined]

    def formfield(self, **kwargs: Any) -> Any:
        return super(models.IntegerField, self).formfield(
            **{"form_class": forms.DecimalField, "decimal_places": self.places, **kwargs}
        )


WRONG_MONEY = {
    "empty": _("Enter an amount."),
    "nonsense": _("Enter an amount in figures, like 12.50."),
    "decimals": _("Enter an amount with at most two decimals."),
    "too_large": _("Enter an amount below ten million."),
}


class MoneyFormField(forms.Field):
    """Money typed as people type it: "1,234.5", "$12", "12,50". Cleans to a two-place Decimal or None."""

    def __init__(self, *, allow_negative: bool = False, min_value: Decimal | None = None, **kwargs: Any) -> None:
        self.allow_negative = allow_negative
        self.min_value = min_value
        kwargs.setdefault("widget", MoneyInput(negative=allow_negative))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> Decimal | None:
        if value in self.empty_values:
            return None
        try:
            amount = parse_money(str(value))
        except NotMoney as error:
            raise ValidationError(WRONG_MONEY[error.reason], code=error.reason) from error
        if amount < 0 and not self.allow_negative:
            raise ValidationError(_("The amount cannot be negative."), code="negative")
        if self.min_value is not None and amount < self.min_value:
            raise ValidationError(
                _("The amount must be at least %(least)s."), code="min", params={"least": self.min_value}
            )
        return amount


class MoneyInput(forms.TextInput):
    """A text box for money; the currency symbol is drawn outside the box by the form template."""

    money = True

    def __init__(self, attrs: dict[str, Any] | None = None, *, negative: bool = False) -> None:
        base = {"autocomplete": "off", "class": "money"}
        if not negative:
            # A numeric keypad on many phones has no minus key.
            base["inputmode"] = "decimal"
        super().__init__({**base, **(attrs or {})})


class MoneyField(ScaledField):
    """Money in the provider's currency: Decimal with two places in Python, integer cents in the database."""

    description = _("Amount of money")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["places"] = 2
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        del kwargs["places"]
        return name, path, args, kwargs

    def formfield(self, **kwargs: Any) -> Any:
        return models.Field.formfield(self, **{"form_class": MoneyFormField, **kwargs})


class ShareField(ScaledField):
    """A fraction of one with four places (0.1713 is 17.13 %)."""

    description = _("Share")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["places"] = 4
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        del kwargs["places"]
        return name, path, args, kwargs
