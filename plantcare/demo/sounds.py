"""The demo's recordings, invented by seed: a bearing that wears, a panel with a discharge; a torn gasket."""

from __future__ import annotations

import io
import math
import uuid
from datetime import date, timedelta
from functools import lru_cache
from typing import Any, Final

from findings.conditions.actions import say_particulars
from findings.conditions.rules.bearings import Particulars, frequencies_of
from findings.panels.actions import add_particulars, confirm_qualification, judge_discharge, release_opening
from findings.panels.queries import kept_shut
from findings.panels.rules import Enclosure, Technique
from findings.physics.lazily import load
from findings.recordings.actions import analyse_recording, keep_recording
from findings.register.actions import judge_wear_recordings
from findings.seals.actions import add_seam, begin_walk
from findings.seals.queries import seam_at
from findings.seals.rules import NewPlace, NewSeam, NewWalk
from findings.sound.told import GainLocked, SoundBand, Told
from plantcare.api.actor import Actor
from plantcare.demo.probe import HELD
from plantcare.demo.story import Plant

BEARING: Final = Particulars(
    bearing_type="ball",
    designation="deep groove ball bearing, bore 25 mm",
    bore_m=0.025,
    outer_diameter_m=0.052,
    width_m=0.015,
    elements=9,
    element_diameter_m=0.0079,
    pitch_diameter_m=0.0390,
    shaft_speed_hz=HELD["shaft_speed_hz"],
    speed_varies=False,
)
"""The fan's bearing: invented dimensions of a usual size."""
TOLD: Final = Told(gain_locked=GainLocked.YES, sound_band=SoundBand.HETERODYNED)
DOOR: Final = {"width_m": 1.2, "height_m": 2.1, "start_corner": "lower_left", "turn": "clockwise"}
SEAM_M: Final = 6.6
TEAR_M: Final = 4.35
STEP_M: Final = 0.3


def say_what_is_known(plant: Plant, day: date, bearing: uuid.UUID, panel: uuid.UUID, door: uuid.UUID) -> None:
    """State the bearing's and the panel's particulars, who is qualified, and how the door's seam runs."""
    at, by = plant.local(day, 6), plant.world.actor("petra.kern")
    say_particulars(actor=by, at=at, point_id=bearing, known=BEARING, from_at=at, source="drawing of the fan")
    add_particulars(
        actor=by,
        at=at,
        point_id=panel,
        from_at=at,
        enclosure=Enclosure.CABINET,
        nominal_v=400.0,
        mains_hz=50,
        openings_to_scan="both door seams and the vent grid",
        approach_note="limits of approach as the site's own study states them",
    )
    qualify(plant, day)
    add_seam(
        actor=by,
        at=at,
        seam=NewSeam(
            point_id=door,
            shape="ring",
            length_m=SEAM_M,
            outline=DOOR,
            source_description="tone source on a stand, middle of the chamber",
            source_band_centre_hz=40_000.0,
            from_at=at,
        ),
    )


def qualify(plant: Plant, day: date) -> None:
    """Have the manager confirm who may release an opening."""
    at, person = plant.local(day, 7), plant.world.people["tomas.weiss"]
    confirm_qualification(
        actor=plant.world.actor("marta.lindner"),
        at=at,
        site_id=plant.world.site_id,
        user_id=person.pk,
        ground="appointed electrician of the works, training seen",
        until_at=at + timedelta(days=1090),
    )


def record_bearing(plant: Plant, day: date, bearing: uuid.UUID, *, snr_db: float) -> None:
    """Record the fan's bearing, whose outer ring is heard the plainer the worse it is."""
    _record(plant, day, bearing, "BEARING", snr_db)
    judge_wear_recordings(
        actor=Actor.job("judge_wear_recordings"), at=plant.local(day, 15), site_ids=[plant.world.site_id]
    )


