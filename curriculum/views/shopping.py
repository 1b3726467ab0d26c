"""The shopping list of a run. What is ticked off as bought starts a receipt."""

from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from curriculum.forms.shopping import BoughtForm, ItemForm, OrderedForm, SuggestedForm
from curriculum.models import Material, ShoppingItem, ThemeRun
from curriculum.selectors.shopping import shopping_of
from curriculum.services import shopping as services
from provider.access import OWNER, ScopedRequest, own, scoped
from provider.forms.base import DeskForm, new_submission_key
from provider.views.pages import act, show_form

RUNS = ThemeRun.objects.live().select_related("theme", "provider")
ITEMS = ShoppingItem.objects.filter(voided_at__isnull=True).select_related("run__theme", "run__provider", "material")


@scoped(OWNER, write=())
def shopping(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    context = {"run": row, "list": shopping_of(row, visit.today), "key": new_submission_key}
    return render(request, "curriculum/shopping.html", context)


@scoped(OWNER)
def add_item(request: ScopedRequest, run: str) -> HttpResponse:
    """Add an item; a page that says what is short names the material and how many."""
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    wanted = Material.objects.filter(provider=visit.provider, public_id=request.GET.get("material", "")).first()
    initial = {"material": wanted.public_id, "text": wanted.name} if wanted else {}
    if "quantity" in request.GET:
        initial["quantity"] = request.GET["quantity"]
    form = ItemForm(request.POST or None, run=row, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.add_item(**visit.writer, run=row, **form.values()),
            done=_("It is on the list."),
            go=lambda _item: _list_url(row),
        )
        if response:
            return response
    return show_form(request, "curriculum/item_form.html", form, run=row)


@scoped(OWNER)
@require_POST
def add_suggested(request: ScopedRequest, run: str) -> HttpResponse:
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = SuggestedForm(request.POST, run=row)
    response = act(
        request,
        form,
        lambda: services.add_suggested(**visit.writer, run=row, **form.values()),
        done=_("It is on the list."),
        go=lambda _item: _list_url(row),
    )
    return response or _refused(request, form, row)


@scoped(OWNER)
@require_POST
def buy(request: ScopedRequest, run: str) -> HttpResponse:
    """Tick off, then go on to the receipt, started with what was ticked."""
    visit = request.visit
    row = own(RUNS, visit.provider, run)
    form = BoughtForm(request.POST, run=row)
    response = act(
        request,
        form,
        lambda: services.buy_items(**visit.writer, run=row, items=form.cleaned_data["items"]),
        done=_("Ticked off. Now enter the receipt."),
        go=lambda items: receipt_url(row, items),
    )
    return response or _refused(request, form, row)


@scoped(OWNER)
def change_item(request: ScopedRequest, item: str) -> HttpResponse:
    visit = request.visit
    row = own(ITEMS, visit.provider, item)
    initial = ItemForm.of(row) | {"material": row.material.public_id if row.material else None}
    form = ItemForm(request.POST or None, run=row.run, initial=initial)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.change_item(
                **visit.writer, item=row, version=form.cleaned_data["version"], **form.values("submission_key")
            ),
            done=_("The item was saved."),
            go=lambda _item: _list_url(row.run),
        )
        if response:
            return response
    return show_form(request, "curriculum/item_form.html", form, run=row.run, item=row)


@scoped(OWNER)
@require_POST
def tick_ordered(request: ScopedRequest, item: str) -> HttpResponse:
    visit = request.visit
    row = own(ITEMS, visit.provider, item)
    form = OrderedForm(request.POST)
    response = act(
        request,
        form,
        lambda: services.tick_ordered(**visit.writer, item=row, ordered=form.cleaned_data["ordered"]),
        done=_("It is on the way.") if request.POST.get("ordered") else _("It is not on the way."),
        go=lambda _item: _list_url(row.run),
    )
    return response or _refused(request, form, row.run)


@scoped(OWNER)
def take_off(request: ScopedRequest, item: str) -> HttpResponse:
    visit = request.visit
    row = own(ITEMS, visit.provider, item)
    form = DeskForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.take_off(**visit.writer, item=row, version=form.cleaned_data["version"]),
            done=_("It was taken off the list."),
            go=lambda _item: _list_url(row.run),
        )
        if response:
            return response
    return show_form(request, "curriculum/take_off_form.html", form, run=row.run, item=row)


def receipt_url(run: ThemeRun, items: Any) -> str:
    """The new receipt that is started with these items."""
    query = urlencode([("item", item.public_id) for item in items])
    return f"{reverse('billing:receipt_new', args=[run.provider.slug])}?{query}"


def _list_url(run: ThemeRun) -> str:
    return reverse("curriculum:shopping", args=[run.provider.slug, run.public_id])


def _refused(request: ScopedRequest, form: DeskForm, run: ThemeRun) -> HttpResponse:
    for told in form.errors.values():
        for message in told:
            messages.error(request, str(message))
    return HttpResponseRedirect(_list_url(run))
