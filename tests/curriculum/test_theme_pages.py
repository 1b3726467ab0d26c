from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from curriculum.models import Acquisition, How, LearningCentre, Material, Placement, PutAway, RunWork, Theme, ThemeRun
from provider.models import Role
from tests.factories import (
    make_centre,
    make_child,
    make_enrolment,
    make_household,
    make_lot,
    make_member,
    make_provider,
    make_run,
    make_work,
)

pytestmark = pytest.mark.django_db
MAY = {"start": "2025-05-01", "end": "2025-05-31"}


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(f"curriculum:{name}", args=[provider.slug, *(row.public_id for row in rows)])


@pytest.fixture
def helper(provider, client):
    client.force_login(make_member(provider, Role.HELPER))
    return client


@pytest.fixture
def queries(signed_in):
    """Count the queries of a page."""

    def count(address):
        with CaptureQueriesContext(connection) as captured:
            assert signed_in.get(address).status_code == 200
        return len(captured)

    return count


@pytest.fixture
def costly(run, lot, place):
    """A run with a budget and a lot that cost something, both lying open."""
    ThemeRun.objects.update(budget=Decimal("123.00"))
    return place()


def text(response):
    return " ".join(response.content.decode().split())


def test_the_door_asks_to_plan_a_theme_when_none_runs(signed_in, url):
    assert url("plan") in text(signed_in.get(url("theme")))


def test_the_door_shows_the_theme_that_runs(signed_in, url, run):
    make_run(run.provider, date(2024, 5, 1), date(2024, 6, 1))
    shown = text(signed_in.get(url("theme")))
    assert "Running now" in shown
    assert "Before, 2024" in shown


def test_the_month_strip_names_the_theme_of_today(signed_in, url, run):
    assert f'<a href="{url("run", run)}">{run.theme.name}</a>' in text(signed_in.get(url("centres")))


def test_the_month_strip_leads_a_tax_preparer_to_no_closed_door(client, provider, run):
    client.force_login(make_member(provider, Role.PREPARER))
    page = text(client.get(reverse("billing:money", args=[provider.slug])))
    assert run.theme.name in page
    assert f"/theme/{run.public_id}/" not in page


def test_a_theme_is_added_and_then_planned(signed_in, url, provider):
    answer = signed_in.post(url("add_theme"), {"name": "Harbour", "hue": "210"})
    theme = Theme.objects.get()
    assert (answer.url, theme.hue) == (f"{url('plan')}?theme={theme.public_id}", 210)
    signed_in.post(url("plan"), {"theme": theme.public_id, **MAY, "budget": "120"})
    run = ThemeRun.objects.get()
    assert (run.start, run.end, run.budget) == (date(2025, 5, 1), date(2025, 6, 1), Decimal("120.00"))


def test_a_hue_that_is_not_offered_is_refused(signed_in, url):
    assert signed_in.post(url("add_theme"), {"name": "Harbour", "hue": "1"}).status_code == 422


def test_an_overlapping_run_is_refused_beside_its_first_day(signed_in, url, run):
    days = {"start": "2025-03-31", "end": "2025-04-30"}
    answer = signed_in.post(url("plan"), {"theme": run.theme.public_id, **days})
    assert answer.status_code == 422
    assert "start" in answer.context["form"].errors


@pytest.mark.parametrize("end", ["9999-12-31", "yesterday", ""])
def test_an_impossible_last_day_is_refused(signed_in, url, run, end):
    answer = signed_in.post(url("plan"), {"theme": run.theme.public_id, "start": "2025-05-01", "end": end})
    assert "end" in answer.context["form"].errors


def test_a_theme_of_another_business_cannot_be_planned(signed_in, url):
    foreign = make_run(make_provider()).theme
    answer = signed_in.post(url("plan"), {"theme": foreign.public_id, **MAY})
    assert "theme" in answer.context["form"].errors


def test_planning_twice_with_one_form_plans_one_run(signed_in, url, provider):
    theme = Theme.objects.create(provider=provider, name="Harbour")
    posted = {"theme": theme.public_id, **MAY, "submission_key": "k"}
    assert signed_in.post(url("plan"), posted).url == signed_in.post(url("plan"), posted).url
    assert ThemeRun.objects.count() == 1


