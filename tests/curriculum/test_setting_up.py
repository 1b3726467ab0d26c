from datetime import UTC, date, datetime, time
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from curriculum.models import Condition, Keeping, Material, Placement, RunWork
from curriculum.selectors.setting_up import set_up_of
from curriculum.services.placements import put_away
from curriculum.services.setting_up import NothingToLayOut, lay_out_needs
from provider.errors import DomainError, PeriodLocked
from provider.models import PatternDay, Role, WorkTimer
from provider.services.timer import start_timer
from tests.factories import (
    lock_year,
    make_broken,
    make_centre,
    make_child,
    make_enrolment,
    make_household,
    make_item,
    make_lot,
    make_member,
    make_need,
    make_provider,
    make_run,
    make_work,
)

TODAY = date(2025, 3, 12)
FIVE = Decimal(5)


@pytest.fixture
def need(run, lot, centre):
    """Five of the twelve pieces on hand are needed in the centre."""
    return make_need(run, lot.material, "5", centre=centre, used_as="cups of the café")


@pytest.fixture
def before(provider, run):
    """The same theme a year earlier."""
    earlier = make_run(provider, date(2024, 3, 1), date(2024, 4, 1))
    earlier.theme = run.theme
    earlier.save()
    return earlier


def work(run, centre, day, minutes):
    row = make_work(run.provider, day)
    row.ended_at = row.started_at.replace(minute=minutes)
    row.save()
    return RunWork.objects.create(provider=run.provider, run=run, work=row, centre=centre)


def view(run):
    """What is said of the one need of a run."""
    return next(need for centre in set_up_of(run, TODAY).centres for need in centre.needs)


def test_it_suggests_the_lot_that_is_there(run, lot, need):
    assert view(run).met.takes == ((lot, FIVE),)


def test_it_lays_out_what_a_need_asks_for(writer, run, lot, need, centre):
    placed = lay_out_needs(**writer, run=run, need=need)
    assert (placed.lot, placed.centre, placed.quantity, placed.used_as) == (lot, centre, FIVE, "cups of the café")
    assert view(run).is_done


def test_it_lays_out_one_centre_and_leaves_the_others(writer, provider, run, need, centre):
    make_need(run, make_lot(provider).material, centre=make_centre(provider))
    lay_out_needs(**writer, run=run, centre=centre)
    assert [placed.centre for placed in Placement.objects.all()] == [centre]


def test_it_lays_out_the_whole_room(writer, provider, run, need):
    make_need(run, make_lot(provider).material)
    lay_out_needs(**writer, run=run)
    assert Placement.objects.filter(run=run).count() == 2


def test_it_lays_out_once_for_two_posts_of_one_form(writer, run, need):
    given = {"run": run, "need": need, "submission_key": "k"}
    assert lay_out_needs(**writer, **given) == lay_out_needs(**writer, **given)
    assert Placement.objects.count() == 1


def test_it_refuses_to_lay_out_nothing(writer, run, need):
    lay_out_needs(**writer, run=run)
    with pytest.raises(NothingToLayOut):
        lay_out_needs(**writer, run=run)


def test_it_lays_out_nothing_in_a_closed_year(writer, provider, run, need):
    lock_year(provider, 2025)
    with pytest.raises(PeriodLocked):
        lay_out_needs(**writer, run=run)


def test_it_says_how_many_are_short_and_on_the_way(run, lot):
    make_need(run, lot.material, "15")
    make_item(run, material=lot.material, quantity=Decimal(2), ordered_on=TODAY)
    said = view(run)
    assert (said.met.short, said.on_hand, said.coming) == (3, 12, 2)


def test_it_says_what_was_not_put_away_from_an_earlier_run(run, need, place, before):
    place("12", run=before)
    assert view(run).elsewhere == (before,)


def test_it_says_what_waits_to_be_repaired(run, lot, need, before):
    make_broken(before, "3", lot=lot)
    said = view(run)
    assert (said.mending, said.broken, said.on_hand) == (3, 3, 9)


def test_it_says_that_a_thing_needs_mending(run, lot, need):
    Material.objects.filter(pk=lot.material_id).update(condition=Condition.MEND)
    assert view(run).is_worn


def test_it_checks_the_age_mark_against_the_youngest_who_attends(provider, run, lot, need):
    child = make_child(make_household(provider), birth_date=date(2024, 1, 1))
    enrolment = make_enrolment(child, date(2025, 1, 1))
    PatternDay.objects.get_or_create(
        provider=provider,
        enrolment=enrolment,
        weekday=0,
        start=enrolment.start,
        defaults={"arrives": time(8), "leaves": time(16)},
    )
    Material.objects.filter(pk=lot.material_id).update(age_mark_months=36)
    assert view(run).is_not_for_the_youngest


def test_it_does_not_offer_a_lot_that_came_after_the_run(provider, run, centre):
    late = make_lot(provider, on=date(2025, 4, 2), quantity=FIVE)
    make_need(run, late.material, "5", centre=centre)
    assert view(run).met.short == 5


