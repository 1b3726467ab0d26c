"""The demo businesses, told up to the middle of their second month."""

from collections import defaultdict
from datetime import UTC, date, datetime
from decimal import Decimal
from io import StringIO

import holidays
import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db.models import ForeignKey
from django.test import Client
from django.urls import reverse

from billing.demo.books import Books
from billing.demo.load import LOADED, clear, latest_day, load, read, slugs
from billing.models import Invoice, Receipt, ReceiptLine, Series, ShareRule, Target
from billing.rulebook import category
from billing.selectors.balances import family_balances
from billing.selectors.food_claim import month_claim
from billing.selectors.invoices import standing_invoices
from curriculum.models import Acquisition, Making, Placement, PutAway, RunReview, ShoppingItem, ThemeRun
from curriculum.selectors.making import missing_pieces
from curriculum.selectors.mending import undecided
from provider.models import (
    Attendance,
    AuditEntry,
    Child,
    MenuItem,
    Person,
    Provider,
    ProviderRow,
    StoredFile,
    User,
    WorkEntry,
)
from provider.periods import DateSpan
from provider.selectors.papers import family_papers_due, own_papers_due, person_record
from provider.services.demo_login import DEMO_USERNAMES, NEIGHBOUR_USERNAMES
from provider.services.feeds import add_feed
from tests.factories import make_household, make_member, make_provider

pytestmark = pytest.mark.django_db

LAST = date(2025, 2, 15)
EARLIER = date(2025, 1, 20)


@pytest.fixture(scope="module", autouse=True)
def _loaded(django_db_setup, django_db_blocker):
    """Loaded once; each test then changes only its own transaction."""
    with django_db_blocker.unblock():
        load(LAST)
        yield
        clear()


@pytest.fixture
def demo():
    return Provider.objects.get(slug="demo")


def facts(until):
    """What the books of all examples say up to a day, without ids."""
    receipts = Receipt.objects.filter(bill_date__lte=until).order_by("provider__slug", "bill_date", "shop", "total")
    return [
        [
            (str(row), row.total, [(str(line), line.cost) for line in row.lines.order_by("position")])
            for row in receipts
        ],
        list(
            Invoice.objects.filter(issued_on__lte=until)
            .order_by("provider__slug", "year", "number")
            .values_list("provider__slug", "year", "number", "payer_name", "total")
        ),
        list(
            Attendance.objects.filter(day__lt=until)
            .order_by("child__name", "day")
            .values_list("child__name", "arrived_at", "left_at", "absence")
        ),
        list(
            Placement.objects.filter(run__start__lte=until, lot__on__lte=until)
            .order_by("provider__slug", "run__start", "lot__material__name")
            .values_list("lot__material__name", "quantity", "lot__basis")
        ),
    ]


def test_it_knows_six_children_of_five_families_and_the_providers_own(demo):
    clear()
    load(date(2025, 3, 17))
    demo = Provider.objects.get(slug="demo")
    paying = Child.objects.filter(provider=demo, is_own_child=False)
    assert paying.count() == 6
    assert paying.values("household").distinct().count() == 5
    assert Child.objects.filter(provider=demo, is_own_child=True).count() == 1


def test_the_same_day_gives_the_same_records_and_a_later_day_only_adds():
    later = facts(EARLIER)
    clear()
    load(EARLIER)
    assert facts(EARLIER) == later


def test_it_files_about_fifteen_receipts_a_month(demo):
    january = Receipt.objects.filter(provider=demo, bill_date__month=1)
    assert 13 <= january.count() <= 19


def test_the_lines_and_the_tenders_of_every_receipt_add_up_to_its_total():
    for receipt in Receipt.objects.all():
        assert sum(line.cost for line in receipt.lines.all()) == receipt.total
        assert sum(tender.amount for tender in receipt.tenders.all()) == receipt.total


def test_its_receipts_mix_every_share_and_target(demo):
    lines = ReceiptLine.objects.filter(provider=demo)
    assert set(lines.values_list("share_rule", flat=True)) == set(ShareRule.values)
    assert set(lines.values_list("target", flat=True)) == set(Target.values)


def test_something_was_given_back_and_something_was_discounted(demo):
    receipts = Receipt.objects.filter(provider=demo)
    assert receipts.filter(returns__isnull=False, total__lt=0).exists()
    assert receipts.filter(discount__gt=0, tax__gt=0).exists()


