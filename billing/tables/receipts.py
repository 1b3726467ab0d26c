"""The list of receipts: its columns and the boxes by which one is found again."""

import re
from decimal import Decimal
from typing import Any

import django_filters
import django_tables2 as tables
from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as now
from django.utils.translation import gettext_lazy as _

from billing.forms.receipts import category_choices
from billing.models import Receipt, ReceiptLine, Target
from curriculum.models import ThemeRun
from provider.forms.base import DayField, RowChoice
from provider.models import Provider
from provider.money import NotMoney, parse_money
from provider.templatetags.frame import day, money


class AmountRangeField(forms.CharField):
    """`41.10` or `40 to 50`, as (lowest, highest)."""

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if not text:
            return None
        try:
            ends = [parse_money(part) for part in re.split(r"\s+to\s+|\s*–\s*|(?<=\d)\s*-\s*", text)]
        except NotMoney as error:
            raise ValidationError(_("Enter an amount like 41.10, or a range like 40 to 50.")) from error
        return min(ends), max(ends)


class AmountRangeFilter(django_filters.Filter):
    """Finds returns as well, whose totals are negative."""

    field_class = AmountRangeField

    def filter(self, qs: QuerySet[Receipt], value: tuple[Decimal, Decimal] | None) -> QuerySet[Receipt]:
        if value is None:
            return qs
        low, high = value
        return qs.filter(Q(total__range=(low, high)) | Q(total__range=(-high, -low)))


class DayFilter(django_filters.Filter):
    field_class = DayField


class RowFilter(django_filters.Filter):
    field_class = RowChoice


class ReceiptFilter(django_filters.FilterSet):
    """By shop or words on it, amount, date, theme, kind of cost, missing paper."""

    words = django_filters.CharFilter(label=_("Shop or words"), method="by_words")
    amount = AmountRangeFilter(label=_("Amount, or 40 to 50"))
    since = DayFilter(label=_("From"), field_name="bill_date", lookup_expr="gte")
    until = DayFilter(label=_("Until"), field_name="bill_date", lookup_expr="lte")
    theme = RowFilter(label=_("Theme"), method="by_theme", queryset=ThemeRun.objects.none(), empty_label=_("Any"))
    category = django_filters.ChoiceFilter(
        label=_("Kind of cost"), method="by_category", choices=lambda: category_choices()[1:], empty_label=_("Any")
    )
    without_paper = django_filters.BooleanFilter(
        label=_("Without photo"), method="by_missing_paper", widget=forms.CheckboxInput
    )
    voided = django_filters.BooleanFilter(label=_("Voided too"), method="with_voided", widget=forms.CheckboxInput)

    class Meta:
        model = Receipt
        fields: list[str] = []

    def __init__(self, data: Any, queryset: QuerySet[Receipt], provider: Provider) -> None:
        super().__init__(data, queryset)
        runs = ThemeRun.objects.live().filter(provider=provider).select_related("theme").order_by("-start")
        self.form.fields["theme"].queryset = runs

    def filter_queryset(self, queryset: QuerySet[Receipt]) -> QuerySet[Receipt]:
        found = super().filter_queryset(queryset)
        return found if self.form.cleaned_data["voided"] else found.filter(voided_at__isnull=True)

    def by_words(self, receipts: QuerySet[Receipt], _name: str, words: str) -> QuerySet[Receipt]:
        for word in words.split():
            lines = ReceiptLine.objects.filter(description__icontains=word).values("receipt")
            receipts = receipts.filter(Q(shop__icontains=word) | Q(note__icontains=word) | Q(pk__in=lines))
        return receipts

    def by_theme(self, receipts: QuerySet[Receipt], _name: str, run: ThemeRun) -> QuerySet[Receipt]:
        return receipts.filter(pk__in=ReceiptLine.objects.filter(run=run).values("receipt"))

    def by_category(self, receipts: QuerySet[Receipt], _name: str, code: str) -> QuerySet[Receipt]:
        return receipts.filter(pk__in=ReceiptLine.objects.filter(category=code).values("receipt"))

    def by_missing_paper(self, receipts: QuerySet[Receipt], _name: str, wanted: bool) -> QuerySet[Receipt]:
        return receipts.filter(paper__isnull=True) if wanted else receipts

    def with_voided(self, receipts: QuerySet[Receipt], _name: str, _wanted: bool) -> QuerySet[Receipt]:
        return receipts


NUMBER = {"td": {"class": "num"}, "th": {"class": "num"}, "tf": {"class": "num"}}


class ReceiptTable(tables.Table):
    shop = tables.Column(verbose_name=_("Shop"), footer=_("All that match"))
    bill_date = tables.Column(verbose_name=_("Date"))
    themes = tables.Column(verbose_name=_("For"), empty_values=(), orderable=False)
    paper = tables.Column(verbose_name=_("Photo"), empty_values=(), orderable=False)
    total = tables.Column(verbose_name=_("Total"), attrs=NUMBER, footer=lambda table: money(table.sum_of_all))

    class Meta:
        empty_text = _("No receipt matches. Loosen what you search for.")
        row_attrs = {"class": lambda record: "void" if record.voided_at else ""}

    def __init__(self, *args: Any, provider: Provider, sum_of_all: Decimal, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.provider = provider
        self.sum_of_all = sum_of_all

    def render_shop(self, record: Receipt) -> str:
        url = reverse("billing:receipt", args=[self.provider.slug, record.public_id])
        mark = ""
        if record.voided_at:
            mark = format_html(' <span class="badge problem">{}</span>', now("voided"))
        elif record.returns_id:
            mark = format_html(' <span class="badge">{}</span>', now("return"))
        return format_html('<a href="{}">{}</a>{}', url, record.shop, mark)

    def render_bill_date(self, value: Any) -> str:
        return day(value)

    def render_themes(self, record: Receipt) -> str:
        names = dict.fromkeys(_what_for(line) for line in record.lines.all() if line.target != Target.NONE)
        return ", ".join(names) or "–"

    def render_paper(self, record: Receipt) -> str:
        return now("yes") if record.paper_id else "–"

    def render_total(self, value: Decimal) -> str:
        return money(value)


def _what_for(line: ReceiptLine) -> str:
    if line.run:
        return line.run.theme.name
    return line.lot.material.name if line.lot else str(line.asset or line.get_target_display())
