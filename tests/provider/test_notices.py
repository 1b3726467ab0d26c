import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from email.message import EmailMessage
from typing import Any

import pytest
import time_machine
from aiosmtpd.controller import Controller
from aiosmtpd.handlers import Message
from django.test import Client
from django.urls import reverse
from django_tasks import task_backends
from pytest_django.fixtures import Settings

from provider.errors import DomainError
from provider.models import Closure, FamilyNotice, Household, NoticeDelivery, Provider, Role
from provider.selectors.notices import families_on
from provider.services import notices as services
from provider.services.notices import NO_ADDRESS, NO_MAIL, NOT_TAKEN, ClosureInput
from provider.tasks import deliver_notice
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = datetime(2025, 3, 12, 11, 0, tzinfo=UTC)  # six in the morning in Chicago
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def _morning() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def provider() -> Provider:
    return make.make_provider(name="Little Barn", email="owner@example.org")


def _family(provider: Provider, name: str, email: str = "", **place: Any) -> Household:
    household = make.make_household(provider, name=name, email=email)
    make.make_enrolment(make.make_child(household), **place)
    return household


def _send(provider: Provider, **changes: Any) -> FamilyNotice:
    given = {"now": NOW, "day": TODAY, "subject": "Closed today, ill", "text": "Back tomorrow, I hope.", **changes}
    return services.send_notice(provider=provider, actor=None, today=TODAY, **given)


def test_it_reaches_the_families_with_a_place_on_the_day_and_no_others(provider: Provider) -> None:
    _family(provider, "Here")
    _family(provider, "Gone", end=TODAY)
    _family(provider, "To come", start=date(2025, 3, 13))
    make.make_enrolment(make.make_child(make.make_household(provider, name="Her own"), is_own_child=True))
    _family(make.make_provider(), "Elsewhere")

    assert [each.household.name for each in families_on(provider, TODAY)] == ["Here"]


def test_it_writes_once_to_every_address_of_a_household(provider: Provider, mailoutbox: list[Any]) -> None:
    household = _family(provider, "Ash", "ash@example.org")
    make.make_guardian(household, email="ash@example.org")
    make.make_guardian(household, email="second@example.org")
    _family(provider, "Birch", "birch@example.org")

    notice = _send(provider)

    assert [(mail.to, mail.bcc) for mail in mailoutbox] == [
        (["ash@example.org"], ["second@example.org"]),
        (["birch@example.org"], []),
    ]
    assert mailoutbox[0].reply_to == ["owner@example.org"]
    assert "Back tomorrow" in mailoutbox[0].body
    assert notice.deliveries.filter(sent_at=NOW, error="").count() == 2


