"""The way in: signing in and out, choosing a business, and the first visit."""

import math
from datetime import timedelta
from typing import Any

from axes.helpers import get_cool_off
from axes.models import AccessAttempt
from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.db.models import Max
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters

from provider.clock import now
from provider.config.client_address import client_address
from provider.doors import home_of
from provider.errors import DomainError
from provider.forms.access import RoomRows, SetUpForm
from provider.models import Membership, User
from provider.services.accounts import AlreadySetUp, BusinessInput, LoginInput, set_up_business
from provider.services.home import OpeningInput, RoomInput

BACKEND = "django.contrib.auth.backends.ModelBackend"


@method_decorator(login_not_required, name="dispatch")
class SignIn(auth.LoginView):
    template_name = "provider/access/sign_in.html"
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        if not User.objects.exists():
            return HttpResponseRedirect(reverse("provider:set_up"))
        return super().dispatch(request, *args, **kwargs)


class SignOut(auth.LogoutView):
    """Signs out by POST only, so that no link or picture can do it."""


class ChangePassword(auth.PasswordChangeView):
    template_name = "provider/access/password.html"
    success_url = reverse_lazy("provider:home")

    def form_valid(self, form: Any) -> HttpResponse:
        messages.success(self.request, _("Your password was changed."))
        return super().form_valid(form)


def locked_out(request: HttpRequest, credentials: dict[str, Any] | None = None, *_args: Any) -> HttpResponse:
    """The answer to a sign-in after too many wrong passwords, saying when to try again. Named in the settings."""
    tries = AccessAttempt.objects.filter(username=request.POST.get("username", ""), ip_address=client_address(request))
    last = tries.aggregate(last=Max("attempt_time"))["last"] or now()
    left = last + (get_cool_off(request) or timedelta()) - now()
    minutes = max(1, math.ceil(left / timedelta(minutes=1)))
    return render(request, "provider/access/locked_out.html", {"minutes": minutes}, status=429)


@login_not_required
def home(request: HttpRequest) -> HttpResponse:
    """Lead to the first page of the one business, or let her choose among several."""
    if not request.user.is_authenticated:
        return redirect_to_login("/") if User.objects.exists() else HttpResponseRedirect(reverse("provider:set_up"))
    members = Membership.objects.filter(user=request.user).select_related("provider").order_by("provider__name")
    choices = [(member, reverse(home_of(member.role), args=[member.provider.slug])) for member in members]
    if len(choices) == 1:
        return HttpResponseRedirect(choices[0][1])
    return render(request, "provider/access/choose.html", {"choices": choices})


@login_not_required
@never_cache
@sensitive_post_parameters("password", "password_again")
def set_up(request: HttpRequest) -> HttpResponse:
    """The first visit; closed for good once any login exists."""
    if User.objects.exists():
        return HttpResponseRedirect(reverse("provider:home"))
    data = _with_another_room(request) if request.method == "POST" else None
    form = SetUpForm(data, today=timezone.now().date())
    rooms: Any = RoomRows(data, prefix="rooms")
    if data is not None and "add_room" not in data and form.is_valid() and rooms.is_valid():
        try:
            provider = set_up_business(login=_login_of(form), business=_business_of(form, rooms.rooms))
        except AlreadySetUp as error:
            messages.warning(request, error.message)
            return HttpResponseRedirect(reverse("provider:home"))
        except DomainError as error:
            form.add_domain_error(error)
        else:
            login(request, User.objects.get(memberships__provider=provider), backend=BACKEND)
            messages.success(request, _("%(name)s is set up. Add your families next.") % {"name": provider.name})
            return HttpResponseRedirect(reverse("provider:today", args=[provider.slug]))
    asked = data is not None and "add_room" not in data
    return render(
        request,
        "provider/access/set_up.html",
        {"form": form, "rooms": rooms, "asked": asked},
        status=422 if asked else 200,
    )


def _with_another_room(request: HttpRequest) -> Any:
    """What was posted; after the button "add a room" (for pages without script) with one more empty row."""
    data: Any = request.POST
    if "add_room" in data:
        data = data.copy()
        total = data.get("rooms-TOTAL_FORMS", "0")
        data["rooms-TOTAL_FORMS"] = str(int(total) + 1) if total.isdecimal() and len(total) < 6 else "4"
    return data


def _login_of(form: SetUpForm) -> LoginInput:
    data = form.cleaned_data
    return LoginInput(data["username"], data["password"], data["owner_name"], data["login_email"])


def _business_of(form: SetUpForm, rooms: list[dict[str, Any]]) -> BusinessInput:
    data = form.cleaned_data
    return BusinessInput(
        name=data["business_name"],
        country=data["country"],
        region=data["region"],
        time_zone=data["time_zone"],
        area_unit=data["area_unit"],
        home_area=data["home_area"],
        opened_on=data["opened_on"],
        rooms=tuple(RoomInput(room["name"], room["area"], room["use"]) for room in rooms),
        opening=tuple(OpeningInput(each.weekday, each.begins, each.ends) for each in form.week_choices),
    )
