"""The way in: signing in and out, choosing a business, and the first visit."""

from typing import Any

from django.contrib import messages
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse, reverse_lazy
from django.utils.decorators import method_decorator
from django.utils.translation import gettext as _

from provider.doors import home_of
from provider.models import Membership, User


@method_decorator(login_not_required, name="dispatch")  # an overridden dispatch loses the mark of LoginView's
class SignIn(auth.LoginView):
    template_name = "provider/access/sign_in.html"
    redirect_authenticated_user = True

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
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


@login_not_required
def home(request: HttpRequest) -> HttpResponse:
    """Lead to the first page of the one business, or let her choose among several."""
    if not request.user.is_authenticated:
        return redirect_to_login("/") if User.objects.exists() else HttpResponseRedirect(reverse("provider:set_up"))
    memberships = Membership.objects.filter(user=request.user).select_related("provider").order_by("provider__name")
    choices = [(member, reverse(home_of(member.role), args=[member.provider.slug])) for member in memberships]
    if len(choices) == 1:
        return HttpResponseRedirect(choices[0][1])
    return render(request, "provider/access/choose.html", {"choices": choices})


@login_not_required
def set_up(request: HttpRequest) -> HttpResponse:
    if User.objects.exists():
        return HttpResponseRedirect(reverse("provider:home"))
    return render(request, "provider/access/set_up.html")