def test_a_stale_run_is_shown_again_and_saved_on_the_second_try(signed_in, url, run):
    ThemeRun.objects.update(version=5)
    posted = {"theme": run.theme.public_id, "start": "2025-03-01", "end": "2025-03-29", "version": "1"}
    answer = signed_in.post(url("change_run", run), posted)
    assert answer.status_code == 422
    posted["version"] = str(answer.context["form"]["version"].value())
    assert signed_in.post(url("change_run", run), posted).status_code == 302


def test_the_run_shows_its_last_day_in_the_form(signed_in, url, run):
    assert 'value="2025-03-31"' in text(signed_in.get(url("change_run", run)))


def test_a_centre_is_added_and_changed(signed_in, url):
    signed_in.post(url("add_centre"), {"name": "Blocks", "target_pieces": "40"})
    centre = LearningCentre.objects.get()
    changed = {"name": "Building", "target_pieces": "30", "position": "3", "version": "1"}
    signed_in.post(url("change_centre", centre), changed)
    centre.refresh_from_db()
    assert (centre.name, centre.target_pieces, centre.position) == ("Building", 30, 3)


def test_a_material_is_added_with_its_lot(signed_in, url):
    signed_in.post(url("add_material"), {"name": "Shells", "keeping": "durable", "unit": "piece", "place": "Bin 4"})
    material = Material.objects.get()
    lot = {"how": "second_hand", "on": "2025-03-01", "quantity": "30", "basis": "6.5", "expected_uses": "5"}
    signed_in.post(url("add_lot", material), lot)
    lot = Acquisition.objects.get()
    assert (lot.basis, lot.residual, lot.quantity) == (Decimal("6.50"), Decimal("0.00"), 30)


def test_a_consumable_is_not_asked_how_long_it_lasts(signed_in, url, provider):
    material = Material.objects.create(provider=provider, name="Sheets", keeping="consumable")
    fields = signed_in.get(url("add_lot", material)).context["form"].fields
    assert not {"expected_uses", "residual"} & set(fields)


@pytest.mark.parametrize("quantity", ["0", "-2", "NaN", "1.2345", "many", "1e99"])
def test_an_impossible_quantity_is_refused(signed_in, url, lot, quantity):
    posted = {"how": "given", "on": "2025-03-01", "quantity": quantity, "expected_uses": "5"}
    answer = signed_in.post(url("add_lot", lot.material), posted)
    assert "quantity" in answer.context["form"].errors


def test_materials_are_found_by_word_and_place(signed_in, url, provider):
    Material.objects.create(provider=provider, name="Felt pieces", place="Bin 4")
    Material.objects.create(provider=provider, name="Shells", place="Shelf 2")
    shown = text(signed_in.get(url("materials"), {"word": "felt", "place": "bin"}))
    assert "Felt pieces" in shown
    assert "Shells" not in shown


def test_materials_of_another_business_are_not_listed(signed_in, url, lot):
    other = make_lot(make_provider()).material
    assert other.name not in text(signed_in.get(url("materials")))


@pytest.mark.parametrize("query", [{"page": "x"}, {"page": "99"}, {"sort": "nothing"}, {"keeping": "odd"}])
def test_a_senseless_query_shows_the_materials_all_the_same(signed_in, url, lot, query):
    assert lot.material.name in text(signed_in.get(url("materials"), query))


def test_the_materials_take_the_same_number_of_queries_for_many(queries, url, provider, lot):
    few = queries(url("materials"))
    for _ in range(20):
        make_lot(provider)
    assert queries(url("materials")) == few


def test_the_material_says_where_its_lots_lie_and_what_they_are_worth(signed_in, url, lot, costly, centre):
    shown = text(signed_in.get(url("material", lot.material)))
    assert centre.name in shown
    assert "$36.00" in shown


def test_the_lot_shows_what_each_run_bears(signed_in, url, lot, costly):
    assert "$12.00" in text(signed_in.get(url("lot", lot)))


