"""What was looked at, recall look-ups, and materials screened for the children who are expected."""

import re
from datetime import date, time, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from curriculum.models import (
    How,
    LearningCentre,
    Material,
    Placement,
    PlannedMaterial,
    PutAway,
    RecallCheck,
    SafetyFacts,
    Theme,
)
from curriculum.notices import recalls_due
from curriculum.screening import Window
from curriculum.selectors.screening import (
    facts_of,
    lots_without_look_up,
    presences_in,
    recalls_to_repeat,
    screening_of_run,
    screening_of_week,
)
from curriculum.services.checks import months_later, note_facts, record_recall_check
from curriculum.services.materials import add_material, change_material
from curriculum.stock import whole_sets
from provider.errors import DomainError, StaleRow
from provider.models import Role, StoredFile
from provider.periods import DateSpan
from provider.services.files import store_upload
from tests.curriculum.conftest import TODAY
from tests.factories import make_bin, make_child, make_enrolment, make_household, make_lot, make_member, make_provider

pytestmark = pytest.mark.django_db
MARCH = DateSpan(date(2025, 3, 1), date(2025, 4, 1))
KNOWN = {
    "smallest": (Decimal(60), Decimal(60), Decimal(60)),
    "ball_diameter": Decimal(0),
    "cord_length": Decimal(0),
    "loop_length": Decimal(0),
    "magnet": False,
    "button_cell": False,
    "latex": False,
    "plastic_bag": False,
    "old_paint": False,
}


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(f"curriculum:{name}", args=[provider.slug, *(row.public_id for row in rows)])


@pytest.fixture
def helper(provider, client):
    client.force_login(make_member(provider, Role.HELPER))
    return client


@pytest.fixture
def used(provider):
    return make_lot(provider, basis="5.00", how=How.SECOND_HAND)


@pytest.fixture
def queries(signed_in):
    def count(address):
        with CaptureQueriesContext(connection) as captured:
            assert signed_in.get(address).status_code == 200
        return len(captured)

    return count


def enrol(provider, birth, **pattern):
    return make_enrolment(make_child(make_household(provider), birth_date=birth), **pattern)


def look_up(writer, lot, on=TODAY, **more):
    return record_recall_check(**writer, **{"lot": lot, "on": on, "where": "Recall page", "result": "nothing", **more})


def photo(colour="green"):
    out = BytesIO()
    Image.new("RGB", (800, 400), colour).save(out, "JPEG")
    return SimpleUploadedFile("photo.jpg", out.getvalue(), "image/jpeg")


def text(response):
    return " ".join(response.content.decode().split())


def codes(checks):
    return {concern.finding.check.code for concern in checks.concerns}


# What was looked at


def test_the_sides_of_a_piece_are_kept_from_the_shortest(writer, lot):
    facts = note_facts(**writer, material=lot.material, smallest=(Decimal(30), None, Decimal(5)), magnet=True)

    assert (facts.smallest_a, facts.smallest_b, facts.smallest_c, facts.magnet) == (Decimal(5), Decimal(30), None, True)
    assert facts.latex is None


def test_facts_noted_twice_without_their_version_are_questioned(writer, lot):
    note_facts(**writer, material=lot.material)

    with pytest.raises(StaleRow):
        note_facts(**writer, material=lot.material)


def test_what_was_seen_is_noted_and_corrected_on_the_page(signed_in, url, lot):
    signed_in.post(url("note_facts", lot.material), {"magnet": "yes", "latex": "no", "cord_length": "250.5"})
    facts = SafetyFacts.objects.get()
    assert (facts.magnet, facts.latex, facts.old_paint, facts.cord_length) == (True, False, None, Decimal("250.5"))
    shown = signed_in.get(url("note_facts", lot.material)).context["form"]
    assert [shown[name].value() for name in ("magnet", "latex", "old_paint")] == ["yes", "no", ""]

    signed_in.post(url("note_facts", lot.material), {"magnet": "no", "version": "1"})

    facts.refresh_from_db()
    assert (facts.magnet, facts.cord_length) == (False, None)


@pytest.mark.parametrize(
    "wrong", [{"cord_length": "-1"}, {"ball_diameter": "1.23"}, {"magnet": "maybe"}, {"filler": "lava"}]
)
def test_senseless_facts_are_asked_about(signed_in, url, lot, wrong):
    answer = signed_in.post(url("note_facts", lot.material), wrong)

    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == set(wrong)


