"""What every row has in common."""

import secrets
from datetime import date

from django.db import models
from django.utils.translation import gettext_lazy as _

from provider.periods import DateSpan

# No vowels and no look-alikes: an id that can be read out over the phone and never spells a word.
_ALPHABET = "23456789bcdfghjkmnpqrstvwxz"


def new_public_id() -> str:
    """Return 16 characters (about 76 bits) that cannot be guessed, for use in addresses."""
    return "".join(secrets.choice(_ALPHABET) for _i in range(16))


class Row(models.Model):
    """A row with an unguessable public id and a version that grows with every save through a service."""

    public_id = models.CharField(max_length=16, unique=True, default=new_public_id, editable=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        abstract = True


class ProviderRow(Row):
    """A row of one provider. `desk.save` checks that its foreign keys stay inside that provider."""

    provider = models.ForeignKey("provider.Provider", on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class Weekday(models.IntegerChoices):
    """Python's numbering: Monday is 0."""

    MONDAY = 0, _("Monday")
    TUESDAY = 1, _("Tuesday")
    WEDNESDAY = 2, _("Wednesday")
    THURSDAY = 3, _("Thursday")
    FRIDAY = 4, _("Friday")
    SATURDAY = 5, _("Saturday")
    SUNDAY = 6, _("Sunday")


def ends_after(day: date, *, of: str = "") -> models.Q:
    """Rows with a half-open span that end after `day`, or never. `of` leads to them, such as `enrolments__`."""
    return models.Q(**{f"{of}end__isnull": True}) | models.Q(**{f"{of}end__gt": day})


def holds_on(day: date, *, of: str = "") -> models.Q:
    """Rows whose span [start, end) holds `day`."""
    return models.Q(**{f"{of}start__lte": day}) & ends_after(day, of=of)


def meets(span: DateSpan, *, of: str = "") -> models.Q:
    """Rows whose span [start, end) shares a day with `span`; an open one reaches over all that follow."""
    starts_before = models.Q() if span.end is None else models.Q(**{f"{of}start__lt": span.end})
    return starts_before & ends_after(span.start, of=of)


def ends_after_start(start: str = "start", end: str = "end", *, name: str) -> models.CheckConstraint:
    """A half-open span [start, end) with an optional end must not be empty."""
    return models.CheckConstraint(
        condition=models.Q(**{f"{end}__isnull": True}) | models.Q(**{f"{end}__gt": models.F(start)}), name=name
    )
