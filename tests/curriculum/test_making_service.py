from datetime import date
from decimal import Decimal

import pytest

from curriculum.models import (
    Acquisition,
    ComponentUse,
    CostMethod,
    How,
    Keeping,
    Making,
    MarkedPiece,
    Material,
    PieceState,
    PieceText,
    Placement,
    PlayroomChoices,
    Recipe,
)
from curriculum.selectors.making import making_plan, missing_pieces, recipe_views, remake_lists, texts_to_make
from curriculum.selectors.stock import on_hand_of, stock_of
from curriculum.services.making import (
    ComponentInput,
    ComponentsShort,
    add_recipe,
    change_recipe,
    make_pieces,
    mark_piece,
    set_cost_method,
    undo_making,
)
from curriculum.services.materials import amend, change_material, correct_lot, void_lot
from curriculum.services.placements import NotEnough, place_lot
from provider.desk import writing
from provider.errors import DomainError, ForeignRow, PeriodLocked, Refused, StaleRow
from provider.models import AuditEntry
from tests.curriculum.conftest import TODAY
from tests.factories import lock_year, make_child, make_enrolment, make_household, make_lot, make_provider

EARLY = date(2025, 2, 1)


@pytest.fixture
def card(provider):
    """Ten sheets at 1.00, bought before ten at 2.00."""
    material = Material.objects.create(provider=provider, name="Card", unit="sheet", keeping=Keeping.CONSUMABLE)
    make_lot(provider, "10.00", material=material, quantity=Decimal(10))
    make_lot(provider, "20.00", material=material, quantity=Decimal(10), on=EARLY)
    return material


@pytest.fixture
def tub(provider):
    material = Material.objects.create(provider=provider, name="Tub")
    make_lot(provider, "8.00", material=material, quantity=Decimal(4))
    return material


@pytest.fixture
def recipe(writer, card):
    """Two pieces of four sheets."""
    return add_recipe(
        **writer,
        name="Lacing game",
        components=[ComponentInput(card, Decimal(4))],
        makes=Decimal(2),
        minutes=30,
        expected_uses=4,
        bought_price=Decimal("5.00"),
    )


@pytest.fixture
def letters(writer, card, tub):
    """A card for each child, in a tub that stays."""
    return add_recipe(
        **writer,
        name="Letter game",
        pieces=PieceText.LETTERS,
        components=[ComponentInput(card, Decimal(1), child_specific=True), ComponentInput(tub, Decimal("0.2"))],
    )


@pytest.fixture
def make(writer, recipe):
    def made(quantity="2", on=TODAY, by=recipe, **fields):
        return make_pieces(**writer, recipe=by, on=on, quantity=Decimal(quantity), **fields)

    return made


@pytest.fixture
def child(provider):
    def enrol(letters, **fields):
        row = make_child(make_household(provider), label_letters=letters)
        make_enrolment(row, **fields)
        return row

    return enrol


def basis(row):
    return str(Acquisition.objects.get(pk=row.pk).basis)


def left(material):
    return on_hand_of([material])[material.pk]


# --- Recipes


def test_a_recipe_makes_its_material(recipe):
    assert (recipe.product.name, recipe.product.keeping, recipe.edition) == ("Lacing game", Keeping.DURABLE, 1)


def test_a_recipe_may_be_for_a_material_that_is_there(writer, card, tub):
    row = add_recipe(**writer, name=" tub ", components=[ComponentInput(card, Decimal(1))])
    assert row.product == tub


def test_a_material_has_one_recipe(writer, recipe):
    with pytest.raises(DomainError, match="has a recipe already"):
        add_recipe(**writer, name="lacing GAME")


def test_a_changed_recipe_is_the_next_edition_and_the_old_one_stays(writer, recipe, card):
    changed = change_recipe(
        **writer, recipe=recipe, version=1, components=[ComponentInput(card, Decimal(6))], minutes=10
    )
    assert (changed.edition, changed.product, changed.minutes) == (2, recipe.product, 10)
    assert recipe.lines.get().quantity == 4


