"""The shared tablet by the door: which tablets there are, the guardians' PINs, and signatures given at it.

A PIN is six digits that we make. It is kept as an HMAC under the site's secret key, so that its owner can be found by
it and nobody who only has the database can try a million PINs; a new secret key makes all PINs useless.
"""

import secrets
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from hashlib import sha256

from django.utils.crypto import salted_hmac
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from provider.desk import Desk, writing
from provider.errors import DomainError
from provider.models import Attendance, Child, DoorDevice, DoorPin, Guardian, PinTry, Provider, User
from provider.selectors.stays import open_stay
from provider.services.stays import NotHere, end_stay, insert_stay

PIN_LENGTH = 6
FEWEST_DIGITS = 3  # different ones: 111111 is what somebody would try first
MOST_TRIES = 5
TRY_WINDOW = timedelta(minutes=5)
KEEP_TRIES = timedelta(days=1)
SEEN_EVERY = timedelta(minutes=10)


class WaitFirst(DomainError):
    """Too many wrong tries at this tablet, or for this child, within five minutes."""


class WrongPin(DomainError):
    """Nobody has this PIN."""


class NotYourChild(DomainError):
    """A guardian may sign for the children of the own household alone."""


class LinkUsed(DomainError):
    """The link was opened on a tablet before, or the tablet was taken away."""


@dataclass(frozen=True, slots=True)
class NewPin:
    """A guardian's PIN, to be shown this once; empty when the same form was sent twice."""

    guardian: Guardian
    pin: str


@dataclass(frozen=True, slots=True)
class Signature:
    """What a signature at the door led to; `already` when it was so before, so that nothing was changed."""

    record: Attendance
    already: bool


def hash_token(token: str) -> str:
    """A random token needs no slow hash."""
    return sha256(token.encode()).hexdigest()


def hash_pin(provider: Provider, pin: str) -> str:
    """The HMAC of a PIN under the site's secret key, different in each business."""
    return salted_hmac("provider.door.pin", f"{provider.public_id}:{pin}", algorithm="sha256").hexdigest()


def register_device(
    *, provider: Provider, actor: User | None, today: date, name: str, submission_key: str = ""
) -> DoorDevice:
    """Name a tablet. It shows nothing until its link was opened on it."""
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, DoorDevice):
            return earlier
        row = DoorDevice(provider=desk.provider, name=name.strip())
        desk.save(row, verb="add", summary=_("Added the door tablet %(name)s") % {"name": row.name})
        desk.done(submission_key, row)
        return row


def open_device(*, device: DoorDevice, token: str) -> DoorDevice:
    """Make the tablet that holds `token` the device, once. Raises LinkUsed."""
    with writing(device.provider, signature=device.name) as desk:
        row = DoorDevice.objects.get(pk=device.pk)
        if row.token_hash or row.revoked_at:
            raise LinkUsed(_("This link was used before. Add the tablet again under Settings, Door."))
        row.token_hash = hash_token(token)
        desk.save(row)
        desk.audit("open", row, _("Opened the door page on %(name)s") % {"name": row.name})
        return row


def revoke_device(
    *, provider: Provider, actor: User | None, today: date, now: datetime, device: DoorDevice, submission_key: str = ""
) -> DoorDevice:
    """The tablet shows nothing any more."""
    with writing(provider, actor) as desk:
        row = DoorDevice.objects.get(pk=device.pk, provider=desk.provider)
        if row.revoked_at:
            return row
        row.revoked_at = now
        return desk.save(row, verb="revoke", summary=_("Took away the door tablet %(name)s") % {"name": row.name})


def note_seen(*, device: DoorDevice, now: datetime) -> bool:
    """Remember, at most every ten minutes, that the tablet was used; whether it was remembered now."""
    if device.last_seen_at and now - device.last_seen_at < SEEN_EVERY:
        return False
    DoorDevice.objects.filter(pk=device.pk).update(last_seen_at=now)
    return True


def renew_pin(
    *, provider: Provider, actor: User | None, today: date, guardian: Guardian, submission_key: str = ""
) -> NewPin:
    """Give a guardian a new random PIN; an earlier one stops working."""
    with writing(provider, actor) as desk:
        if desk.once(submission_key, Guardian):
            return NewPin(guardian, "")
        pin = _new_pin(desk.provider)
        row = DoorPin.objects.filter(provider=desk.provider, guardian=guardian).first()
        row = row or DoorPin(provider=desk.provider, guardian=guardian)
        row.pin_hash = hash_pin(desk.provider, pin)
        desk.save(row)
        desk.audit("renew", row, _("New door PIN for %(guardian)s") % {"guardian": guardian})
        desk.done(submission_key, guardian)
        return NewPin(guardian, pin)


