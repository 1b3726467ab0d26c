"""A person says the last day, the books the first day without."""

from typing import Any

from django.utils.translation import gettext_lazy as _

from provider.forms.base import DayField, DeskForm
from provider.periods import ONE_DAY


class SpanForm(DeskForm):
    """Asks for the last day and gives the half-open `end`."""

    last_day = DayField(label=_("Last day"), required=False, help_text=_("Leave empty when it is not known yet"))

    @classmethod
    def of(cls, row: Any) -> dict[str, Any]:
        return {**super().of(row), "last_day": row.end and row.end - ONE_DAY}

    def values(self, *leave_out: str) -> dict[str, Any]:
        values = super().values("last_day", *leave_out)
        last_day = self.cleaned_data["last_day"]
        return {**values, "end": last_day and last_day + ONE_DAY}
