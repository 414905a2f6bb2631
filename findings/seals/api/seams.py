"""Doors of seams."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant import queries as plant
from findings.plant.rules import Right
from findings.seals import actions, queries
from findings.seals.api.shapes import CRITERIA, SHAPES, SeamInput, SeamShape
from findings.seals.rules import NewSeam
from plantcare.api import filtering
from plantcare.api.references import Reference
from plantcare.api.views import CreateDoor, DetailDoor, ListDoor


class SeamFilters(filtering.StrictFilterSet):
    """Narrow the list of seams."""

    site_id = filtering.UuidFilter()
    point_id = filtering.UuidFilter()
    asset_id = filtering.UuidFilter(field_name="point__asset_id")
    shape = filtering.ChoicesFilter(choices=SHAPES)
    criterion = filtering.ChoicesFilter(choices=CRITERIA)


class Seams(CreateDoor, ListDoor):
    """Seams: list how they are tested, and say it anew; a newer row of a point holds from its moment."""

    noun, room = "seam", "seals"
    needs = {"GET": Right.VIEW, "POST": Right.ASSESS}
    shape, input_shape, filterset_class = SeamShape, SeamInput, SeamFilters
    orderings = {"-from_at": ("-from_at", "-id"), "from_at": ("from_at", "id")}
    references = {"point_id": Reference(plant.points)}

    def rows(self) -> QuerySet[Any]:
        """Return all seams."""
        return queries.seams()

    def act(self, data: dict[str, Any]) -> Any:
        """Describe one."""
        return actions.add_seam(actor=self.actor, at=self.at, seam=NewSeam(**data))


class Seam(DetailDoor):
    """One description of a seam."""

    noun, room = "seam", "seals"
    needs = {"GET": Right.VIEW}
    shape = SeamShape

    def rows(self) -> QuerySet[Any]:
        """Return all seams."""
        return queries.seams()