def test_a_stale_look_is_asked_about_on_the_page(signed_in, url, lot, writer):
    note_facts(**writer, material=lot.material, magnet=True)

    assert signed_in.post(url("note_facts", lot.material), {"magnet": "no"}).status_code == 422


def test_a_helper_notes_no_facts(helper, url, lot):
    assert helper.get(url("note_facts", lot.material)).status_code == 403


# Recalls


@pytest.mark.parametrize(
    ("day", "later"),
    [
        (date(2025, 3, 12), date(2025, 9, 12)),
        (date(2025, 8, 31), date(2026, 2, 28)),
        (date(2025, 12, 1), date(2026, 6, 1)),
        (date(2025, 6, 30), date(2025, 12, 30)),
    ],
)
def test_half_a_year_later_is_the_same_day_or_the_last_of_a_short_month(day, later):
    assert months_later(day, 6) == later


def test_a_look_up_is_to_be_repeated_half_a_year_later(writer, used):
    assert look_up(writer, used).again_on == date(2025, 9, 12)


def test_what_was_recalled_needs_no_second_look(writer, used):
    assert look_up(writer, used, result="recalled").again_on is None


@pytest.mark.parametrize(
    ("wrong", "field"),
    [({"on": TODAY + timedelta(days=1)}, "on"), ({"again_on": TODAY}, "again_on")],
)
def test_an_impossible_look_up_is_refused(writer, used, wrong, field):
    with pytest.raises(DomainError) as refused:
        look_up(writer, used, **wrong)

    assert refused.value.field == field


def test_a_voided_lot_is_not_looked_up(writer, used):
    used.voided_at = "2025-03-01T12:00:00Z"
    used.save()

    with pytest.raises(DomainError):
        look_up(writer, used)


def test_a_look_up_posted_twice_is_one(signed_in, url, used):
    posted = {"on": "2025-03-12", "where": "Recall page", "result": "nothing", "submission_key": "k"}

    for _ in range(2):
        signed_in.post(url("check_recall", used), posted)

    assert RecallCheck.objects.count() == 1
    assert "look again on Sept. 12, 2025" in text(signed_in.get(url("lot", used)))


@pytest.mark.parametrize("wrong", [{"result": "perhaps"}, {"where": ""}, {"on": "soon"}])
def test_a_senseless_look_up_is_asked_about(signed_in, url, used, wrong):
    answer = signed_in.post(
        url("check_recall", used), {"on": "2025-03-12", "where": "Recall page", "result": "nothing", **wrong}
    )

    assert set(answer.context["form"].errors) == set(wrong)


def test_second_hand_things_without_a_look_up_are_listed_and_bought_ones_not(signed_in, url, provider, used):
    new = make_lot(provider)
    gone = make_lot(provider, basis="0.00", how=How.GIVEN)
    run_of = Placement.objects.create(
        provider=provider,
        run=Theme.objects.create(provider=provider, name="T").runs.create(
            provider=provider, start=MARCH.start, end=MARCH.end
        ),
        lot=gone,
        quantity=Decimal(1),
    )
    PutAway.objects.create(provider=provider, placement=run_of, on=TODAY, missing=Decimal(1))

    shown = text(signed_in.get(url("recalls")))

    assert used.material.name in shown
    assert new.material.name not in shown
    assert list(lots_without_look_up(provider)) == [used]


def test_a_look_up_is_due_again_by_its_latest_date_only(writer, provider, used):
    look_up(writer, used, on=date(2024, 3, 1))
    assert [lot for lot, _check in recalls_to_repeat(provider, TODAY)] == [used]

    look_up(writer, used)

    assert recalls_to_repeat(provider, TODAY) == []


def test_today_tells_the_owner_of_look_ups_that_are_due(writer, provider, used, signed_in, url):
    look_up(writer, used, on=date(2024, 3, 1))

    assert [each.text for each in recalls_due(provider, Role.OWNER, TODAY)] == [
        "Look again whether 1 thing was recalled."
    ]
    assert list(recalls_due(provider, Role.HELPER, TODAY)) == []
    assert used.material.name in text(signed_in.get(url("recalls")))


