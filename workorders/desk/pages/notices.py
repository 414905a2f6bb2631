"""Answers to what waits for a person: a request to let a finding wait, a step up that nobody took."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any, ClassVar

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from findings.deferrals import actions as deferrals
from findings.plant.rules import Right
from plantcare.api.problems import Invalid, NotFound
from workorders.clocks import actions as clocks
from workorders.desk.pages.base import DeskPage
from workorders.desk.queries import notices

ANSWERS: Mapping[str, Any] = {"approve": deferrals.approve, "refuse": deferrals.refuse}


class VersionForm(forms.Form):
    """The version that the one who answers saw."""

    version = forms.IntegerField(min_value=1, max_value=2_000_000_000)


class DeferralAnswer(DeskPage):
    """Let a finding wait, or not; the same call as the API's door makes."""

    needs: ClassVar[Mapping[str, str]] = {"POST": Right.APPROVE_DEFERRAL}
    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, id: uuid.UUID, answer: str) -> HttpResponse:  # noqa: A002
        """Answer and go back to the finding; a refusal is a page of its own."""
        if answer not in ANSWERS:
            raise NotFound
        deferral = self.seen(notices.deferral_seen(id, self.site_ids()))
        form = VersionForm(request.POST)
        if not form.is_valid():
            raise Invalid
        ANSWERS[answer](
            actor=self.actor, at=self.at, deferral_id=deferral.pk, version=form.cleaned_data["version"]
        )
        return redirect("desk_finding", id=deferral.finding_id)


class EscalationTaken(DeskPage):
    """Say that one sees to a finding; whose it may be, the action decides by its step."""

    needs: ClassVar[Mapping[str, str]] = {"POST": Right.VIEW}
    http_method_names = ["post", "options"]

    def post(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Take it and go to its finding."""
        told = self.seen(notices.escalation_seen(id, self.site_ids()))
        clocks.take_escalation(actor=self.actor, at=self.at, escalation_id=told.pk, rights=self.rights)
        return redirect("desk_finding", id=told.finding_id)
