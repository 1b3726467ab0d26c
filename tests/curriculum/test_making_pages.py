from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curriculum.models import ComponentUse, CostMethod, Keeping, Making, Material, PieceState, PlayroomChoices, Recipe
from curriculum.notices import pieces_missing
from provider.models import Role
from tests.curriculum.conftest import TODAY
from tests.factories import (
    make_child,
    make_enrolment,
    make_household,
    make_lot,
    make_making,
    make_member,
    make_provider,
    make_recipe,
    make_run,
)

pytestmark = pytest.mark.django_db
ROWS = {"components-TOTAL_FORMS": "3", "components-INITIAL_FORMS": "0"}
FACTS = {"pieces": "shared", "makes": "1", "expected_uses": "4", **ROWS}


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(f"curriculum:{name}", args=[provider.slug, *(row.public_id for row in rows)])


@pytest.fixture
def card(provider):
    material = Material.objects.create(provider=provider, name="Card", unit="sheet", keeping=Keeping.CONSUMABLE)
    make_lot(provider, "10.00", material=material, quantity=Decimal(10))
    return material


@pytest.fixture
def recipe(provider, card):
    """Letters for each child, two sheets a piece, 6.00 to buy."""
    row = make_recipe(provider, bought_price=Decimal("6.00"), minutes=30)
    row.lines.create(provider=provider, material=card, quantity=Decimal(2), child_specific=True)
    return row


@pytest.fixture
def child(provider):
    def enrol(letters, start=date(2024, 1, 1)):
        row = make_child(make_household(provider), name=f"{letters} Longname", label_letters=letters)
        make_enrolment(row, start=start)
        return row

    return enrol


@pytest.fixture
def helper(provider, client):
    client.force_login(make_member(provider, Role.HELPER))
    return client


def text(response):
    return " ".join(response.content.decode().split())


def component(number, material, quantity, **more):
    given = {"material": material, "quantity": quantity, **more}
    return {f"components-{number}-{name}": value for name, value in given.items()}


# --- Recipes


def test_a_recipe_is_added_with_its_components(signed_in, url, card):
    posted = {"name": "Letter game", "keeping": "durable", **FACTS, "pieces": "letters"}
    posted |= component(0, "card", "5", waste="10", child_specific="on")
    answer = signed_in.post(url("add_recipe"), posted)
    row = Recipe.objects.get()
    line = row.lines.get()
    assert answer.url == url("recipe", row)
    assert (line.material, line.quantity, line.waste, line.child_specific) == (card, 5, Decimal("0.1"), True)


@pytest.mark.parametrize(
    ("row", "field"),
    [
        (component(0, "Unheard of", "1"), "material"),
        (component(0, "Card", ""), "quantity"),
        (component(0, "Card", "-1"), "quantity"),
        (component(0, "Card", "1", waste="100"), "waste"),
        (component(0, "", "1"), "material"),
    ],
)
def test_a_component_that_cannot_be_is_refused_in_its_row(signed_in, url, card, row, field):
    answer = signed_in.post(url("add_recipe"), {"name": "Game", "keeping": "durable", **FACTS, **row})
    assert answer.status_code == 422
    assert field in answer.context["form"].components.forms[0].errors
    assert not Recipe.objects.exists()


def test_a_component_of_another_business_is_not_found_by_its_name(signed_in, url):
    foreign = make_lot(make_provider()).material
    row = component(0, foreign.name, "1")
    answer = signed_in.post(url("add_recipe"), {"name": "Game", "keeping": "durable", **FACTS, **row})
    assert "material" in answer.context["form"].components.forms[0].errors


def test_more_rows_are_added_without_a_script_and_nothing_is_lost(signed_in, url, card):
    posted = {"name": "Game", "keeping": "durable", **FACTS, **component(2, "Card", "7"), "act": "add"}
    answer = signed_in.post(url("add_recipe"), posted)
    rows = answer.context["form"].components.forms
    assert (rows[0]["material"].value(), rows[0]["quantity"].value(), len(rows)) == ("Card", "7", 7)
    assert 'value="Game"' in text(answer)
    assert not Recipe.objects.exists()


def test_a_changed_recipe_shows_its_components_and_becomes_the_next_edition(signed_in, url, recipe):
    shown = signed_in.get(url("change_recipe", recipe))
    assert shown.context["form"].components.forms[0]["quantity"].value() == "2"
    posted = {**FACTS, **component(0, "Card", "3"), "version": "1"}
    answer = signed_in.post(url("change_recipe", recipe), posted)
    newest = Recipe.objects.get(edition=2)
    assert (answer.url, newest.lines.get().quantity) == (url("recipe", newest), 3)


