"""Doors of judged conditions: those of a finding, those of a point, and judge a point's wear again."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.conditions import queries as conditions
from findings.kinds.base import Kind
from findings.plant import queries as plant
from findings.plant.rules import Right
from findings.register import actions
from findings.register.api.findings import OfFinding
from findings.register.api.judged import KINDS, ConditionShape
from findings.register.api.shapes import FindingCautionShape
from findings.register.rules import cautions_of
from plantcare.api import filtering, shapes
from plantcare.api.views import ActDoor, ListDoor

NEWEST_FIRST = {"-at": ("-at", "-recorded_at"), "at": ("at", "recorded_at")}


class FindingConditions(OfFinding):
    """Everything that was judged at a finding's point about its kind, newest first."""

    noun = "finding_condition"
    shape = ConditionShape
    orderings = NEWEST_FIRST

    def rows(self) -> QuerySet[Any]:
        """Return the conditions."""
        finding = self.finding()
        return conditions.conditions().filter(point_id=finding.point_id, kind=finding.kind)


class ConditionFilters(filtering.StrictFilterSet):
    """Narrow a point's conditions."""

    kind = filtering.ChoicesFilter(choices=KINDS)
    reading_id = filtering.UuidFilter()


class PointConditions(ListDoor):
    """Everything that was judged at a measuring point, newest first."""

    noun, room = "point_condition", "register"
    needs = {"GET": Right.VIEW}
    shape, filterset_class = ConditionShape, ConditionFilters
    orderings = NEWEST_FIRST

    def rows(self) -> QuerySet[Any]:
        """Return the point's conditions."""
        point = self.one(plant.points(), self.kwargs["id"])
        return conditions.conditions().filter(point_id=point.pk)


class WearCautionsField(shapes.ListField):
    """What to mind at a turning machine, the most urgent first."""

    child = FindingCautionShape()

    def get_attribute(self, _: Any) -> Any:
        """Return the cautions, whatever was judged."""
        return cautions_of(Kind.MECHANICAL_WEAR, None)


class WearJudgementShape(ConditionShape):
    """The judgement of a point's newest reading by contact probe."""

    cautions = WearCautionsField()


class WearJudgement(ActDoor):
    """Judge a point's newest probe reading by the baseline and the ladder as they are known now.

    Worth doing after a good state was confirmed, or a ladder set, that reaches back before the reading.
    """

    operation, room = "wear_judge_again", "register"
    needs = {"POST": Right.ASSESS}
    shape = WearJudgementShape
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all measuring points."""
        return plant.points()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Judge again."""
        return actions.judge_again(actor=self.actor, at=self.at, point_id=obj.pk, **data)
