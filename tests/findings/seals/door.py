"""A gasketed door with a tone source inside, and what is heard along its seam."""

from __future__ import annotations

from typing import Any

from findings.plant.models import MeasuringPoint
from findings.plant.rules import Method
from findings.seals.models import Seam
from tests.makers import LONG_AGO, make_asset, make_instrument, make_point, number
from tests.people import Api

BEGUN, ENDED = "2026-03-02T09:00:00Z", "2026-03-02T09:20:00Z"
LEVELS = (18, 18, 18, 24.7, 39.0, 39.3, 25.4, 18, 18, 18.1, 19.6, 23.9, 24.5, 20.4, 18.1, 18, 18)
"""Every 0.25 m of a seam of 4 m: two leaks, one of them only to be watched."""

TIGHT = (18.0,) * 17
MENDED = (*LEVELS[:3], 18.0, 18.0, 18.0, 18.0, *(18.0,) * 10)


def door_point(**values: Any) -> MeasuringPoint:
    """Make the point at a cabinet's door."""
    asset = make_asset(name="Proving cabinet 2", **values)
    return make_point(asset=asset, method=Method.TONE_SOURCE)


def make_seam(point: MeasuringPoint | None = None, **values: Any) -> Seam:
    """Make a line of 4 m, walked at 0.1 m with a source of 40 kHz."""
    point = point or door_point()
    given: dict[str, Any] = {
        "shape": "line",
        "length_m": 4.0,
        "source_description": "Tone source, 40 kHz, on the cabinet's floor",
        "distance_m": 0.1,
        "from_at": LONG_AGO,
        "recorded_at": LONG_AGO,
    }
    return Seam.objects.create(site=point.site, point=point, **{**given, **values})


def places(levels: tuple[float, ...] = LEVELS, step_m: float = 0.25) -> list[dict[str, Any]]:
    """Return the places of a walk, each with the sender's own key."""
    return [
        {"client_id": f"p{index}", "position_m": index * step_m, "level_db": level}
        for index, level in enumerate(levels)
    ]


def begin(api: Api, seam: Seam, **said: Any) -> Any:
    """Begin a walk with a source that is loud enough, by a detector of the site."""
    body = {
        "seam_id": str(seam.pk),
        "client_id": f"walk-{number()}",
        "begun_at": BEGUN,
        "open_level_db": 52.0,
        "background_db": 5.0,
        **said,
    }
    if "instrument_id" not in body:
        body["instrument_id"] = str(make_instrument(seam.site).pk)
    return api.post("/seam-walks", body)


def walk(api: Api, seam: Seam, levels: tuple[float, ...] = LEVELS, **said: Any) -> dict[str, Any]:
    """Send a whole walk at once and return its detail."""
    answer = begin(api, seam, **{"places": places(levels), "finished_at": ENDED, **said})
    assert answer.status_code in {200, 201}, answer.json()
    detail: dict[str, Any] = api.get(f"/seam-walks/{answer.json()['id']}").json()
    return detail