def remove_pin(
    *, provider: Provider, actor: User | None, today: date, guardian: Guardian, submission_key: str = ""
) -> Guardian:
    """The guardian signs at the door no longer."""
    with writing(provider, actor) as desk:
        row = DoorPin.objects.filter(provider=desk.provider, guardian=guardian).first()
        if row:
            desk.audit("remove", row, _("Removed the door PIN of %(guardian)s") % {"guardian": guardian})
            row.delete()
        return guardian


def enter_pin(*, device: DoorDevice, pin: str, now: datetime) -> DoorPin:
    """Find whose PIN it is. Raises WrongPin (counted) and WaitFirst, both for the field `pin`."""
    with writing(device.provider) as desk:
        wait = _wait_left(now, device=device)
        found = None
        if not wait:
            known = DoorPin.objects.filter(provider=desk.provider, pin_hash=hash_pin(desk.provider, pin))
            found = known.select_related("guardian").first()
            if found is None:
                _count(device, now)
    # Raised outside, so that the count is kept.
    if wait:
        raise wait
    if found is None:
        raise WrongPin(_("That PIN is not known here. Type it again."), field="pin")
    return found


def sign_at_door(
    *,
    device: DoorDevice,
    guardian: Guardian,
    child: Child,
    leaving: bool,
    today: date,
    now: datetime,
    note: str = "",
    submission_key: str = "",
) -> Signature:
    """A guardian brings or takes a child of the own household; the guardian's name is the signature.

    A child who is here already, or has left already, stays as it is. Raises NotYourChild (counted against the child),
    WaitFirst, and what `record_stay` and `sign_out_child` raise.
    """
    who = _("%(guardian)s at the door (%(device)s)") % {"guardian": guardian, "device": device}
    with writing(device.provider, signature=who) as desk:
        if earlier := desk.once(submission_key, Attendance):
            return Signature(earlier, already=False)
        refusal: DomainError | None = _wait_left(now, device=device) or _wait_left(now, child=child)
        if not refusal and child.household_id != guardian.household_id:
            _count(device, now, child)
            refusal = NotYourChild(_("You may sign for your own children only."))
        if not refusal:
            sign = _sign_out if leaving else _sign_in
            signature = sign(desk, guardian, child, today, now, note)
            desk.done(submission_key, signature.record)
            return signature
    # Raised outside, so that the count is kept.
    raise refusal


def _sign_in(desk: Desk, guardian: Guardian, child: Child, today: date, now: datetime, note: str) -> Signature:
    if here := open_stay(desk.provider, child):
        return Signature(here, already=True)
    day = localtime(now, desk.provider.zone).date()
    return Signature(
        insert_stay(
            desk,
            today=today,
            now=now,
            child=child,
            day=day,
            arrived_at=now,
            note=note,
            brought_by=guardian.name,
            at_door=True,
        ),
        already=False,
    )


def _sign_out(desk: Desk, guardian: Guardian, child: Child, today: date, now: datetime, note: str) -> Signature:
    if open_stay(desk.provider, child):
        row = end_stay(desk, now=now, child=child, at=now, collected_by=guardian.name, note=note, at_door=True)
        return Signature(row, already=False)
    if left := _left_today(child, today):
        return Signature(left, already=True)
    raise NotHere(_("%(child)s is not signed in.") % {"child": child})


def _left_today(child: Child, today: date) -> Attendance | None:
    rows = Attendance.objects.filter(child=child, day=today, left_at__isnull=False, voided_at__isnull=True)
    return rows.select_related("child").order_by("-left_at").first()


def _new_pin(provider: Provider) -> str:
    while True:
        pin = f"{secrets.randbelow(10**PIN_LENGTH):0{PIN_LENGTH}}"
        taken = DoorPin.objects.filter(provider=provider, pin_hash=hash_pin(provider, pin)).exists()
        if len(set(pin)) >= FEWEST_DIGITS and not taken:
            return pin


def _wait_left(now: datetime, **whose: object) -> WaitFirst | None:
    """The refusal while the last five tries of a tablet, or for a child, lie within five minutes."""
    tries = PinTry.objects.filter(at__gt=now - TRY_WINDOW, **whose).order_by("-at").values_list("at", flat=True)
    recent = list(tries[:MOST_TRIES])
    if len(recent) < MOST_TRIES:
        return None
    left = recent[-1] + TRY_WINDOW - now
    minutes = max(1, -(-left // timedelta(minutes=1)))
    return WaitFirst(
        ngettext(
            "Too many wrong tries. Wait %(n)d minute, then try again, or ask inside.",
            "Too many wrong tries. Wait %(n)d minutes, then try again, or ask inside.",
            minutes,
        )
        % {"n": minutes},
        field="pin",
    )


def _count(device: DoorDevice, now: datetime, child: Child | None = None) -> None:
    PinTry.objects.filter(device=device, at__lt=now - KEEP_TRIES).delete()
    PinTry.objects.create(device=device, child=child, at=now)
