from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from billing.models import Receipt, ReceiptLine, Target
from curriculum.models import How, Keeping, Material, ShoppingItem
from curriculum.selectors.shopping import shopping_of
from curriculum.services import shopping as services
from curriculum.services.placements import put_away
from provider.errors import DomainError, StaleRow
from provider.models import AuditEntry
from tests.factories import make_broken, make_item, make_lot, make_need, make_provider, make_run

TODAY = date(2025, 3, 12)


@pytest.fixture
def glue(provider):
    return Material.objects.create(provider=provider, name="Glue sticks", keeping=Keeping.CONSUMABLE)


@pytest.fixture
def need(run, glue):
    return make_need(run, glue, "10")


def suggested(run):
    return {each.material.name: each.quantity for each in shopping_of(run, TODAY).suggestions}


def test_it_suggests_what_is_needed_and_not_there(provider, run, glue, need):
    make_lot(provider, material=glue, quantity=Decimal(4))
    assert suggested(run) == {"Glue sticks": 6}


def test_it_adds_the_needs_of_all_centres(run, glue, need, centre):
    make_need(run, glue, "3", centre=centre)
    assert suggested(run) == {"Glue sticks": 13}


def test_it_takes_what_is_on_the_list_off_the_suggestion(run, glue, need):
    make_item(run, material=glue, quantity=Decimal(7))
    assert suggested(run) == {"Glue sticks": 3}


def test_it_waits_for_what_was_bought_until_it_is_in_stock(provider, run, glue, need):
    make_item(run, material=glue, quantity=Decimal(10), bought_on=TODAY)
    assert suggested(run) == {}
    make_lot(provider, material=glue, quantity=Decimal(8), on=TODAY)
    assert suggested(run) == {"Glue sticks": 2}


def test_it_counts_what_the_run_used_up_as_there(writer, provider, run, glue, need, place):
    placed = place("10", lot=make_lot(provider, material=glue, quantity=Decimal(10)))
    put_away(**writer, placement=placed, on=date(2025, 3, 5), used_up=Decimal(10))
    assert suggested(run) == {}


def test_it_does_not_count_what_another_run_uses_up(provider, run, glue, need, place):
    april = make_run(provider, date(2025, 4, 1), date(2025, 5, 1))
    place("9", run=april, lot=make_lot(provider, material=glue, quantity=Decimal(10)))
    assert suggested(run) == {"Glue sticks": 9}


def test_it_counts_a_durable_thing_that_lies_in_another_run(provider, run, lot, place):
    place("12", run=make_run(provider, date(2025, 2, 1), date(2025, 3, 1)))
    make_need(run, lot.material, "12")
    assert suggested(run) == {}


def test_it_estimates_by_the_last_one_bought(provider, run, glue, need):
    make_lot(provider, "5.00", material=glue, quantity=Decimal(4), how=How.BOUGHT, source="Paper shop")
    (each,) = shopping_of(run, TODAY).suggestions
    assert (each.quantity, each.estimate, each.shop) == (6, Decimal("7.50"), "Paper shop")


def test_it_says_what_broke_before_it_is_bought_again(run, glue, need):
    lot = make_lot(run.provider, material=glue, quantity=Decimal(2))
    make_broken(run, "2", lot=lot, how="dried out")
    (each,) = shopping_of(run, TODAY).suggestions
    assert each.breakage is not None
    assert (each.breakage.pieces, each.breakage.hows) == (2, ("dried out",))


def test_it_groups_the_list_by_shop(run):
    for text, shop in (("Paint", "Paper shop"), ("Rice", "Grocer"), ("Brushes", "Paper shop")):
        make_item(run, text=text, shop=shop)
    by_shop = shopping_of(run, TODAY).by_shop
    assert [(shop, [entry.item.text for entry in entries]) for shop, entries in by_shop] == [
        ("Grocer", ["Rice"]),
        ("Paper shop", ["Brushes", "Paint"]),
    ]


def test_it_sets_budget_against_cost_and_estimates(provider, run):
    run.budget = Decimal("50.00")
    run.save()
    slip = Receipt.objects.create(provider=provider, shop="Grocer", bill_date=TODAY, total=Decimal("20.00"))
    ReceiptLine.objects.create(
        provider=provider,
        receipt=slip,
        position=1,
        description="Rice",
        amount=slip.total,
        cost=slip.total,
        category="supplies",
        target=Target.RUN,
        run=run,
    )
    make_item(run, estimate=Decimal("12.50"))
    make_item(run)
    make_item(run, estimate=Decimal("99.00"), bought_on=TODAY)
    found = shopping_of(run, TODAY)
    assert (found.spent, found.estimated, found.unpriced) == (Decimal("20.00"), Decimal("12.50"), 1)
    assert (found.left, found.is_over) == (Decimal("17.50"), False)


def test_it_leaves_nothing_without_a_budget(run):
    assert shopping_of(run, TODAY).left is None


def test_it_puts_all_suggestions_on_the_list(writer, provider, run, need):
    make_need(run, Material.objects.create(provider=provider, name="Paint"), "2")
    services.add_suggested(**writer, run=run)
    assert sorted(ShoppingItem.objects.values_list("text", "quantity")) == [("Glue sticks", 10), ("Paint", 2)]


def test_it_puts_one_suggestion_on_the_list(writer, provider, run, glue, need):
    make_need(run, Material.objects.create(provider=provider, name="Paint"), "2")
    item = services.add_suggested(**writer, run=run, material=glue)
    assert (ShoppingItem.objects.get(), item.material) == (item, glue)


def test_it_refuses_to_suggest_nothing(writer, run, glue):
    with pytest.raises(DomainError):
        services.add_suggested(**writer, run=run, material=glue)


