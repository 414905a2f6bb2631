"""Surveys: the walks of a site, and one walk with its readings."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import ClassVar

from django.http import HttpRequest, HttpResponse

from findings.plant.rules import Right
from workorders.desk.pages.base import DeskPage
from workorders.desk.queries import surveys


class Surveys(DeskPage):
    """The walks, newest first."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/surveys.html"
    here = "surveys"

    def get(self, request: HttpRequest, code: str) -> HttpResponse:
        """Show a slice of the list."""
        site = self.see(code)
        return self.show(found=surveys.survey_list(site, request.GET.get("after", "")))


class Survey(DeskPage):
    """One walk."""

    needs: ClassVar[Mapping[str, str]] = {"GET": Right.VIEW}
    template = "desk/survey.html"
    here = "surveys"

    def get(self, _request: HttpRequest, id: uuid.UUID) -> HttpResponse:  # noqa: A002 - the route's word
        """Show its readings and what became of them."""
        survey = self.seen(surveys.survey_seen(id, self.site_ids()))
        heard = surveys.readings_of(survey)
        return self.show(
            survey=survey,
            heard=heard,
            noted=any(one.reading.note or one.reading.warnings for one in heard),
            quiet=sum(not one.reading.kind for one in heard),
            doubtful=sum(bool(one.reading.warnings) for one in heard),
        )
