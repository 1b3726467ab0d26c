"""What is bought for a theme by list, what becomes of what broke, and what the owner learns when it is over."""

from datetime import timedelta
from decimal import Decimal
from functools import partial

from billing.demo.books import LOOK_BACK, SHOP, Books, Data
from curriculum.models import BrokenThing, Mending, ShoppingItem, ThemeRun, Verdict
from curriculum.selectors.looking_back import looking_back_on
from curriculum.selectors.mending import undecided
from curriculum.services.looking_back import MarkInput, save_review
from curriculum.services.mending import change_broken, plan_broken
from curriculum.services.shopping import add_item, buy_items, tick_ordered
from provider.periods import DateSpan

WRITTEN_AHEAD = timedelta(days=9)
BOUGHT_BEFORE = timedelta(days=3)
ONE_COMES = timedelta(days=20)
MENDED_AFTER = timedelta(days=6)
ANSWERED_AFTER = timedelta(days=45)
MARKED = 4


def plan_looking_back(books: Books) -> None:
    if "list" not in books.data:
        return
    for month in books.months:
        written = max(books.first_day, month.start - WRITTEN_AHEAD)
        books.at(written, SHOP, partial(_write_list, books, month))
        books.at(books.open_days(month)[-1], LOOK_BACK, partial(_look_back, books, month))


def _given(books: Books, run: ThemeRun) -> Data:
    return books.data["list"].get(run.theme.name, {})


def _write_list(books: Books, month: DateSpan) -> None:
    """All but the last item are bought before the month begins; the last is ordered and comes late."""
    run = books.runs[month.start]
    items = []
    for row in _given(books, run).get("items", ()):
        money = {"estimate": Decimal(row["estimate"])} if "estimate" in row else {}
        given = {"text": row["text"], "quantity": Decimal(row["quantity"]), "shop": row.get("shop", ""), **money}
        items.append(add_item(**books.writer, run=run, **given))
    if items:
        day = max(books.day, month.start - BOUGHT_BEFORE)
        books.at(day, SHOP, partial(_buy, books, run, items[:-1]))
        books.at(day, SHOP, partial(_order, books, items[-1]))
        books.at(month.start + ONE_COMES, SHOP, partial(_buy, books, run, items[-1:]))


def _buy(books: Books, run: ThemeRun, items: list[ShoppingItem]) -> None:
    buy_items(**books.writer, run=run, items=items)


def _order(books: Books, item: ShoppingItem) -> None:
    tick_ordered(**books.writer, item=item, ordered=True)


def _look_back(books: Books, month: DateSpan) -> None:
    run = books.runs[month.start]
    dice = books.dice("look back", month.start)
    for each in undecided(books.provider):
        plan = dice.choice(Mending.values)
        how = dice.choice(books.data["hows"])
        thing = plan_broken(**books.writer, put_away=each.count, quantity=each.left, plan=plan, how=how)
        if plan == Mending.REPAIR:
            mended = {"plan": plan, "how": how, "mended": thing.quantity, "outcome": "Glued, and dried for a day"}
            books.at(books.day + MENDED_AFTER, LOOK_BACK, partial(_mend, books, thing, mended))
        elif plan == Mending.REPLACE:
            refused = {"plan": plan, "how": how, "outcome": "The shop did not take it back"}
            books.at(books.day + ANSWERED_AFTER, LOOK_BACK, partial(_mend, books, thing, refused))
    given = _given(books, run)
    things = looking_back_on(run).things
    marks = [MarkInput(each.thing, Verdict.KEEP) for each in dice.sample(things, min(MARKED, len(things)))]
    save_review(
        **books.writer, run=run, loved=given.get("loved", ""), next_time=given.get("next_time", ""), marks=marks
    )


def _mend(books: Books, thing: BrokenThing, mended: Data) -> None:
    change_broken(**books.writer, broken=thing, version=thing.version, done_on=books.day, **mended)