def test_a_lot_is_corrected_and_voided(signed_in, url, lot):
    corrected = {"how": "second_hand", "on": "2025-01-10", "quantity": "11", "basis": "40", "expected_uses": "4"}
    signed_in.post(url("correct_lot", lot), {**corrected, "version": "1"})
    signed_in.post(url("void_lot", lot), {"reason": "entered twice", "version": "2"})
    lot.refresh_from_db()
    assert (lot.how, lot.quantity, bool(lot.voided_at)) == (How.SECOND_HAND, 11, True)
    assert "counts for nothing" in text(signed_in.get(url("lot", lot)))


def test_a_lot_is_chosen_and_laid_out(signed_in, url, run, lot, centre):
    chosen = signed_in.get(url("choose_lot", run), {"centre": centre.public_id})
    assert f"{url('place_lot', run, lot)}?centre={centre.public_id}" in text(chosen)
    answer = signed_in.post(url("place_lot", run, lot), {"centre": centre.public_id, "quantity": "10"})
    assert answer.url == f"{url('run', run)}#centre-{centre.public_id}"
    assert Placement.objects.get().quantity == 10


def test_more_than_is_on_hand_is_refused_beside_the_number(signed_in, url, run, lot):
    answer = signed_in.post(url("place_lot", run, lot), {"quantity": "13"})
    assert "Only 12" in str(answer.context["form"].errors["quantity"])


def test_a_centre_of_another_business_is_refused(signed_in, url, run, lot):
    foreign = make_centre(make_provider())
    answer = signed_in.post(url("place_lot", run, lot), {"centre": foreign.public_id, "quantity": "1"})
    assert "centre" in answer.context["form"].errors


def test_putting_away_walks_on_to_the_next_thing_and_ends_at_the_run(signed_in, url, provider, run, place, centre):
    first, last = place(), place("1", lot=make_lot(provider), centre=None)
    posted = {"returned": "9", "broken": "1", "on": "2025-03-12"}
    assert signed_in.post(url("put_away", first), posted).url == url("put_away", last)
    assert signed_in.post(url("put_away", last), {"returned": "1", "on": "2025-03-12"}).url.startswith(url("run", run))
    assert not PutAway.objects.exclude(missing=0).exists()


def test_more_put_away_than_lies_out_is_refused(signed_in, url, place):
    answer = signed_in.post(url("put_away", place()), {"returned": "11", "on": "2025-03-12"})
    assert "Only 10" in str(answer.context["form"].errors["returned"])


def test_a_count_posted_twice_counts_once(signed_in, url, place):
    placement = place()
    posted = {"returned": "4", "on": "2025-03-12", "submission_key": "k"}
    signed_in.post(url("put_away", placement), posted)
    signed_in.post(url("put_away", placement), posted)
    assert PutAway.objects.count() == 1


def test_a_count_is_undone(signed_in, url, place):
    placement = place()
    signed_in.post(url("put_away", placement), {"returned": "4", "on": "2025-03-12"})
    count = PutAway.objects.get()
    assert signed_in.get(url("void_put_away", count)).status_code == 200
    signed_in.post(url("void_put_away", count), {"version": "1"})
    count.refresh_from_db()
    assert count.voided_at


def test_a_placement_is_taken_out(signed_in, url, place):
    placement = place()
    assert signed_in.get(url("unplace", placement)).status_code == 200
    signed_in.post(url("unplace", placement), {"version": "1"})
    placement.refresh_from_db()
    assert placement.voided_at


def test_a_stale_removal_is_questioned(signed_in, url, place):
    assert signed_in.post(url("unplace", place()), {"version": "7"}).status_code == 422


def test_the_run_page_takes_the_same_number_of_queries_for_many_placements(queries, url, provider, run, place):
    place("1", lot=make_lot(provider))
    few = queries(url("run", run))
    for _ in range(15):
        place("1", lot=make_lot(provider), centre=make_centre(provider))
    assert queries(url("run", run)) == few