def test_the_list_of_recalls_takes_the_same_number_of_queries_for_many(queries, url, writer, provider, used):
    look_up(writer, used, on=date(2024, 3, 1))
    make_lot(provider, basis="0.00", how=How.GIVEN)
    few = queries(url("recalls"))
    for _ in range(6):
        look_up(writer, make_lot(provider, basis="0.00", how=How.GIVEN), on=date(2024, 3, 1))
        make_lot(provider, basis="0.00", how=How.GIVEN)
    assert queries(url("recalls")) == few


@pytest.mark.parametrize(("result", "word"), [("recalled", "recalled"), ("unsure", "unsure"), ("nothing", "due")])
def test_what_a_look_up_said_is_a_fact_of_the_material(writer, used, result, word):
    look_up(writer, used, on=date(2024, 3, 1), result=result, again_on=date(2024, 9, 1))

    assert word in facts_of([used.material], TODAY)[used.material.pk].recalls


# Who is expected


def test_a_child_counts_on_the_days_of_its_plan_in_the_span(provider):
    enrol(provider, date(2023, 5, 1), weekdays=(1, 3))
    enrol(provider, date(2024, 5, 1), start=date(2025, 4, 1))
    enrol(provider, date(2024, 6, 1), end=date(2025, 3, 1))

    assert [(each.birth, each.weekday) for each in presences_in(provider, MARCH)] == [
        (date(2023, 5, 1), 1),
        (date(2023, 5, 1), 3),
    ]


def test_the_own_child_is_there_whenever_it_is_open(provider):
    make_child(make_household(provider), birth_date=date(2024, 1, 1), is_own_child=True)

    found = presences_in(provider, MARCH)

    assert {each.weekday for each in found} == {0, 1, 2, 3, 4}
    assert {(each.start, each.end) for each in found} == {(time(7, 30), time(17, 30))}


def test_a_single_day_counts_its_own_weekday_only(provider):
    enrol(provider, date(2023, 5, 1))

    assert {each.weekday for each in presences_in(provider, DateSpan.day(TODAY))} == {TODAY.weekday()}


# Screening


def test_a_thing_for_older_children_is_questioned_with_the_hours_it_can_be_out(provider, writer, lot):
    enrol(provider, date(2023, 5, 1), weekdays=(0,))
    enrol(provider, date(2020, 5, 1), weekdays=(0, 1))
    note_facts(**writer, material=lot.material, **{**KNOWN, "smallest": (Decimal(9), Decimal(9), Decimal(9))})
    Material.objects.update(age_mark_months=0)

    screening = screening_of_week(provider, Material.objects.all(), TODAY)

    (concern,) = screening.of(lot.material).concerns
    assert screening.age == 22
    assert concern.finding.check.code == "small_parts"
    assert concern.windows == (Window(1, time(8), time(17)),)


def test_children_who_are_old_enough_are_not_meant(provider, writer, lot):
    enrol(provider, date(2020, 5, 1))
    note_facts(**writer, material=lot.material, **{**KNOWN, "smallest": (Decimal(9), Decimal(9), Decimal(9))})
    Material.objects.update(age_mark_months=36)

    checks = screening_of_week(provider, Material.objects.all(), TODAY).of(lot.material)

    assert (checks.concerns, checks.unknown) == ((), ())


def test_a_run_is_screened_for_what_lies_out_and_what_is_planned(provider, run, lot, place):
    place("1")
    needed, other = make_lot(provider).material, make_lot(provider).material
    PlannedMaterial.objects.create(provider=provider, run=run, material=needed, quantity=Decimal(2))

    found = screening_of_run(run, TODAY).by_material

    assert set(found) == {lot.material_id, needed.pk}
    assert other.pk not in found


def test_what_was_taken_out_of_a_run_is_not_screened(provider, run, place):
    placement = place("1")
    placement.voided_at = "2025-03-02T12:00:00Z"
    placement.save()

    assert screening_of_run(run, TODAY).by_material == {}


def test_a_run_takes_the_same_number_of_queries_for_many_materials(provider, run, place, writer):
    def queries():
        with CaptureQueriesContext(connection) as captured:
            screening_of_run(run, TODAY)
        return len(captured)

    enrol(provider, date(2023, 5, 1))
    place("1")
    few = queries()
    for _ in range(10):
        another = make_lot(provider, basis="0.00", how=How.GIVEN)
        note_facts(**writer, material=another.material, magnet=True)
        look_up(writer, another)
        place("1", lot=another)
        enrol(provider, date(2022, 5, 1))
    assert queries() == few == 10


