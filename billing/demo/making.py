"""Things made by a recipe, once a year: what is the same for everybody, and a piece for each child without one."""

from datetime import date
from decimal import Decimal
from functools import partial

from billing.demo.books import WORK, Books, Data
from curriculum.models import Keeping, PieceText, Recipe
from curriculum.selectors.making import texts_to_make
from curriculum.services.making import ComponentInput, add_recipe, make_pieces
from curriculum.services.materials import acquire_lot, add_material


def plan_making(books: Books) -> None:
    if "recipes" not in books.data:
        return
    recipes: dict[str, Recipe] = {}
    for year in range(books.first_day.year, books.until.year + 1):
        day = max(books.first_day, date.fromisoformat(f"{year}-{books.data['making_day']}"))
        books.at(day, WORK, partial(_make, books, recipes))


def _make(books: Books, recipes: dict[str, Recipe]) -> None:
    is_first = not recipes
    for given in books.data["supplies"]:
        _stock_up(books, given)
    for given in books.data["recipes"]:
        if is_first:
            recipes[given["name"]] = _write_down(books, given)
        recipe = recipes[given["name"]]
        texts = () if recipe.pieces == PieceText.SHARED else texts_to_make(recipe, books.day)
        if quantity := given.get("quantity", len(texts)):
            make_pieces(
                **books.writer,
                recipe=recipe,
                on=books.day,
                quantity=Decimal(quantity),
                minutes=given["minutes"] * quantity // given["makes"],
                texts=texts,
                only_child_specific=bool(texts) and not is_first,
            )


def _stock_up(books: Books, given: Data) -> None:
    name = given["name"]
    if name not in books.materials:
        books.materials[name] = add_material(
            **books.writer, name=name, keeping=Keeping.CONSUMABLE, unit=given["unit"], place="Making shelf"
        )
    acquire_lot(
        **books.writer,
        material=books.materials[name],
        on=books.day,
        how=given["how"],
        quantity=Decimal(given["quantity"]),
        basis=Decimal(given["basis"]),
        expected_uses=given["uses"],
        note=given.get("note", ""),
    )


def _write_down(books: Books, given: Data) -> Recipe:
    return add_recipe(
        **books.writer,
        name=given["name"],
        pieces=given["pieces"],
        makes=Decimal(given["makes"]),
        minutes=given["minutes"],
        expected_uses=given["uses"],
        bought_price=Decimal(given["bought_price"]),
        components=[
            ComponentInput(
                books.materials[row["name"]],
                Decimal(row["quantity"]),
                Decimal(row.get("waste", "0")),
                row.get("child_specific", False),
            )
            for row in given["components"]
        ],
    )