def test_a_form_opened_on_an_older_edition_is_stale(writer, recipe):
    change_recipe(**writer, recipe=recipe, version=1, minutes=10)
    with pytest.raises(StaleRow) as stale:
        change_recipe(**writer, recipe=recipe, version=1, minutes=20)
    again = change_recipe(**writer, recipe=recipe, version=stale.value.row.version, minutes=20)
    assert again.edition == 3


def test_adding_and_changing_a_recipe_twice_with_one_key_does_it_once(writer):
    first = add_recipe(**writer, name="Game", submission_key="a")
    assert add_recipe(**writer, name="Game", submission_key="a") == first
    second = change_recipe(**writer, recipe=first, version=1, submission_key="b")
    assert change_recipe(**writer, recipe=first, version=1, submission_key="b") == second
    assert Recipe.objects.count() == 2


@pytest.mark.parametrize(("quantity", "waste"), [("0", "0"), ("-1", "0"), ("1", "1"), ("1", "-0.1")])
def test_a_component_without_a_quantity_or_with_all_waste_is_refused(writer, card, quantity, waste):
    with pytest.raises(DomainError) as refused:
        add_recipe(**writer, name="Game", components=[ComponentInput(card, Decimal(quantity), Decimal(waste))])
    assert refused.value.field == "components"
    assert not Recipe.objects.exists()


def test_a_component_listed_twice_is_refused(writer, card):
    with pytest.raises(DomainError, match="listed twice"):
        add_recipe(**writer, name="Game", components=[ComponentInput(card, Decimal(1))] * 2)


def test_a_thing_is_no_component_of_itself(writer, card):
    with pytest.raises(DomainError, match="of itself"):
        add_recipe(**writer, name="Card", components=[ComponentInput(card, Decimal(1))])


def test_a_component_of_another_business_is_refused(writer):
    foreign = make_lot(make_provider()).material
    with pytest.raises(ForeignRow):
        add_recipe(**writer, name="Game", components=[ComponentInput(foreign, Decimal(1))])


def test_a_recipe_that_makes_nothing_is_refused(writer):
    with pytest.raises(DomainError) as refused:
        add_recipe(**writer, name="Game", makes=Decimal(0))
    assert refused.value.field == "makes"


# --- Making


def test_a_making_takes_the_oldest_sheets_and_carries_their_cost(make, card):
    making = make("6")
    assert (making.lot.how, making.lot.quantity, basis(making.lot)) == (How.MADE, 6, "14.00")
    assert [(str(use.quantity), str(use.cost)) for use in making.components.order_by("lot__on")] == [
        ("10.000", "10.00"),
        ("2.000", "4.00"),
    ]
    assert left(card) == 8


def test_a_making_at_the_average_takes_the_same_sheets_for_another_cost(writer, make, card):
    set_cost_method(**writer, version=1, cost_method=CostMethod.AVERAGE)
    making = make("6")
    assert (basis(making.lot), left(card)) == ("18.00", 8)


def test_another_method_leaves_what_was_made_as_it_was(writer, make):
    making = make("6")
    set_cost_method(**writer, version=1, cost_method=CostMethod.AVERAGE)
    assert basis(making.lot) == "14.00"


def test_the_lot_made_is_expected_to_last_as_the_recipe_says(make):
    assert make().lot.expected_uses == 4


def test_what_is_short_is_listed_and_nothing_is_made(make, card):
    with pytest.raises(ComponentsShort, match="4 sheet Card") as short:
        make("12")
    assert short.value.short == ((card, Decimal(4)),)
    assert not Making.objects.exists()


def test_a_lot_that_came_later_is_not_used(make):
    with pytest.raises(ComponentsShort):
        make("6", on=date(2025, 1, 20))


def test_sheets_laid_out_in_a_run_are_not_used(provider, make, run, card):
    for lot in card.lots.all():
        Placement.objects.create(provider=provider, run=run, lot=lot, quantity=Decimal(9))
    with pytest.raises(ComponentsShort):
        make("2")


def test_sheets_used_up_in_a_making_cannot_be_laid_out(writer, make, run, card):
    make("4")
    with pytest.raises(NotEnough) as few:
        place_lot(**writer, run=run, lot=card.lots.get(on__lt=EARLY), quantity=Decimal(3))
    assert few.value.held == 2


def test_a_making_twice_with_one_key_makes_once(make, card):
    assert make(submission_key="k") == make(submission_key="k")
    assert left(card) == 16