def test_the_pages_ask_to_check_and_promise_nothing(signed_in, url, provider, writer, run, used, place):
    enrol(provider, date(2023, 5, 1))
    note_facts(**writer, material=used.material, filler="kidney_beans", magnet=True)
    look_up(writer, used, result="recalled")

    for name, *rows in (("material", used.material), ("lot", used), ("place_lot", run, used), ("recalls",)):
        shown = text(signed_in.get(url(name, *rows)))
        assert not re.search(r"\bsafe", shown.replace("Product Safety", ""), re.IGNORECASE)
        if name != "recalls":
            assert "Check this" in shown
            assert "It was recalled." in shown
            assert "Not for play, at any age." in shown
            assert "Nobody has looked yet: the age its maker names" in shown
            assert "CFOC 6.4.1.2" in shown


def test_a_thing_without_any_finding_is_still_to_be_looked_at(signed_in, url, provider, writer, lot):
    note_facts(**writer, material=lot.material, **KNOWN)
    Material.objects.update(age_mark_months=0)

    shown = text(signed_in.get(url("material", lot.material)))

    assert "Look yourself all the same" in shown
    assert "safe" not in shown.lower()


# The material itself


@pytest.mark.parametrize(("pieces", "size", "sets"), [("30", 12, (2, 6)), ("0", 12, (0, 0)), ("12", 12, (1, 0))])
def test_pieces_make_whole_sets(pieces, size, sets):
    assert whole_sets(Decimal(pieces), size) == sets


def test_a_set_without_pieces_is_refused():
    with pytest.raises(ValueError, match="at least one"):
        whole_sets(Decimal(1), 0)


def test_everything_about_a_material_is_kept_and_shown(signed_in, url, provider, lot):
    row = make_bin(provider, label="B4")
    posted = {
        "name": "Rail set",
        "keeping": "durable",
        "unit": "piece",
        "bin": row.public_id,
        "pieces_in_set": "5",
        "age_mark_months": "36",
        "condition": "worn",
        "care_note": "Wipe",
        "source": "A drawing of our own",
        "licence": "May be copied",
        "version": "1",
    }

    signed_in.post(url("change_material", lot.material), posted)

    shown = text(signed_in.get(url("material", lot.material)))
    for words in ("B4", "2 whole sets of 5, 2 over", "from 3 years", "Worn", "Wipe", "A drawing of our own"):
        assert words in shown


@pytest.mark.parametrize(
    "wrong", [{"pieces_in_set": "0"}, {"age_mark_months": "-1"}, {"age_mark_months": "999"}, {"condition": "odd"}]
)
def test_a_senseless_material_is_asked_about(signed_in, url, wrong):
    answer = signed_in.post(url("add_material"), {"name": "Rails", "keeping": "durable", "unit": "piece", **wrong})

    assert set(answer.context["form"].errors) == set(wrong)


def test_a_photo_is_kept_shown_and_taken_away(signed_in, url, provider):
    posted = {"name": "Capes", "keeping": "durable", "unit": "piece"}
    signed_in.post(url("add_material"), {**posted, "file": photo()})
    material = Material.objects.get()
    address = url("material_picture", material.photo)
    small = b"".join(signed_in.get(address, {"small": ""}).streaming_content)

    assert address in text(signed_in.get(url("material", material)))
    assert Image.open(BytesIO(small)).size == (320, 160)
    assert Image.open(BytesIO(b"".join(signed_in.get(address).streaming_content))).size == (800, 400)
    signed_in.post(url("change_material", material), {**posted, "drop_photo": "on", "version": "1"})
    assert not StoredFile.objects.exists()
    assert signed_in.get(address).status_code == 404


def test_a_new_photo_takes_the_place_of_the_one_before(writer, provider, owner):
    first, second = (store_upload(provider=provider, actor=owner, upload=photo(c)) for c in ("green", "blue"))
    material = add_material(**writer, name="Capes", photo=first)

    change_material(**writer, material=material, version=1, name="Capes", keeping="durable", unit="piece", photo=second)

    assert list(StoredFile.objects.all()) == [second]


