"""Doors of assessments computed once more: the kept result beside what the same evidence gives today."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response

from findings.kinds.recomputing import Outcome
from findings.register import queries
from findings.register.api.release import FigureReasonShape
from findings.register.queries import Recomputation
from plantcare.api import filtering, shapes
from plantcare.api.views import Door, ListDoor

OUTCOMES = [(outcome.value, outcome.value) for outcome in Outcome]


class AssessedShape(shapes.Shape):
    """A result: m3/s at 1 bar, 20 °C, dry, with its 95 % interval, method and reasons."""

    leak_rate_m3_per_s = shapes.FloatField(allow_null=True)
    u_m3_per_s = shapes.FloatField(allow_null=True)
    low_m3_per_s = shapes.FloatField(allow_null=True)
    high_m3_per_s = shapes.FloatField(allow_null=True)
    status = shapes.TextField()
    method = shapes.TextField()
    method_version = shapes.TextField()
    reasons = FigureReasonShape(many=True)


class RecomputationShape(shapes.Shape):
    """What an assessment's own evidence gives by the present version of its method, and what differs."""

    assessment_id = shapes.UuidField()
    finding_id = shapes.UuidField()
    finding_number = shapes.IntegerField()
    stands = shapes.BooleanField(help_text="Whether the finding's rate rests on this assessment.")
    outcome = shapes.ChoiceField(choices=OUTCOMES)
    change_percent = shapes.FloatField(allow_null=True)
    differences = FigureReasonShape(many=True)
    kept = AssessedShape()
    today = AssessedShape(help_text="Refused where it can't be computed again; its reasons say why.")

    def to_representation(self, instance: Any) -> Any:
        """Compute once more and return both."""
        return super().to_representation(_told(queries.recomputed(instance)))


class AssessmentRecomputation(Door):
    """Compute one assessment of a finding again from its kept evidence; nothing is written."""

    noun, room = "assessment_recomputation", "register"
    needs = {"GET": "view"}
    verbs = {"GET": "read"}
    shape = RecomputationShape

    def rows(self) -> QuerySet[Any]:
        """Return all assessments."""
        return queries.assessments()

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer what was kept, what follows today and what differs."""
        finding = self.one(queries.findings(), self.kwargs["id"])
        rows = queries.assessments().filter(finding_id=finding.pk)
        return self.answer(self.one(rows, self.kwargs["assessment_id"]))


class RecomputationFilters(filtering.StrictFilterSet):
    """Narrow the list of recomputations."""

    site_id = filtering.UuidFilter()
    finding_id = filtering.UuidFilter()


class AssessmentRecomputations(ListDoor):
    """The assessments that open findings rest on, each computed again; where none stands, the last one."""

    noun, room = "assessment_recomputation", "register"
    needs = {"GET": "view"}
    shape, filterset_class = RecomputationShape, RecomputationFilters
    orderings = {"-at": ("-at", "-id"), "at": ("at", "id")}

    def rows(self) -> QuerySet[Any]:
        """Return the assessments that are shown for open findings."""
        return queries.shown_assessments()


def _told(found: Recomputation) -> dict[str, Any]:
    kept, today = found.assessment, found.today
    return {
        "assessment_id": kept.pk,
        "finding_id": kept.finding_id,
        "finding_number": kept.finding.number,
        "stands": kept.finding.standing_id == kept.pk,
        "outcome": found.comparison.outcome.value,
        "change_percent": found.comparison.change_percent,
        "differences": [reason._asdict() for reason in found.comparison.differences],
        "kept": kept,
        "today": {
            "leak_rate_m3_per_s": today.value,
            "u_m3_per_s": today.u,
            "low_m3_per_s": today.low,
            "high_m3_per_s": today.high,
            "status": today.status.value,
            "method": today.method,
            "method_version": today.method_version,
            "reasons": [reason._asdict() for reason in today.reasons],
        },
    }