def test_the_material_takes_the_same_number_of_queries_for_many_lots(queries, url, provider, lot, place):
    place("1")
    few = queries(url("material", lot.material))
    for _ in range(10):
        place("1", lot=make_lot(provider, material=lot.material))
    assert queries(url("material", lot.material)) == few


def test_the_door_takes_the_same_number_of_queries_for_many_runs(queries, url, provider, run):
    few = queries(url("theme"))
    for month in range(1, 12):
        make_run(provider, date(2023, month, 1), date(2023, month + 1, 1))
    assert queries(url("theme")) == few


def test_the_page_asks_to_check_for_the_youngest_child_and_never_promises_anything(signed_in, url, provider, run, lot):
    make_enrolment(make_child(make_household(provider), birth_date=date(2024, 1, 2)))
    for name, *rows in (("run", run), ("materials",), ("material", lot.material), ("choose_lot", run)):
        shown = text(signed_in.get(url(name, *rows)))
        assert "Check this" in shown
        assert "13 months old" in shown or "14 months old" in shown
        assert "Local rules win" in shown
        assert "safe" not in shown.lower()


def test_the_owner_sees_where_the_cost_is(signed_in, url, run):
    assert reverse("billing:run_cost", args=[run.provider.slug, run.public_id]) in text(signed_in.get(url("run", run)))


def test_a_helper_sees_no_money(helper, url, run, lot, costly):
    for name, *rows in (("theme",), ("run", run), ("materials",), ("material", lot.material), ("lot", lot)):
        answer = helper.get(url(name, *rows))
        assert answer.status_code == 200
        assert "$" not in text(answer)
        assert "/cost/" not in text(answer)


def test_a_helper_logs_hours_under_their_own_name(helper, url, run):
    form = helper.get(url("log_hours", run)).context["form"]
    posted = {
        "kind": "prepare",
        "day": "2025-03-11",
        "begins": "18:00",
        "ends": "19:30",
        "place": form["place"].value(),
        "person": form["person"].value(),
    }
    assert helper.post(url("log_hours", run), posted).url == url("run", run)
    work = RunWork.objects.get().work
    assert (work.person, work.at_home) == (form["person"].value(), True)
    assert work.person


def test_the_run_lists_its_hours(signed_in, url, run):
    RunWork.objects.create(
        provider=run.provider, run=run, work=make_work(run.provider, date(2025, 3, 4), note="Cut leaves")
    )
    assert "Cut leaves" in text(signed_in.get(url("run", run)))


WRITES = ["plan", "add_theme", "add_centre", "add_material"]


@pytest.mark.parametrize("name", WRITES)
def test_a_helper_changes_nothing(helper, url, name):
    assert helper.get(url(name)).status_code == 403
    assert helper.post(url(name), {"name": "Harbour"}).status_code == 403


@pytest.mark.parametrize("role", [Role.PREPARER, Role.FAMILY])
@pytest.mark.parametrize("name", ["theme", "themes", "centres", "materials", *WRITES])
def test_preparers_and_families_stay_out(client, url, provider, role, name):
    client.force_login(make_member(provider, role))
    assert client.get(url(name)).status_code == 403


def test_a_stranger_finds_nothing(client, url, run):
    client.force_login(make_member(make_provider()))
    assert client.get(url("run", run)).status_code == 404


def test_rows_of_another_business_are_not_found(signed_in, url):
    other = make_provider()
    run, lot, centre = make_run(other), make_lot(other), make_centre(other)
    placement = Placement.objects.create(provider=other, run=run, lot=lot, centre=centre, quantity=Decimal(1))
    count = PutAway.objects.create(provider=other, placement=placement, on=run.start, returned=Decimal(1))
    for name, row in {
        "run": run,
        "change_run": run,
        "log_hours": run,
        "choose_lot": run,
        "change_theme": run.theme,
        "change_centre": centre,
        "material": lot.material,
        "change_material": lot.material,
        "add_lot": lot.material,
        "lot": lot,
        "correct_lot": lot,
        "void_lot": lot,
        "unplace": placement,
        "put_away": placement,
        "void_put_away": count,
    }.items():
        assert signed_in.get(url(name, row)).status_code == 404, name
