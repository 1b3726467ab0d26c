"""What the children do in a theme: planned when it runs first, and taken over by the runs that follow."""

from decimal import Decimal

from billing.demo.books import Books, Data
from curriculum.models import OwnGoal, ThemeRun
from curriculum.services.letters import add_wish, write_words
from curriculum.services.plans import add_activity, add_goal, plan_activity, plan_material


def earlier_run(books: Books, theme: str) -> ThemeRun | None:
    """The latest run of a theme that has been told."""
    return next((run for _start, run in sorted(books.runs.items(), reverse=True) if run.theme.name == theme), None)


def plan_activities(books: Books, run: ThemeRun, earlier: ThemeRun | None) -> None:
    """Enter what a theme is planned with, its wishes and the owner's words in the letter."""
    given = books.data.get("plans", {}).get(run.theme.name)
    if given is None:
        return
    if earlier is None:
        for row in given["activities"]:
            _add(books, row)
            centre = books.centres[row["centre"]]
            plan_activity(**books.writer, run=run, centre=centre, name=row["name"])
        for need in given.get("needs", ()):
            plan_material(
                **books.writer,
                run=run,
                name=need["name"],
                quantity=Decimal(need["quantity"]),
                centre=books.centres[need["centre"]],
                used_as=need.get("used_as", ""),
            )
    for text in given["wishes"]:
        add_wish(**books.writer, run=run, text=text)
    words = {"opening": given["opening"], "books": "\n".join(given["books"]), "closing": given.get("closing", "")}
    write_words(**books.writer, run=run, language="en", version=0, **words)


def _add(books: Books, row: Data) -> None:
    add_activity(
        **books.writer,
        name=row["name"],
        main=_own_goal(books, row["own"]) if "own" in row else row["main"],
        goals=row.get("goals", ()),
        from_months=row.get("from"),
        source=row["source"],
        licence=row.get("licence", ""),
    )


def _own_goal(books: Books, title: str) -> str:
    """The code of one of the owner's goals, which is added when it is first practised."""
    known = OwnGoal.objects.filter(provider=books.provider, title=title).first()
    if known is None:
        given = next(each for each in books.data["own_goals"] if each["title"] == title)
        known = add_goal(**books.writer, domain=given["domain"], title=title)
    return known.code
