from datetime import date
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from pytest_django import DjangoAssertNumQueries

from billing.models import Receipt, ReceiptLine, ShareRule, Target, TaxBasis, TaxYear
from billing.services.receipts import void_receipt
from provider.models import Provider, Role, StoredFile
from tests.billing.slips import TODAY, filed, line, photo, slip, typed
from tests.factories import lock_year, make_lot, make_member, make_provider, make_run

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("_march")]


@pytest.fixture
def _march() -> Any:
    with time_machine.travel("2025-03-14T18:00:00Z", tick=False):
        yield


@pytest.fixture
def provider() -> Provider:
    return make_provider()


@pytest.fixture
def owner(client: Client, provider: Provider) -> Client:
    client.force_login(make_member(provider))
    return client


def address(provider: Provider, *parts: str) -> str:
    return "/".join(["", provider.slug, "money", "receipts", *parts, ""])


def send(client: Client, provider: Provider, *rows: dict[str, str], **fields: Any) -> Any:
    return client.post(address(provider, "new"), typed(*rows, **fields))


def words(response: Any) -> str:
    return unescape(response.content.decode())


def test_it_files_a_receipt_with_a_photo_against_the_theme_of_the_month(owner: Client, provider: Provider) -> None:
    run = make_run(provider)
    rows = [
        {"amount": "4.00", "target": f"run:{run.public_id}"},
        {"amount": "8.00", "share_rule": "personal", "target": f"run:{run.public_id}", "category": ""},
    ]

    response = send(owner, provider, *rows, file=SimpleUploadedFile("slip.jpg", photo()))

    receipt = Receipt.objects.get()
    assert response.headers["Location"] == address(provider, receipt.public_id)
    assert receipt.paper is not None
    assert list(receipt.lines.order_by("position").values_list("run", "target", "share_rule")) == [
        (run.pk, "run", "business"),
        (None, "household", "personal"),
    ]


def test_the_theme_of_the_month_is_offered_first_and_chosen(owner: Client, provider: Provider) -> None:
    run = make_run(provider)

    page = words(owner.get(address(provider, "new")))

    assert f'<option value="run:{run.public_id}" selected>' in page
    assert page.index("This month's theme") < page.index("Another theme")


def test_the_date_starts_with_today(owner: Client, provider: Provider) -> None:
    assert 'value="2025-03-14"' in words(owner.get(address(provider, "new")))


def test_wrong_sums_are_named_and_all_that_was_typed_stays(owner: Client, provider: Provider) -> None:
    response = send(owner, provider, {"amount": "11.00", "description": "Blue felt"}, note="For the puppets")

    page = words(response)
    assert response.status_code == 422
    assert "The lines come to 11.00; the receipt says 12.00: 1.00 is missing." in page
    assert 'href="#id_total"' in page
    for kept in ("Blue felt", "For the puppets", "Corner paper shop", "11.00"):
        assert kept in page
    assert not Receipt.objects.exists()


@pytest.mark.parametrize("wild", [{"act": f"split-{'9' * 5000}"}, {"act": "add", "lines-TOTAL_FORMS": "9" * 5000}])
def test_a_number_of_rows_that_no_page_sends_leads_to_the_form(
    owner: Client, provider: Provider, wild: dict[str, str]
) -> None:
    response = send(owner, provider, {"amount": "12.00"}, **wild)

    assert response.status_code == 200
    assert "Corner paper shop" in words(response)


def test_a_wrong_box_in_a_row_is_linked_from_the_summary(owner: Client, provider: Provider) -> None:
    response = send(owner, provider, {"amount": "12.00", "quantity": "-2"})

    assert response.status_code == 422
    assert 'href="#id_lines-0-quantity"' in words(response)
    assert "The quantity must be above zero." in words(response)


def test_a_refused_photo_is_said_beside_its_box_and_the_rest_stays(owner: Client, provider: Provider) -> None:
    big = SimpleUploadedFile("slip.jpg", bytes(30 * 1024 * 1024))

    response = send(owner, provider, {"amount": "12.00", "description": "Blue felt"}, file=big)

    page = words(response)
    assert response.status_code == 422
    assert "The file is 30 MB; at most 25 MB can be kept." in page
    assert "Blue felt" in page
    assert not Receipt.objects.exists()


def test_a_text_file_named_jpg_is_refused(owner: Client, provider: Provider) -> None:
    response = send(owner, provider, {"amount": "12.00"}, photo=SimpleUploadedFile("slip.jpg", b"felt 4.10"))

    assert "This is not a photo or PDF that can be read." in words(response)
    assert not Receipt.objects.exists()


