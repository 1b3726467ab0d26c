"""What every form shares: a submission key, the row's version, and a place for the errors of services."""

from collections.abc import Sequence
from datetime import date
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import QueryDict
from django.utils.translation import gettext_lazy as _

from provider.days import read_typed_day
from provider.errors import DomainError, StaleRow


def new_submission_key() -> str:
    """A key for one showing of a form: 32 hexadecimal digits."""
    return uuid4().hex


class DeskForm(forms.Form):
    """A plain form whose post is carried out once. Fields mirror a service's keyword arguments."""

    submission_key = forms.CharField(
        max_length=64, required=False, widget=forms.HiddenInput, initial=new_submission_key
    )
    version = forms.IntegerField(required=False, widget=forms.HiddenInput)

    error_css_class = "has-error"
    use_required_attribute = False
    stored: Sequence[tuple[Any, Any]] = ()

    @classmethod
    def of(cls, row: Any) -> dict[str, Any]:
        """Initial values from a row: its fields of the same names, and its version."""
        return {name: getattr(row, name) for name in cls.base_fields if hasattr(row, name)}

    def add_domain_error(self, error: DomainError) -> None:
        """Show a service's refusal beside its field, or above the form when it names none of ours."""
        # People say the last day where services take the first day after it.
        field = "last_day" if error.field == "end" and "end" not in self.fields else error.field
        self.add_error(field if field in self.fields else None, error.message)

    def question(self, error: StaleRow) -> None:
        """Say that somebody else was faster. What was typed stays; saving once more is the answer to the question.

        `stored` then holds what the other one saved, as (label, value), where it differs from what was typed.
        """
        self.add_domain_error(error)
        typed = QueryDict(mutable=True)
        typed.update(self.data)
        typed[self.add_prefix("version")] = str(error.row.version)
        self.data = typed
        self.stored = [
            (field.label, getattr(error.row, field.name))
            for field in self.visible_fields()
            if hasattr(error.row, field.name) and getattr(error.row, field.name) != self.cleaned_data.get(field.name)
        ]

    def values(self, *leave_out: str) -> dict[str, Any]:
        """Cleaned data as keyword arguments, without the version and the named fields."""
        return {name: value for name, value in self.cleaned_data.items() if name not in {"version", *leave_out}}

    def has_general_errors(self) -> bool:
        return NON_FIELD_ERRORS in self.errors


class DayInput(forms.DateInput):
    """A date that can be typed or picked; always exchanged as YYYY-MM-DD."""

    input_type = "date"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%Y-%m-%d")


class DayField(forms.DateField):
    """A calendar day, typed by the habit of the place; a day and month that could be either are questioned.

    The year is one that somebody alive may mean, so that no sum of days leaves the calendar.
    """

    widget = DayInput
    years = range(1900, 2200)

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("error_messages", {"invalid": _("Enter a date like 2026-03-27.")})
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> date | None:
        if isinstance(value, str):
            try:
                value = read_typed_day(value.strip()) if value.strip() else None
            except ValueError as error:
                if str(error) == "unclear_date":
                    text = _("This date can be read in two ways. Write it like 2026-03-27.")
                    raise forms.ValidationError(text, code="unclear") from error
                raise forms.ValidationError(self.error_messages["invalid"], code="invalid") from error
        day = super().to_python(value)
        if day is not None and day.year not in self.years:
            raise forms.ValidationError(_("Check the year of this date."), code="year")
        return day


class TimeInput(forms.TimeInput):
    input_type = "time"

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__(attrs, format="%H:%M")


class RowChoice(forms.ModelChoiceField):
    """A choice among the provider's own rows, by public id. The queryset must be scoped by the form."""

    def __init__(self, queryset: Any = None, **kwargs: Any) -> None:
        kwargs.setdefault("to_field_name", "public_id")
        kwargs.setdefault("empty_label", _("Choose …"))
        super().__init__(queryset, **kwargs)