def test_it_counts_a_used_up_lot_only_once(writer, provider, run, centre, before, place):
    sheets = Material.objects.create(provider=provider, name="Sheets", keeping=Keeping.CONSUMABLE)
    paper = make_lot(provider, material=sheets, quantity=Decimal(10), on=date(2024, 1, 1))
    put_away(**writer, placement=place("6", lot=paper, run=before), on=date(2024, 3, 10), used_up=Decimal(6))
    make_need(run, sheets, "5", centre=centre)
    assert view(run).met.short == 1


def test_it_compares_the_minutes_of_a_centre_with_the_same_theme_before(run, centre, before):
    work(before, centre, date(2024, 3, 5), 40)
    work(run, centre, date(2025, 3, 5), 25)
    work(run, None, date(2025, 3, 6), 59)
    (each,) = set_up_of(run, TODAY).centres
    assert (each.minutes, each.minutes_before) == (25, 40)


def test_it_compares_with_the_run_that_this_one_started_from(provider, run, centre, before):
    other = make_run(provider, date(2025, 2, 1), date(2025, 3, 1))
    run.started_from = other
    run.save()
    work(before, centre, date(2024, 3, 5), 40)
    work(other, centre, date(2025, 2, 5), 15)
    (each,) = set_up_of(run, TODAY).centres
    assert each.minutes_before == 15


def test_it_asks_a_room_of_any_size_in_constant_queries(provider, run, before, place, django_assert_max_num_queries):
    for _ in range(6):
        lot = make_lot(provider, quantity=FIVE)
        centre = make_centre(provider)
        make_need(run, lot.material, "7", centre=centre)
        place("2", lot=lot, run=before, centre=centre)
        make_broken(before, lot=make_lot(provider, material=lot.material, quantity=FIVE))
    with django_assert_max_num_queries(24):
        room = set_up_of(run, TODAY)
    assert (len(room.short), len(room.centres)) == (0, 7)


def test_it_shows_what_is_short_on_the_page(signed_in, provider, run, lot, centre):
    make_need(run, lot.material, "15", centre=centre)
    page = signed_in.get(reverse("curriculum:set_up", args=[provider.slug, run.public_id])).content.decode()
    assert "3 short" in page
    assert "Lay out 12" in page


def test_it_lays_out_by_one_tap(signed_in, provider, run, need, centre):
    response = signed_in.post(
        reverse("curriculum:lay_out", args=[provider.slug, run.public_id]), {"need": need.public_id}
    )
    assert response["Location"].endswith(f"#centre-{centre.public_id}")
    assert Placement.objects.get().quantity == 5


def test_it_refuses_the_need_of_another_run(signed_in, provider, run):
    other = make_run(make_provider())
    foreign = make_need(other, make_lot(other.provider).material)
    signed_in.post(reverse("curriculum:lay_out", args=[provider.slug, run.public_id]), {"need": foreign.public_id})
    assert not Placement.objects.exists()


def test_it_times_a_centre(signed_in, provider, run, centre):
    address = [provider.slug, run.public_id]
    signed_in.post(reverse("curriculum:start_preparing", args=address), {"centre": centre.public_id})
    with time_machine.travel("2025-03-12 17:35Z", tick=False):
        signed_in.post(reverse("curriculum:stop_preparing", args=address))
    assert (RunWork.objects.get().run, RunWork.objects.get().centre) == (run, centre)
    assert set_up_of(run, TODAY).centres[0].minutes == 35


def test_it_leads_from_a_running_clock_to_where_it_is_discarded(signed_in, provider, run, centre):
    address = [provider.slug, run.public_id]
    signed_in.post(reverse("curriculum:start_preparing", args=address), {"centre": centre.public_id})

    page = signed_in.get(reverse("curriculum:set_up", args=address)).content.decode()

    assert f'href="{reverse("provider:timer_stop", args=[provider.slug])}"' in page


def test_it_lets_a_helper_time_a_centre(client, provider, run, centre):
    client.force_login(make_member(provider, Role.HELPER))
    client.post(
        reverse("curriculum:start_preparing", args=[provider.slug, run.public_id]), {"centre": centre.public_id}
    )
    assert WorkTimer.objects.get().centre_public_id == centre.public_id


def test_it_keeps_the_clock_of_one_centre_when_another_is_tapped(writer, run, centre):
    given = {**writer, "now": datetime(2025, 3, 12, 17, tzinfo=UTC), "kind": "prepare", "run": run.public_id}
    start_timer(**given, centre=centre.public_id)
    with pytest.raises(DomainError):
        start_timer(**given, centre="another")
    assert WorkTimer.objects.get().centre_public_id == centre.public_id


def test_it_shows_nothing_of_money_to_a_helper(client, provider, run, need):
    client.force_login(make_member(provider, Role.HELPER))
    page = client.get(reverse("curriculum:set_up", args=[provider.slug, run.public_id])).content.decode()
    assert reverse("curriculum:shopping", args=[provider.slug, run.public_id]) not in page
    assert reverse("curriculum:lay_out", args=[provider.slug, run.public_id]) not in page