def test_it_adds_once_for_two_posts_of_one_form(writer, run):
    given = {"run": run, "text": "Rice", "quantity": Decimal(1), "submission_key": "k"}
    assert services.add_item(**writer, **given) == services.add_item(**writer, **given)
    assert ShoppingItem.objects.count() == 1


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"quantity": Decimal(0)}, "quantity"),
        ({"quantity": Decimal(-1)}, "quantity"),
        ({"ordered_on": date(2025, 3, 13)}, "ordered_on"),
        ({"bought_on": date(2025, 3, 13)}, "bought_on"),
    ],
)
def test_it_refuses_what_cannot_be(writer, run, fields, field):
    with pytest.raises(DomainError) as refused:
        services.add_item(**writer, run=run, **{"text": "Rice", "quantity": Decimal(1), **fields})
    assert refused.value.field == field


def test_it_keeps_an_item_on_the_way_after_a_second_tap(writer, run):
    item = make_item(run)
    for _ in range(2):
        services.tick_ordered(**writer, item=item, ordered=True)
    item.refresh_from_db()
    assert item.ordered_on == TODAY
    assert AuditEntry.objects.filter(object_public_id=item.public_id, verb="order").count() == 1


def test_it_takes_on_the_way_back(writer, run):
    item = make_item(run, ordered_on=TODAY)
    assert services.tick_ordered(**writer, item=item, ordered=False).ordered_on is None


def test_it_buys_an_item_again_when_its_day_is_taken_away(writer, run):
    item = make_item(run, bought_on=TODAY)
    services.change_item(**writer, item=item, version=item.version, text="Glue", quantity=Decimal(1))
    assert shopping_of(run, TODAY).bought == ()


def test_it_questions_a_stale_change(writer, run):
    item = make_item(run)
    given = {"item": item, "version": item.version, "text": "Paste", "quantity": Decimal(1)}
    services.change_item(**writer, **given)
    with pytest.raises(StaleRow):
        services.change_item(**writer, **given)


def test_it_takes_an_item_off_the_list(writer, run):
    item = make_item(run)
    services.take_off(**writer, item=item, version=item.version)
    assert shopping_of(run, TODAY).by_shop == ()


def test_it_ticks_off_nothing_of_another_run(writer, provider, run):
    other = make_run(provider, date(2025, 4, 1), date(2025, 5, 1))
    with pytest.raises(DomainError):
        services.buy_items(**writer, run=run, items=[make_item(other)])


def test_it_asks_for_a_list_of_any_length_in_constant_queries(provider, run, django_assert_max_num_queries):
    for number in range(6):
        lot = make_lot(provider, quantity=Decimal(2))
        make_need(run, lot.material, "5")
        make_item(run, text=f"Thing {number}", material=lot.material)
        make_broken(run, lot=make_lot(provider, material=lot.material, quantity=Decimal(2)))
    with django_assert_max_num_queries(30):
        assert len(shopping_of(run, TODAY).suggestions) == 6


def test_it_starts_the_receipt_with_what_was_ticked(signed_in, provider, run, glue):
    kept = make_item(run, text="Glue", material=glue, quantity=Decimal(6), shop="Paper shop")
    other = make_item(run, text="Rice for pouring", shop="Paper shop")
    response = signed_in.post(
        reverse("curriculum:buy", args=[provider.slug, run.public_id]),
        {"items": [kept.public_id, other.public_id]},
        follow=True,
    )
    form = response.context["form"]
    assert response.redirect_chain[0][0].startswith(reverse("billing:receipt_new", args=[provider.slug]))
    assert form["shop"].value() == "Paper shop"
    assert [
        (row["description"].value(), row["quantity"].value(), row["target"].value(), row["new_name"].value())
        for row in form.lines
    ] == [
        ("Glue", "6", "lot:new", "Glue sticks"),
        ("Rice for pouring", "1", f"run:{run.public_id}", None),
    ]
    assert not ShoppingItem.objects.filter(bought_on=None).exists()


def test_it_starts_no_receipt_with_the_items_of_another_business(signed_in, provider):
    foreign = make_item(make_run(make_provider()), text="Their secret")
    page = signed_in.get(reverse("billing:receipt_new", args=[provider.slug]), {"item": foreign.public_id})
    assert "Their secret" not in page.content.decode()


def test_it_asks_to_tick_something(signed_in, provider, run):
    response = signed_in.post(reverse("curriculum:buy", args=[provider.slug, run.public_id]), follow=True)
    assert "Tick what you bought." in response.content.decode()


def test_it_shows_the_list_with_what_is_left(signed_in, provider, run, need):
    run.budget = Decimal("50.00")
    run.save()
    make_item(run, text="Rice for pouring", estimate=Decimal("12.50"), shop="Grocer")
    page = signed_in.get(reverse("curriculum:shopping", args=[provider.slug, run.public_id])).content.decode()
    assert "Rice for pouring" in page
    assert "$37.50" in page
    assert "Glue sticks" in page


def test_it_keeps_what_was_typed_when_an_item_is_refused(signed_in, provider, run):
    response = signed_in.post(
        reverse("curriculum:add_item", args=[provider.slug, run.public_id]), {"text": "Rice", "quantity": "0"}
    )
    assert response.status_code == 422
    assert not ShoppingItem.objects.exists()


def test_it_puts_a_suggestion_on_the_list_by_one_tap(signed_in, provider, run, glue, need):
    signed_in.post(
        reverse("curriculum:add_suggested", args=[provider.slug, run.public_id]), {"material": glue.public_id}
    )
    assert ShoppingItem.objects.get().quantity == 10
