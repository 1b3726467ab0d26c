"""The frame: tags, form markup, the table template and the measured contrast of the stylesheet."""

import re
from datetime import date, timedelta
from decimal import Decimal
from math import cos, radians, sin
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import django_tables2 as tables
import pytest
from django import forms
from django.template import engines
from django.template.loader import render_to_string
from django.test import RequestFactory
from django.utils.translation import override

from provider.context import Strip, StripDay
from provider.fields import MoneyFormField
from provider.periods import DateSpan
from provider.steps import Step
from provider.templatetags import frame
from provider.templatetags.frame import Bar

CSS = (Path(frame.__file__).parent.parent / "static/provider/site.css").read_text()
WEDNESDAY = date(2026, 10, 14)


def render(source: str, **context: Any) -> str:
    html = engines["django"].from_string("{% load frame %}" + source).render(context)
    return re.sub(r"\s+", " ", html)


def october(**changes: Any) -> Strip:
    first = date(2026, 10, 1)
    days = [first + timedelta(days=n) for n in range(31)]
    cells = [StripDay(d, d.day, d == WEDNESDAY, d.weekday() > 4, d.day == 19) for d in days]
    values = {"theme_name": "Under the apple tree", "theme_hue": 100, "theme_url": "/theme/", **changes}
    return Strip(month_label="October 2026", days=cells, **values)


class Line(forms.Form):
    what = forms.CharField(label="What", help_text="As printed")
    amount = MoneyFormField(label="Amount", required=False)
    how = forms.ChoiceField(label="How", choices=[("cash", "Cash"), ("card", "Card")], widget=forms.RadioSelect)
    kept = forms.BooleanField(label="Kept", required=False)


Lines = forms.formset_factory(Line, extra=0)


# --- Figures and dates


def test_it_writes_money_with_the_symbol_before_the_figures() -> None:
    assert frame.money(Decimal("-1234.5")) == "-$1,234.50"


def test_it_shows_a_calculators_steps_in_their_units() -> None:
    steps = [
        Step("Hours used of hours available", "3,000 ÷ 8,760", Decimal("0.3425"), "share"),
        Step("Children present", "", Decimal("3000.00"), "hours"),
        Step("Reuse charge", "48.00 ÷ 4", Decimal("12.00")),
    ]
    assert [step.result for step in frame.shown(steps)] == ["34.25%", "3,000\N{NO-BREAK SPACE}h", "$12.00"]


def test_it_writes_nothing_for_money_that_is_not_known() -> None:
    assert frame.money(None) == ""


@pytest.mark.parametrize(("share", "shown"), [("0.1713", "17.13%"), ("0.00005", "0.01%"), ("1", "100.00%")])
def test_it_writes_a_share_as_a_percentage(share: str, shown: str) -> None:
    assert frame.percent(Decimal(share)) == shown


@pytest.mark.parametrize(("count", "shown"), [("2480.25", "2,480.25 h"), ("8.00", "8 h"), ("0.5", "0.50 h")])
def test_it_writes_hours_without_needless_zeros(count: str, shown: str) -> None:
    with override("en"):
        assert frame.hours(Decimal(count)).replace("\xa0", " ") == shown


def test_it_writes_a_date_as_the_language_does() -> None:
    with override("fr"):
        assert frame.day(WEDNESDAY) == "14 octobre 2026"


@pytest.mark.parametrize(("country", "shown"), [("US", "10/14/2026"), ("CA", "2026-10-14")])
def test_it_writes_a_date_in_figures_as_the_country_does(country: str, shown: str) -> None:
    assert frame.figures_day(WEDNESDAY, country) == shown


def test_it_shows_the_last_day_of_a_half_open_span() -> None:
    with override("en"):
        assert frame.span(DateSpan.month(2026, 10)) == "Oct. 1, 2026 – Oct. 31, 2026"


def test_it_says_that_a_span_is_open() -> None:
    with override("en"):
        assert frame.span(DateSpan(WEDNESDAY)) == "from Oct. 14, 2026"


@pytest.mark.parametrize(("hue", "name"), [(0, "hue-0"), (29, "hue-1"), (180, "hue-6"), (350, "hue-0"), (None, "")])
def test_it_turns_a_hue_into_the_nearest_of_twelve_classes(hue: int | None, name: str) -> None:
    assert frame.hue_class(hue) == name


# --- Month strip and pages


def test_it_marks_today_weekends_and_closures_in_the_strip() -> None:
    html = render("{% strip s t %}", s=october(), t=WEDNESDAY)
    assert 'class="day week today"' in html
    assert 'class="day weekend"' in html
    assert 'class="day week-start closed"' in html


