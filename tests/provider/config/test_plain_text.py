import pytest
from django.test import Client

from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("address", ["families/%00/", "today/attendance/add/?child=a%00b"])
def test_it_refuses_a_nul_in_an_address(client: Client, address: str) -> None:
    provider = make.make_provider()
    client.force_login(make.make_member(provider))

    response = client.get(f"/{provider.slug}/{address}")

    assert response.status_code == 400


def test_it_refuses_a_nul_in_what_was_posted(client: Client) -> None:
    child = make.make_child(make.make_household(make.make_provider()))
    client.force_login(make.make_member(child.provider))

    response = client.post(f"/{child.provider.slug}/today/in/{child.public_id}/", {"submission_key": "a\x00b"})

    assert response.status_code == 400


def test_it_refuses_a_nul_in_a_username(client: Client) -> None:
    make.make_user()

    response = client.post("/sign-in/", {"username": "own\x00er", "password": "some-long-word"})

    assert response.status_code == 400
