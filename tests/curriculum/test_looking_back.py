from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from curriculum.models import Activity, PlannedActivity, PlannedMaterial, ReviewMark, RunReview, Verdict
from curriculum.selectors.looking_back import looking_back_on, starting_list
from curriculum.services.looking_back import MarkInput, plan_what_lay_out, save_review
from curriculum.services.themes import plan_run
from provider.errors import DomainError, StaleRow
from provider.models import AuditEntry
from tests.factories import make_broken, make_lot, make_need


@pytest.fixture
def activity(provider, run, centre):
    row = Activity.objects.create(provider=provider, name="Sorting shells")
    PlannedActivity.objects.create(provider=provider, run=run, centre=centre, activity=row)
    return row


def mark(run, thing, verdict, note=""):
    kind = "activity" if isinstance(thing, Activity) else "material"
    return ReviewMark.objects.create(provider=run.provider, run=run, verdict=verdict, note=note, **{kind: thing})


def test_it_asks_about_what_was_planned_and_what_lay_out(provider, run, activity, lot, place):
    place("2")
    needed = make_lot(provider).material
    make_need(run, needed)
    found = looking_back_on(run)
    assert [each.thing for each in found.activities] == [activity]
    assert {each.thing for each in found.materials} == {lot.material, needed}


def test_it_asks_about_each_thing_once(run, lot, place):
    place("2")
    make_need(run, lot.material)
    assert len(looking_back_on(run).materials) == 1


def test_it_reminds_of_what_broke(run, lot):
    make_broken(run, lot=lot, how="bent")
    (each,) = looking_back_on(run).materials
    assert each.breakage is not None
    assert each.breakage.hows == ("bent",)


def test_it_writes_what_was_learnt(writer, run, activity, lot):
    marks = [MarkInput(activity, Verdict.CHANGE, "smaller shells"), MarkInput(lot.material, Verdict.DROP)]
    review = save_review(**writer, run=run, loved="The shells", next_time="More sand", marks=marks)
    assert (review.loved, review.next_time) == ("The shells", "More sand")
    assert set(ReviewMark.objects.values_list("activity", "material", "verdict", "note")) == {
        (activity.pk, None, "change", "smaller shells"),
        (None, lot.material_id, "drop", ""),
    }


def test_it_changes_a_verdict(writer, run, activity):
    review = save_review(**writer, run=run, marks=[MarkInput(activity, Verdict.KEEP)])
    save_review(**writer, run=run, version=review.version, marks=[MarkInput(activity, Verdict.DROP)])
    assert ReviewMark.objects.get().verdict == Verdict.DROP


def test_it_takes_a_verdict_back_and_keeps_it_in_the_trail(writer, run, activity):
    review = save_review(**writer, run=run, marks=[MarkInput(activity, Verdict.DROP, "boring")])
    save_review(**writer, run=run, version=review.version, marks=[MarkInput(activity)])
    assert not ReviewMark.objects.exists()
    entry = AuditEntry.objects.filter(object_public_id=review.public_id).order_by("-pk")[0]
    assert entry.changes == {"Sorting shells": ["drop boring", ""]}


def test_it_questions_a_stale_review(writer, run):
    save_review(**writer, run=run, loved="The shells")
    with pytest.raises(StaleRow):
        save_review(**writer, run=run, version=0, loved="The sand")


def test_it_refuses_a_note_without_a_verdict(writer, run, activity):
    with pytest.raises(DomainError):
        save_review(**writer, run=run, marks=[MarkInput(activity, "", "nice")])
    assert not RunReview.objects.exists()


def test_it_starts_next_time_with_what_was_not_dropped(provider, run, centre, activity, lot):
    make_need(run, lot.material, "3", centre=centre)
    dropped = make_need(run, make_lot(provider).material, centre=centre)
    mark(run, dropped.material, Verdict.DROP, "too loud")
    changed = mark(run, activity, Verdict.CHANGE, "smaller shells")
    found = starting_list(run)
    (each,) = found.centres
    assert [(kept.row.activity, kept.mark) for kept in each.activities] == [(activity, changed)]
    assert [kept.row.material for kept in each.needs] == [lot.material]
    assert [mark.material for mark in found.dropped] == [dropped.material]


