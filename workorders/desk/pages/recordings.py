"""Send a recording from a finding's page: the same call as the API's door makes."""

from __future__ import annotations

import uuid
from typing import BinaryIO, cast

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse

from findings.plant.rules import Right
from findings.recordings import actions
from plantcare.api.failures import refusal_of
from plantcare.web.pages import REFUSED
from workorders.desk.pages.finding import Finding
from workorders.desk.pages.recording_form import RecordingForm
from workorders.desk.queries import history


class FindingRecordings(Finding):
    """Keep a recording at one of the finding's readings and go back to where it is shown."""

    http_method_names = ["post", "options"]

    def post(self, request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Keep it; a refusal is shown beside the form."""
        finding = self.load(id)
        self.require(Right.RECORD)
        evidence = history.story_of(finding).evidence
        form = RecordingForm(request.POST, request.FILES, zone=self.site.time_zone, evidence=evidence)
        if not form.is_valid():
            return self.shown(finding, sent_recording=form, status=400)
        upload = form.cleaned_data["file"]
        try:
            actions.keep_recording(
                actor=self.actor,
                at=self.at,
                reading_id=form.reading_id,
                file=cast(BinaryIO, upload),
                file_name=upload.name,
                told=form.told,
            )
        except REFUSED as exc:
            refusal = refusal_of(exc)
            form.refuse(refusal)
            return self.shown(finding, sent_recording=form, status=refusal.status)
        return redirect(f"{reverse('desk_finding', kwargs={'id': finding.pk})}#recordings")