def test_it_tells_the_strip_in_words_to_those_who_cannot_see_it() -> None:
    html = render("{% strip s t %}", s=october(), t=WEDNESDAY)
    assert "Today is Wednesday, October 14." in html
    assert "Closed on: 19." in html


def test_it_leaves_the_theme_out_of_the_strip_when_there_is_none() -> None:
    assert "strip-theme" not in render("{% strip s t %}", s=october(theme_name=""), t=WEDNESDAY)


def test_it_tints_the_page_with_the_hue_of_the_theme_and_shows_the_doors() -> None:
    door = SimpleNamespace(label="Money", url="/nest/money/", is_current=True, key="money")
    desk = SimpleNamespace(
        provider=SimpleNamespace(name="Juniper Corner"), today=WEDNESDAY, user_label="R", strip=october(), doors=[door]
    )
    html = render_to_string("provider/base.html", {"desk": desk})
    assert 'class="hue-3"' in html
    assert '<a href="/nest/money/" aria-current="page">Money</a>' in html


def test_it_shows_neither_strip_nor_doors_to_somebody_signed_out() -> None:
    html = render_to_string("provider/base.html", {"desk": None})
    assert 'class="strip' not in html
    assert 'class="doors' not in html


@pytest.mark.parametrize("name", ["400.html", "403.html", "403_csrf.html", "404.html", "500.html"])
def test_it_renders_an_error_page_without_any_context(name: str) -> None:
    html = render_to_string(name)
    assert "<h1>" in html
    assert " style=" not in html


# --- Forms


def test_it_puts_label_hint_error_and_box_in_that_order() -> None:
    html = str(Line({"how": "cash"})["what"].as_field_group())
    places = [html.index(part) for part in ('for="id_what"', "id_what_helptext", "id_what_error", "<input")]
    assert places == sorted(places)
    assert 'aria-describedby="id_what_helptext id_what_error"' in html


def test_it_draws_the_currency_symbol_outside_the_box() -> None:
    html = str(Line()["amount"].as_field_group())
    assert '<span class="affix" aria-hidden="true">$</span>' in html
    assert 'inputmode="decimal"' in html


def test_it_links_each_error_of_a_form_and_its_rows_to_its_box() -> None:
    data = {"l-TOTAL_FORMS": "2", "l-INITIAL_FORMS": "0", "l-0-what": "Glue", "l-0-how": "cash", "l-1-how": "card"}
    html = render("{% error_summary form lines %}", form=Line({"what": "Felt"}), lines=Lines(data, prefix="l"))
    assert re.findall(r'href="#(\w[\w-]*)"', html) == ["id_how_0", "id_l-1-what"]
    assert "Line 2, What: This field is required." in html
    assert 'role="alert" tabindex="-1"' in html


def test_it_shows_no_summary_when_nothing_is_wrong() -> None:
    assert "summary" not in render("{% error_summary form %}", form=Line({"what": "Felt", "how": "cash"}))


def test_it_lists_an_error_of_the_whole_form_without_a_link() -> None:
    form = Line({"what": "Felt", "how": "cash"})
    form.add_error(None, "The lines are $1.00 short.")
    html = render("{% error_summary form %}", form=form)
    assert "<li> The lines are $1.00 short. </li>" in html


# --- Tables and charts


class Figures(tables.Table):
    caption = "Receipts"
    shop = tables.Column(footer="Total")
    amount = tables.Column(attrs={"cell": {"class": "num"}}, footer="$5.00")

    class Meta:
        template_name = "django_tables2/playroom.html"
        empty_text = "No receipts yet"


def table_html(rows: list[dict[str, str]], **options: Any) -> str:
    html: str = Figures(rows, **options).as_html(RequestFactory().get("/money/?shop=barn"))
    return re.sub(r"\s+", " ", html)


def test_it_names_each_cell_of_a_table_for_the_phone() -> None:
    html = table_html([{"shop": "Barn", "amount": "$5.00"}])
    assert "<caption>Receipts</caption>" in html
    assert 'data-label="Amount" class="num">$5.00</td>' in html
    assert 'scope="row"' in html


def test_it_sorts_by_a_header_link_that_keeps_the_filter() -> None:
    html = table_html([{"shop": "Barn", "amount": "$5.00"}], order_by="-shop")
    assert 'aria-sort="descending"' in html
    assert 'href="?shop=barn&amp;sort=amount"' in html


