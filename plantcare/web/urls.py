"""The routes of log-in, log-out and one's own account."""

from __future__ import annotations

from django.urls import path

from plantcare.web.pages import Account, LogIn, LogOut

urlpatterns = [
    path("login/", LogIn.as_view(), name="login"),
    path("logout/", LogOut.as_view(), name="logout"),
    path("account/", Account.as_view(), name="account"),
]