def test_it_names_a_family_without_an_address(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash")

    notice = _send(provider)

    assert [(row.sent_at, row.error) for row in notice.deliveries.all()] == [(None, NO_ADDRESS)]
    assert mailoutbox == []


def test_it_closes_the_day_in_the_same_act(provider: Provider) -> None:
    _family(provider, "Ash")

    _send(provider, closure=ClosureInput(kind="illness", paid=False))

    closure = Closure.objects.get()
    assert (closure.start, closure.end, closure.kind, closure.paid) == (TODAY, date(2025, 3, 13), "illness", False)


def test_it_tells_nobody_when_the_day_cannot_be_closed(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash", "ash@example.org")
    _send(provider, closure=ClosureInput())

    with pytest.raises(DomainError, match="already closes"):
        _send(provider, closure=ClosureInput())

    assert FamilyNotice.objects.count() == 1
    assert len(mailoutbox) == 1


@pytest.mark.parametrize("day", [date(2025, 3, 11), date(2025, 3, 12)])
def test_it_refuses_a_past_day_and_a_day_without_families(provider: Provider, day: date) -> None:
    with pytest.raises(DomainError) as refused:
        _send(provider, day=day)

    assert refused.value.field == "day"


def test_it_sends_once_when_the_button_is_pressed_twice(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash", "ash@example.org")

    assert _send(provider, submission_key="key") == _send(provider, submission_key="key")
    assert len(mailoutbox) == 1


def test_it_sends_nothing_twice_when_the_task_runs_again(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash", "ash@example.org")
    delivery = _send(provider).deliveries.get()

    deliver_notice.call(delivery.public_id)

    assert len(mailoutbox) == 1


def test_it_lets_no_line_break_of_the_subject_into_the_mail(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash", "ash@example.org")

    _send(provider, subject="Closed\r\nBcc: stranger@example.org")

    assert mailoutbox[0].subject == "Closed Bcc: stranger@example.org"


def test_it_prints_no_family_letter_into_a_log(
    provider: Provider, settings: Settings, capsys: pytest.CaptureFixture[str]
) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.console.EmailBackend"
    _family(provider, "Ash", "ash@example.org")

    notice = _send(provider)

    assert notice.deliveries.get().error == NO_MAIL
    assert capsys.readouterr().out == ""


class _Letters(Message):
    def __init__(self) -> None:
        super().__init__()
        self.got: list[EmailMessage] = []

    def handle_message(self, message: Any) -> None:
        self.got.append(message)


@contextmanager
def _mail_server(port: int) -> Iterator[list[EmailMessage]]:
    letters = _Letters()
    controller = Controller(letters, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield letters.got
    finally:
        controller.stop()


@pytest.fixture
def mail_port(settings: Settings) -> int:
    """A port on which nobody listens, and to which the mail goes."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port: int = free.getsockname()[1]
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", port
    settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
    return port


def test_it_hands_the_letter_to_a_real_mail_server(provider: Provider, mail_port: int) -> None:
    household = _family(provider, "Ash", "ash@example.org")
    make.make_guardian(household, email="second@example.org")

    with _mail_server(mail_port) as got:
        notice = _send(provider, subject="Fermé aujourd’hui")

    (letter,) = got
    assert letter["To"] == "ash@example.org"
    assert letter["X-RcptTo"] == "ash@example.org, second@example.org"
    assert "second@example.org" not in str(letter["To"]) + str(letter["Bcc"] or "")
    assert notice.deliveries.get().sent_at == NOW


def test_it_tries_again_what_the_server_did_not_take_and_only_that(provider: Provider, mail_port: int) -> None:
    _family(provider, "Ash", "ash@example.org")
    sent = make.make_household(provider, name="Birch", email="birch@example.org")
    notice = _send(provider)  # nobody listens yet
    NoticeDelivery.objects.create(provider=provider, notice=notice, household=sent, sent_at=NOW)
    assert notice.deliveries.get(household__name="Ash").error == NOT_TAKEN

    with _mail_server(mail_port) as got:
        services.try_again(provider=provider, actor=None, today=TODAY, notice=notice)

    assert [letter["To"] for letter in got] == ["ash@example.org"]
    assert not notice.deliveries.exclude(error="", sent_at=NOW).exists()


def test_it_queues_one_task_for_each_household_with_an_address(provider: Provider, settings: Settings) -> None:
    settings.TASKS = {"default": {"BACKEND": "django_tasks.backends.dummy.DummyBackend"}}
    _family(provider, "Ash", "ash@example.org")
    _family(provider, "Birch")

    notice = _send(provider)

    (queued,) = task_backends["default"].results
    assert queued.args == [notice.deliveries.get(household__name="Ash").public_id]


def _client(provider: Provider, role: Role, household: Household | None = None) -> Client:
    client = Client()
    client.force_login(make.make_member(provider, role, household))
    return client


def test_it_tells_all_families_from_the_page(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash", "ash@example.org")
    _family(provider, "Birch")
    owner = _client(provider, Role.OWNER)
    form = owner.get(reverse("provider:notice_send", args=[provider.slug]))
    sent = {"day": "2025-03-12", "subject": "Closed today, ill", "text": "Sorry", "closes": "on", "kind": "illness"}

    page: Any = owner.post(reverse("provider:notice_send", args=[provider.slug]), sent, follow=True)

    assert "Birch" in form.content.decode()  # to be called, before anything is sent
    assert "No e-mail address" in page.content.decode()
    assert len(mailoutbox) == 1
    assert Closure.objects.get().paid is False


def test_it_tells_of_an_illness_with_the_form_as_it_is_shown(provider: Provider, mailoutbox: list[Any]) -> None:
    _family(provider, "Ash", "ash@example.org")
    owner, url = _client(provider, Role.OWNER), reverse("provider:notice_send", args=[provider.slug])
    form: Any = owner.get(url).context["form"]

    owner.post(url, {field.html_name: field.value() for field in form if field.value() is not None})

    assert [mail.subject for mail in mailoutbox] == ["Closed today, ill"]


def test_it_keeps_the_day_open_when_the_tick_is_cleared(provider: Provider) -> None:
    _family(provider, "Ash")
    sent = {"day": "2025-03-12", "subject": "Bring boots", "text": "It is wet", "kind": "illness"}

    _client(provider, Role.OWNER).post(reverse("provider:notice_send", args=[provider.slug]), sent)

    assert FamilyNotice.objects.count() == 1
    assert not Closure.objects.exists()


def test_it_lets_no_helper_write_to_all_families(provider: Provider) -> None:
    assert _client(provider, Role.HELPER).get(reverse("provider:notice_send", args=[provider.slug])).status_code == 403


def test_it_shows_a_family_the_messages_it_was_sent(provider: Provider) -> None:
    told, untold = _family(provider, "Ash"), make.make_household(provider, name="Later")
    _send(provider, subject="Bring boots")
    address = reverse("provider:family_days", args=[provider.slug])

    assert "Bring boots" in _client(provider, Role.FAMILY, told).get(address).content.decode()
    assert "Bring boots" not in _client(provider, Role.FAMILY, untold).get(address).content.decode()