def test_a_pictured_receipt_keeps_its_paper(demo):
    receipt = Receipt.objects.filter(provider=demo, paper__isnull=False).get()
    assert receipt.paper.kind == "image/jpeg"


def test_its_invoices_are_numbered_without_gaps():
    numbers = defaultdict(list)
    for invoice in Invoice.objects.filter(series=Series.INVOICE).order_by("number"):
        numbers[invoice.provider_id, invoice.year].append(invoice.number)
    assert len(numbers) == 3
    for given in numbers.values():
        assert given == list(range(1, len(given) + 1))


def test_one_family_is_late_and_one_has_paid_in_part(demo):
    balances = {balance.name: balance for balance in family_balances(demo, LAST)}
    assert balances["Delamar"].overdue > 0
    in_part = [row for row in standing_invoices(demo) if 0 < row.allocated < row.total]
    assert {row.household.name for row in in_part} == {"Hartigan"}
    assert balances["Brannoch"].balance == 0


def test_every_open_day_has_its_attendance(demo):
    books = Books("demo", read("demo"), LAST)
    recorded = set(Attendance.objects.filter(provider=demo).values_list("day", flat=True))
    open_days = {
        date.fromordinal(day)
        for day in range(books.first_day.toordinal(), LAST.toordinal())
        if books.is_open(date.fromordinal(day))
    }
    assert recorded == open_days
    assert date(2025, 1, 1) not in recorded


def test_work_at_home_and_away_is_recorded(demo):
    assert set(WorkEntry.objects.filter(provider=demo).values_list("at_home", flat=True)) == {True, False}


def test_meals_and_a_menu_are_recorded_and_some_meals_are_claimed(demo):
    claim = month_claim(demo, DateSpan.month(2025, 1))
    assert claim.claim.amount > 0
    assert {each.line.not_claimed for each in claim.not_claimed} == {"own_child"}
    assert MenuItem.objects.filter(provider=demo, day=date(2025, 2, 14)).count() == 2


def test_each_month_has_a_theme_and_the_past_one_is_put_away(demo):
    runs = ThemeRun.objects.filter(provider=demo).order_by("start")
    assert [run.start for run in runs] == [date(2025, 1, 1), date(2025, 2, 1)]
    january = Placement.objects.filter(run=runs[0])
    assert january.count() > 5
    assert PutAway.objects.filter(placement__run=runs[0]).count() == january.count()
    assert not PutAway.objects.filter(placement__run=runs[1]).exists()


def test_the_past_theme_was_looked_back_on_and_the_current_ones_list_is_written(demo):
    assert RunReview.objects.filter(run__provider=demo).exclude(loved="").exists()
    assert ShoppingItem.objects.filter(run__provider=demo, bought_on=None, ordered_on__isnull=False).exists()
    assert undecided(demo) == []


def test_lots_came_in_every_way(demo):
    ways = set(Acquisition.objects.filter(provider=demo).values_list("how", flat=True))
    assert ways == {"bought", "second_hand", "given", "from_home", "made"}


def test_each_child_has_a_letter_and_a_game_is_made_for_everybody(demo):
    makings = {making.recipe.product.name: making for making in Making.objects.filter(provider=demo)}
    assert set(makings) == {"Letter sorting game", "Lacing shapes"}
    assert makings["Letter sorting game"].lot.basis > 0
    assert missing_pieces(demo, date(2025, 1, 9)) == {}


def test_no_row_points_at_another_business():
    for model in apps.get_models():
        if not issubclass(model, ProviderRow):
            continue
        for field in model._meta.concrete_fields:
            if isinstance(field, ForeignKey) and issubclass(field.related_model, ProviderRow):
                for row in model.objects.filter(**{f"{field.name}__isnull": False}).select_related(field.name):
                    assert getattr(row, field.name).provider_id == row.provider_id


@pytest.mark.parametrize(("login", "slug"), [("owner", "demo-north"), ("owner-north", "demo"), ("owner-east", "demo")])
def test_nobody_sees_across(client, login, slug):
    client.force_login(User.objects.get(username=login))
    assert client.get(f"/{slug}/today/").status_code == 404


def test_one_password_opens_all_its_logins(monkeypatch):
    monkeypatch.setenv("DEMO_PASSWORD", "for-a-script")
    call_command("load_demo", "--again", "--today", "2025-01-01", stdout=StringIO())
    for name in (*DEMO_USERNAMES, *NEIGHBOUR_USERNAMES):
        assert User.objects.get(username=name).check_password("for-a-script")