def test_a_photo_sent_with_a_faulty_form_is_kept_for_the_next_try(owner: Client, provider: Provider) -> None:
    wrong = send(owner, provider, {"amount": "11.00"}, file=SimpleUploadedFile("slip.jpg", photo()))
    paper = StoredFile.objects.get()
    assert f'name="paper" value="{paper.public_id}"' in words(wrong)
    assert "Paper kept:" in words(wrong)

    send(owner, provider, {"amount": "12.00"}, paper=paper.public_id)

    assert Receipt.objects.get().paper == paper


def test_a_kept_photo_can_be_taken_away(owner: Client, provider: Provider) -> None:
    send(owner, provider, {"amount": "11.00"}, file=SimpleUploadedFile("slip.jpg", photo()))
    paper = StoredFile.objects.get()

    response = send(owner, provider, {"amount": "11.00"}, paper=paper.public_id, act="drop-paper")

    assert "Paper kept:" not in words(response)
    assert not StoredFile.objects.exists()


def test_taking_the_paper_off_a_correction_does_not_take_it_from_the_receipt(owner: Client, provider: Provider) -> None:
    send(owner, provider, {"amount": "12.00"}, file=SimpleUploadedFile("slip.jpg", photo()))
    receipt = Receipt.objects.get()
    assert receipt.paper is not None

    post = typed({"amount": "12.00"}, paper=receipt.paper.public_id, act="drop-paper")
    owner.post(address(provider, receipt.public_id, "correct"), post)

    receipt.refresh_from_db()
    assert receipt.paper is not None


def test_a_double_click_files_one_receipt(owner: Client, provider: Provider) -> None:
    first = send(owner, provider, {"amount": "12.00"}, file=SimpleUploadedFile("slip.jpg", photo()))
    second = send(owner, provider, {"amount": "12.00"}, file=SimpleUploadedFile("slip.jpg", photo()))

    assert first.headers["Location"] == second.headers["Location"]
    assert (Receipt.objects.count(), StoredFile.objects.count()) == (1, 1)


@pytest.mark.parametrize("day", ["2025-03-15", "1989-12-31", "yesterday"])
def test_a_day_that_cannot_be_is_refused_beside_the_date(owner: Client, provider: Provider, day: str) -> None:
    response = send(owner, provider, {"amount": "12.00"}, bill_date=day)

    assert response.status_code == 422
    assert 'href="#id_bill_date"' in words(response)


def test_a_closed_year_is_refused_beside_the_date_with_the_reason(owner: Client, provider: Provider) -> None:
    lock_year(provider, 2024)

    response = send(owner, provider, {"amount": "12.00"}, bill_date="2024-12-30")

    assert 'href="#id_bill_date"' in words(response)
    assert "2024 is closed" in words(response)


def test_the_form_offers_the_lots_of_two_years(owner: Client, provider: Provider) -> None:
    recent, old = make_lot(provider, on=date(2023, 4, 1)), make_lot(provider, on=date(2023, 3, 1))

    page = words(owner.get(address(provider, "new")))

    assert f"lot:{recent.public_id}" in page
    assert f"lot:{old.public_id}" not in page


def test_a_correction_still_offers_the_old_lot_of_its_line(owner: Client, provider: Provider) -> None:
    old = make_lot(provider, "30.00", on=date(2020, 3, 1))
    receipt = filed(provider, slip("30.00", line("30.00", target=Target.LOT, target_id=old.public_id)))

    assert f"lot:{old.public_id}" in words(owner.get(address(provider, receipt.public_id, "correct")))


@pytest.mark.parametrize("kind", ["run", "lot"])
def test_a_target_of_another_business_is_no_choice(owner: Client, provider: Provider, kind: str) -> None:
    theirs = make_run(make_provider()) if kind == "run" else make_lot(make_provider())

    response = send(owner, provider, {"amount": "12.00", "target": f"{kind}:{theirs.public_id}"})

    assert response.status_code == 422
    assert not Receipt.objects.exists()


def test_a_paper_of_another_business_is_refused(owner: Client, provider: Provider) -> None:
    theirs = StoredFile.objects.create(provider=make_provider(), file="a/b.jpg", kind="image/jpeg", size=1, sha256="0")

    response = send(owner, provider, {"amount": "12.00"}, paper=theirs.public_id)

    assert response.status_code == 422
    assert not Receipt.objects.exists()


def test_add_a_line_gives_one_more_and_keeps_what_was_typed(owner: Client, provider: Provider) -> None:
    response = send(owner, provider, {"amount": "3.5x", "description": "Blue felt"}, act="add")

    assert response.status_code == 200
    assert 'name="lines-TOTAL_FORMS" value="2"' in words(response)
    assert 'value="3.5x"' in words(response)
    assert 'class="errors"' not in words(response)