def test_it_starts_with_nothing_of_a_retired_centre(run, centre, activity):
    centre.retired_at = "2025-03-01T00:00Z"
    centre.save()
    assert starting_list(run).centres == ()


def test_it_tells_what_lay_out_without_a_plan(run, lot, place, centre):
    place("2", used_as="a river")
    (each,) = starting_list(run).unplanned
    assert (each.material, each.centre, each.quantity, each.used_as) == (lot.material, centre, 2, "a river")


def test_it_adds_up_the_lots_that_lay_in_one_centre(provider, run, lot, place):
    place("2")
    place("3", lot=make_lot(provider, material=lot.material, quantity=Decimal(3)))
    (each,) = starting_list(run).unplanned
    assert each.quantity == 5


def test_it_plans_what_lay_out(writer, run, lot, place, centre):
    place("2", used_as="a river")
    plan_what_lay_out(**writer, run=run)
    need = PlannedMaterial.objects.get()
    assert (need.material, need.centre, need.quantity, need.used_as) == (lot.material, centre, 2, "a river")
    assert starting_list(run).unplanned == ()


def test_it_plans_what_lay_out_once(writer, run, place):
    place("2")
    plan_what_lay_out(**writer, run=run)
    with pytest.raises(DomainError):
        plan_what_lay_out(**writer, run=run)


def test_it_reads_both_pages_in_constant_queries(provider, run, centre, django_assert_max_num_queries):
    for _ in range(4):
        make_need(run, make_lot(provider).material, centre=centre)
        make_broken(run)
    with django_assert_max_num_queries(11):
        assert len(looking_back_on(run).materials) == 8
        assert len(starting_list(run).centres) == 1


def test_it_saves_the_page_and_goes_on_to_next_time(signed_in, provider, run, activity):
    response = signed_in.post(
        reverse("curriculum:look_back", args=[provider.slug, run.public_id]),
        {"version": "0", "loved": "The shells", f"verdict-{activity.public_id}": "keep"},
        follow=True,
    )
    page = response.content.decode()
    assert "The shells" in page
    assert "Sorting shells" in page
    assert ReviewMark.objects.get().verdict == Verdict.KEEP


@pytest.mark.parametrize(("verdict", "note"), [("", "nice"), ("burn", "")])
def test_it_shows_a_verdict_that_cannot_be(signed_in, provider, run, activity, verdict, note):
    name = activity.public_id
    response = signed_in.post(
        reverse("curriculum:look_back", args=[provider.slug, run.public_id]),
        {"version": "0", f"verdict-{name}": verdict, f"note-{name}": note},
    )
    assert response.status_code == 422
    assert not ReviewMark.objects.exists()


def test_it_shows_both_versions_of_a_stale_review(signed_in, provider, run):
    RunReview.objects.create(provider=provider, run=run, loved="The sand")
    response = signed_in.post(
        reverse("curriculum:look_back", args=[provider.slug, run.public_id]), {"version": "0", "loved": "The shells"}
    )
    assert response.status_code == 422
    assert RunReview.objects.get().loved == "The sand"


def test_it_takes_over_what_lay_out_by_one_tap(signed_in, provider, run, place):
    place("2")
    signed_in.post(reverse("curriculum:next_time", args=[provider.slug, run.public_id]))
    assert PlannedMaterial.objects.get().quantity == 2


def test_it_starts_a_run_with_the_list_it_showed(writer, run, centre, activity, lot):
    make_need(run, lot.material, "3", centre=centre)
    again = plan_run(**writer, theme=run.theme, start=date(2026, 3, 1), end=date(2026, 4, 1), start_from=run)
    shown, taken = starting_list(run).centres, starting_list(again).centres
    assert [[kept.row.material for kept in each.needs] for each in shown] == [
        [kept.row.material for kept in each.needs] for each in taken
    ]
    assert [len(each.activities) for each in shown] == [len(each.activities) for each in taken]