def test_a_photo_that_two_materials_share_stays(writer, provider, owner):
    kept = store_upload(provider=provider, actor=owner, upload=photo())
    one, _other = (add_material(**writer, name=name, photo=kept) for name in ("Capes", "Hats"))

    change_material(**writer, material=one, version=1, name="Capes", keeping="durable", unit="piece", drop_photo=True)

    assert StoredFile.objects.get() == kept


def test_a_helper_sees_photos_of_materials_and_no_other_papers(helper, url, provider, owner):
    shown, paper = (store_upload(provider=provider, actor=owner, upload=photo(c)) for c in ("green", "blue"))
    Material.objects.create(provider=provider, name="Capes", photo=shown)

    assert b"".join(helper.get(url("material_picture", shown)).streaming_content)
    assert helper.get(url("material_picture", paper)).status_code == 404


def test_a_photo_that_is_gone_from_the_store_is_not_found(signed_in, url, provider, owner):
    kept = store_upload(provider=provider, actor=owner, upload=photo())
    Material.objects.create(provider=provider, name="Capes", photo=kept)
    kept.file.delete(save=False)
    StoredFile.objects.update(file="gone.jpg")

    assert signed_in.get(url("material_picture", kept)).status_code == 404


# Finding


@pytest.fixture
def stock(provider, run, lot, centre, place):
    """Three materials, of which the first lay out in the run's centre."""
    Material.objects.filter(pk=lot.material_id).update(name="Felt fish", care_note="Hand wash")
    place("1")
    row = make_bin(provider, label="B4", room="Basement")
    Material.objects.create(provider=provider, name="Shells", bin=row, condition="mend")
    make_lot(provider, basis="0.00", how=How.MADE, material=Material.objects.create(provider=provider, name="Letters"))
    return {"theme": run.theme, "centre": centre, "bin": row}


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ({"word": "wash"}, {"Felt fish"}),
        ({"theme": "theme"}, {"Felt fish"}),
        ({"centre": "centre"}, {"Felt fish"}),
        ({"bin": "bin"}, {"Shells"}),
        ({"place": "basement"}, {"Shells"}),
        ({"condition": "mend"}, {"Shells"}),
        ({"keeping": "made"}, {"Letters"}),
        ({"keeping": "durable", "word": "shells"}, {"Shells"}),
        ({"theme": "theme", "condition": "mend"}, set()),
    ],
)
def test_materials_are_found(signed_in, url, stock, asked, found):
    query = {name: stock[value].public_id if name == value else value for name, value in asked.items()}

    table = signed_in.get(url("materials"), query).context["table"]

    assert {row.record.name for row in table.rows} == found


def test_a_centre_of_another_business_finds_nothing_of_theirs(signed_in, url, stock):
    other = LearningCentre.objects.create(provider=make_provider(), name="Other")

    answer = signed_in.get(url("materials"), {"centre": other.public_id})

    assert "centre" in answer.context["filter"].form.errors


def test_five_thousand_materials_take_as_many_queries_as_one(queries, signed_in, url, provider, stock):
    few = queries(url("materials")), queries(url("materials") + "?word=e&condition=good")
    Material.objects.bulk_create(
        Material(provider=provider, name=f"Piece {number}", bin=stock["bin"]) for number in range(5000)
    )

    assert (queries(url("materials")), queries(url("materials") + "?word=e&condition=good")) == few
    assert "Page 1 of 101" in text(signed_in.get(url("materials")))


def test_the_receipt_of_a_lot_is_linked_for_the_owner_only(signed_in, url, provider, lot):
    from billing.models import Receipt, ReceiptLine, Target

    receipt = Receipt.objects.create(provider=provider, shop="Corner shop", bill_date=TODAY, total=lot.basis)
    ReceiptLine.objects.create(
        provider=provider,
        receipt=receipt,
        position=1,
        description="Bricks",
        amount=lot.basis,
        cost=lot.basis,
        category="supplies",
        target=Target.LOT,
        lot=lot,
    )
    address = reverse("billing:receipt", args=[provider.slug, receipt.public_id])
    assert address in text(signed_in.get(url("material", lot.material)))

    signed_in.force_login(make_member(provider, Role.HELPER))

    shown = text(signed_in.get(url("material", lot.material)))
    assert address not in shown
    assert "$48.00" not in shown
