"""Tables of the provider app."""

from datetime import datetime
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.formats import date_format, time_format
from django.utils.html import format_html
from django.utils.timezone import localtime
from django.utils.translation import gettext_lazy as _

from provider.hours import total_hours
from provider.models import AuditEntry, WorkEntry
from provider.templatetags.frame import hours

RIGHT = {"th": {"class": "num"}, "td": {"class": "num"}}


class HistoryTable(tables.Table):
    """The audit trail, latest first."""

    at = tables.Column(verbose_name=_("When"), orderable=False)
    actor_label = tables.Column(verbose_name=_("Who"), orderable=False)
    summary = tables.Column(verbose_name=_("What"), orderable=False)

    class Meta:
        template_name = "django_tables2/playroom.html"
        empty_text = _("Nothing was done on this day.")

    def render_at(self, value: datetime) -> str:
        local = localtime(value)
        return f"{date_format(local, 'SHORT_DATE_FORMAT')} {time_format(local)}"

    def render_summary(self, record: AuditEntry) -> str:
        changes = "; ".join(f"{name}: {old or '–'} → {new or '–'}" for name, (old, new) in record.changes.items())
        return _with_detail(record.summary, changes)


class WorkTable(tables.Table):
    """Work of a month."""

    started_at = tables.Column(verbose_name=_("Day"), orderable=False)
    kind = tables.Column(verbose_name=_("Kind"), orderable=False)
    times = tables.Column(verbose_name=_("Time"), orderable=False, empty_values=())
    at_home = tables.Column(verbose_name=_("Where"), orderable=False)
    duration = tables.Column(verbose_name=_("Hours"), orderable=False, empty_values=(), attrs=RIGHT)

    class Meta:
        template_name = "django_tables2/playroom.html"

    def __init__(self, *args: Any, slug: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.slug = slug

    def render_started_at(self, record: WorkEntry) -> str:
        url = reverse("provider:work_change", args=[self.slug, record.public_id])
        return format_html('<a href="{}">{}</a>', url, date_format(localtime(record.started_at), "MONTH_DAY_FORMAT"))

    def render_kind(self, record: WorkEntry) -> str:
        return _with_detail(record.get_kind_display(), ", ".join(filter(None, (record.person, record.note))))

    def render_times(self, record: WorkEntry) -> str:
        return f"{time_format(localtime(record.started_at))} – {time_format(localtime(record.ended_at))}"

    def render_at_home(self, value: bool) -> Any:
        return _("In the home") if value else _("Away")

    def render_duration(self, record: WorkEntry) -> str:
        return hours(total_hours([(record.started_at, record.ended_at)]))


def _with_detail(words: str, detail: str) -> str:
    return format_html("<span>{}<br><small>{}</small></span>", words, detail) if detail else words