def test_a_stale_recipe_is_questioned_and_saved_on_the_second_try(signed_in, url, recipe):
    posted = {**FACTS, "version": "1"}
    signed_in.post(url("change_recipe", recipe), posted)
    answer = signed_in.post(url("change_recipe", recipe), posted)
    assert answer.status_code == 422
    posted["version"] = str(answer.context["form"]["version"].value())
    assert signed_in.post(url("change_recipe", recipe), posted).status_code == 302


def test_an_older_edition_leads_to_the_newest(signed_in, url, recipe):
    signed_in.post(url("change_recipe", recipe), {**FACTS, "version": "1"})
    page = text(signed_in.get(url("recipe", recipe)))
    assert url("recipe", Recipe.objects.get(edition=2)) in page
    assert url("make", recipe) not in page


def test_adding_twice_with_one_form_adds_one_recipe(signed_in, url, provider):
    posted = {"name": "Game", "keeping": "durable", **FACTS, "submission_key": "k"}
    assert signed_in.post(url("add_recipe"), posted).url == signed_in.post(url("add_recipe"), posted).url
    assert Recipe.objects.count() == 1


def test_a_recipe_shows_make_or_buy_with_the_hours_apart(signed_in, url, provider, recipe):
    provider.hourly_value = Decimal("20.00")
    provider.save()
    page = text(signed_in.get(url("recipe", recipe)))
    assert "$4.00 saved a piece" in page
    assert "0.50 h a piece, worth $10.00 at your own rate" in page


def test_a_helper_sees_recipes_without_any_money(helper, url, recipe):
    for page in (url("recipes"), url("recipe", recipe), url("remake")):
        assert "$" not in text(helper.get(page))


# --- Making


def test_the_page_says_what_the_pieces_of_the_roster_will_use(signed_in, url, recipe, child):
    for letters in ("Mo", "R"):
        child(letters)
    answer = signed_in.get(url("make", recipe))
    assert answer.context["form"]["texts"].value() == "Mo\nR"
    assert (answer.context["plan"].quantity, answer.context["plan"].cost) == (2, Decimal("4.00"))


def test_a_short_component_leads_to_the_shopping_list_filled_in(signed_in, url, provider, recipe, card):
    run = make_run(provider)

    page = text(signed_in.post(url("make", recipe), {"on": "2025-03-10", "quantity": "8", "check": "yes"}))

    add = f"{url('add_item', run)}?material={card.public_id}&quantity=6"
    assert add.replace("&", "&amp;") in page
    form = signed_in.get(add).context["form"]
    assert [form[name].value() for name in ("text", "quantity", "material")] == ["Card", "6", card.public_id]


def test_pieces_are_made_from_the_page(signed_in, url, recipe):
    posted = {"on": "2025-03-10", "quantity": "2", "texts": "Mo\r\nR", "minutes": "20"}
    answer = signed_in.post(url("make", recipe), posted)
    making = Making.objects.get()
    assert (answer.url, making.lot.basis, making.minutes) == (url("recipe", recipe), Decimal("4.00"), 20)
    assert sorted(making.lot.marked_pieces.values_list("text", flat=True)) == ["Mo", "R"]


def test_a_check_makes_nothing(signed_in, url, recipe):
    answer = signed_in.post(url("make", recipe), {"on": "2025-03-10", "quantity": "3", "check": "yes"})
    assert (answer.context["plan"].quantity, Making.objects.count()) == (3, 0)


def test_what_is_short_is_listed_beside_the_form(signed_in, url, recipe):
    posted = {"on": "2025-03-10", "quantity": "6", "texts": "A\nB\nC\nD\nE\nF"}
    answer = signed_in.post(url("make", recipe), posted)
    assert answer.status_code == 422
    assert "2 sheet Card" in text(answer)
    assert [each.short for each in answer.context["plan"].short] == [2]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"on": "2025-03-13"}, "on"),
        ({"on": "never"}, "on"),
        ({"quantity": "0"}, "quantity"),
        ({"quantity": "many"}, "quantity"),
        ({"texts": ""}, "texts"),
        ({"minutes": "-1"}, "minutes"),
    ],
)
def test_an_impossible_making_is_refused_beside_its_field(signed_in, url, recipe, wrong, field):
    posted = {"on": "2025-03-10", "quantity": "1", "texts": "A", **wrong}
    answer = signed_in.post(url("make", recipe), posted)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors


def test_making_twice_with_one_form_makes_once(signed_in, url, recipe):
    posted = {"on": "2025-03-10", "quantity": "1", "texts": "A", "submission_key": "k"}
    for _ in range(2):
        assert signed_in.post(url("make", recipe), posted).status_code == 302
    assert ComponentUse.objects.count() == 1


