"""Doors of walks along seams."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from django.http import HttpResponse
from rest_framework.response import Response

from findings.detectors import queries as detectors
from findings.plant.rules import Right
from findings.seals import actions, queries
from findings.seals.api import shapes as seal_shapes
from findings.seals.api.svg import SvgRenderer, svg_answer
from findings.seals.rules import NOT_SAID, NewPlace, NewWalk
from findings.surveys import queries as surveys
from plantcare.api import filtering, shapes
from plantcare.api.problems import NotFound
from plantcare.api.references import Reference
from plantcare.api.renderers import ApiJsonRenderer
from plantcare.api.views import ActDoor, CreateDoor, DetailDoor, Door, ListDoor

_OF_RESULT = (
    "verdict",
    "smallest_drop_db",
    "smallest_drop_u_db",
    "limit_level_db",
    "intact_level_db",
    "excess_rule_used",
    "places",
    "leaks",
    "reasons",
    "method",
    "method_version",
    "reading_id",
    "finished_at",
)


class WalkFilters(filtering.StrictFilterSet):
    """Narrow the list of walks."""

    site_id = filtering.UuidFilter()
    seam_id = filtering.UuidFilter()
    point_id = filtering.UuidFilter(field_name="seam__point_id")
    verdict = filtering.ChoicesFilter(choices=seal_shapes.VERDICTS)
    finished = filtering.BooleanFilter(field_name="finished_at", lookup_expr="isnull", exclude=True)
    begun_from = filtering.AwareDateTimeFilter(field_name="begun_at", lookup_expr="gte")
    begun_to = filtering.AwareDateTimeFilter(field_name="begun_at", lookup_expr="lt")


def detail_of(walk: Any) -> Any:
    """Return a walk with what the detail's shape shows beside it."""
    result, correction = queries.result_of_walk(walk.pk), queries.corrected_by(walk.pk)
    walk.places = queries.places_of(walk.pk)
    walk.corrected_by_walk_id = None if correction is None else correction.pk
    walk.cautions = [caution._asdict() for caution in seal_shapes.walk_cautions()]
    walk.result = None
    if result is not None:
        walk.result = {name: getattr(result, name) for name in _OF_RESULT} | {
            "not_walked": [{"from_m": start, "to_m": end} for start, end in result.gaps],
            "not_said": NOT_SAID,
            "computes_the_same": queries.gives_the_same(result),
        }
    return walk


class SeamWalks(CreateDoor, ListDoor):
    """Walks along seams: list, and begin one. The same client_id sent again is the same walk.

    Whether the source is loud enough is said before anybody walks: one too weak is refused with what it
    lacks, unless insist begins a walk that nothing can pass.
    """

    noun, room = "seam_walk", "seals"
    needs = {"GET": Right.VIEW, "POST": Right.RECORD}
    shape, input_shape, filterset_class = seal_shapes.SeamWalkShape, seal_shapes.SeamWalkInput, WalkFilters
    orderings = {"-begun_at": ("-begun_at", "-id"), "begun_at": ("begun_at", "id")}
    references = {
        "seam_id": Reference(queries.seams),
        "instrument_id": Reference(detectors.instruments),
        "survey_id": Reference(surveys.surveys),
        "corrects_walk_id": Reference(queries.walks),
    }
    replayable = False  # client_id does what the key would do, and for ever

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.walks()

    def post(self, *_: Any, **__: Any) -> Response:
        """Begin a walk: 201 when it is new, 200 when it was known."""
        data = self.take()
        self.clear(data)
        seam_id = data.pop("seam_id")
        places = [NewPlace(**place) for place in data.pop("places", [])]
        finished_at = data.pop("finished_at", None)
        begun = actions.begin_walk(
            actor=self.actor,
            at=self.at,
            seam_id=seam_id,
            walk=NewWalk(**data),
            places=places,
            finished_at=finished_at,
        )
        response = self.answer(begun.walk, status=201 if begun.created else 200)
        response.headers["Location"] = self.location(begun.walk)
        return response


class SeamWalk(DetailDoor):
    """One walk with its places, their verdicts, the leaks and the stretches nobody walked."""

    noun, room = "seam_walk", "seals"
    needs = {"GET": Right.VIEW}
    shape = seal_shapes.SeamWalkDetailShape
    conditional = False

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.walks()

    def get_object(self) -> Any:
        """Return the walk with what belongs to it."""
        return detail_of(super().get_object())


class SeamWalkPlaces(ActDoor):
    """Add places to a walk that isn't finished; a place sent again is the same place."""

    operation, room = "seam_walk_add_places", "seals"
    needs = {"POST": Right.RECORD}
    shape, input_shape = seal_shapes.SeamPlacesKeptShape, seal_shapes.SeamPlacesInput
    if_match = "ignored"
    replayable = False  # each place carries its sender's own key

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.walks()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Keep them."""
        places = [NewPlace(**place) for place in data["places"]]
        return actions.take_places(actor=self.actor, at=self.at, walk_id=obj.pk, places=places)


class SeamWalkFinish(ActDoor):
    """Finish a walk: it is judged once and makes one reading at the seam's point for the register."""

    operation, room = "seam_walk_finish", "seals"
    needs = {"POST": Right.RECORD}
    shape, input_shape = seal_shapes.SeamWalkDetailShape, seal_shapes.SeamWalkFinishInput
    if_match = "ignored"

    def rows(self) -> QuerySet[Any]:
        """Return all walks."""
        return queries.walks()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Judge it."""
        finished_at = data.get("finished_at", self.at)
        actions.finish_walk(actor=self.actor, at=self.at, walk_id=obj.pk, finished_at=finished_at)
        return detail_of(queries.walks().get(pk=obj.pk))


class SeamWalkPlan(Door):
    """The plan of a finished walk as a drawing of ours: the seam, its verdicts and leaks, the convention."""

    operation, room = "seam_walk_plan", "seals"
    needs = {"GET": Right.VIEW}
    shape = shapes.Shape
    other_media = ("image/svg+xml",)
    renderer_classes: Any = (SvgRenderer, ApiJsonRenderer)

    def get(self, *_: Any, **__: Any) -> HttpResponse:
        """Draw it. Raises NotFound while the walk isn't finished."""
        walk = self.one(queries.walks(), self.kwargs["id"])
        result = queries.result_of_walk(walk.pk)
        if result is None:
            raise NotFound
        return svg_answer(queries.plan_of(walk, result))
