"""Taking a roster over: shown first, then all of it or nothing."""

from datetime import date, time
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from provider.errors import DomainError
from provider.models import AuditEntry, CareNeed, Child, Enrolment, Guardian, Household, Provider, Role
from provider.roster import Table
from provider.selectors.roster import roster_plan
from provider.services.roster import RosterChanged, digest, import_roster
from tests import factories as make

pytestmark = pytest.mark.django_db

TODAY = date(2026, 3, 16)
HEAD = ["family", "guardian", "child", "birth date", "first day", "weekdays", "arrives", "leaves", "allergies"]
ADA = ["Brook", "Ana Brook", "Ada Brook", "2023-05-14", "2026-04-01", "Mon, Wed", "8:00", "16:30", "Hazelnuts"]
BEN = ["Brook", "Ana Brook", "Ben Brook", "2021-02-01", "", "", "", "", ""]
WRONG = ["Brook", "", "Cy Brook", "soon", "", "", "", "", ""]


@pytest.fixture
def provider() -> Provider:
    return make.make_provider()


def _shown(provider: Provider, table: Table) -> str:
    return digest(roster_plan(provider, table, TODAY)[1])


def _import(provider: Provider, *rows: list[str], **changes: Any) -> Child:
    table = [HEAD, *rows]
    shown = changes.pop("shown", None) or _shown(provider, table)
    return import_roster(provider=provider, actor=None, today=TODAY, table=table, shown=shown, **changes)


def test_it_adds_families_children_places_and_needs(provider: Provider) -> None:
    _import(provider, ADA, BEN)

    ada = Child.objects.get(name="Ada Brook")
    place = Enrolment.objects.get(child=ada)
    assert Household.objects.get(provider=provider).children.count() == 2
    assert [each.name for each in Guardian.objects.all()] == ["Ana Brook"]
    assert [(day.weekday, day.arrives) for day in place.pattern.order_by("weekday")] == [(0, time(8)), (2, time(8))]
    assert CareNeed.objects.get(child=ada).what == "Hazelnuts"
    assert not Enrolment.objects.filter(child__name="Ben Brook").exists()


def test_it_joins_a_family_that_is_there_and_skips_its_children(provider: Provider) -> None:
    household = make.make_household(provider, name="BROOK")
    make.make_child(household, name="Ada Brook", birth_date=date(2023, 5, 14))

    _import(provider, ADA, BEN)

    assert Household.objects.filter(provider=provider).count() == 1
    assert household.children.count() == 2


def test_it_saves_nothing_while_a_row_with_a_problem_stays(provider: Provider) -> None:
    with pytest.raises(DomainError) as refusal:
        _import(provider, ADA, WRONG)

    assert refusal.value.field == "leave_out"
    assert not Household.objects.exists()


def test_it_leaves_out_the_rows_that_were_ticked(provider: Provider) -> None:
    _import(provider, ADA, WRONG, BEN, leave_out=[3, 4])

    assert [child.name for child in Child.objects.all()] == ["Ada Brook"]


def test_it_refuses_when_no_row_is_left(provider: Provider) -> None:
    with pytest.raises(DomainError):
        _import(provider, ADA, leave_out=[2])


def test_it_looks_again_when_the_families_changed_since(provider: Provider) -> None:
    shown = _shown(provider, [HEAD, ADA])
    make.make_household(provider, name="Brook")

    with pytest.raises(RosterChanged):
        _import(provider, ADA, shown=shown)

    assert not Child.objects.exists()


def test_it_imports_once_for_a_double_click(provider: Provider) -> None:
    shown = _shown(provider, [HEAD, ADA])
    first = _import(provider, ADA, shown=shown, submission_key="one")

    assert _import(provider, ADA, shown=shown, submission_key="one") == first
    assert Child.objects.count() == 1


def test_it_tells_the_history_how_many(provider: Provider) -> None:
    _import(provider, ADA, BEN)

    assert AuditEntry.objects.get(verb="import").summary == "Imported 2 children"


def test_it_leaves_the_families_of_another_business_alone(provider: Provider) -> None:
    other = make.make_household(make.make_provider(), name="Brook")

    _import(provider, ADA)

    assert other.children.count() == 0


def test_it_writes_two_hundred_rows_in_batches(
    provider: Provider, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    rows = [[f"Family {n}", f"Parent {n}", f"Child {n}", *ADA[3:]] for n in range(200)]
    shown = _shown(provider, [HEAD, *rows])

    with django_assert_max_num_queries(30):
        _import(provider, *rows, shown=shown)

    assert Child.objects.count() == 200


def test_it_plans_in_constant_queries(provider: Provider, django_assert_num_queries: DjangoAssertNumQueries) -> None:
    for _n in range(3):
        make.make_child(make.make_household(provider))

    with django_assert_num_queries(3):
        roster_plan(provider, [HEAD, ADA, BEN], TODAY)


def _send(client: Client, provider: Provider, *rows: list[str]) -> HttpResponse:
    content = "\n".join(",".join(f'"{cell}"' for cell in row) for row in (HEAD, *rows))
    file = SimpleUploadedFile("roster.csv", content.encode())
    response: Any = client.post(reverse("provider:roster", args=[provider.slug]), {"file": file})
    return response


def _confirm(client: Client, provider: Provider, preview: Any, **changes: Any) -> HttpResponse:
    data = {"rows": preview.context["signed"], "shown": preview.context["shown"], **changes}
    response: Any = client.post(reverse("provider:roster_import", args=[provider.slug]), data)
    return response


def test_it_shows_what_every_row_does_and_saves_nothing_yet(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))

    page = _send(client, provider, ADA, WRONG).content.decode()

    assert "new family" in page
    assert "“soon” is not a date like 2026-03-27" in page
    assert not Child.objects.exists()


def test_it_takes_over_what_was_shown(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    preview = _send(client, provider, ADA)

    response = _confirm(client, provider, preview)

    assert response.status_code == 302
    assert Child.objects.get().name == "Ada Brook"


def test_it_shows_the_rows_again_with_what_was_ticked(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))
    preview = _send(client, provider, ADA, WRONG)

    again: Any = _confirm(client, provider, preview, leave_out=["2"])

    assert again.status_code == 422
    assert again.context["left_out"] == [2]
    assert "Correct the rows with a problem" in again.content.decode()


def test_it_takes_no_rows_that_it_did_not_show(client: Client, provider: Provider) -> None:
    other = make.make_provider()
    client.force_login(make.make_member(other))
    foreign = _send(client, other, ADA)
    client.force_login(make.make_member(provider))

    response = _confirm(client, provider, foreign)

    assert response.status_code == 302
    assert response.headers["Location"] == reverse("provider:roster", args=[provider.slug])
    assert not Child.objects.exists()


@pytest.mark.parametrize("content", [b"", b"family,child\nBrook,Ada", b"\x89PNG\0"])
def test_it_says_beside_the_file_why_it_cannot_be_read(client: Client, provider: Provider, content: bytes) -> None:
    client.force_login(make.make_member(provider))
    file = SimpleUploadedFile("roster.csv", content)

    response = client.post(reverse("provider:roster", args=[provider.slug]), {"file": file})

    assert response.status_code == 422
    assert response.context["form"].errors["file"]


def test_it_gives_an_empty_file_that_it_reads_itself(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider))

    response = client.get(reverse("provider:roster_template", args=[provider.slug]))

    assert response.content.decode().strip().split(",")[:2] == ["family", "guardian"]


def test_a_helper_imports_nothing(client: Client, provider: Provider) -> None:
    client.force_login(make.make_member(provider, Role.HELPER))

    assert _send(client, provider, ADA).status_code == 403
