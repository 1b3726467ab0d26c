import pytest

from provider.models import Membership, Role
from provider.services.demo_login import DEMO_USERNAMES, demo_exists, reset_demo_password
from tests.factories import PASSWORD, make_provider, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def demo(monkeypatch):
    monkeypatch.delenv("DEMO_PASSWORD", raising=False)
    return make_provider(slug="demo", is_example=True)


def join(provider, username, role=Role.OWNER):
    user = make_user(username)
    Membership.objects.create(provider=provider, user=user, role=role)
    return user


def test_there_is_no_password_without_a_demo():
    assert not demo_exists()
    assert reset_demo_password() is None


def test_a_real_business_called_demo_is_not_the_demo():
    owner = join(make_provider(slug="demo"), "owner")
    assert reset_demo_password() is None
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)


def test_it_makes_a_fresh_password_each_time(demo):
    first, second = reset_demo_password(), reset_demo_password()
    assert len(first) >= 12
    assert first != second


def test_it_takes_the_password_that_the_environment_fixes(demo, monkeypatch):
    monkeypatch.setenv("DEMO_PASSWORD", "for-a-script")
    assert reset_demo_password() == "for-a-script"


def test_it_lets_all_four_demo_users_in(demo):
    users = [join(demo, name) for name in DEMO_USERNAMES]
    password = reset_demo_password()
    for user in users:
        user.refresh_from_db()
        assert user.check_password(password)


@pytest.mark.parametrize("is_member_of_demo", [False, True])
def test_it_leaves_a_login_of_a_real_business_alone(demo, is_member_of_demo):
    owner = join(make_provider(), "owner")
    if is_member_of_demo:
        Membership.objects.create(provider=demo, user=owner, role=Role.OWNER)
    reset_demo_password()
    owner.refresh_from_db()
    assert owner.check_password(PASSWORD)
