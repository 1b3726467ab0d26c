"""Home-made things: recipes, making by them, and what the roster asks for."""

from datetime import date
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

from curriculum.forms.making import (
    MakeForm,
    MethodForm,
    PieceForm,
    RecipeForm,
    RosterDayForm,
    UndoForm,
    rows_of,
    typed_rows,
)
from curriculum.models import Making, MarkedPiece, Material, Recipe
from curriculum.selectors.making import (
    choices_of,
    current_recipes,
    lines_of,
    making_plan,
    makings_of,
    newest_edition,
    pieces_of,
    recipe_views,
    remake_lists,
    texts_to_make,
)
from curriculum.selectors.runs import runs_to_prepare
from curriculum.services import making as services
from curriculum.views.check import check_line
from provider.access import OWNER, STAFF, ScopedRequest, own, scoped
from provider.models import Provider
from provider.periods import DateSpan
from provider.views.pages import act, show_form

ADD_ROWS = "add"
OFFERED = 1000  # names to choose a component from; any other name can be typed
RECIPES = Recipe.objects.select_related("product", "provider")


@scoped(*STAFF)
def recipes(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    views = recipe_views(visit.provider, current_recipes(visit.provider), visit.today)
    return render(request, "curriculum/making/recipes.html", {"views": views})


@scoped(*STAFF)
def recipe(request: ScopedRequest, recipe: str) -> HttpResponse:
    visit = request.visit
    row = own(RECIPES, visit.provider, recipe)
    (view,) = recipe_views(visit.provider, [row], visit.today)
    newest = newest_edition(row)
    context = {
        "recipe": row,
        "view": view,
        "makings": makings_of(row),
        "pieces": pieces_of(row),
        "newest": newest,
        "is_newest": newest.pk == row.pk,
        "check": check_line(visit.provider, DateSpan.day(visit.today)),
    }
    return render(request, "curriculum/making/recipe.html", context)


@scoped(OWNER)
def add_recipe(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    form = RecipeForm(request.POST or None, provider=visit.provider)
    if request.POST.get("act") == ADD_ROWS:
        form = _with_more_rows(request, is_new=True)
    elif request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_recipe(**visit.writer, **form.values()),
            done=_("The recipe was added."),
            go=_recipe_url,
        )
        if response:
            return response
    return show_form(request, "curriculum/making/recipe_form.html", form, known=_known(visit.provider))


@scoped(OWNER)
def change_recipe(request: ScopedRequest, recipe: str) -> HttpResponse:
    """Write the next edition, from the newest there is."""
    visit = request.visit
    row = newest_edition(own(RECIPES, visit.provider, recipe))
    form = RecipeForm(
        request.POST or None,
        provider=visit.provider,
        rows=rows_of(lines_of([row])[row.pk]),
        is_new=False,
        initial=RecipeForm.of(row),
    )
    if request.POST.get("act") == ADD_ROWS:
        form = _with_more_rows(request, is_new=False)
    elif request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_recipe(
                **visit.writer, recipe=row, version=form.cleaned_data["version"], **form.values()
            ),
            done=_("The recipe was saved as a new edition. What was made before keeps its cost."),
            go=_recipe_url,
        )
        if response:
            return response
    return show_form(request, "curriculum/making/recipe_form.html", form, recipe=row, known=_known(visit.provider))


@scoped(OWNER)
def make(request: ScopedRequest, recipe: str) -> HttpResponse:
    """Make pieces. What it uses is shown before, and what is short is listed."""
    visit = request.visit
    row = newest_edition(own(RECIPES, visit.provider, recipe))
    day = RosterDayForm(request.GET)
    texts = texts_to_make(row, day.cleaned_data["day"] if day.is_valid() else visit.today)
    initial = {
        "on": visit.today,
        "quantity": len(texts) or row.makes,
        "texts": "\n".join(texts),
        "only_child_specific": "remake" in request.GET,
    }
    form = MakeForm(request.POST or None, recipe=row, initial=initial)
    if request.method == "POST" and "check" not in request.POST:
        response = act(
            request,
            form,
            lambda: services.make_pieces(**visit.writer, recipe=row, **form.values()),
            done=_("It was made, and its components left the stock."),
            go=lambda making: _recipe_url(making.recipe),
        )
        if response:
            return response
    # A refusal for want of components leaves what was typed, so that the list says what is short.
    wanted = {**initial, **_readable(form)}
    plan = making_plan(
        visit.provider,
        row,
        wanted["quantity"],
        wanted["on"],
        only_child_specific=wanted["only_child_specific"],
    )
    buy_for = runs_to_prepare(visit.provider, visit.today).first() if plan.short else None
    return show_form(request, "curriculum/making/make_form.html", form, recipe=row, plan=plan, buy_for=buy_for)


