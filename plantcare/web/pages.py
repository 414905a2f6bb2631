"""What every page shares, and the pages of log-in, log-out and one's own account. No trade words here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from django import forms
from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.forms import PasswordChangeForm
from django.contrib.auth.views import LoginView, LogoutView, redirect_to_login
from django.db import DataError, IntegrityError
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views import View

from plantcare.api.actor import Actor, actor_of
from plantcare.api.failures import refusal_of
from plantcare.api.policy import SIGNED_IN
from plantcare.api.problems import Refusal
from plantcare.people.actions import choose_units
from plantcare.people.models import User

REFUSED = (Refusal, DataError, IntegrityError)
"""What a page answers with words: a refusal, or a value that the database's own laws refuse."""

OWN_PAGE = frozenset({400, 403, 404})


class Page(View):
    """A page that takes a log-in and names, per method, the right that it needs."""

    needs: ClassVar[Mapping[str, str]] = {}
    actor: Actor
    at: datetime

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        """Ask for a log-in, read the clock, answer; a refusal becomes a page."""
        if not request.user.is_authenticated:
            return redirect_to_login(request.get_full_path())
        self.at = timezone.now()
        self.actor = actor_of(request)
        try:
            response = super().dispatch(request, *args, **kwargs)
        except REFUSED as exc:
            response = refusal_page(request, refusal_of(exc))
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return response

    @property
    def need(self) -> str:
        """Return the right that the present method needs; a method without one is closed."""
        return self.needs["GET" if self.request.method == "HEAD" else str(self.request.method)]


def refusal_page(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """Show a refusal as a page with its own status."""
    template = f"{refusal.status}.html" if refusal.status in OWN_PAGE else "plantcare_web/refusal.html"
    return render(request, template, {"refusal": refusal}, status=refusal.status)


class LogIn(LoginView):
    """Take name and password."""

    template_name = "plantcare_web/login.html"
    redirect_authenticated_user = True


class LogOut(LogoutView):
    """Ask before the session ends; only a POST ends it."""

    http_method_names = ["get", "head", "post", "options"]
    template_name = "plantcare_web/logout.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:  # noqa: ARG002
        """Show the button."""
        return render(request, self.template_name)


class UnitsForm(forms.Form):
    """The units in which a person reads."""

    unit_system = forms.ChoiceField(choices=User.UnitSystem.choices, widget=forms.RadioSelect)


class Account(Page):
    """One's own account: units and password."""

    needs = {"GET": SIGNED_IN, "POST": SIGNED_IN}

    def get(self, request: HttpRequest) -> HttpResponse:
        """Show both forms."""
        return self._shown(request)

    def post(self, request: HttpRequest) -> HttpResponse:
        """Take the form that was sent."""
        if request.POST.get("act") == "units":
            return self._take_units(request)
        return self._take_password(request)

    def _take_units(self, request: HttpRequest) -> HttpResponse:
        form = UnitsForm(request.POST)
        if not form.is_valid():
            return self._shown(request, units=form, status=400)
        choose_units(user_id=self._user.pk, unit_system=form.cleaned_data["unit_system"])
        self._user.unit_system = form.cleaned_data["unit_system"]
        return self._shown(request, done="Your units are kept.")

    def _take_password(self, request: HttpRequest) -> HttpResponse:
        form: Any = PasswordChangeForm(self._user, request.POST, label_suffix="")
        if not form.is_valid():
            return self._shown(request, password=form, status=400)
        form.save()
        update_session_auth_hash(request, self._user)
        return self._shown(request, done="Your password is changed.")

    @property
    def _user(self) -> User:
        user = self.request.user
        assert isinstance(user, User)  # noqa: S101 - the log-in stands before every page
        return user

    def _shown(
        self, request: HttpRequest, *, done: str = "", status: int = 200, **forms_: Any
    ) -> HttpResponse:
        units = forms_.get("units") or UnitsForm(initial={"unit_system": self._user.unit_system})
        password = forms_.get("password") or PasswordChangeForm(self._user, label_suffix="")
        # Two forms stand on the page: neither may pull the reader to itself.
        password.fields["old_password"].widget.attrs.pop("autofocus", None)
        context = {"units": units, "password": password, "done": done}
        return render(request, "plantcare_web/account.html", context, status=status)