def listen_closely(plant: Plant, day: date, bearing: uuid.UUID) -> None:
    """Read one bearing more often than the round comes by, so that its trend can be told."""
    spot = plant.by_point[bearing]
    plant.survey(day, f"{spot.asset} {day.isoformat()}", [spot], "ines.falk", "D-1", every=True)


def record_panel(plant: Plant, day: date, panel: uuid.UUID) -> None:
    """Record the panel with its doors closed."""
    _record(plant, day, panel, "TRACKING", 6.0)
    judge_panels(plant, day)


def judge_panels(plant: Plant, day: date) -> None:
    """Judge what was heard at electrical equipment, as the scheduled job does."""
    judge_discharge(
        actor=Actor.job("judge_discharge"), at=plant.local(day, 15), site_ids=[plant.world.site_id]
    )


def release_for_work(plant: Plant, day: date, findings: list[Any]) -> None:
    """Have the qualified person examine by other means what is kept shut, and release it for the repair."""
    at = plant.local(day, 11)
    shut = kept_shut([finding.point_id for finding in findings], at)
    for finding in findings:
        if finding.point_id in shut:
            release_opening(
                actor=plant.world.actor("tomas.weiss"),
                at=at,
                finding_id=finding.pk,
                technique=Technique.DEAD_AND_PROVEN,
                found="switched off, locked, proven dead; traces on the insulators seen",
                conditions="stays off and locked until the doors are closed again",
                until_at=plant.local(day, 20),
            )


def walk_the_door(plant: Plant, day: date, door: uuid.UUID, *, torn: bool) -> None:
    """Walk along the chamber door's seam with the tone source inside."""
    dice, begun_at = plant.dice, plant.local(day, 9)
    seam = seam_at(door, begun_at)
    if seam is None:
        return
    places = []
    for number in range(round(SEAM_M / STEP_M)):
        position = number * STEP_M
        tear = 24.0 * math.exp(-(((position - TEAR_M) / 0.22) ** 2)) if torn else 0.0
        level = 21.0 + tear + dice.uniform(-0.6, 0.6)
        places.append(
            NewPlace(
                client_id=f"p{number}",
                position_m=round(position, 2),
                level_db=round(level, 1),
                background_db=9.0,
            )
        )
    begin_walk(
        actor=plant.world.actor("jonas.brandt"),
        at=plant.local(day, 10),
        seam_id=seam.pk,
        walk=NewWalk(
            client_id=f"walk-{day.isoformat()}",
            begun_at=begun_at,
            open_level_db=54.0,
            background_db=9.0,
            instrument_id=plant.world.instruments["D-2"],
        ),
        places=places,
        finished_at=begun_at + timedelta(minutes=25),
    )


def _record(plant: Plant, day: date, point_id: uuid.UUID, truth: str, snr_db: float) -> None:
    """Take a reading at a spot with its recording, and hear the recording as the worker does."""
    spot = plant.by_point[point_id]
    taken = plant.survey(day, f"sound {spot.asset} {day.isoformat()}", [spot], "ines.falk", "D-1", every=True)
    at, by = plant.local(day, 14), plant.world.actor("ines.falk")
    kept = keep_recording(
        actor=by,
        at=at,
        reading_id=taken[0].reading.pk,
        file=io.BytesIO(_sound(truth, day.toordinal() % 1000, snr_db)),
        file_name=f"{spot.asset} {day.isoformat()}.wav",
        told=TOLD,
    )
    analyse_recording(actor=Actor.job("analyse_recordings"), at=at, subject=kept.recording.pk)


@lru_cache(maxsize=8)
def _sound(truth: str, seed: int, snr_db: float) -> bytes:
    """Return an invented recording; the numeric libraries are loaded only here."""
    synthetic = load("findings.sound.synthetic")
    known = frequencies_of(BEARING, None)
    outer_hz = None if known is None else known.outer_ring.value
    sound = synthetic.synthetic(synthetic.Truth[truth], seed, snr_db=snr_db, defect_hz=outer_hz)
    return bytes(synthetic.wav_bytes(sound))