def test_split_this_line_halves_the_amount_with_the_odd_cent_first(owner: Client, provider: Provider) -> None:
    rows = [{"amount": "4.01", "description": "Paint"}, {"amount": "7.99", "description": "Felt"}]

    response = send(owner, provider, *rows, act="split-0")

    shown = [(row["description"].value(), row["amount"].value()) for row in response.context["form"].lines]
    assert shown == [("Paint", "2.01"), ("Paint", "2.00"), ("Felt", "7.99")]


def test_remove_takes_one_line_away(owner: Client, provider: Provider) -> None:
    rows = [{"amount": "4.00", "description": "Paint"}, {"amount": "8.00", "description": "Felt"}]

    response = send(owner, provider, *rows, act="remove-0")

    assert [row["description"].value() for row in response.context["form"].lines] == ["Felt"]


def test_an_unticked_tax_box_stays_unticked_when_a_line_is_added(owner: Client, provider: Provider) -> None:
    post = typed({"amount": "4.00"}, act="add")
    del post["lines-0-taxable"]

    response = owner.post(address(provider, "new"), post)

    assert [bool(row["taxable"].value()) for row in response.context["form"].lines] == [False, True]


def test_the_sum_is_shown_after_any_act(owner: Client, provider: Provider) -> None:
    response = send(owner, provider, {"amount": "10.00"}, tax="0.50", act="check")

    assert "1.50 is still missing on the lines." in words(response)


def test_blank_rows_are_passed_over(owner: Client, provider: Provider) -> None:
    send(owner, provider, {"amount": "12.00"}, {"amount": "", "description": ""})

    assert ReceiptLine.objects.count() == 1


def test_a_receipt_without_lines_is_refused(owner: Client, provider: Provider) -> None:
    response = send(owner, provider)

    assert "Enter at least one line." in words(response)


def test_a_receipt_with_hundreds_of_lines_too_many_is_refused(owner: Client, provider: Provider) -> None:
    response = send(owner, provider, {"amount": "12.00"}, **{"lines-TOTAL_FORMS": "5000"})

    assert response.status_code == 422
    assert not Receipt.objects.exists()


def test_a_form_without_its_row_count_is_refused(owner: Client, provider: Provider) -> None:
    post = typed({"amount": "12.00"})
    del post["lines-TOTAL_FORMS"]

    assert owner.post(address(provider, "new"), post).status_code == 422


def test_paying_in_two_ways_is_filed(owner: Client, provider: Provider) -> None:
    ways = {"tenders-TOTAL_FORMS": "1", "tenders-0-paid_by": "gift_card", "tenders-0-amount": "5.00"}

    send(owner, provider, {"amount": "12.00"}, **ways)

    tenders = Receipt.objects.get().tenders.order_by("pk").values_list("paid_by", "amount")
    assert list(tenders) == [("debit", Decimal("7.00")), ("gift_card", Decimal("5.00"))]


def test_a_fixed_percent_is_kept_with_its_reason(owner: Client, provider: Provider) -> None:
    row = {"share_rule": "shared", "share_basis": "fixed", "percent": "37.5", "share_reason": "Three of eight"}

    send(owner, provider, {"amount": "12.00", **row})

    kept = ReceiptLine.objects.get()
    assert (kept.share, kept.share_reason) == (Decimal("0.3750"), "Three of eight")


def test_a_correction_opens_with_what_was_filed(owner: Client, provider: Provider) -> None:
    receipt = filed(provider, slip("12.50", line("12.00", description="Blue felt"), tax="0.50"))

    page = words(owner.get(address(provider, receipt.public_id, "correct")))

    for shown in ("Blue felt", 'value="12.00"', 'value="12.50"', 'value="0.50"', 'name="version" value="1"'):
        assert shown in page


def test_a_correction_is_saved(owner: Client, provider: Provider) -> None:
    receipt = filed(provider, slip("12.00", line("12.00")))

    owner.post(address(provider, receipt.public_id, "correct"), typed({"amount": "9.00"}, total="9.00", version="1"))

    receipt.refresh_from_db()
    assert receipt.total == Decimal("9.00")
    assert "Total: 12.00 → 9.00" in words(owner.get(address(provider, receipt.public_id)))


