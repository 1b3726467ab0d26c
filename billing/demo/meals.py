"""What was eaten, what stood on the menu, and taking part in the food programme."""

from datetime import date, timedelta
from functools import partial

from billing.demo.books import CARE, FIRST, PLAN, Books
from billing.services.food import join_food_programme
from provider.models import Attendance
from provider.periods import DateSpan
from provider.services.meals import record_meals_of_day
from provider.services.menus import plan_week

WEEK = timedelta(days=7)


def plan_meals(books: Books) -> None:
    """Meals of every open day with stays, and each week's menu on the Thursday before, where the files name any."""
    if "meals" not in books.data:
        return
    books.at(books.first_day, FIRST, partial(_join, books))
    for day in books.open_days(DateSpan(books.first_day, books.until + timedelta(days=1))):
        books.at(day, CARE, partial(_serve, books))
    monday = DateSpan.week(books.first_day).start
    while monday <= books.until + WEEK:
        books.at(max(monday - timedelta(days=4), books.first_day), PLAN, partial(_write_menu, books, monday))
        monday += WEEK


def _join(books: Books) -> None:
    join_food_programme(**books.writer, tier=books.data["food_tier"], start=books.day)


def _serve(books: Books) -> None:
    """Those eat who are here at the time of a meal; attendance was recorded before."""
    rows = Attendance.objects.filter(provider=books.provider, day=books.day, voided_at__isnull=True)
    stays = [(row.child, row.arrived_at, row.left_at) for row in rows.select_related("child")]
    meals = {}
    for meal in books.data["meals"]:
        at = books.moment(books.day, meal["at"])
        meals[meal["kind"]] = [child for child, arrived, left in stays if arrived and left and arrived <= at < left]
    record_meals_of_day(**books.writer, day=books.day, meals=meals)


def _write_menu(books: Books, monday: date) -> None:
    days = [day for day in books.open_days(DateSpan.week(monday)) if day >= books.first_day]
    texts = {
        (day, kind): weeks[monday.toordinal() // 7 % len(weeks)][day.weekday()]
        for kind, weeks in books.data["menu"].items()
        for day in days
    }
    if texts:
        plan_week(**books.writer, day=monday, texts=texts, version=0)