def test_it_shows_the_empty_text_in_place_of_an_empty_table() -> None:
    html = table_html([])
    assert "No receipts yet" in html
    assert "<table" not in html


def test_it_draws_bars_in_proportion_from_the_zero_line() -> None:
    bars = [Bar("Seeds", Decimal("150.00"), "$150.00", now=True), Bar("Credit", Decimal("-50.00"), "-$50.00")]
    html = render("{% bar_chart bars title='Cost' identity='c' %}", bars=bars)
    assert re.findall(r'x="([\d.]+%)" y="\d+" width="([\d.]+%)"', html) == [("25.00%", "75.00%"), ("0.00%", "25.00%")]


def test_it_describes_a_chart_in_words_and_uses_no_inline_style() -> None:
    html = render("{% bar_chart bars title='Cost' identity='c' %}", bars=[Bar("<Seeds>", Decimal(0), "$0.00")])
    assert '<title id="c-title">Cost</title>' in html
    assert '<desc id="c-desc">&lt;Seeds&gt;: $0.00</desc>' in html
    assert "style=" not in html


# --- Contrast, measured by the WCAG 2.2 formula; oklch to linear sRGB by the matrices of CSS Color 4

Colour = tuple[float, float, float]


def tokens(dark: bool) -> dict[str, str]:
    light, _, rest = CSS.partition("@media screen and (prefers-color-scheme: dark)")
    found = dict(re.findall(r"--([\w-]+): ([^;]+);", light))
    if dark:
        found |= dict(re.findall(r"--([\w-]+): ([^;]+);", rest.partition(".hue-0 {")[0]))
    return found


def luminance(value: str, hue: int, names: dict[str, str]) -> float:
    if value.startswith("var("):
        return luminance(names[value[6:-1]], hue, names)
    red, green, blue = from_oklch(value, hue) if value.startswith("oklch") else from_hex(value)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def from_hex(value: str) -> Colour:
    channels = [int(value[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return red, green, blue


def from_oklch(value: str, hue: int) -> Colour:
    light, chroma = (float(part) for part in value[6:].split()[:2])
    a, b = chroma * cos(radians(hue)), chroma * sin(radians(hue))
    long = (light + 0.3963377774 * a + 0.2158037573 * b) ** 3
    mid = (light - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (light - 0.0894841775 * a - 1.291485548 * b) ** 3
    red = 4.0767416621 * long - 3.3077115913 * mid + 0.2309699292 * short
    green = -1.2684380046 * long + 2.6097574011 * mid - 0.3413193965 * short
    blue = -0.0041960863 * long - 0.7034186147 * mid + 1.707614701 * short
    red, green, blue = (min(max(channel, 0.0), 1.0) for channel in (red, green, blue))
    return red, green, blue


GROUNDS = ("sheet", "ground", "sunk")
WORDS = [
    *[(front, back) for front in ("ink", "ink-soft", "accent", "accent-strong") for back in GROUNDS],
    *[(front, "accent-wash") for front in ("ink", "ink-soft", "accent", "accent-strong")],
    *[(tone, back) for tone in ("problem", "caution", "done") for back in ("sheet", "ground", f"{tone}-wash")],
    *[("ink", f"{tone}-wash") for tone in ("problem", "caution", "done")],
    *[("accent", f"{tone}-wash") for tone in ("problem", "caution", "done")],
    ("on-accent", "accent"),
    ("on-accent", "accent-strong"),
    ("on-band", "band"),
    ("sheet", "problem"),
]
SHAPES = [*[(front, back) for front in ("edge", "accent-line") for back in ("sheet", "ground")], ("accent", "sheet")]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize(("pairs", "least"), [(WORDS, 4.5), (SHAPES, 3.0)], ids=["words", "shapes"])
def test_it_keeps_contrast_for_every_hue(dark: bool, pairs: list[tuple[str, str]], least: float) -> None:
    names = tokens(dark)
    weak = []
    for hue in [*range(0, 360, 30), int(names["hue"])]:
        for front, back in pairs:
            low, high = sorted(luminance(names[name], hue, names) for name in (front, back))
            ratio = (high + 0.05) / (low + 0.05)
            if ratio < least:
                weak.append(f"{front} on {back} at {hue}: {ratio:.2f}")
    assert weak == []


def test_it_has_a_class_for_every_step_of_the_hue() -> None:
    steps = {int(number): int(hue) for number, hue in re.findall(r"\.hue-(\d+) \{ --hue: (\d+); \}", CSS)}
    assert steps == {number: number * 30 for number in range(12)}