def test_a_stale_correction_is_asked_about_and_saved_when_sent_again(owner: Client, provider: Provider) -> None:
    receipt = filed(provider, slip("12.00", line("12.00")))
    path = address(provider, receipt.public_id, "correct")
    owner.post(path, typed({"amount": "9.00"}, total="9.00", version="1"))

    stale = owner.post(path, typed({"amount": "8.00"}, total="8.00", version="1"))

    assert stale.status_code == 422
    assert "changed by somebody else" in words(stale)
    assert 'name="version" value="2"' in words(stale)
    assert 'value="8.00"' in words(stale)
    owner.post(path, typed({"amount": "8.00"}, total="8.00", version="2"))
    receipt.refresh_from_db()
    assert receipt.total == Decimal("8.00")


def test_a_return_is_typed_without_a_minus(owner: Client, provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))

    owner.post(address(provider, bought.public_id, "return"), typed({"amount": "5.00"}, total="5.00"))

    back = Receipt.objects.get(returns=bought)
    assert (back.total, back.lines.get().amount) == (Decimal("-5.00"), Decimal("-5.00"))


def test_a_return_starts_with_the_lines_of_the_purchase(owner: Client, provider: Provider) -> None:
    shared = {
        "share_rule": ShareRule.SHARED,
        "share_basis": "fixed",
        "share": Decimal("0.4"),
        "share_reason": "Two of 5",
    }
    bought = filed(provider, slip("12.00", line("12.00", description="Blue felt", **shared)))

    page = words(owner.get(address(provider, bought.public_id, "return")))

    for shown in ("Blue felt", "Two of 5", 'value="40"', 'value="12.00"'):
        assert shown in page


def test_returning_more_than_was_bought_is_refused_beside_the_total(owner: Client, provider: Provider) -> None:
    bought = filed(provider, slip("12.00", line("12.00")))

    response = owner.post(address(provider, bought.public_id, "return"), typed({"amount": "15.00"}, total="15.00"))

    assert 'href="#id_total"' in words(response)


def test_voiding_asks_for_a_reason_and_marks_the_receipt(owner: Client, provider: Provider) -> None:
    receipt = filed(provider, slip("12.00", line("12.00")))
    path = address(provider, receipt.public_id, "void")

    assert owner.post(path, {"version": "1", "reason": ""}).status_code == 422
    owner.post(path, {"version": "1", "reason": "Entered twice"})

    assert "Entered twice" in words(owner.get(address(provider, receipt.public_id)))


def test_the_page_shows_cost_parts_and_history(owner: Client, provider: Provider) -> None:
    TaxYear.objects.create(provider=provider, year=2025, basis=TaxBasis.CASH, provisional_home_share=Decimal("0.25"))
    by_home = {"share_rule": ShareRule.SHARED, "share_basis": "home"}
    receipt = filed(provider, slip("50.00", line("40.00", **by_home), line("10.00")))

    page = words(owner.get(address(provider, receipt.public_id)))

    for shown in ("$20.00", "$30.00", "25.00%", "provisional", "Filed Corner paper shop"):
        assert shown in page


def test_the_page_says_when_the_same_paper_hangs_on_two_receipts(owner: Client, provider: Provider) -> None:
    for key in ("one", "two"):
        send(owner, provider, {"amount": "12.00"}, file=SimpleUploadedFile("a.jpg", photo()), submission_key=key)

    page = owner.get(address(provider, Receipt.objects.latest("pk").public_id))

    assert "Was it entered twice?" in words(page)


def find(client: Client, provider: Provider, **query: str) -> list[str]:
    response = client.get(address(provider), query)
    return sorted(receipt.shop for receipt in response.context["table"].data)


def test_receipts_are_found_by_shop_words_amount_date_theme_kind_and_missing_paper(
    owner: Client, provider: Provider
) -> None:
    run = make_run(provider)
    for_run = line("41.10", target="run", target_id=run.public_id, description="Blue felt")
    filed(provider, slip("41.10", for_run, shop="Mill"))
    bought = filed(provider, slip("45.00", line("45.00", category="cleaning"), shop="Depot", note="Spring"))
    filed(provider, slip("-5.00", line("-5.00"), shop="Depot back"), return_of=bought.public_id)
    filed(provider, slip("60.00", line("60.00"), shop="Old", bill_date=TODAY.replace(month=1)))
    send(owner, provider, {"amount": "12.00"}, shop="Pictured", file=SimpleUploadedFile("a.jpg", photo()))

    assert find(owner, provider, words="mill") == ["Mill"]
    assert find(owner, provider, words="felt blue") == ["Mill"]
    assert find(owner, provider, words="spring") == ["Depot"]
    assert find(owner, provider, amount="41.10") == ["Mill"]
    assert find(owner, provider, amount="40 to 50") == ["Depot", "Mill"]
    assert find(owner, provider, amount="5") == ["Depot back"]
    assert find(owner, provider, until="2025-02-01") == ["Old"]
    assert find(owner, provider, since="2025-02-01", amount="60") == []
    assert find(owner, provider, theme=run.public_id) == ["Mill"]
    assert find(owner, provider, category="cleaning") == ["Depot"]
    assert "Pictured" not in find(owner, provider, without_paper="on")


