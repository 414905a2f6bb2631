"""The form of the level model: what a measured leak and a fitted model are.

log10 Q = a + b (L - 60) + c log10(PR / 7), Q in m3/s at 1 bar 20 °C, L in dB at 1 m, PR = p1/p2 absolute: one
model per instrument, attachment, gas and family of leaks. The centre makes a the flow of a usual leak and
keeps the fit well conditioned. Source of the form: Lighthill 1952 (power over speed) and the log-log relation
that published work on leaking valves finds.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any

from findings.physics.acoustics import LEVEL_LIMITS_DB
from findings.physics.least_squares import Matrix

VERSION = "1"
CENTRE_DB = 60.0
CENTRE_RATIO = 7.0
EXACT_RELATIVE_U = 0.10
HIGHEST_RATIO = 1000.0
HIGHEST_FLOW_M3_PER_S = 100.0


class LeakFamily(StrEnum):
    """Name what kind of gap a leak is: each kind turns flow into sound in its own way.

    ``PACKING`` is a stem or shaft packing, ``THREAD`` a screwed joint.
    """

    HOLE = "hole"
    SLOT = "slot"
    THREAD = "thread"
    PACKING = "packing"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class CalibrationPoint:
    """A leak that was heard and measured.

    Level in dB at 1 m, background taken off (never an upper bound); absolute pressure ratio; flow and its
    standard uncertainty in m3/s at 1 bar 20 °C. Raises ValueError for what can't be a measured leak.
    """

    level_db: float
    pressure_ratio: float
    flow_m3_per_s: float
    flow_u_m3_per_s: float

    def __post_init__(self) -> None:
        """Check that a leak can be like this."""
        lowest, highest = LEVEL_LIMITS_DB
        possible = (
            lowest <= self.level_db <= highest
            and 1.0 < self.pressure_ratio <= HIGHEST_RATIO
            and 1e-15 < self.flow_m3_per_s <= HIGHEST_FLOW_M3_PER_S
            and 0.0 <= self.flow_u_m3_per_s <= self.flow_m3_per_s
        )
        if not possible:
            msg = (
                "a calibration leak has a level of -40 to 200 dB, a pressure ratio above 1, a flow above 0 "
                "and an uncertainty not above the flow"
            )
            raise ValueError(msg)

    @property
    def log_flow(self) -> float:
        """Return log10 of the flow in m3/s."""
        return math.log10(self.flow_m3_per_s)

    @property
    def log_u(self) -> float:
        """Return the flow's standard uncertainty in decades; 0 up to 10 %, where it doesn't matter."""
        relative = self.flow_u_m3_per_s / self.flow_m3_per_s
        return relative / math.log(10.0) if relative > EXACT_RELATIVE_U * (1.0 + 1e-9) else 0.0


@dataclass(frozen=True)
class LevelModel:
    """A fitted model: all that ``predict`` needs, as plain numbers.

    ``coefficients`` are a (log10 of m3/s), b (per dB), c; ``covariance_factor`` is the upper triangle F with
    cov = scale² F F'; ``scale`` is one leak's scatter in decades; a prediction follows Student's t with
    ``degrees_of_freedom``. ``leverage_limit`` bounds x'F F'x. ``label`` says how far to trust it, ``gas``
    and ``family`` what it holds for.
    """

    coefficients: tuple[float, float, float]
    covariance_factor: Matrix
    degrees_of_freedom: float
    scale: float
    level_range_db: tuple[float, float]
    pressure_ratio_range: tuple[float, float]
    leverage_limit: float
    count: int
    uses_prior: bool
    label: str
    gas: str = "air"
    family: LeakFamily = LeakFamily.HOLE
    version: str = VERSION

    def __post_init__(self) -> None:
        """Check that these numbers can be a model; raises ValueError."""
        numbers = (
            *self.coefficients,
            *(part for row in self.covariance_factor for part in row),
            self.degrees_of_freedom,
            self.scale,
            *self.level_range_db,
            *self.pressure_ratio_range,
            self.leverage_limit,
        )
        shaped = len(self.coefficients) == 3 and [len(row) for row in self.covariance_factor] == [3, 3, 3]
        if not shaped or not all(map(math.isfinite, numbers)) or self.scale <= 0.0 or self.count < 0:
            msg = "a level model has three finite coefficients, a 3 x 3 factor and a scale above zero"
            raise ValueError(msg)

    def to_json(self) -> dict[str, Any]:
        """Return a dictionary of plain JSON types."""
        plain = asdict(self)
        lists = {name: list(value) for name, value in plain.items() if isinstance(value, tuple)}
        lists["covariance_factor"] = [list(row) for row in self.covariance_factor]
        return plain | lists | {"family": self.family.value}

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> "LevelModel":
        """Return the model that ``to_json`` wrote; raises KeyError, TypeError or ValueError for others."""
        a, b, c = map(float, data["coefficients"])
        lowest_db, highest_db = map(float, data["level_range_db"])
        lowest_ratio, highest_ratio = map(float, data["pressure_ratio_range"])
        return cls(
            coefficients=(a, b, c),
            covariance_factor=tuple(tuple(map(float, row)) for row in data["covariance_factor"]),
            degrees_of_freedom=float(data["degrees_of_freedom"]),
            scale=float(data["scale"]),
            level_range_db=(lowest_db, highest_db),
            pressure_ratio_range=(lowest_ratio, highest_ratio),
            leverage_limit=float(data["leverage_limit"]),
            count=int(data["count"]),
            uses_prior=bool(data["uses_prior"]),
            label=str(data["label"]),
            gas=str(data["gas"]),
            family=LeakFamily(data["family"]),
            version=str(data["version"]),
        )


def design_row(level_db: float, pressure_ratio: float) -> tuple[float, float, float]:
    """Return the row 1, L - 60, log10(PR / 7)."""
    return (1.0, level_db - CENTRE_DB, math.log10(pressure_ratio / CENTRE_RATIO))


def line(model: LevelModel, row: Sequence[float]) -> float:
    """Return log10 of the flow in m3/s on the model's line at a design row."""
    return math.fsum(part * coefficient for part, coefficient in zip(row, model.coefficients, strict=True))
