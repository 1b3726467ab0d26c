import pytest
from django.contrib.messages import get_messages
from django.test import Client
from django.urls import reverse

from provider.models import Membership, Role, User
from provider.services import accounts
from provider.services.accounts import LoginInput, NotYours
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner() -> User:
    return make.make_member(make.make_provider())


def test_it_leads_a_member_of_one_business_to_its_first_door(client: Client) -> None:
    provider = make.make_provider()
    client.force_login(make.make_member(provider, Role.PREPARER))

    response = client.get("/")

    assert response.headers["Location"] == reverse("billing:money", args=[provider.slug])


def test_it_lets_a_member_of_several_choose(client: Client) -> None:
    user, one, other = make.make_user(), make.make_provider(), make.make_provider()
    for provider in (one, other):
        Membership.objects.create(provider=provider, user=user, role=Role.OWNER)
    client.force_login(user)

    page = client.get("/").content.decode()

    assert one.name in page
    assert other.name in page


def test_it_tells_a_login_without_a_business_what_to_do(client: Client) -> None:
    client.force_login(make.make_user())

    response = client.get("/")

    assert response.status_code == 200
    assert "no business has let this login in" in response.content.decode()


def test_it_signs_in_and_goes_where_one_wanted_to(client: Client, owner: User) -> None:
    response = client.post("/sign-in/", {"username": owner.username, "password": make.PASSWORD, "next": "/x/today/"})

    assert response.headers["Location"] == "/x/today/"


def test_it_never_goes_to_another_site_after_signing_in(client: Client, owner: User) -> None:
    typed = {"username": owner.username, "password": make.PASSWORD, "next": "https://elsewhere.example/"}

    response = client.post("/sign-in/", typed)

    assert response.headers["Location"] == "/"


def test_it_signs_out_by_post_only(client: Client, owner: User) -> None:
    client.force_login(owner)

    by_link, by_button = client.get("/sign-out/"), client.post("/sign-out/")

    assert by_link.status_code == 405
    assert by_button.headers["Location"] == "/sign-in/"
    assert "_auth_user_id" not in client.session


def test_it_changes_the_password(client: Client, owner: User) -> None:
    client.force_login(owner)
    typed = {
        "old_password": make.PASSWORD,
        "new_password1": "another-quiet-word",
        "new_password2": "another-quiet-word",
    }

    response = client.post("/sign-in/password/", typed)

    owner.refresh_from_db()
    assert response.headers["Location"] == "/"
    assert owner.check_password("another-quiet-word")


def test_it_shows_the_first_password_once_and_the_login_works(client: Client) -> None:
    provider = make.make_provider()
    client.force_login(make.make_member(provider))
    typed = {"role": "helper", "name": "Bram Ives", "username": "bram", "submission_key": "one"}

    response = client.post(reverse("provider:member_add", args=[provider.slug]), typed)

    told = [str(message) for message in get_messages(response.wsgi_request)]
    password = told[-1].rsplit(" ", 1)[1]
    assert User.objects.get(username="bram").check_password(password)


def test_it_makes_one_login_and_tells_no_wrong_password_after_a_double_click(client: Client) -> None:
    provider = make.make_provider()
    client.force_login(make.make_member(provider))
    address = reverse("provider:member_add", args=[provider.slug])
    typed = {"role": "helper", "name": "Bram Ives", "username": "bram", "submission_key": "one"}

    client.post(address, typed)
    client.get(reverse("provider:people", args=[provider.slug]))
    second = client.post(address, typed)

    assert User.objects.filter(username="bram").count() == 1
    assert not any("First password" in str(message) for message in get_messages(second.wsgi_request))


def test_it_refuses_a_taken_username_in_any_case(client: Client) -> None:
    provider = make.make_provider()
    client.force_login(make.make_member(provider))
    make.make_user("bram")

    response = client.post(
        reverse("provider:member_add", args=[provider.slug]), {"role": "helper", "name": "B", "username": "Bram"}
    )

    assert response.context["form"].errors["username"]


def test_it_asks_for_the_household_of_a_family_login(client: Client) -> None:
    provider = make.make_provider()
    client.force_login(make.make_member(provider))

    response = client.post(
        reverse("provider:member_add", args=[provider.slug]), {"role": "family", "name": "A", "username": "ash"}
    )

    assert response.context["form"].errors["household"]


def test_it_refuses_the_household_of_another_business(client: Client) -> None:
    provider, other = make.make_provider(), make.make_household(make.make_provider())
    client.force_login(make.make_member(provider))

    response = client.post(
        reverse("provider:member_add", args=[provider.slug]),
        {"role": "family", "name": "A", "username": "ash", "household": other.public_id},
    )

    assert response.context["form"].errors["household"]
    assert not User.objects.filter(username="ash").exists()


def test_it_never_changes_the_password_of_somebody_who_works_elsewhere_too() -> None:
    provider = make.make_provider()
    preparer = make.make_member(provider, Role.PREPARER)
    Membership.objects.create(provider=make.make_provider(), user=preparer, role=Role.PREPARER)
    member = Membership.objects.get(provider=provider, user=preparer)

    with pytest.raises(NotYours):
        accounts.renew_password(
            provider=provider, actor=None, today=make.OPENED, member=member, password="grabbed-by-another"
        )


def test_it_never_changes_the_password_of_an_owner(owner: User) -> None:
    member = Membership.objects.get(user=owner)

    with pytest.raises(NotYours):
        accounts.renew_password(
            provider=member.provider, actor=None, today=make.OPENED, member=member, password="grabbed-by-another"
        )


def test_it_adds_a_login_that_another_business_may_let_in_too() -> None:
    user = accounts.add_login(login=LoginInput("books", "ledger-and-lantern", "Ines Quill"))
    provider = make.make_provider()

    member = accounts.add_member(provider=provider, actor=None, today=make.OPENED, role=Role.PREPARER, user=user)

    assert member.user == user
    assert str(user) == "Ines Quill"
