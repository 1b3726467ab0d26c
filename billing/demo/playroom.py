"""Themes by month: planned ahead, laid out on the first day, counted and put away on the last."""

from datetime import date, time, timedelta
from decimal import Decimal
from functools import partial

from billing.demo.books import FIRST, LAY_OUT, PLAN, PUT_AWAY, WORK, Books, Data, Lot
from billing.demo.plans import earlier_run, plan_activities
from curriculum.models import Keeping, Placement, Theme, ThemeRun
from curriculum.services.bins import add_bin
from curriculum.services.checks import note_facts, record_recall_check
from curriculum.services.cleaning import add_routine
from curriculum.services.materials import acquire_lot, add_material
from curriculum.services.placements import place_lot, put_away
from curriculum.services.themes import add_centre, add_theme, plan_run
from curriculum.services.work import log_run_work
from provider.periods import DateSpan

PLANNED_AHEAD = timedelta(days=11)
BY_HAND = ("given", "from_home", "made")
BREAKS_IN_A_HUNDRED = 7
LOST_IN_A_HUNDRED = 6
SHELVES = ("Tall shelf", "Closet under the stairs", "Basement, bin")


def plan_playroom(books: Books) -> None:
    """The centres and the stock of old, then each month's theme."""
    books.at(books.first_day, FIRST, partial(_furnish, books))
    themes: dict[str, Theme] = {}
    for number, month in enumerate(books.months):
        order = books.data["order"]
        given = _theme(books, order[number % len(order)])
        planned = max(books.first_day, month.start - PLANNED_AHEAD)
        books.at(planned, PLAN, partial(_plan, books, themes, given, month))


def _furnish(books: Books) -> None:
    for given in books.data["centres"]:
        books.centres[given["name"]] = add_centre(**books.writer, name=given["name"], target_pieces=given["pieces"])
    books.bins.extend(add_bin(**books.writer, **given) for given in books.data.get("bins", ()))
    for given in books.data["stock"]:
        _know(books, given)
        _acquire(books, given, Decimal(given["basis"]))


def _plan(books: Books, themes: dict[str, Theme], given: Data, month: DateSpan) -> None:
    """Enter the run, and what was there or made for it; what is bought comes with its receipts."""
    name = given["name"]
    if name not in themes:
        themes[name] = add_theme(**books.writer, name=name, hue=given["hue"], note=given.get("note", ""))
        for row in given.get("kept", ()):
            _know(books, row)
        for row in given.get("used", ()):
            _know(books, row, keeping=Keeping.CONSUMABLE)
    for row in given.get("kept", ()):
        if row["how"] in BY_HAND and not books.lots_left(row["name"]):
            _acquire(books, row, Decimal(row.get("price", "0.00")))
    end = month.last_day + timedelta(days=1)
    earlier, budget = earlier_run(books, name), Decimal(given["budget"])
    run = plan_run(**books.writer, theme=themes[name], start=month.start, end=end, budget=budget, start_from=earlier)
    books.runs[month.start] = run
    plan_activities(books, run, earlier)
    if books.data["stock"]:
        saturday = books.day + timedelta(days=(5 - books.day.weekday()) % 7)
        books.at(saturday, WORK, partial(_prepare, books, run))
    placements: list[tuple[Placement, Lot, Data]] = []
    books.at(laid_out_on(books, month), LAY_OUT, lambda: placements.extend(_lay_out(books, run, given)))
    last = books.open_days(month)[-1]
    books.at(last, PUT_AWAY, partial(_put_away, books, placements))


def laid_out_on(books: Books, month: DateSpan) -> date:
    """The first day of the month; in the first month of all, once the shopping for it is done."""
    return month.start if month.start > books.first_day else month.start + timedelta(days=4)


def _theme(books: Books, name: str) -> Data:
    return next(given for given in books.data["themes"] if given["name"] == name)


def _know(books: Books, given: Data, keeping: str = Keeping.DURABLE) -> None:
    """Add a material, in a bin where there are any, with what was looked at of it and how it is cleaned."""
    name = given["name"]
    dice = books.dice(f"place of {name}", books.first_day)
    seen = dict(books.data.get("looked_at", {}).get(name, {}))
    material = add_material(
        **books.writer,
        name=name,
        keeping=keeping,
        unit=given.get("unit", "piece"),
        place="" if books.bins else f"{dice.choice(SHELVES)} {dice.randint(1, 6)}",
        bin=dice.choice(books.bins) if books.bins else None,
        age_mark_months=seen.pop("age", None),
    )
    books.materials[name] = material
    if seen:
        lengths = {key: Decimal(seen[key]) for key in ("ball_diameter", "cord_length", "loop_length") if key in seen}
        sides = [Decimal(side) for side in seen.pop("smallest", ())]
        note_facts(**books.writer, material=material, smallest=sides, **{**seen, **lengths})
    if routine := books.data.get("cleaned", {}).get(name):
        add_routine(**books.writer, material=material, last_done_on=books.day, **routine)


def _acquire(books: Books, given: Data, basis: Decimal) -> None:
    row = acquire_lot(
        **books.writer,
        material=books.materials[given["name"]],
        on=books.day,
        how=given["how"],
        quantity=Decimal(given["quantity"]),
        basis=basis,
        expected_uses=given["uses"],
        note=given.get("note", ""),
    )
    books.lots.setdefault(given["name"], []).append(Lot(row, row.quantity))
    if look_up := books.data.get("looked_up", {}).get(given["name"]):
        record_recall_check(**books.writer, lot=row, on=books.day, **look_up)


def _prepare(books: Books, run: ThemeRun) -> None:
    dice = books.dice("prepare", run.start)
    for kind, begins in (("plan", time(10, 0)), ("prepare", time(14, 30))):
        start = books.moment(books.day, begins)
        end = start + timedelta(minutes=dice.randrange(45, 160, 5))
        log_run_work(**books.writer, now=books.now, run=run, kind=kind, started_at=start, ended_at=end)


def _lay_out(books: Books, run: ThemeRun, given: Data) -> list[tuple[Placement, Lot, Data]]:
    """The theme's own things, and a few that lie out in turn."""
    stock = books.data["stock"]
    some = books.dice("stock", run.start).sample(stock, books.data["stock_in_each_run"])
    return [
        (
            place_lot(**books.writer, run=run, lot=lot.row, centre=books.centres[row["centre"]], quantity=lot.left),
            lot,
            row,
        )
        for row in [*given.get("kept", ()), *given.get("used", ()), *some]
        for lot in books.lots_left(row["name"])
    ]


def _put_away(books: Books, placements: list[tuple[Placement, Lot, Data]]) -> None:
    for placement, lot, row in placements:
        dice = books.dice(f"put away {row['name']}", placement.run.start)
        used_up = broken = missing = Decimal(0)
        if "unit" in row:
            used_up = min(lot.left, Decimal(dice.randint(int(lot.left) // 2, int(lot.left))))
        elif dice.randrange(100) < BREAKS_IN_A_HUNDRED:
            broken = Decimal(dice.randint(1, max(1, int(lot.left) // 8)))
        elif lot.left > 5 and dice.randrange(100) < LOST_IN_A_HUNDRED:
            missing = Decimal(dice.randint(1, 2))
        put_away(
            **books.writer,
            placement=placement,
            on=books.day,
            returned=lot.left - used_up - broken - missing,
            broken=broken,
            missing=missing,
            used_up=used_up,
        )
        lot.left -= used_up + broken + missing