def test_the_list_adds_up_what_matches_and_leaves_out_what_was_voided(owner: Client, provider: Provider) -> None:
    filed(provider, slip("41.10", line("41.10")))
    gone = filed(provider, slip("9.00", line("9.00")))
    void_receipt(
        provider=provider, actor=None, today=TODAY, receipt_public_id=gone.public_id, version=1, reason="Twice"
    )

    plain, with_voided = owner.get(address(provider)), owner.get(address(provider), {"voided": "on"})

    assert (len(plain.context["table"].rows), len(with_voided.context["table"].rows)) == (1, 2)
    for page in (plain, with_voided):
        assert "$41.10" in words(page).partition("<tfoot")[2]


@pytest.mark.parametrize("query", [{"amount": "lots"}, {"since": "soon"}, {"theme": "nothing"}, {"page": "999"}])
def test_nonsense_in_a_search_is_no_server_error(owner: Client, provider: Provider, query: dict[str, str]) -> None:
    filed(provider, slip("12.00", line("12.00")))

    assert owner.get(address(provider), query).status_code == 200


def test_the_list_stands_among_the_tabs_of_money_and_shows_a_dash_for_no_target(
    owner: Client, provider: Provider
) -> None:
    send(owner, provider, {"amount": "12.00", "target": "none"})

    page = words(owner.get(address(provider)))

    assert f'<a href="{address(provider)}"\n       aria-current="page">Receipts</a>' in page
    assert "Nothing in particular" not in page


def test_an_empty_list_says_what_will_appear(owner: Client, provider: Provider) -> None:
    assert "File the first receipt" in words(owner.get(address(provider)))


@pytest.mark.parametrize("parts", [[], ["new"]])
def test_a_page_takes_as_many_queries_for_many_receipts_as_for_one(
    owner: Client, provider: Provider, django_assert_num_queries: DjangoAssertNumQueries, parts: list[str]
) -> None:
    for_run = line("12.00", target="run", target_id=make_run(provider).public_id)
    filed(provider, slip("12.00", for_run))
    with CaptureQueriesContext(connection) as for_one:
        owner.get(address(provider, *parts))
    for _number in range(5):
        filed(provider, slip("24.00", for_run, for_run))

    with django_assert_num_queries(len(for_one)):
        owner.get(address(provider, *parts))


def test_a_receipt_takes_as_many_queries_for_many_lines_as_for_one(
    owner: Client, provider: Provider, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for_run = line("12.00", target="run", target_id=make_run(provider).public_id)
    short, long = filed(provider, slip("12.00", for_run)), filed(provider, slip("60.00", *[for_run] * 5))
    with CaptureQueriesContext(connection) as for_one:
        owner.get(address(provider, short.public_id))

    with django_assert_num_queries(len(for_one)):
        owner.get(address(provider, long.public_id))


@pytest.mark.parametrize("page", ["", "new", "<id>", "<id>/correct", "<id>/return", "<id>/void"])
@pytest.mark.parametrize(
    ("role", "reads", "writes"),
    [(Role.HELPER, False, False), (Role.FAMILY, False, False), (Role.PREPARER, True, False)],
)
def test_lesser_roles_are_kept_out(
    client: Client, provider: Provider, page: str, role: Role, reads: bool, writes: bool
) -> None:
    receipt = filed(provider, slip("12.00", line("12.00")))
    client.force_login(make_member(provider, role))
    path = address(provider, *filter(None, page.replace("<id>", receipt.public_id).split("/")))

    assert client.get(path).status_code == (200 if reads and page in ("", "<id>") else 403)
    assert client.post(path, typed({"amount": "12.00"})).status_code == 403


@pytest.mark.parametrize("page", ["", "new", "<id>", "<id>/correct", "<id>/return", "<id>/void"])
def test_strangers_find_nothing(client: Client, provider: Provider, page: str) -> None:
    receipt = filed(provider, slip("12.00", line("12.00")))
    other = make_provider()
    client.force_login(make_member(other))
    parts = [*filter(None, page.replace("<id>", receipt.public_id).split("/"))]

    assert client.get(address(provider, *parts)).status_code == 404
    if "<id>" in page:
        assert client.get(address(other, *parts)).status_code == 404
