"""Logins and the businesses they may enter: the first visit, further businesses, people with logins."""

import re
import secrets
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.contrib.auth.password_validation import validate_password
from django.contrib.contenttypes.models import ContentType
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.text import slugify
from django.utils.translation import gettext as _

from provider.desk import Desk, writing
from provider.errors import DomainError, Refused
from provider.models import Household, Membership, Provider, Role, User
from provider.models.access import RESERVED_SLUGS
from provider.services.home import OpeningInput, RoomInput, check_new_rooms, insert_opening_hours, insert_room


class AlreadySetUp(DomainError):
    """Somebody was first: the first visit is over."""


class NotYours(DomainError):
    """The login belongs to more than this business, so that this business may not change it."""


@dataclass(frozen=True, slots=True)
class LoginInput:
    """A new login. The password is checked by Django's validators when it is used."""

    username: str
    password: str
    name: str = ""
    email: str = ""


@dataclass(frozen=True, slots=True)
class BusinessInput:
    """A new business; areas in `area_unit`, rooms and opening hours from `opened_on`."""

    name: str
    country: str
    region: str
    time_zone: str
    area_unit: str
    home_area: Decimal
    opened_on: date
    rooms: tuple[RoomInput, ...] = ()
    opening: tuple[OpeningInput, ...] = ()
    address: str = ""
    phone: str = ""
    email: str = ""


def set_up_business(*, login: LoginInput, business: BusinessInput) -> Provider:
    """The first visit: make the owner's login and the business. Raises AlreadySetUp once any login exists."""
    with transaction.atomic(durable=True):
        # There is no business to lock yet. This row exists since the first migration; two browsers queue for it.
        ContentType.objects.select_for_update().get(app_label="provider", model="provider")
        if User.objects.exists():
            raise AlreadySetUp(_("This site has been set up already. Sign in instead."))
        return _insert_business(_insert_login(login), business, slug="", is_example=False)


def add_business(*, owner: User, business: BusinessInput, slug: str = "", is_example: bool = False) -> Provider:
    """Make a further business for an existing login. An empty `slug` is made from the name."""
    with transaction.atomic(durable=True):
        return _insert_business(owner, business, slug=slug, is_example=is_example)


def add_login(*, login: LoginInput) -> User:
    """Make a login that may enter nothing yet."""
    with transaction.atomic(durable=True):
        return _insert_login(login)


def add_member(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    role: str,
    login: LoginInput | None = None,
    user: User | None = None,
    household: Household | None = None,
    submission_key: str = "",
) -> Membership:
    """Let a person in: a new `login`, or an existing `user` (of which only commands may make use).

    A family member needs a household, others have none. Raises DomainError for a taken username (field `username`)
    and Refused for a weak password (field `password`).
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Membership):
            return earlier
        if (role == Role.FAMILY) != (household is not None):
            raise DomainError(_("Choose a household for a family, and for nobody else."), field="household")
        if user is None:
            if login is None:
                raise TypeError("add_member needs a login or a user")
            user = _insert_login(login)
        member = _insert_membership(desk, user, role, household)
        desk.done(submission_key, member)
        return member


def renew_password(
    *,
    provider: Provider,
    actor: User | None,
    today: date,
    member: Membership,
    password: str,
    submission_key: str = "",
) -> Membership:
    """Give a member a new password, for there may be no mail to send one by.

    Raises NotYours for an owner and for a login that also enters another business.
    """
    with writing(provider, actor) as desk:
        if earlier := desk.once(submission_key, Membership):
            return earlier
        member = Membership.objects.select_related("user").get(pk=member.pk, provider=desk.provider)
        elsewhere = Membership.objects.filter(user=member.user).exclude(provider=desk.provider)
        if member.role == Role.OWNER or elsewhere.exists():
            raise NotYours(_("This person changes the password alone, after signing in."))
        member.user.set_password(password)
        member.user.save(update_fields=["password"])
        desk.audit("change", member, _("Gave %(user)s a new password") % {"user": member.user})
        desk.done(submission_key, member)
        return member


def temporary_password() -> str:
    """About 70 bits in groups that can be read out; no look-alikes."""
    letters = "abcdefghjkmnpqrstuvwxyz23456789"
    return "-".join("".join(secrets.choice(letters) for _i in range(5)) for _group in range(3))


def _insert_login(login: LoginInput) -> User:
    first, _space, last = login.name.strip().partition(" ")
    user = User(username=login.username, email=login.email, first_name=first, last_name=last)
    if User.objects.filter(username__iexact=login.username).exists():
        raise DomainError(_("This username is taken. Choose another."), field="username")
    try:
        user.full_clean(exclude=["password"])
    except ValidationError as error:
        raise Refused(error) from error
    try:
        validate_password(login.password, user)
    except ValidationError as error:
        raise DomainError(" ".join(error.messages), field="password") from error
    user.set_password(login.password)
    user.save()
    return user


def _insert_business(owner: User, given: BusinessInput, *, slug: str, is_example: bool) -> Provider:
    check_new_rooms(given.home_area, given.rooms)
    provider = Provider(
        slug=slug or _free_slug(given.name),
        name=given.name,
        country=given.country,
        region=given.region,
        time_zone=given.time_zone,
        address=given.address,
        phone=given.phone,
        email=given.email,
        area_unit=given.area_unit,
        home_area=given.home_area,
        opened_on=given.opened_on,
        is_example=is_example,
    )
    desk = Desk(provider, owner)
    desk.save(provider)
    desk.audit("set up", provider, _("Set up %(name)s") % {"name": provider.name})
    for room in given.rooms:
        insert_room(desk, room, given.opened_on)
    insert_opening_hours(desk, given.opening, given.opened_on)
    _insert_membership(desk, owner, Role.OWNER, None)
    return provider


def _insert_membership(desk: Desk, user: User, role: str, household: Household | None) -> Membership:
    member = Membership(provider=desk.provider, user=user, role=role, household=household)
    label = {"user": user, "role": member.get_role_display()}
    return desk.save(member, verb="add", summary=_("Let %(user)s in as %(role)s") % label)


def _free_slug(name: str) -> str:
    wanted = re.sub(r"^[^a-z0-9]+", "", slugify(name))[:36].strip("-") or "home"
    taken = Provider.objects.filter(slug__startswith=wanted).values_list("slug", flat=True)
    used = RESERVED_SLUGS.union(taken)
    candidates = (wanted if n == 1 else f"{wanted}-{n}" for n in range(1, len(used) + 2))
    return next(candidate for candidate in candidates if candidate not in used)
