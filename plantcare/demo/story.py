"""Two years at the demo plant: faults come up, are heard, ordered, repaired, checked, and some come back.

A seeded generator plays the plant; everything that reaches the database goes through the actions that a person's
request would go through, at the moment it would have happened.
"""

from __future__ import annotations

import math
import random
import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

from findings.kinds.base import Kind, Medium
from findings.readings.actions import NewReading
from findings.register.actions import take_readings
from findings.register.actions.taking import Taken
from findings.surveys.actions import end_survey, start_survey
from plantcare.demo.foundation import Spot, World
from plantcare.demo.probe import HELD, good_level
from plantcare.demo.sample import SPOTS

SEED: Final = 20_260

# New faults per spot and year, and how far they can grow: invented, like the plant.
BIRTHS_PER_YEAR: Final = {
    (Kind.PRESSURE_LEAK, Medium.COMPRESSED_AIR): 1.3,
    (Kind.PRESSURE_LEAK, Medium.NITROGEN): 0.6,
    (Kind.PRESSURE_LEAK, Medium.NATURAL_GAS): 0.20,
    (Kind.PRESSURE_LEAK, Medium.STEAM): 0.35,
    (Kind.VACUUM_LEAK, Medium.VACUUM): 0.80,
    (Kind.ENCLOSURE_LEAK, None): 0.8,
    (Kind.MECHANICAL_WEAR, None): 0.4,
    (Kind.ELECTRICAL_DISCHARGE, None): 0.25,
}
HEADER_PA: Final = {
    Medium.COMPRESSED_AIR: 700_000.0,
    Medium.VACUUM: -70_000.0,
    Medium.NITROGEN: 500_000.0,
    Medium.NATURAL_GAS: 30_000.0,
    Medium.STEAM: 400_000.0,
}
BAG_FACTOR: Final = 0.42 * 1.9e3
"""Flow in m3/s per m2 of hole squared across, as the plant's air leaks blow at 7 bar: invented."""
HIDDEN_M3_PER_S: Final = 0.0016
"""What blows where no walk comes by, in ducts and under floors: invented."""
HEARD: Final = 0.88
"""The share of audible faults that a walk finds."""


@dataclass(slots=True)
class Fault:
    """What is truly wrong at a spot, whether or not anybody has heard it."""

    born_at: datetime
    size: float
    growth_per_day: float = 0.0
    holds_repairs: bool = True

    def size_at(self, moment: datetime) -> float:
        """Return the hole in metres (leaks) or the condition from 1 to 5 (others)."""
        return self.size + self.growth_per_day * max(0.0, (moment - self.born_at) / timedelta(days=1))


