"""Read seams, walks along them, and what each walk came to."""

from __future__ import annotations

import textwrap
import uuid
from collections.abc import Collection, Iterable
from datetime import datetime

from django.db.models import OuterRef, QuerySet, Subquery

from findings.kinds.seam_plan import seam_plan
from findings.physics.seam import Seam as SeamLine
from findings.seals.models import Seam, SeamPlace, SeamResult, SeamWalk
from findings.seals.rules import CONVENTIONS, SeamForm, Told, drawn, result_again, result_of, told

PLAN_LINE = 88


def seams() -> QuerySet[Seam]:
    """Return all seams with their points and assets, replaced ones too; a door narrows them."""
    return Seam.objects.select_related("point__asset")


def seams_in_force(at: datetime) -> QuerySet[Seam]:
    """Return the seam of each measuring point that holds at a moment."""
    newest = Seam.objects.filter(point_id=OuterRef("point_id"), from_at__lte=at).order_by("-from_at")
    return seams().filter(pk=Subquery(newest.values("pk")[:1]))


def seam_at(point_id: uuid.UUID, at: datetime) -> Seam | None:
    """Return how a point's seam is tested at a moment."""
    return seams().filter(point_id=point_id, from_at__lte=at).order_by("-from_at").first()


def walks() -> QuerySet[SeamWalk]:
    """Return all walks with their seams and results; a door narrows them to the caller's sites."""
    return SeamWalk.objects.select_related("seam__point__asset", "instrument").annotate(
        verdict=_of_result("verdict"),
        finished_at=_of_result("finished_at"),
        smallest_drop_db=_of_result("smallest_drop_db"),
    )


def _of_result(name: str) -> Subquery:
    return Subquery(SeamResult.objects.filter(walk_id=OuterRef("pk")).values(name)[:1])


def walks_of_points(point_ids: Iterable[uuid.UUID]) -> QuerySet[SeamWalk]:
    """Return the finished walks at measuring points, the newest first."""
    finished = SeamResult.objects.filter(walk__seam__point_id__in=list(point_ids))
    return walks().filter(pk__in=finished.values("walk_id")).order_by("-begun_at", "-id")


def places_of(walk_id: uuid.UUID) -> list[SeamPlace]:
    """Return a walk's places along the seam."""
    return list(SeamPlace.objects.filter(walk_id=walk_id).order_by("position_m", "id"))


def result_of_walk(walk_id: uuid.UUID) -> SeamResult | None:
    """Return what a walk came to, if it is finished."""
    return SeamResult.objects.filter(walk_id=walk_id).first()


def results_of_readings(reading_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, SeamResult]:
    """Return the results of walks by the reading that each of them made (one query)."""
    rows = SeamResult.objects.filter(reading_id__in=list(reading_ids))
    found = rows.select_related("walk__seam")
    return {result.reading_id: result for result in found}


def corrected_by(walk_id: uuid.UUID) -> SeamWalk | None:
    """Return the walk that says of this one that it was wrong."""
    return SeamWalk.objects.filter(corrects_id=walk_id).first()


def kept_figures(result: SeamResult) -> Told:
    """Return a result's kept figures."""
    return Told(result.inputs, result.places, result.leaks, result.gaps)


def gives_the_same(result: SeamResult) -> bool:
    """Tell whether the kept inputs give the kept result by today's method."""
    again = result_of(result.inputs)
    return again.verdict == result.verdict and told(result.inputs, again) == kept_figures(result)


def plan_of(walk: SeamWalk, result: SeamResult) -> str:
    """Return the plan of a finished walk as one SVG element, the convention printed below it."""
    seam = walk.seam
    ring = seam.shape == SeamForm.RING
    asset = seam.point.asset
    return seam_plan(
        SeamLine(seam.length_m, ring=ring),
        result_again(result.inputs, result.verdict, kept_figures(result)),
        title=f"{asset.code} {asset.name}, {seam.point.code}",
        outline=drawn(seam.outline, ring=ring),
        notes=textwrap.wrap(CONVENTIONS[result.inputs["criterion"]], PLAN_LINE),
    )
