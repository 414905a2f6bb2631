"""Put a panel on a site: particulars, a discharge that keeps it shut, who is qualified, a release."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from findings.conditions.models import Condition
from findings.kinds.base import Kind
from findings.panels import actions as panels
from findings.panels.models import ElectricalQualification
from findings.plant.models import MeasuringPoint
from findings.plant.rules import Method
from findings.register.models import Finding
from plantcare.api.actor import Actor
from tests import makers
from tests.api.siteplan import AT, DAY, SitePlan
from tests.makers import NOW
from tests.workorders.scene import listen


def furnish_panel(place: SitePlan) -> None:
    """Put one thing of every kind of the panels' room on a site."""
    point = _point(place)
    said = {"openings_to_scan": place.words("upper seam"), "approach_note": place.words("two metres")}
    stated = {"point_id": point.pk, "enclosure": "cabinet", **said}
    place["panel"] = _stated(place, from_at=NOW, **stated)
    place["void_panel"] = _stated(place, from_at=NOW - DAY, **stated)
    for role in ("inspector", "technician", "manager", "owner"):
        place["qualification"] = _qualified(place, role)
    place["condition"], _ = _heard(place, point)
    _, place["shut_finding"] = _heard(place, _point(place))
    _, released = _heard(place, _point(place))
    place["opening_release"] = panels.release_opening(
        actor=place.actor("technician"),
        at=AT - DAY,
        finding_id=released.pk,
        technique="thermography",
        found=place.words("no warm joint is seen"),
        conditions=place.words("two people stand by"),
        until_at=AT + 7 * DAY,
    )


def _point(place: SitePlan) -> MeasuringPoint:
    return makers.make_point(
        asset=place["asset"], code=place.code("E"), name=place.words("seam"), method=Method.ELECTRICAL
    )


def _stated(place: SitePlan, **values: Any) -> Any:
    return panels.add_particulars(actor=place.actor("planner"), at=NOW, **values)


def _qualified(place: SitePlan, role: str) -> ElectricalQualification:
    return ElectricalQualification.objects.create(
        site=place.site,
        user=place.people[role],
        ground=place.words("course for switchgear"),
        at=NOW,
        until_at=NOW + timedelta(days=365),
        confirmed_by=place.people["planner"],
    )


def _heard(place: SitePlan, point: MeasuringPoint) -> tuple[Condition, Finding]:
    """Hear a discharge at a point and have it judged."""
    taken = listen(
        point,
        NOW,
        by=place.actor("inspector"),
        survey=place["survey"],
        kind=Kind.ELECTRICAL_DISCHARGE,
        medium="",
        pressure_gauge_pa=None,
        note=place.words("crackles"),
    )
    panels.judge_discharge(actor=Actor.job("judge_discharge"), at=AT - 2 * DAY, site_ids=[place.site.pk])
    assert taken.finding is not None
    return Condition.objects.get(reading=taken.reading), taken.finding