@scoped(OWNER)
def undo_making(request: ScopedRequest, making: str) -> HttpResponse:
    visit = request.visit
    makings = Making.objects.filter(voided_at__isnull=True).select_related("recipe__product", "lot", "provider")
    row = own(makings, visit.provider, making)
    form = UndoForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.undo_making(
                **visit.writer, making=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The making was undone. Its components are on the shelf again."),
            go=lambda _making: _recipe_url(row.recipe),
        )
        if response:
            return response
    return show_form(request, "curriculum/making/undo_form.html", form, making=row, recipe=row.recipe)


@scoped(OWNER)
def mark_piece(request: ScopedRequest, piece: str) -> HttpResponse:
    visit = request.visit
    pieces = MarkedPiece.objects.filter(lot__voided_at__isnull=True).select_related("lot__making__recipe__product")
    row = own(pieces, visit.provider, piece)
    made_by = row.lot.making.recipe
    form = PieceForm(request.POST or None, initial=PieceForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.mark_piece(
                **visit.writer, piece=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The piece was marked."),
            go=lambda _piece: _recipe_url(made_by),
        )
        if response:
            return response
    return show_form(request, "curriculum/making/piece_form.html", form, piece=row, recipe=made_by)


@scoped(*STAFF)
def remake(request: ScopedRequest) -> HttpResponse:
    """What the roster of a day asks for, of everything that carries letters or names."""
    visit = request.visit
    asked = RosterDayForm(request.GET if "day" in request.GET else None, initial={"day": visit.today})
    day: date = asked.cleaned_data["day"] if asked.is_valid() else visit.today
    lists = remake_lists(visit.provider, day)
    is_short = any(component.short for each in lists for component in each.uses)
    buy_for = runs_to_prepare(visit.provider, visit.today).first() if is_short else None
    context = {"form": asked, "day": day, "lists": lists, "buy_for": buy_for}
    return render(request, "curriculum/making/remake.html", context)


@scoped(OWNER)
def cost_method(request: ScopedRequest) -> HttpResponse:
    visit = request.visit
    row = choices_of(visit.provider)
    form = MethodForm(request.POST or None, initial=MethodForm.of(row))
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.set_cost_method(
                **visit.writer, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("What you make from now on follows this choice. What was made before keeps its cost."),
            go=lambda _row: reverse("curriculum:recipes", args=[visit.provider.slug]),
        )
        if response:
            return response
    return show_form(request, "curriculum/making/method_form.html", form)


def _readable(form: MakeForm) -> dict[str, Any]:
    """What could be read of the form, whether all of it was right or not."""
    if not form.is_bound:
        return {}
    form.is_valid()
    return form.cleaned_data


def _recipe_url(recipe: Recipe) -> str:
    return reverse("curriculum:recipe", args=[recipe.provider.slug, recipe.public_id])


def _with_more_rows(request: ScopedRequest, *, is_new: bool) -> RecipeForm:
    """What was typed, with more empty rows: nothing is checked or saved yet."""
    typed = request.POST
    return RecipeForm(provider=request.visit.provider, rows=typed_rows(typed), is_new=is_new, initial=typed.dict())


def _known(provider: Provider) -> list[str]:
    names = Material.objects.filter(provider=provider).order_by("keeping", "name")
    return list(names.values_list("name", flat=True)[:OFFERED])