def test_it_is_not_loaded_twice():
    out = StringIO()
    before = AuditEntry.objects.count()
    call_command("load_demo", stdout=out)
    assert "there already" in out.getvalue()
    assert AuditEntry.objects.count() == before


def test_a_load_that_was_broken_off_says_how_to_go_on():
    AuditEntry.objects.filter(provider__slug="demo", verb=LOADED).delete()
    with pytest.raises(CommandError, match="--again"):
        call_command("load_demo")


def test_a_load_that_fails_leaves_nothing(monkeypatch):
    clear()

    def fail(books):
        raise RuntimeError("in the middle")

    monkeypatch.setattr(Books, "tell", fail)
    with pytest.raises(RuntimeError):
        load(EARLIER)
    assert not Provider.objects.filter(is_example=True).exists()
    assert not User.objects.exists()


def test_taking_it_away_leaves_real_businesses_alone():
    real = make_provider()
    owner, household = make_member(real), make_household(real)
    clear()
    assert list(Provider.objects.all()) == [real]
    assert list(User.objects.all()) == [owner]
    household.refresh_from_db()
    assert not StoredFile.objects.exists()


def test_it_takes_away_runs_that_began_from_one_another(demo):
    for month in (3, 4, 5):
        earlier = ThemeRun.objects.filter(provider=demo).order_by("-start")[0]
        start = date(2030, month, 1)
        ThemeRun.objects.create(
            provider=demo, theme=earlier.theme, start=start, end=date(2030, month + 1, 1), started_from=earlier
        )
    clear()
    assert not ThemeRun.objects.exists()


def test_it_refuses_a_login_that_somebody_has():
    clear()
    real = make_provider()
    User.objects.filter(pk=make_member(real).pk).update(username="owner")
    with pytest.raises(CommandError, match="taken"):
        call_command("load_demo", "--today", "2025-01-01")
    assert list(Provider.objects.all()) == [real]


def test_it_ends_on_a_day_that_has_begun_for_all():
    assert latest_day(datetime(2026, 1, 2, 5, 30, tzinfo=UTC)) == date(2026, 1, 1)


@pytest.mark.parametrize("wrong", ["2024-12-31", "yesterday"])
def test_it_refuses_a_day_before_its_beginning_and_what_is_no_day(wrong):
    with pytest.raises(CommandError):
        call_command("load_demo", "--today", wrong)


@pytest.mark.parametrize("slug", slugs())
def test_its_lists_name_only_what_there_is(slug):
    data = read(slug)
    themes = {theme["name"] for theme in data["themes"]}
    centres = {centre["name"] for centre in data["centres"]}
    assert set(data["order"]) == themes
    things = [row for theme in data["themes"] for row in (*theme.get("kept", ()), *theme.get("used", ()))]
    assert {row["centre"] for row in [*things, *data["stock"]]} <= centres
    names = [row["name"] for row in [*things, *data["stock"]]]
    assert len(names) == len(set(names))
    for shop in data["shops"]:
        for item in shop["items"]:
            category(item["category"])


@pytest.mark.parametrize("slug", slugs())
def test_the_calendar_knows_its_holidays(slug):
    data = read(slug)
    business = data["business"]
    known = holidays.country_holidays(business["country"], subdiv=business["region"], years=2025).values()
    assert set(data["closures"]["holidays"]) <= set(known)


def test_the_calendar_feed_of_an_example_names_no_child():
    for provider in Provider.objects.filter(is_example=True):
        names = {
            name
            for pair in Child.objects.filter(provider=provider).values_list("name", "preferred_name")
            for name in pair
            if name
        }
        made = add_feed(provider=provider, actor=None, today=LAST, name="A phone")

        told = Client().get(reverse("provider:feed", args=[made.token])).content.decode().casefold()

        assert "begin:vevent" in told
        assert [name for name in names if name.casefold() in told] == []


def test_a_paper_of_a_family_and_one_of_her_own_lapse_soon_and_pay_adds_up(demo):
    helper = Person.objects.get(provider=demo, engagement="employee")
    assert [str(card.paper.child) for card in family_papers_due(demo, LAST)] == ["Wick"]
    assert [card.paper.title for card in own_papers_due(demo, LAST)] == ["Liability insurance"]
    assert person_record(helper, LAST).years[0].gross == Decimal("360.00")