def test_a_making_in_a_closed_year_is_refused(provider, make):
    lock_year(provider, 2025)
    with pytest.raises(PeriodLocked):
        make()


@pytest.mark.parametrize(
    ("fields", "field"),
    [({"on": date(2025, 3, 13)}, "on"), ({"quantity": "0"}, "quantity"), ({"texts": ["A"]}, "texts")],
)
def test_an_impossible_making_is_refused(make, fields, field):
    with pytest.raises(DomainError) as refused:
        make(**fields)
    assert refused.value.field == field


def test_an_older_edition_is_not_made_any_more(writer, make, recipe):
    change_recipe(**writer, recipe=recipe, version=1)
    with pytest.raises(DomainError, match="newest edition"):
        make()


def test_a_recipe_without_components_makes_a_lot_that_cost_nothing(writer, make):
    plain = add_recipe(**writer, name="Stick horse")
    assert basis(make("1", by=plain).lot) == "0.00"


def test_something_made_may_be_a_component_of_something_else(writer, make, recipe):
    make("2")
    kit = add_recipe(**writer, name="Kit", components=[ComponentInput(recipe.product, Decimal(1))])
    assert basis(make("1", by=kit).lot) == "2.00"


# --- Pieces for a child


def test_each_piece_carries_a_text(make, letters):
    making = make("2", by=letters, texts=[" Mo ", "R", ""])
    assert list(making.lot.marked_pieces.order_by("pk").values_list("text", "state")) == [
        ("Mo", PieceState.GOOD),
        ("R", PieceState.GOOD),
    ]


@pytest.mark.parametrize("texts", [[], ["A"], ["A", "B", "C"], ["A", "B" * 61]])
def test_as_many_texts_as_pieces_are_asked_for(make, letters, texts):
    with pytest.raises(DomainError) as refused:
        make("2", by=letters, texts=texts)
    assert refused.value.field == "texts"


def test_pieces_made_anew_use_only_what_is_specific_to_a_child(make, letters, tub):
    making = make("1", by=letters, texts=["A"], only_child_specific=True)
    assert (basis(making.lot), left(tub)) == ("1.00", 4)


def test_the_whole_game_uses_its_tub_too(make, letters, tub):
    making = make("5", by=letters, texts=list("ABCDE"))
    assert (basis(making.lot), left(tub)) == ("7.00", 3)


def test_the_roster_says_what_to_make_keep_and_put_by(make, letters, child):
    child("Mo")
    gone = child("R")
    make("2", by=letters, texts=["Mo", "R"])
    gone.enrolments.update(end=TODAY)
    child("Ti")
    (listed,) = remake_lists(letters.provider, TODAY)
    assert listed.plan.make == ("Ti",)
    assert ([piece.text for piece in listed.plan.keep], [piece.text for piece in listed.plan.put_by]) == (["Mo"], ["R"])
    assert [(use.material.name, use.needed) for use in listed.uses] == [("Card", Decimal(1))]


def test_a_piece_put_by_is_brought_out_again_and_a_broken_one_is_made(writer, make, letters, child):
    child("Mo")
    child("R")
    making = make("2", by=letters, texts=["Mo", "R"])
    mo, r = making.lot.marked_pieces.order_by("text")
    mark_piece(**writer, piece=mo, version=1, state=PieceState.PUT_BY)
    mark_piece(**writer, piece=r, version=1, state=PieceState.BROKEN)
    (listed,) = remake_lists(letters.provider, TODAY)
    assert ([piece.text for piece in listed.plan.bring_out], listed.plan.make) == (["Mo"], ("R",))


def test_a_roster_of_another_day_is_looked_at_as_of_that_day(letters, child):
    child("Mo", start=date(2025, 9, 1))
    assert [texts_to_make(letters, day) for day in (TODAY, date(2025, 9, 1))] == [(), ("Mo",)]


def test_a_name_on_a_piece_is_the_name_in_use_without_the_family_name(writer, provider):
    names = add_recipe(**writer, name="Name plate", pieces=PieceText.NAME)
    for called in ("", "Tilly"):
        row = make_child(make_household(provider), name="Matilda Brook", preferred_name=called)
        make_enrolment(row)
    assert texts_to_make(names, TODAY) == ("Matilda", "Tilly")


