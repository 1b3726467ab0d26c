"""Sending in a roster, and saying yes to what was shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core import signing
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from provider.forms.base import DeskForm
from provider.models import PatternDay, Provider
from provider.roster import MAX_BYTES, MAX_ROWS, PlannedRow, Problem, Table, UnreadableRoster, read_table
from provider.templatetags.daybook import weeks

KEEP_FOR = 60 * 60  # seconds between looking and saying yes

UNREADABLE = {
    "too_large": _("The file is too large: at most %(megabytes)d MB."),
    "too_many_rows": _("The file has more than %(rows)d rows."),
    "not_a_table": _("This file cannot be read. Save it as CSV or XLSX and send that."),
    "no_rows": _("The file has no rows below its headings."),
    "missing_columns": _("These columns are missing: %(detail)s."),
    "twice": _("The column “%(detail)s” is there twice."),
}
PROBLEMS = {
    "missing": _("nothing is entered"),
    "too_long": _("more than %(value)s letters"),
    "bad_date": _("“%(value)s” is not a date like 2026-03-27"),
    "unclear_date": _("“%(value)s” can be read in two ways; write 2026-03-27"),
    "bad_time": _("“%(value)s” is not a time like 8:30"),
    "bad_weekdays": _("“%(value)s” is not like Mon-Fri or Mon, Wed"),
    "bad_email": _("“%(value)s” is not an e-mail address"),
    "future": _("the birth date lies in the future"),
    "too_old": _("the child would be grown up"),
    "before_birth": _("the first day lies before the birth"),
    "before_arrival": _("earlier than the arrival"),
    "needed_for_place": _("needed for a place"),
    "repeated": _("the child stands in row %(value)s already"),
    "other_birth_date": _("the child is there, born %(value)s"),
    "closed": _("the place would reach into a closed period"),
}
# Headings are fixed, so that a file fits whatever language the pages are in; these words explain them.
COLUMN_HELP = {
    "family": _("Name of the family; rows with the same name belong together"),
    "guardian": _("Parent or other adult"),
    "telephone": _("Of the guardian"),
    "e-mail": _("Of the guardian, for papers"),
    "address": _("Of the family"),
    "child": _("Full name"),
    "called": _("The name used in the playroom"),
    "birth date": _("Like 2023-05-14"),
    "first day": _("Empty: the child gets no place yet"),
    "weekdays": _("Like Mon-Fri or Mon, Wed"),
    "arrives": _("Like 8:00"),
    "leaves": _("Like 16:30"),
    "allergies": _("What to avoid"),
    "physician": _("Name and telephone"),
}


@dataclass(frozen=True, slots=True)
class Shown:
    """A row of the preview with its problems in words."""

    planned: PlannedRow
    problems: tuple[str, ...]

    @property
    def week(self) -> list[str]:
        row = self.planned.row
        if row.arrives is None or row.leaves is None:
            return []
        return weeks(PatternDay(weekday=day, arrives=row.arrives, leaves=row.leaves) for day in row.weekdays)


def in_words(planned: Sequence[PlannedRow]) -> list[Shown]:
    return [Shown(each, tuple(_words(problem) for problem in each.problems)) for each in planned]


def _words(problem: Problem) -> str:
    return f"{problem.column}: {str(PROBLEMS[problem.code]) % {'value': problem.value}}"


def unreadable(code: str, detail: str = "") -> str:
    names = {"detail": detail, "megabytes": MAX_BYTES // 1024 // 1024, "rows": MAX_ROWS}
    return str(UNREADABLE[code]) % names


class RosterFileForm(DeskForm):
    """`table` is what the file holds."""

    table: Table
    file = forms.FileField(
        label=_("Spreadsheet"),
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.xlsx"}),
        help_text=_("CSV or XLSX, at most 1,000 rows"),
    )

    def clean_file(self) -> Any:
        sent = self.cleaned_data["file"]
        if sent.size > MAX_BYTES:
            raise ValidationError(unreadable("too_large"))
        try:
            self.table = read_table(sent.read())
        except UnreadableRoster as error:
            raise ValidationError(unreadable(error.code, error.detail)) from error
        return sent


class RosterConfirmForm(DeskForm):
    """What was shown comes back signed, so that nothing of it is kept before the yes."""

    rows = forms.CharField(widget=forms.HiddenInput)
    shown = forms.CharField(widget=forms.HiddenInput)
    leave_out = forms.TypedMultipleChoiceField(required=False, coerce=int, widget=forms.CheckboxSelectMultiple)

    def __init__(self, *args: Any, provider: Provider, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.salt = f"roster {provider.pk}"
        self.fields["leave_out"].choices = [(str(n), str(n)) for n in range(2, MAX_ROWS + 2)]  # type: ignore[attr-defined]

    def sign(self, table: Table) -> str:
        return signing.dumps(table, salt=self.salt, compress=True)

    def clean_rows(self) -> Table:
        try:
            table: Table = signing.loads(self.cleaned_data["rows"], salt=self.salt, max_age=KEEP_FOR)
        except signing.BadSignature as error:
            raise ValidationError(_("Too much time has passed. Send the file in again.")) from error
        return table
