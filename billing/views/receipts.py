"""Store receipts: file, find, look at, correct, give back, void."""

from typing import Any

from django import forms
from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django_tables2 import RequestConfig

from billing.forms.receipts import MOST_ROWS, ReceiptForm, as_listed, as_typed, rework
from billing.models import Receipt, ReceiptLine
from billing.selectors.receipts import offer, receipt_page, receipts_of, total_of
from billing.services.receipts import correct_receipt, file_receipt, void_receipt
from billing.tables.receipts import ReceiptFilter, ReceiptTable
from curriculum.selectors.shopping import items_to_file
from provider.access import BOOKS, OWNER, ScopedRequest, own, scoped
from provider.forms.base import DeskForm
from provider.models import StoredFile
from provider.services.files import PaperRefused, discard_upload, store_upload
from provider.views.pages import act, show_form

PER_PAGE = 30


@scoped(*BOOKS, write=())
def receipts(request: ScopedRequest) -> HttpResponse:
    provider = request.visit.provider
    found = ReceiptFilter(request.GET, receipts_of(provider), provider)
    table = ReceiptTable(found.qs, provider=provider, sum_of_all=total_of(found.qs))
    RequestConfig(request, paginate={"per_page": PER_PAGE, "silent": True}).configure(table)
    return render(
        request,
        "billing/receipts/list.html",
        {
            "table": table,
            "filter_form": found.form,
            "searching": any(request.GET.values()),
            "narrowed": any(request.GET.get(name) for name in found.form.fields if name not in ("words", "amount")),
        },
    )


@scoped(*BOOKS, write=())
def receipt(request: ScopedRequest, public_id: str) -> HttpResponse:
    row = own(Receipt.objects.select_related("paper", "returns", "provider"), request.visit.provider, public_id)
    return render(request, "billing/receipts/detail.html", {"page": receipt_page(row, request.visit.today)})


@scoped(OWNER)
def receipt_new(request: ScopedRequest) -> HttpResponse:
    offered = offer(request.visit.provider, request.visit.today)
    items = items_to_file(request.visit.provider, request.GET.getlist("item")[:MOST_ROWS])
    start = as_listed(items, request.visit.today)
    return _fill_in(
        request,
        {"offer": offered},
        start,
        lambda *, version, **given: file_receipt(**given),
        done=_("The receipt is filed."),
    )


@scoped(OWNER)
def receipt_correct(request: ScopedRequest, public_id: str) -> HttpResponse:
    row, lines = _with_lines(request, public_id)
    options = {"offer": offer(row.provider, row.bill_date, lines), "is_return": row.returns_id is not None}
    return _fill_in(
        request,
        options,
        as_typed(row, lines),
        lambda *, submission_key, version, **given: correct_receipt(
            receipt_public_id=public_id, version=version or 0, **given
        ),
        done=_("The receipt is corrected."),
        receipt=row,
    )


@scoped(OWNER)
def receipt_return(request: ScopedRequest, public_id: str) -> HttpResponse:
    row, lines = _with_lines(request, public_id)
    start = as_typed(row, lines, is_return=True)
    start["initial"]["bill_date"] = request.visit.today
    return _fill_in(
        request,
        {"offer": offer(row.provider, row.bill_date, lines), "is_return": True},
        start,
        lambda *, version, **given: file_receipt(return_of=public_id, **given),
        done=_("The return is filed."),
        purchase=row,
    )


class VoidForm(DeskForm):
    reason = forms.CharField(label=gettext_lazy("Why it is voided"), max_length=200)


@scoped(OWNER)
def receipt_void(request: ScopedRequest, public_id: str) -> HttpResponse:
    row = own(Receipt, request.visit.provider, public_id)
    form = VoidForm(request.POST or None, initial={"version": row.version})
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: void_receipt(
                **request.visit.writer,
                receipt_public_id=public_id,
                version=form.cleaned_data["version"] or 0,
                reason=form.cleaned_data["reason"],
            ),
            done=_("The receipt is voided."),
            go=lambda voided: _address(request, voided),
        )
        if response:
            return response
    return show_form(request, "billing/receipts/void.html", form, receipt=row)


def _with_lines(request: ScopedRequest, public_id: str) -> tuple[Receipt, list[ReceiptLine]]:
    row = own(Receipt.objects.select_related("paper", "provider"), request.visit.provider, public_id)
    return row, list(row.lines.select_related("run__theme", "lot__material", "asset").order_by("position"))


def _address(request: ScopedRequest, row: Receipt) -> str:
    return reverse("billing:receipt", args=[request.visit.provider.slug, row.public_id])


def _fill_in(
    request: ScopedRequest, options: dict[str, Any], start: dict[str, Any], service: Any, *, done: str, **context: Any
) -> HttpResponse:
    """The one receipt page: shows it, carries out its row acts, and hands it to the service when it is sent."""
    if request.method != "POST":
        return _show(request, ReceiptForm(**start, **options), options, context)
    data = request.POST.copy()
    refused = _take_paper(request, data)
    row_act = data.get("act", "")
    if row_act:
        form = ReceiptForm(**rework(data, row_act), **options)
        return _show(request, form, options, context, paper_problem=refused)
    form = ReceiptForm(data, **options)
    if refused:
        form.add_domain_error(refused)
    response = act(
        request,
        form,
        lambda: service(
            **request.visit.writer,
            submission_key=form.cleaned_data["submission_key"],
            version=form.cleaned_data["version"],
            receipt=form.to_input(),
        ),
        done=done,
        go=lambda row: _address(request, row),
    )
    return response or _show(request, form, options, context)


def _take_paper(request: ScopedRequest, data: Any) -> PaperRefused | None:
    """Keep a paper that was sent, whatever becomes of the rest: no browser fills in a file a second time."""
    who: dict[str, Any] = {"provider": request.visit.provider, "actor": request.visit.user}
    if data.get("act") == "drop-paper":
        discard_upload(**who, public_id=data.get("paper", ""))
        data["paper"] = ""
    sent = request.FILES.get("photo") or request.FILES.get("file")
    if sent is None:
        return None
    try:
        data["paper"] = store_upload(**who, upload=sent).public_id
    except PaperRefused as error:
        return error
    return None


def _show(
    request: ScopedRequest,
    form: ReceiptForm,
    options: dict[str, Any],
    context: dict[str, Any],
    paper_problem: PaperRefused | None = None,
) -> HttpResponse:
    kept = form["paper"].value()
    stale = getattr(form, "stale_row", None)
    shown = {
        "form": form,
        "offer": options["offer"],
        "paper": StoredFile.objects.filter(provider=request.visit.provider, public_id=kept).first() if kept else None,
        "paper_problem": paper_problem,
        "stale_url": _address(request, stale) if stale else "",
        **context,
    }
    failed = form.has_problems() or paper_problem is not None
    return render(request, "billing/receipts/form.html", shown, status=422 if failed else 200)