def test_missing_pieces_are_noticed_once_the_recipe_was_made(make, letters, child):
    child("Mo")
    assert missing_pieces(letters.provider, TODAY) == {}
    make("1", by=letters, texts=["R"])
    assert missing_pieces(letters.provider, TODAY) == {letters: 1}


def test_a_stale_mark_and_a_state_that_is_none_are_refused(writer, make, letters):
    piece = make("1", by=letters, texts=["A"]).lot.marked_pieces.get()
    with pytest.raises(StaleRow):
        mark_piece(**writer, piece=piece, version=9, state=PieceState.BROKEN)
    with pytest.raises(Refused):
        mark_piece(**writer, piece=piece, version=1, state="eaten")


def test_the_trail_never_says_what_is_written_on_a_piece(writer, make, letters):
    piece = make("1", by=letters, texts=["Matilda"]).lot.marked_pieces.get()
    mark_piece(**writer, piece=piece, version=1, state=PieceState.BROKEN)
    written = " ".join(f"{row.summary} {row.object_label} {row.changes}" for row in AuditEntry.objects.all())
    assert "mark" in AuditEntry.objects.values_list("verb", flat=True)
    assert "Matilda" not in written


# --- Undo and correction


def test_an_undone_making_puts_its_components_back(writer, make, card):
    making = make("6")
    undo_making(**writer, making=making, version=1, reason="Counted twice")
    making.lot.refresh_from_db()
    assert (left(card), left(making.recipe.product), making.lot.voided_at is not None) == (20, 0, True)


def test_what_lay_out_is_not_undone(provider, writer, make, run):
    making = make()
    Placement.objects.create(provider=provider, run=run, lot=making.lot, quantity=Decimal(1))
    with pytest.raises(DomainError, match="lies in a run"):
        undo_making(**writer, making=making, version=1, reason="Counted twice")


def test_what_went_into_something_else_is_not_undone(writer, make, recipe):
    making = make()
    kit = add_recipe(**writer, name="Kit", components=[ComponentInput(recipe.product, Decimal(1))])
    make("1", by=kit)
    with pytest.raises(DomainError, match="went into something home-made"):
        undo_making(**writer, making=making, version=1, reason="Counted twice")


def test_a_making_is_undone_once_and_only_as_it_was_seen(writer, make):
    making = make()
    with pytest.raises(StaleRow):
        undo_making(**writer, making=making, version=7, reason="Counted twice")
    undo_making(**writer, making=making, version=1, reason="Counted twice")
    with pytest.raises(DomainError, match="undone already"):
        undo_making(**writer, making=making, version=2, reason="Counted twice")


def test_a_lot_made_by_a_recipe_is_neither_voided_nor_corrected_by_hand(writer, make):
    lot = make().lot
    with pytest.raises(DomainError, match="Undo the making"):
        void_lot(**writer, lot=lot, version=1, reason="Counted twice")
    facts = {"on": lot.on, "how": lot.how, "quantity": lot.quantity, "expected_uses": 9}
    with pytest.raises(DomainError, match="Undo the making"):
        correct_lot(**writer, lot=lot, version=1, basis=Decimal("9.00"), **facts)
    assert correct_lot(**writer, lot=lot, version=1, basis=lot.basis, **facts).expected_uses == 9


def test_a_lot_that_went_into_something_is_not_voided(writer, make, card):
    make()
    with pytest.raises(DomainError, match="went into something home-made"):
        void_lot(**writer, lot=card.lots.get(on__lt=EARLY), version=1, reason="Counted twice")


def test_a_corrected_price_of_a_component_follows_into_all_that_was_made_of_it(writer, make, recipe, card):
    making = make("2")
    kit = add_recipe(**writer, name="Kit", components=[ComponentInput(recipe.product, Decimal(1))])
    later = make("1", by=kit)
    with writing(writer["provider"], writer["actor"]) as desk:
        amend(desk, card.lots.get(on__lt=EARLY), basis=Decimal("30.00"))
    assert (basis(making.lot), basis(later.lot)) == ("12.00", "6.00")
    assert ComponentUse.objects.get(making=making).cost == Decimal("12.00")


