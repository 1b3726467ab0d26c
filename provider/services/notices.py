"""Messages to all families at once, such as "closed today, ill": at their own door at once, by e-mail from a task."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.conf import settings
from django.core.mail import EmailMessage
from django.utils import translation
from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import ClosureKind, FamilyNotice, NoticeDelivery, Provider, User
from provider.periods import ONE_DAY
from provider.selectors.notices import Reached, addresses_of, families_on
from provider.services.home import insert_closure
from provider.tasks import deliver_notice

NO_ADDRESS = gettext_noop("No e-mail address")
NO_MAIL = gettext_noop("No outgoing mail is set up")
NOT_TAKEN = gettext_noop("The mail server did not take it")


@dataclass(frozen=True, slots=True)
class ClosureInput:
    """The closure that a notice announces: the whole of its day."""

    kind: str = ClosureKind.ILLNESS
    paid: bool = True


def send_notice(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    now: datetime,
    day: date,
    subject: str,
    text: str,
    closure: ClosureInput | None = None,
    submission_key: str = "",
) -> FamilyNotice:
    """Tell every family with a place on `day`, and close that day in the same act when `closure` is given.

    Raises DomainError when no family has a place on that day, and what `insert_closure` raises. The e-mails go out
    after everything is saved; a household without an address keeps an unsent delivery that says so.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, FamilyNotice):
            return earlier
        subject = " ".join(subject.split())
        if day < today:
            raise DomainError(_("That day is over."), field="day")
        households = families_on(desk.provider, day)
        if not households:
            raise DomainError(_("No family has a place on that day."), field="day")
        if closure:
            insert_closure(
                desk, start=day, end=day + ONE_DAY, kind=closure.kind, paid=closure.paid, reason=subject[:120]
            )
        notice, deliveries = insert_notice(desk, day=day, subject=subject, text=text, now=now, households=households)
        desk.done(submission_key, notice)
    enqueue(deliveries)
    return notice


def insert_notice(
    desk: Desk, *, day: date, subject: str, text: str, now: datetime, households: Sequence[Reached]
) -> tuple[FamilyNotice, list[NoticeDelivery]]:
    """Save a message and a copy for each household at the desk of another service; `enqueue` the copies afterwards."""
    subject = " ".join(subject.split())  # a line break would add headers to the mail
    notice = desk.save(
        FamilyNotice(provider=desk.provider, day=day, subject=subject, text=text, queued_at=now),
        verb="tell",
        summary=_("Told %(count)d families: %(subject)s") % {"count": len(households), "subject": subject},
    )
    copies = [
        NoticeDelivery(
            provider=desk.provider,
            notice=notice,
            household=each.household,
            error="" if each.addresses else NO_ADDRESS,
        )
        for each in households
    ]
    return notice, desk.create_many(copies)


def enqueue(deliveries: Iterable[NoticeDelivery]) -> None:
    """Send copies that have an address, outside the transaction that saved them."""
    _enqueue(each for each in deliveries if not each.error)


def try_again(
    *, provider: Provider, actor: User | None, today: date, notice: FamilyNotice, submission_key: str = ""
) -> FamilyNotice:
    """Send what is not sent yet; a family that got its copy does not get another."""
    with writing(provider, actor) as desk:
        notice = FamilyNotice.objects.get(pk=notice.pk, provider=desk.provider)
        if submission_key and desk.once(submission_key, FamilyNotice):
            return notice
        unsent = list(NoticeDelivery.objects.filter(notice=notice, sent_at__isnull=True))
        desk.audit("tell", notice, _("Sent again what was not sent: %(notice)s") % {"notice": notice})
        desk.done(submission_key, notice)
    _enqueue(unsent)
    return notice


def deliver(*, delivery: NoticeDelivery, now: datetime) -> NoticeDelivery:
    """Send one household's copy and remember how that went. A copy that was sent is never sent again.

    One message goes to the household's own address, with its guardians as hidden receivers.
    """
    delivery = NoticeDelivery.objects.select_related("notice", "household", "provider").get(pk=delivery.pk)
    if delivery.sent_at:
        return delivery
    with translation.override(delivery.household.language):
        error = _post(delivery)
    with writing(delivery.provider) as desk:
        row = NoticeDelivery.objects.get(pk=delivery.pk)
        row.error, row.sent_at = error, None if error else now
        return desk.save(row)


def _enqueue(deliveries: Iterable[NoticeDelivery]) -> None:
    for each in deliveries:
        deliver_notice.enqueue(each.public_id)


def _post(delivery: NoticeDelivery) -> str:
    """Nothing when the mail server took it, else what is to be known."""
    business, notice = delivery.provider, delivery.notice
    addresses = addresses_of(delivery.household)
    if not addresses:
        return NO_ADDRESS
    if settings.EMAIL_BACKEND.endswith("console.EmailBackend"):
        return NO_MAIL  # rather than print a family's letter into a log
    message = EmailMessage(
        subject=notice.subject,
        body=_("%(text)s\n\n%(business)s, %(day)s")
        % {"text": notice.text, "business": business.name, "day": date_format(notice.day)},
        to=addresses[:1],
        bcc=addresses[1:],
        reply_to=[business.email] if business.email else [],
    )
    try:
        message.send()
    except (OSError, ValueError):  # smtplib's own errors are OSErrors; ValueError: an address that is none
        return NOT_TAKEN
    return ""
