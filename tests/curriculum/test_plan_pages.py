"""The pages of the plan, the library, coverage and the letter."""

from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from curriculum.models import (
    Activity,
    LetterWord,
    OwnGoal,
    PlannedActivity,
    PlannedMaterial,
    RunReview,
    ThemeRun,
    WishItem,
)
from provider.models import Role
from tests.factories import (
    make_activity,
    make_centre,
    make_child,
    make_enrolment,
    make_household,
    make_lot,
    make_member,
    make_need,
    make_own_goal,
    make_planned,
    make_provider,
    make_run,
    make_wish,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def url(provider):
    return lambda name, *rows: reverse(
        f"curriculum:{name}", args=[provider.slug, *(getattr(row, "public_id", row) for row in rows)]
    )


@pytest.fixture
def helper(provider, client):
    client.force_login(make_member(provider, Role.HELPER))
    return client


@pytest.fixture
def planned(run, centre):
    return make_planned(run, centre, make_activity(run.provider, main="P-SCI 3", name="Sorting seeds"))


def text(response):
    return " ".join(response.content.decode().split())


def pdf_text(response):
    reader = PdfReader(BytesIO(response.content))
    return len(reader.pages), reader.pages[0].mediabox, " ".join(page.extract_text() for page in reader.pages)


def test_the_plan_stands_centre_by_centre(signed_in, url, run, planned, lot):
    make_need(run, lot.material, quantity="6", centre=planned.centre)

    shown = text(signed_in.get(url("run_plan", run)))

    assert "Sorting seeds" in shown
    assert "<strong>Compares and sorts</strong>" in shown
    assert lot.material.name in shown


def test_the_plan_shows_what_was_said_last_time(signed_in, url, provider, run):
    before = make_run(provider, date(2024, 3, 1), date(2024, 4, 1))
    ThemeRun.objects.filter(pk=run.pk).update(started_from=before)
    RunReview.objects.create(provider=provider, run=before, loved="The worms", next_time="More trowels")

    shown = text(signed_in.get(url("run_plan", run)))

    assert "What you said after March 2024" in shown
    assert "The worms" in shown
    assert "More trowels" in shown


def test_a_new_activity_is_asked_what_it_practises(signed_in, url, run, centre):
    answer = signed_in.post(url("plan_activity", run), {"name": "Weighing", "centre": centre.public_id})

    activity = Activity.objects.get()
    assert answer.url == f"{url('change_activity', activity)}?run={run.public_id}"
    saved = signed_in.post(answer.url, {"name": "Weighing", "main": "P-MATH 8", "goals": ["P-SCI 1"], "version": 1})
    assert saved.url == url("run_plan", run)
    assert activity.goals.get(is_main=True).goal == "P-MATH 8"


def test_a_known_activity_goes_straight_into_the_plan(signed_in, url, run, centre, planned):
    other = make_centre(run.provider)

    answer = signed_in.post(url("plan_activity", run), {"name": "sorting seeds", "centre": other.public_id})

    assert answer.url == f"{url('run_plan', run)}#centre-{other.public_id}"


@pytest.mark.parametrize("name", ["", "x" * 121])
def test_a_name_that_cannot_be_is_refused(signed_in, url, run, centre, name):
    answer = signed_in.post(url("plan_activity", run), {"name": name, "centre": centre.public_id})

    assert answer.status_code == 422


def test_a_centre_of_another_business_cannot_be_chosen(signed_in, url, run):
    answer = signed_in.post(
        url("plan_activity", run), {"name": "Weighing", "centre": make_centre(make_provider()).public_id}
    )

    assert answer.status_code == 422


def test_a_retired_centre_is_not_offered(signed_in, url, run, centre):
    signed_in.post(url("retire_centre", centre), {"version": 1})

    answer = signed_in.post(url("plan_activity", run), {"name": "Weighing", "centre": centre.public_id})

    assert answer.status_code == 422
    assert url("retire_centre", centre) in text(signed_in.get(url("centres")))


def test_a_planned_activity_is_changed_and_taken_out(signed_in, url, planned):
    signed_in.post(
        url("change_planned", planned), {"centre": planned.centre.public_id, "note": "Outside", "version": 1}
    )
    assert PlannedActivity.objects.get().note == "Outside"

    signed_in.post(url("take_out_activity", planned), {"version": 2})
    assert signed_in.get(url("change_planned", planned)).status_code == 404


def test_a_stale_change_of_the_plan_asks_again(signed_in, url, planned):
    answer = signed_in.post(
        url("change_planned", planned), {"centre": planned.centre.public_id, "note": "New", "version": 7}
    )

    assert answer.status_code == 422


def test_a_need_is_noted_changed_and_taken_out(signed_in, url, run):
    signed_in.post(url("plan_material", run), {"name": "Seeds", "quantity": "12", "keeping": "consumable"})
    need = PlannedMaterial.objects.get()
    signed_in.post(url("change_need", need), {"quantity": "20", "version": 1})
    need.refresh_from_db()

    assert (need.material.name, need.quantity) == ("Seeds", Decimal(20))
    signed_in.post(url("take_out_need", need), {"version": 2})
    assert signed_in.get(url("change_need", need)).status_code == 404


@pytest.mark.parametrize("quantity", ["0", "-1", "many", "1e9"])
def test_a_need_of_nothing_is_refused(signed_in, url, run, quantity):
    answer = signed_in.post(url("plan_material", run), {"name": "Seeds", "quantity": quantity, "keeping": "durable"})

    assert answer.status_code == 422


def test_a_helper_reads_the_plan_and_changes_nothing(helper, url, run, planned):
    shown = text(helper.get(url("run_plan", run)))

    assert "Sorting seeds" in shown
    assert url("change_planned", planned) not in shown
    assert helper.post(url("plan_activity", run), {"name": "Weighing"}).status_code == 403


@pytest.mark.parametrize("most", [1, 2, 3])
def test_the_sheet_for_the_wall_is_one_landscape_page(signed_in, url, run, provider, most):
    for n in range(7):
        centre = make_centre(provider, name=f"Corner {n}", target_pieces=20)
        for _n in range(most):
            make_planned(run, centre, make_activity(provider, "P-ATL 1", main="P-SCI 3"), note="After the walk")
        for _n in range(most):
            make_need(run, make_lot(provider).material, quantity="3", centre=centre)

    pages, size, said = pdf_text(signed_in.get(url("plan_sheet", run)))

    assert (pages, size.width > size.height) == (1, True)
    assert "Corner 6" in said


def test_a_run_is_planned_from_an_earlier_one(signed_in, url, run, planned):
    offered = text(signed_in.get(f"{url('plan')}?from={run.public_id}"))
    signed_in.post(
        url("plan"),
        {
            "theme": run.theme.public_id,
            "start": "2025-05-01",
            "end": "2025-05-31",
            "start_from": run.public_id,
        },
    )

    assert f'<option value="{run.public_id}" selected>' in offered
    assert ThemeRun.objects.get(start="2025-05-01").activities.get().activity == planned.activity


def test_a_theme_that_ran_before_offers_its_latest_run(signed_in, url, run):
    shown = text(signed_in.get(f"{url('plan')}?theme={run.theme.public_id}"))

    assert f'<option value="{run.public_id}" selected>' in shown


@pytest.mark.parametrize("query", ["from=nonsense", "theme=nonsense", "from="])
def test_an_unknown_beginning_is_a_blank_month(signed_in, url, query):
    assert signed_in.get(f"{url('plan')}?{query}").status_code == 200


def test_a_run_planned_by_mistake_is_taken_out(signed_in, url, run):
    signed_in.post(url("void_run", run), {"reason": "Wrong month", "version": 1})

    assert signed_in.get(url("run", run)).status_code == 404
    assert run.theme.name not in text(signed_in.get(url("theme")))


def test_coverage_names_gaps_in_words(signed_in, url, run, planned):
    make_enrolment(make_child(make_household(run.provider), birth_date=date(2021, 3, 1)))

    shown = text(signed_in.get(url("coverage", run)))

    assert "Only goals for the age of the 1 child who is there count." in shown
    assert "Nothing practises, in Language and literacy:" in shown
    assert "<svg" in shown
    assert "1 (1)" in shown


@pytest.mark.parametrize("framework", ["bc-2019", "nonsense"])
def test_coverage_is_seen_by_another_framework(signed_in, url, run, planned, framework):
    assert signed_in.get(f"{url('coverage', run)}?framework={framework}").status_code == 200


def test_coverage_of_a_year_links_to_the_others(signed_in, url, run, planned, provider):
    make_run(provider, date(2024, 4, 1), date(2024, 5, 1))

    shown = text(signed_in.get(url("coverage_year", 2025)))

    assert url("coverage_year", 2024) in shown
    assert run.theme.name in shown


@pytest.mark.parametrize("year", [0, 10000, 99999999])
def test_a_year_that_cannot_be_is_not_found(signed_in, url, year):
    assert signed_in.get(url("coverage_year", year)).status_code == 404


def test_the_library_is_searched(signed_in, url, provider, planned):
    make_activity(provider, name="Finger painting")

    shown = text(signed_in.get(f"{url('activities')}?word=seeds"))

    assert "Sorting seeds" in shown
    assert "Finger painting" not in shown


def test_the_library_says_source_licence_and_past_runs(signed_in, url, run, centre):
    row = make_activity(run.provider, source="Library card 12", licence="May be copied for one's own group")
    make_planned(run, centre, row, note="On the rug")

    shown = text(signed_in.get(url("activity", row)))

    assert "Library card 12" in shown
    assert "On the rug" in shown
    assert run.theme.name in shown


def test_the_library_takes_as_many_queries_for_many_activities(signed_in, url, run, centre, planned):
    with CaptureQueriesContext(connection) as few:
        signed_in.get(url("activities"))
    for _n in range(5):
        make_planned(run, centre, make_activity(run.provider, "P-ATL 1"))

    with CaptureQueriesContext(connection) as many:
        signed_in.get(url("activities"))

    assert len(many) == len(few)


def test_an_activity_is_added_with_its_goals(signed_in, url):
    signed_in.post(url("add_activity"), {"name": "Weighing", "goals": ["P-SCI 1"], "from_months": "36"})

    assert Activity.objects.get().goals.get().goal == "P-SCI 1"


def test_a_goal_that_is_not_offered_is_refused(signed_in, url):
    assert signed_in.post(url("add_activity"), {"name": "Weighing", "goals": ["X 1"]}).status_code == 422


@pytest.mark.parametrize(
    ("domains", "domain"),
    [({"framework_domain": "SE"}, "SE"), ({"own_domain": "Garden"}, "Garden")],
)
def test_a_goal_of_her_own_is_added_and_changed(signed_in, url, domains, domain):
    signed_in.post(url("add_goal"), {"title": "Waits for its turn", **domains})
    goal = OwnGoal.objects.get()
    assert goal.domain == domain

    signed_in.post(url("change_goal", goal), {"title": "Takes turns", **domains, "version": 1})
    assert "Takes turns" in text(signed_in.get(url("goals")))


@pytest.mark.parametrize("domains", [{}, {"framework_domain": "SE", "own_domain": "Garden"}])
def test_a_goal_belongs_to_one_domain(signed_in, url, domains):
    assert signed_in.post(url("add_goal"), {"title": "Waits", **domains}).status_code == 422


def test_what_was_written_from_memory_says_so(signed_in, url):
    assert "written from memory" in text(signed_in.get(url("goals")))


def test_a_goal_in_her_words_can_be_ticked(signed_in, url, provider):
    goal = make_own_goal(provider, title="Waters the beans")

    shown = text(signed_in.get(url("add_activity")))

    assert "Waters the beans" in shown
    assert f"({goal.code})" not in shown


def test_the_letter_goes_out_from_its_page(signed_in, url, provider, run, planned, mailoutbox):
    household = make_household(provider, email="ash@example.org")
    make_enrolment(make_child(household))

    answer = signed_in.post(url("letter", run), {"submission_key": "key"})

    assert answer.url == url("letter", run)
    assert "Sorting seeds" in mailoutbox[0].body
    assert "Sent the letter to 1 family" in text(signed_in.get(answer.url))


def test_the_letter_is_not_sent_to_nobody(signed_in, url, run):
    assert signed_in.post(url("letter", run), {"submission_key": "key"}).status_code == 422


def test_the_letter_warns_of_a_childs_name(signed_in, url, provider, run):
    make_child(make_household(provider), name="Juniper Vale")
    signed_in.post(url("letter_words", run, "en"), {"opening": "Juniper found a worm", "version": 0})

    assert LetterWord.objects.get().opening == "Juniper found a worm"
    assert "This may be the name of a child: Juniper." in text(signed_in.get(url("letter", run)))


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_the_letter_is_one_page_in_every_language(signed_in, url, run, provider, language):
    for n in range(7):
        centre = make_centre(provider, name=f"Corner {n}")
        for _n in range(3):
            make_planned(run, centre, make_activity(provider, "P-ATL 1", "P-ATL 2", main="P-SCI 3"))
    for _n in range(5):
        make_wish(run)

    response = signed_in.get(url("letter_pdf", run, language))
    pages, _size, said = pdf_text(response)

    assert pages == 1
    assert "Corner 6" in said
    assert PdfReader(BytesIO(response.content)).root_object["/Lang"] == language


@pytest.mark.parametrize("name", ["letter_pdf", "letter_words"])
def test_a_language_that_nobody_has_is_not_found(signed_in, url, run, name):
    assert signed_in.get(url(name, run, "xx")).status_code == 404


def test_a_wish_is_added_comes_and_leaves_the_list(signed_in, url, run):
    signed_in.post(url("add_wish", run), {"text": "Egg boxes"})
    wish = WishItem.objects.get()
    signed_in.post(
        url("receive_wish", wish),
        {"on": "2025-03-12", "name": "Egg boxes", "quantity": "6", "keeping": "consumable", "source": "The Ashes"},
    )
    assert "The Ashes" in text(signed_in.get(url("letter", run)))

    wish.refresh_from_db()
    signed_in.post(url("remove_wish", wish), {"version": wish.version})
    assert signed_in.get(url("receive_wish", wish)).status_code == 404


@pytest.mark.parametrize("given", [{"on": "2025-03-13"}, {"quantity": "0"}, {"on": "then"}])
def test_what_cannot_have_come_is_refused(signed_in, url, run, given):
    came = {"on": "2025-03-12", "name": "Lids", "quantity": "1", "keeping": "consumable", **given}

    assert signed_in.post(url("receive_wish", make_wish(run)), came).status_code == 422


@pytest.mark.parametrize("page", ["run_plan", "letter", "coverage"])
def test_a_page_of_the_plan_takes_as_many_queries_for_a_full_month(signed_in, url, run, planned, page):
    make_wish(run)
    with CaptureQueriesContext(connection) as few:
        assert signed_in.get(url(page, run)).status_code == 200
    for _n in range(5):
        centre = make_centre(run.provider)
        make_planned(run, centre, make_activity(run.provider, "P-ATL 1"))
        make_need(run, make_lot(run.provider).material, centre=centre)
        make_wish(run)

    with CaptureQueriesContext(connection) as many:
        assert signed_in.get(url(page, run)).status_code == 200

    assert len(many) == len(few)


@pytest.mark.parametrize("page", ["run", "run_plan", "set_up", "shopping", "put_away_room", "look_back", "letter"])
def test_no_page_opens_a_run_that_left_the_plan(signed_in, url, run, page):
    signed_in.post(url("void_run", run), {"reason": "Wrong month", "version": 1})

    assert signed_in.get(url(page, run)).status_code == 404
