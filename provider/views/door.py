"""The door page on a shared tablet, and the owner's pages about tablets and PINs.

The door page knows no login. A tablet is let in by its own cookie, and a guardian by a PIN, for two minutes or until
the page is left. Nothing else in the house reads these two cookies.
"""

from collections.abc import Callable
from datetime import date, timedelta
from functools import wraps
from secrets import token_urlsafe
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from provider.access import OWNER, ScopedRequest, own, scoped
from provider.clock import now
from provider.clock import today as today_of
from provider.errors import DomainError
from provider.forms.door import ConfirmForm, DeviceForm, PinForm, SignForm
from provider.middleware import LOCK_COOKIE
from provider.models import Child, DoorDevice, DoorPin, Guardian, Provider
from provider.qr import qr_picture
from provider.selectors import door as selectors
from provider.services import door as services
from provider.services.door import NewPin, NotYourChild, Signature, WaitFirst
from provider.views.pages import act, show_form

DEVICE_COOKIE = "door_tablet"
GUARDIAN_COOKIE = "door_guardian"
# As long as browsers keep one; renewed whenever the tablet is used.
DEVICE_DAYS = timedelta(days=400)
LINK_LIFE = timedelta(minutes=30)
GUARDIAN_LIFE = timedelta(minutes=2)
LINK_SALT = "provider.door.link"
GUARDIAN_SALT = "provider.door.guardian"


class DoorRequest(HttpRequest):
    """A request from a tablet that came through `at_door`."""

    device: DoorDevice
    today: date


def at_door(view: Callable[..., HttpResponse]) -> Any:
    """Let a view in by the tablet's cookie; any other browser is told that it is not the door's."""

    @login_not_required
    @never_cache
    @wraps(view)
    def inner(request: Any, slug: str, *args: Any, **kwargs: Any) -> HttpResponse:
        device = selectors.device_by_token(slug, request.COOKIES.get(DEVICE_COOKIE, ""))
        if device is None:
            response = render(request, "provider/door/closed.html", status=403)
            _forget(response, slug, DEVICE_COOKIE, GUARDIAN_COOKIE)
            response.delete_cookie(LOCK_COOKIE)
            return response
        request.device, request.today = device, today_of(device.provider)
        with timezone.override(device.provider.zone):
            return view(request, *args, **kwargs)

    inner.is_door = True  # type: ignore[attr-defined]  # read by the test that walks every address
    return inner


@sensitive_post_parameters("pin")
@at_door
def door(request: DoorRequest) -> HttpResponse:
    """The PIN; whoever was let in before is forgotten."""
    slug = request.device.provider.slug
    form = PinForm(request.POST if request.method == "POST" else None)
    if form.is_valid():
        try:
            pin = services.enter_pin(device=request.device, pin=form.cleaned_data["pin"], now=now())
        except DomainError as error:
            form.add_error(error.field, error.message)
        else:
            response: HttpResponse = HttpResponseRedirect(reverse("provider:door_children", args=[slug]))
            ticket = signing.dumps([request.device.pk, pin.pk, pin.version], salt=GUARDIAN_SALT)
            _remember(request, response, slug, GUARDIAN_COOKIE, ticket, GUARDIAN_LIFE)
            return response
    response = _show(request, "provider/door/pin.html", form=form, status=422 if form.errors else 200)
    _forget(response, slug, GUARDIAN_COOKIE)
    if services.note_seen(device=request.device, now=now()):
        _remember_tablet(request, response, slug, request.COOKIES[DEVICE_COOKIE])
    return response


@at_door
def door_children(request: DoorRequest) -> HttpResponse:
    """A guardian's own children, each with one button."""
    guardian = _guardian(request)
    return _children(request, guardian) if guardian else _back_to_pin(request)


@at_door
def door_sign(request: DoorRequest, child: str) -> HttpResponse:
    """One signature. The answer stands for a few seconds; sent again, it is the same answer."""
    guardian = _guardian(request)
    form = SignForm(request.POST)
    if guardian is None or not form.is_valid():
        return _back_to_pin(request)
    row = own(Child.objects.select_related("household"), request.device.provider, child)
    try:
        signature = services.sign_at_door(
            device=request.device,
            guardian=guardian,
            child=row,
            leaving=form.cleaned_data["act"] == "out",
            today=request.today,
            now=now(),
            note=form.cleaned_data["note"],
            submission_key=form.cleaned_data["submission_key"],
        )
    except NotYourChild as error:
        raise Http404(_("No such page.")) from error
    except DomainError as error:
        return _children(request, guardian, problem=error.message, status=429 if isinstance(error, WaitFirst) else 422)
    return _children(request, guardian, signature=signature)


