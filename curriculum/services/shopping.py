"""The shopping list of a run: what is on it, on the way, and bought."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from curriculum.models import Material, ShoppingItem, ThemeRun
from curriculum.selectors.shopping import suggestions_of
from provider.desk import writing
from provider.errors import DomainError
from provider.models import Provider, User


def add_item(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    run: ThemeRun,
    text: str,
    quantity: Decimal,
    material: Material | None = None,
    shop: str = "",
    estimate: Decimal | None = None,
    ordered_on: date | None = None,
    bought_on: date | None = None,
) -> ShoppingItem:
    """Put something on the list. `estimate` is for the whole quantity."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, ShoppingItem):
            return earlier
        item = ShoppingItem(
            provider=desk.provider,
            run=run,
            material=material,
            text=text,
            quantity=quantity,
            shop=shop,
            estimate=estimate,
            ordered_on=ordered_on,
            bought_on=bought_on,
        )
        _check_days(item, today)
        desk.save(item, verb="add")
        desk.done(submission_key, item)
        return item


def add_suggested(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    submission_key: str = "",
    run: ThemeRun,
    material: Material | None = None,
) -> ShoppingItem:
    """Put on the list what the needs ask for: of one material, or of all. DomainError when nothing is missing."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, ShoppingItem):
            return earlier
        item = None
        for each in suggestions_of(run):
            if material in (None, each.material):
                item = ShoppingItem(
                    provider=desk.provider,
                    run=run,
                    material=each.material,
                    text=each.material.name,
                    quantity=each.quantity,
                    shop=each.shop,
                    estimate=each.estimate,
                )
                desk.save(item, verb="add")
        if item is None:
            raise DomainError(_("Nothing more is needed of this."))
        desk.done(submission_key, item)
        return item


def change_item(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    item: ShoppingItem,
    version: int,
    text: str,
    quantity: Decimal,
    material: Material | None = None,
    shop: str = "",
    estimate: Decimal | None = None,
    ordered_on: date | None = None,
    bought_on: date | None = None,
) -> ShoppingItem:
    """Change an item, its days included: without `bought_on` it is to be bought again."""
    with writing(provider, actor) as desk:
        item = desk.fresh(item, version)
        _refuse_taken_off(item)
        item.text, item.quantity, item.material, item.shop = text, quantity, material, shop
        item.estimate, item.ordered_on, item.bought_on = estimate, ordered_on, bought_on
        _check_days(item, today)
        return desk.save(item, verb="change")


def tick_ordered(
    *, provider: Provider, actor: User | None, today: date, item: ShoppingItem, ordered: bool
) -> ShoppingItem:
    """Say that an item is on the way, or that it is not. A second tap changes nothing, and a tap needs no version."""
    with writing(provider, actor) as desk:
        item = ShoppingItem.objects.select_related("run").get(pk=item.pk)
        _refuse_taken_off(item)
        if ordered == (item.ordered_on is not None):
            return item
        item.ordered_on = today if ordered else None
        return desk.save(item, verb="order" if ordered else "undo")


def buy_items(
    *, provider: Provider, actor: User | None, today: date, run: ThemeRun, items: Iterable[ShoppingItem]
) -> list[ShoppingItem]:
    """Tick items off as bought today; those that were bought already stay as they are."""
    with writing(provider, actor) as desk:
        rows = list(ShoppingItem.objects.filter(run=run, pk__in=[item.pk for item in items], voided_at__isnull=True))
        if not rows:
            raise DomainError(_("Tick what you bought."), field="items")
        for row in rows:
            if row.bought_on is None:
                row.bought_on = today
                desk.save(row, verb="buy")
        return rows


def take_off(*, provider: Provider, actor: User | None, today: date, item: ShoppingItem, version: int) -> ShoppingItem:
    """Take an item off the list."""
    with writing(provider, actor) as desk:
        item = desk.fresh(item, version)
        _refuse_taken_off(item)
        item.voided_at = timezone.now()
        return desk.save(item, verb="take off")


def _check_days(item: ShoppingItem, today: date) -> None:
    if item.quantity <= 0:
        raise DomainError(_("Enter how many."), field="quantity")
    for field in ("ordered_on", "bought_on"):
        if (day := getattr(item, field)) and day > today:
            raise DomainError(_("This day has not come yet."), field=field)


def _refuse_taken_off(item: ShoppingItem) -> None:
    if item.voided_at:
        raise DomainError(_("This was taken off the list."))