@dataclass(slots=True)
class Plant:
    """The hidden state of every spot, and the dice."""

    world: World
    dice: random.Random
    faults: dict[uuid.UUID, Fault] = field(default_factory=dict)
    by_point: dict[uuid.UUID, Spot] = field(default_factory=dict)
    silenced: set[uuid.UUID] = field(default_factory=set)
    surveys: int = 0

    def __post_init__(self) -> None:
        """Index the spots; those of the sample sheet stay quiet."""
        self.by_point = {spot.point_id: spot for spot in self.world.spots}
        self.silenced = {spot.point_id for spot in self.world.spots if (spot.asset, spot.name) in SPOTS}

    def local(self, day: date, hour: int, minute: int = 0) -> datetime:
        """Return a wall-clock time of the plant as an instant."""
        return datetime.combine(day, time(hour, minute), tzinfo=self.world.zone).astimezone(UTC)

    def spot(self, asset: str, number: int) -> Spot:
        """Return an asset's spot by its place in the list, from 0."""
        return [spot for spot in self.world.spots if spot.asset == asset][number]

    def let_a_day_pass(self, day: date, faults_factor: float = 1.0) -> None:
        """Let new faults come up."""
        for spot in self.world.spots:
            if spot.point_id in self.faults or spot.point_id in self.silenced:
                continue
            rate = BIRTHS_PER_YEAR[(spot.kind, spot.medium)] * faults_factor
            if self.dice.random() < rate / 365:
                self.faults[spot.point_id] = self._new_fault(spot, self.local(day, 12))

    def _new_fault(self, spot: Spot, at: datetime) -> Fault:
        if spot.kind in {Kind.PRESSURE_LEAK, Kind.VACUUM_LEAK}:
            hole = min(3e-3, 0.5e-3 * math.exp(self.dice.gauss(0, 0.55)))
            return Fault(at, hole, hole * self.dice.choice((0, 0, 0, 0.001)))
        start = self.dice.choice((1, 2, 2, 3))
        growth = self.dice.choice((0.0, 0.004, 0.012)) if spot.kind is Kind.MECHANICAL_WEAR else 0.0
        return Fault(at, float(start), growth)

    def survey(
        self,
        day: date,
        code: str,
        spots: list[Spot],
        inspector: str,
        instrument: str,
        *,
        every: bool = False,
    ) -> list[Taken]:
        """Walk the spots: every audible fault may be heard, quiet points are written down for some or all."""
        listen = self._reading if every else self._listen
        readings = [item for item in (listen(spot, day, code) for spot in spots) if item]
        if not readings:
            return []
        person = self.world.actor(inspector)
        begin, end = self.local(day, 6, 40), self.local(day, 11, 30)
        survey = start_survey(
            actor=person,
            at=begin,
            site_id=self.world.site_id,
            code=code,
            started_at=begin,
            instrument_id=self.world.instruments[instrument],
            inspector_id=person.user_id,
        )
        taken: list[Taken] = []
        for start in range(0, len(readings), 200):
            results = take_readings(
                actor=person, at=end, survey_id=survey.pk, items=readings[start : start + 200]
            )
            taken += [result for result in results if isinstance(result, Taken)]
        end_survey(actor=person, at=end, survey_id=survey.pk, version=survey.version, ended_at=end)
        self.surveys += 1
        return taken

    def listen_again(self, day: date, spots: list[Spot]) -> list[Taken]:
        """Walk to points whose repair waits for a check; there even silence is written down."""
        if not spots:
            return []
        inspector = self.dice.choice(("ines.falk", "jonas.brandt"))
        readings = [self._reading(spot, day, f"check-{day.isoformat()}") for spot in spots]
        person = self.world.actor(inspector)
        begin, end = self.local(day, 13), self.local(day, 15)
        survey = start_survey(
            actor=person,
            at=begin,
            site_id=self.world.site_id,
            code=f"check {day.isoformat()}",
            started_at=begin,
            instrument_id=self.world.instruments["D-1"],
            inspector_id=person.user_id,
            note="after repairs",
        )
        results = take_readings(actor=person, at=end, survey_id=survey.pk, items=readings)
        end_survey(actor=person, at=end, survey_id=survey.pk, version=survey.version, ended_at=end)
        return [result for result in results if isinstance(result, Taken)]

    def air_leakage(self, at: datetime) -> float:
        """Return what the whole air system truly leaks, m3/s at 1 bar and 20 °C: heard, unheard and hidden."""
        holes = [
            fault.size_at(at)
            for point_id, fault in self.faults.items()
            if self.by_point[point_id].medium is Medium.COMPRESSED_AIR
        ]
        return HIDDEN_M3_PER_S + math.fsum(BAG_FACTOR * hole * hole for hole in holes)

    def repair(self, point_id: uuid.UUID) -> str:
        """Try a repair; return what the technician will say: fixed, partial or not_found."""
        fault = self.faults.get(point_id)
        if fault is None:
            return "not_found"
        if not fault.holds_repairs:
            fault.size *= 0.97
            return "fixed"
        luck = self.dice.random()
        if luck < 0.05:
            fault.size *= 0.5
            return "partial"
        if luck < 0.10:
            return "fixed"  # said so, but it will be heard again
        del self.faults[point_id]
        return "fixed"

    def _listen(self, spot: Spot, day: date, walk: str) -> NewReading | None:
        has_fault = spot.point_id in self.faults
        if has_fault and self.dice.random() < HEARD:
            return self._reading(spot, day, walk)
        return self._reading(spot, day, walk) if not has_fault and self.dice.random() < 0.05 else None

    def _reading(self, spot: Spot, day: date, walk: str) -> NewReading:
        at = self.local(day, self.dice.randint(7, 10), self.dice.randint(0, 59))
        if walk.startswith("check"):
            at = self.local(day, 13, self.dice.randint(5, 55))
        fault = self.faults.get(spot.point_id)
        common: dict[str, Any] = {
            "client_id": f"{walk}/{spot.point_id}",
            "point_id": spot.point_id,
            "taken_at": at,
        }
        background = 18 + self.dice.random() * 8
        header_pa = HEADER_PA.get(spot.medium) if spot.medium else None
        if header_pa is not None:
            common["pressure_gauge_pa"] = round(header_pa * self.dice.uniform(0.98, 1.02), -2)
        if spot.kind is Kind.MECHANICAL_WEAR:
            common |= HELD | {"instrument_id": self.world.instruments["D-1"]}
        if fault is None and spot.kind is Kind.MECHANICAL_WEAR:
            return NewReading(**common, level_db=good_level(self.dice), background_db=round(background, 1))
        if fault is None:
            return NewReading(
                **common,
                level_db=round(background + self.dice.random() * 2, 1),
                background_db=round(background, 1),
                distance_m=0.1 if spot.kind is Kind.ENCLOSURE_LEAK else 0.5,
            )
        size = fault.size_at(at)
        common |= {"kind": spot.kind, "background_db": round(background, 1), "medium": spot.medium or ""}
        if spot.kind in {Kind.PRESSURE_LEAK, Kind.VACUUM_LEAK}:
            return self._leak(spot, size, common)
        grade = max(1, min(5, round(size)))
        level = 24 + 7 * size + self.dice.gauss(0, 0.8)
        pattern = "tracking-like" if spot.kind is Kind.ELECTRICAL_DISCHARGE else ""
        if spot.kind is Kind.ENCLOSURE_LEAK:
            common["distance_m"] = 0.1
        return NewReading(**common, level_db=round(level, 1), severity=grade, pattern=pattern)

    def _leak(self, spot: Spot, hole_m: float, common: dict[str, Any]) -> NewReading:
        level = 62 + 20 * math.log10(hole_m / 1e-3) * 1.6 + self.dice.gauss(0, 1.5)
        said = round(hole_m * self.dice.gauss(1, 0.06), 5)
        more: dict[str, Any] = {"level_db": round(level, 1), "distance_m": 0.5}
        if spot.medium is Medium.COMPRESSED_AIR:
            more["attachment"] = "open_horn"
            if self.dice.random() < 0.15:
                flow = BAG_FACTOR * hole_m**2 * self.dice.gauss(1, 0.04)
                more |= {
                    "flow_m3_per_s": round(flow, 8),
                    "flow_u_m3_per_s": round(flow * 0.05, 9),
                    "flow_method": "bag",
                }
            else:
                more |= {"hole_diameter_m": max(said, 1e-4), "edge": self.dice.choice(("sharp", "unknown"))}
        else:
            more |= {"severity": 2 if hole_m < 0.8e-3 else 3 if hole_m < 1.6e-3 else 4}
            more |= {"hole_diameter_m": max(said, 1e-4), "edge": "unknown"}
        return NewReading(**common, **more)