def _children(
    request: DoorRequest,
    guardian: Guardian,
    *,
    status: int = 200,
    signature: Signature | None = None,
    problem: str = "",
) -> HttpResponse:
    children = selectors.children_at_door(guardian, request.today, now())
    response = _show(
        request,
        "provider/door/children.html",
        guardian=guardian,
        children=children,
        signature=signature,
        problem=problem,
        refresh=20 if signature else 60,
        status=status,
    )
    if signature and len(children) == 1:
        # Nothing is left to sign: the next one at the tablet must not find this page by going back.
        _forget(response, request.device.provider.slug, GUARDIAN_COOKIE)
    return response


def _guardian(request: DoorRequest) -> Guardian | None:
    """Who typed a PIN at this tablet within the last two minutes, unless the PIN was changed since."""
    try:
        device, pin, version = signing.loads(
            request.COOKIES.get(GUARDIAN_COOKIE, ""), salt=GUARDIAN_SALT, max_age=GUARDIAN_LIFE
        )
    except (signing.BadSignature, ValueError):
        return None
    found = DoorPin.objects.filter(pk=pin, version=version, provider=request.device.provider)
    row = found.select_related("guardian__provider").first() if device == request.device.pk else None
    return row.guardian if row else None


def _back_to_pin(request: DoorRequest) -> HttpResponse:
    return HttpResponseRedirect(reverse("provider:door", args=[request.device.provider.slug]))


def _show(request: DoorRequest, template: str, *, status: int = 200, **context: Any) -> HttpResponse:
    return render(request, template, {"provider": request.device.provider, **context}, status=status)


@login_not_required
@never_cache
def door_open(request: HttpRequest, slug: str, token: str) -> HttpResponse:
    """The link that makes this browser the door's tablet. It asks first: a mere look at the link must not use it up."""
    device = _device_of_link(slug, token)
    if device is None:
        return render(request, "provider/door/link.html", {"device": None}, status=404)
    if request.method == "POST":
        secret = token_urlsafe(32)
        try:
            services.open_device(device=device, token=secret)
        except DomainError as error:
            return render(request, "provider/door/link.html", {"device": None, "problem": error.message}, status=409)
        logout(request)
        response = HttpResponseRedirect(reverse("provider:door", args=[slug]))
        _remember_tablet(request, response, slug, secret)
        return response
    return render(request, "provider/door/link.html", {"device": device})


def _device_of_link(slug: str, token: str) -> DoorDevice | None:
    try:
        public_id = signing.loads(token, salt=LINK_SALT, max_age=LINK_LIFE)
    except signing.BadSignature:
        return None
    waiting = DoorDevice.objects.filter(provider__slug=slug, token_hash__isnull=True, revoked_at__isnull=True)
    return waiting.filter(public_id=public_id).select_related("provider").first()


def _remember_tablet(request: HttpRequest, response: HttpResponse, slug: str, token: str) -> None:
    _remember(request, response, slug, DEVICE_COOKIE, token, DEVICE_DAYS)
    response.set_cookie(
        LOCK_COOKIE, slug, max_age=DEVICE_DAYS, httponly=True, samesite="Lax", secure=request.is_secure()
    )


def _remember(request: HttpRequest, response: HttpResponse, slug: str, name: str, value: str, life: timedelta) -> None:
    """A cookie that only the door's own addresses receive."""
    path = reverse("provider:door", args=[slug])
    response.set_cookie(name, value, max_age=life, path=path, httponly=True, samesite="Lax", secure=request.is_secure())


def _forget(response: HttpResponse, slug: str, *names: str) -> None:
    for name in names:
        response.delete_cookie(name, path=reverse("provider:door", args=[slug]), samesite="Lax")


# --- The owner's pages -----------------------------------------------------------------------------------------------


@scoped(OWNER)
def door_devices(request: ScopedRequest) -> HttpResponse:
    return render(request, "provider/door/devices.html", {"devices": selectors.devices(request.visit.provider)})


@scoped(OWNER)
def door_device_add(request: ScopedRequest) -> HttpResponse:
    form = DeviceForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.register_device(**request.visit.writer, **form.values()),
            done=_("Saved. Open its link on the tablet next."),
            go=lambda row: reverse("provider:door_device", args=[request.visit.provider.slug, row.public_id]),
        )
        if response:
            return response
    return _page(request, form, _("Add a tablet"), _("Save the tablet"))


