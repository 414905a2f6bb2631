"""Put a bearing on a site that was listened to and greased, with the site's word in every text."""

from __future__ import annotations

from datetime import timedelta

from findings.conditions import actions
from findings.conditions.rules.bearings import Particulars
from findings.conditions.rules.greasings import NewGreasing
from findings.physics.wear_ladder import Step
from findings.readings.models import Reading
from tests import makers
from tests.api.siteplan import DAY, SitePlan
from tests.makers import NOW
from tests.workorders.scene import listen


def probe(place: SitePlan) -> None:
    """Make a bearing with its particulars, good state, ladder, greasing and marked readings."""
    by, n = place.actor("manager"), makers.number()
    from_at = NOW - 2 * DAY - timedelta(seconds=n)
    point = makers.make_point(
        asset=place["asset"], code=place.code("B"), name=place.words("drum bearing"), method="contact"
    )
    place["probed_point"] = point
    place["bearing_particulars"] = actions.say_particulars(
        actor=by,
        at=NOW,
        point_id=point.pk,
        known=Particulars(
            outer_diameter_m=0.11,
            width_m=0.027,
            designation=place.words("6310")[:60],
            note=place.words("behind the guard"),
        ),
        from_at=from_at,
        source=place.words("maker's sheet"),
    )
    place["good_state"] = actions.confirm_good(
        actor=by,
        at=NOW,
        point_id=point.pk,
        cause="confirmed_good",
        from_at=from_at,
        reason=place.words("runs smoothly by hand"),
    )
    step = Step("stop", 35.0, place.words("stop"), place.words("trials"), one_reading=True)
    place["wear_ladder"] = actions.set_ladder(
        actor=by,
        at=NOW,
        site_id=place.site.pk,
        steps=[step],
        from_at=from_at,
        source=place.words("meeting"),
    )
    first, last = (_marked(place, mark, minute) for minute, mark in enumerate(("before", "after")))
    given = NewGreasing(
        before_id=first.pk,
        after_id=last.pk,
        grease_kg=0.005,
        grease_name=place.words("lithium"),
        note=place.words("two strokes"),
    )
    place["greasing"] = actions.record_greasing(actor=by, at=NOW + DAY, point_id=point.pk, given=given)
    for minute, mark in enumerate(("before", "during", "after"), start=10):
        place[f"marked_{mark}"] = _marked(place, mark, minute)


def _marked(place: SitePlan, mark: str, minute: int) -> Reading:
    return listen(
        place["probed_point"],
        NOW + timedelta(minutes=minute),
        by=place.actor("technician"),
        survey=place["survey"],
        kind="",
        medium="",
        severity=None,
        level_db=30.0,
        pressure_gauge_pa=None,
        attachment="contact_probe",
        probe=place.words("rod")[:60],
        shaft_speed_hz=24.5,
        greasing=mark,
        note=place.words(mark),
    ).reading