@pytest.mark.parametrize("change", [{"quantity": Decimal(3)}, {"on": date(2025, 3, 13)}])
def test_a_correction_cannot_contradict_what_was_made(writer, make, card, change):
    make("2")
    with pytest.raises(DomainError), writing(writer["provider"], writer["actor"]) as desk:
        amend(desk, card.lots.get(on__lt=EARLY), **change)


def test_how_a_used_component_is_kept_stays(writer, make, card):
    make()
    with pytest.raises(DomainError) as refused:
        change_material(**writer, material=card, version=1, name="Card", keeping=Keeping.DURABLE, unit="sheet")
    assert refused.value.field == "keeping"


def test_a_durable_component_takes_its_value_with_it(provider, writer, make, run, tub):
    lot = tub.lots.get()
    Placement.objects.create(provider=provider, run=run, lot=lot, quantity=Decimal(2))
    box = add_recipe(**writer, name="Box", components=[ComponentInput(tub, Decimal(2))])
    assert basis(make("1", by=box).lot) == "3.00"  # a quarter of 8.00 was borne by the run; half of the rest
    assert stock_of(lot).value_left(lot.basis, lot.expected_uses) == Decimal("3.00")


# --- Cost and choices


def test_a_recipe_shows_what_a_piece_costs_today_beside_the_price_of_one(provider, recipe):
    (view,) = recipe_views(provider, [recipe], TODAY)
    assert (view.cost, view.compared.made, view.compared.saved) == (
        Decimal("4.00"),
        Decimal("2.00"),
        Decimal("3.00"),
    )


def test_what_is_short_is_priced_like_the_latest_lot(provider, recipe):
    plan = making_plan(provider, recipe, Decimal(12), TODAY)
    assert (plan.cost, plan.short[0].short, plan.cost_per_piece) == (Decimal("38.00"), 4, Decimal("3.17"))


def test_a_component_that_never_was_in_stock_has_no_price(provider, writer):
    felt = Material.objects.create(provider=provider, name="Felt")
    row = add_recipe(**writer, name="Banner", components=[ComponentInput(felt, Decimal(1))])
    (view,) = recipe_views(provider, [row], TODAY)
    assert (view.unpriced, view.cost) == (True, Decimal("0.00"))


def test_lines_of_one_material_share_its_cost(provider, writer, card):
    lines = [ComponentInput(card, Decimal(1), child_specific=True), ComponentInput(card, Decimal(3))]
    row = add_recipe(**writer, name="Game", components=lines)
    (view,) = recipe_views(provider, [row], TODAY)
    assert ([str(each.cost) for each in view.components], view.child_specific) == (["1.00", "3.00"], Decimal("1.00"))


def test_the_method_is_chosen_once_a_business(writer):
    set_cost_method(**writer, version=1, cost_method=CostMethod.AVERAGE)
    row = set_cost_method(**writer, version=1, cost_method=CostMethod.FIFO)
    assert (PlayroomChoices.objects.count(), row.version) == (1, 2)
    with pytest.raises(StaleRow):
        set_cost_method(**writer, version=1, cost_method=CostMethod.AVERAGE)


def test_an_unknown_method_is_refused(writer):
    with pytest.raises(Refused):
        set_cost_method(**writer, version=1, cost_method="newest")


def test_any_number_of_recipes_and_children_takes_the_same_queries(
    provider, writer, make, letters, card, child, django_assert_num_queries
):
    make("1", by=letters, texts=["A"])
    more = [
        add_recipe(
            **writer,
            name=f"Game {number}",
            pieces=PieceText.LETTERS,
            components=[ComponentInput(card, Decimal(1), child_specific=True)],
        )
        for number in range(3)
    ]
    for text in "ABC":
        child(text)
    with django_assert_num_queries(9):
        recipe_views(provider, [letters, *more], TODAY)
    with django_assert_num_queries(9):
        assert len(remake_lists(provider, TODAY)) == 4


def test_nothing_of_another_business_is_seen(provider, make, letters):
    make("1", by=letters, texts=["A"])
    other = make_provider()
    assert (remake_lists(other, TODAY), missing_pieces(other, TODAY)) == ([], {})
    assert MarkedPiece.objects.count() == 1