@scoped(OWNER)
@never_cache
def door_device(request: ScopedRequest, device: str) -> HttpResponse:
    """One tablet; while nobody has opened its link, the link."""
    row = own(DoorDevice, request.visit.provider, device)
    context: dict[str, Any] = {"device": row}
    if row.token_hash is None and row.revoked_at is None:
        token = signing.dumps(row.public_id, salt=LINK_SALT)
        context["link"] = _link(request, request.visit.provider, token)
        context["qr"] = qr_picture(context["link"])
        context["minutes"] = LINK_LIFE // timedelta(minutes=1)
    return render(request, "provider/door/device.html", context)


def _link(request: HttpRequest, provider: Provider, token: str) -> str:
    path = reverse("provider:door_open", args=[provider.slug, token])
    return settings.PUBLIC_URL.geturl().rstrip("/") + path if settings.PUBLIC_URL else request.build_absolute_uri(path)


@scoped(OWNER)
def door_device_revoke(request: ScopedRequest, device: str) -> HttpResponse:
    row = own(DoorDevice, request.visit.provider, device)
    form = ConfirmForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.revoke_device(**request.visit.writer, now=now(), device=row, **form.values()),
            done=_("The tablet shows the door page no longer."),
            go=lambda _row: reverse("provider:door_devices", args=[request.visit.provider.slug]),
        )
        if response:
            return response
    lead = _("It stops working at once, also when it was lost.")
    title = _("Take away %(name)s?") % {"name": row}
    return _page(request, form, title, _("Take it away"), danger=True, lead=lead)


@scoped(OWNER)
def guardian_pin(request: ScopedRequest, guardian: str) -> HttpResponse:
    row = own(Guardian.objects.select_related("household"), request.visit.provider, guardian)
    form = ConfirmForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.renew_pin(**request.visit.writer, guardian=row, **form.values()),
            done=_("The PIN is changed."),
            go=lambda new: _tell_pin(request, new),
        )
        if response:
            return response
    return _guardian_page(
        request,
        row,
        form,
        _("Door PIN of %(guardian)s") % {"guardian": row},
        _("Make a new PIN"),
        lead=_("For the tablet by the door. It is shown once; an earlier one stops working."),
    )


def _tell_pin(request: ScopedRequest, new: NewPin) -> str:
    if new.pin:
        messages.info(
            request, _("PIN of %(guardian)s, shown only now: %(pin)s") % {"guardian": new.guardian, "pin": new.pin}
        )
    return _household_url(request, new.guardian)


@scoped(OWNER)
def guardian_pin_remove(request: ScopedRequest, guardian: str) -> HttpResponse:
    row = own(Guardian.objects.select_related("household"), request.visit.provider, guardian)
    form = ConfirmForm(request.POST or None)
    if request.method == "POST":
        response = act(
            request,
            form,
            lambda: services.remove_pin(**request.visit.writer, guardian=row, **form.values()),
            done=_("The PIN is removed."),
            go=lambda _row: _household_url(request, row),
        )
        if response:
            return response
    title = _("Remove the door PIN of %(guardian)s?") % {"guardian": row}
    return _guardian_page(request, row, form, title, _("Remove the PIN"), danger=True)


def _household_url(request: ScopedRequest, guardian: Guardian) -> str:
    return reverse("provider:household", args=[request.visit.provider.slug, guardian.household.public_id])


def _guardian_page(
    request: ScopedRequest, guardian: Guardian, form: Any, title: str, submit: str, **context: Any
) -> HttpResponse:
    context |= {"title": title, "submit": submit, "back": (_household_url(request, guardian), guardian.household.name)}
    if not context.get("danger") and DoorPin.objects.filter(guardian=guardian).exists():
        context["remove"] = reverse(
            "provider:guardian_pin_remove", args=[request.visit.provider.slug, guardian.public_id]
        )
    return show_form(request, "provider/door/guardian_pin.html", form, **context)


def _page(request: ScopedRequest, form: Any, title: str, submit: str, **context: Any) -> HttpResponse:
    back = (reverse("provider:door_devices", args=[request.visit.provider.slug]), _("Door"))
    return show_form(request, "provider/form_page.html", form, title=title, submit=submit, back=back, **context)