def test_a_making_is_undone_from_its_page(signed_in, url, recipe):
    making = make_making(recipe)
    assert url("undo_making", making) in text(signed_in.get(url("recipe", recipe)))
    signed_in.post(url("undo_making", making), {"reason": "Counted twice", "version": "1"})
    making.refresh_from_db()
    assert making.voided_at is not None


def test_a_making_that_lies_out_offers_no_undo(signed_in, url, provider, recipe):
    making = make_making(recipe)
    making.lot.placements.create(provider=provider, run=make_run(provider), quantity=Decimal(1))
    assert url("undo_making", making) not in text(signed_in.get(url("recipe", recipe)))
    answer = signed_in.post(url("undo_making", making), {"reason": "Counted twice", "version": "1"})
    assert answer.status_code == 422


def test_a_piece_is_marked(signed_in, url, recipe):
    piece = make_making(recipe).lot.marked_pieces.get()
    signed_in.post(url("mark_piece", piece), {"state": "broken", "version": "1"})
    piece.refresh_from_db()
    assert piece.state == PieceState.BROKEN


def test_a_component_lot_says_what_it_went_into_and_cannot_be_voided(signed_in, url, recipe, card):
    signed_in.post(url("make", recipe), {"on": "2025-03-10", "quantity": "1", "texts": "A"})
    page = text(signed_in.get(url("lot", card.lots.get())))
    assert url("lot", Making.objects.get().lot) in page
    assert url("void_lot", card.lots.get()) not in page


def test_a_lot_made_by_a_recipe_is_not_voided_by_hand(signed_in, url, recipe):
    lot = make_making(recipe).lot
    assert url("void_lot", lot) not in text(signed_in.get(url("lot", lot)))


def test_the_method_is_chosen(signed_in, url):
    signed_in.post(url("cost_method"), {"cost_method": "average", "version": "1"})
    assert PlayroomChoices.objects.get().cost_method == CostMethod.AVERAGE


# --- The remake list


def test_the_list_says_what_to_make_keep_and_put_by_and_what_it_uses_up(signed_in, url, recipe, child):
    make_making(recipe, texts=("Mo", "R"))
    child("Mo")
    child("Ti")
    answer = signed_in.get(url("remake"))
    (listed,) = answer.context["lists"]
    assert listed.plan.make == ("Ti",)
    assert [each.needed for each in listed.uses] == [2]
    page = text(answer)
    assert all(word in page for word in ("Make", "Keep", "Put by", "Making them will use up"))


def test_the_list_shows_letters_and_never_a_full_name(signed_in, url, recipe, child):
    child("Mo")
    assert "Longname" not in text(signed_in.get(url("remake")))


def test_the_list_of_another_day_follows_its_roster_and_so_does_the_making(signed_in, url, recipe, child):
    child("Mo", start=date(2025, 9, 1))
    assert signed_in.get(url("remake")).context["lists"][0].plan.make == ()
    answer = signed_in.get(url("remake"), {"day": "2025-09-01"})
    assert answer.context["lists"][0].plan.make == ("Mo",)
    form = signed_in.get(url("make", recipe), {"remake": "yes", "day": "2025-09-01"}).context["form"]
    assert (form["texts"].value(), form["only_child_specific"].value()) == ("Mo", True)


def test_a_day_that_is_none_is_said_to_be_wrong(signed_in, url, recipe):
    answer = signed_in.get(url("remake"), {"day": "someday"})
    assert "Enter a date" in text(answer)


def test_today_says_that_pieces_are_missing(provider, recipe, child):
    make_making(recipe, texts=("Mo",))
    child("Mo")
    assert list(pieces_missing(provider, Role.OWNER, TODAY)) == []
    child("Ti")
    (notice,) = pieces_missing(provider, Role.HELPER, TODAY)
    assert "1 piece" in notice.text
    assert "Ti" not in notice.text.replace("The", "")


@pytest.mark.parametrize("role", [Role.PREPARER, Role.FAMILY])
def test_nobody_else_is_told(provider, recipe, child, role):
    make_making(recipe)
    child("Mo")
    assert list(pieces_missing(provider, role, TODAY)) == []


def test_the_pages_take_the_same_queries_for_more_recipes_children_and_pieces(signed_in, url, provider, card, child):
    def fill(count):
        for _ in range(count):
            row = make_recipe(provider)
            row.lines.create(provider=provider, material=card, quantity=Decimal(1), child_specific=True)
            make_making(row, texts=("A", "B"))
            child("C")

    def count(address):
        with CaptureQueriesContext(connection) as captured:
            assert signed_in.get(address).status_code == 200
        return len(captured)

    fill(1)
    pages = [url("recipes"), url("remake"), url("recipe", Recipe.objects.get())]
    before = [count(page) for page in pages]
    fill(4)
    assert [count(page) for page in pages] == before
