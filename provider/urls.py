"""Addresses of the way in, Today, Families and Settings. Every one but the way in begins with the business's slug."""

from django.urls import path

from provider.views import access, families, today

app_name = "provider"

urlpatterns = [
    path("", access.home, name="home"),
    path("sign-in/", access.SignIn.as_view(), name="sign_in"),
    path("sign-in/password/", access.ChangePassword.as_view(), name="password"),
    path("sign-out/", access.SignOut.as_view(), name="sign_out"),
    path("set-up/", access.set_up, name="set_up"),
    path("<slug:slug>/today/", today.today, name="today"),
    path("<slug:slug>/families/", families.families, name="families"),
]
