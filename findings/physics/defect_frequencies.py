"""The rhythm a damaged part of a rolling bearing gives, from its geometry and its speed."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.uncertainty import rectangular

METHOD = "bearing_kinematics"
VERSION = "1"
SLIP = 0.02
"""Rolling elements slip by 1 to 2 %; look this far to either side (Randall and Antoni 2011, from memory)."""
MOST_ELEMENTS = 1000
LARGEST_PITCH_M = 100.0
SMALLEST_RATIO = 1e-3
FASTEST_HZ = 5000.0


class Ring(StrEnum):
    """Name the ring that turns; the other stands still."""

    INNER = "inner"
    OUTER = "outer"


class Geometry(NamedTuple):
    """A bearing: number of rolling elements, their diameter, the pitch diameter and the contact angle."""

    elements: int
    element_diameter_m: float
    pitch_diameter_m: float
    contact_angle_rad: float = 0.0


@dataclass(frozen=True)
class DefectFrequencies:
    """Frequencies in Hz, each with the band of slip as its interval.

    ``element_spin`` counts one race; a damaged element strikes both, so look at ``element_both`` too.
    """

    cage: Estimate
    outer_ring: Estimate
    inner_ring: Estimate
    element_spin: Estimate
    element_both: Estimate


def defect_frequencies(
    geometry: Geometry, shaft_hz: float, *, rotating: Ring = Ring.INNER, slip: float = SLIP
) -> DefectFrequencies:
    """Return the cage, outer-ring, inner-ring and rolling-element frequencies of a bearing.

    With r = (d/D) cos(angle): cage f/2 (1 -/+ r), outer ring N f/2 (1 - r), inner ring N f/2 (1 + r),
    element D f/(2 d)(1 - r^2), f the speed of one ring against the other. For rolling without slip; the
    band says where to look. Source: Randall and Antoni, Mech. Syst. Signal Process. 25 (2011) 485, from
    memory.
    """
    problems = geometry_problems(geometry)
    if not (math.isfinite(shaft_hz) and 0.0 < shaft_hz <= FASTEST_HZ):
        problems = (*problems, Reason("speed_out_of_range", "The shaft speed lies above 0, up to 5000 Hz."))
    if not 0.0 <= slip <= 0.2:
        problems = (*problems, Reason("slip_out_of_range", "The slip lies between 0 and a fifth."))
    if problems:
        none = refused(unit="Hz", method=METHOD, version=VERSION, reasons=problems, inputs={})
        return DefectFrequencies(none, none, none, none, none)
    count, element, pitch, angle = geometry
    ratio = element / pitch * math.cos(angle)
    cage_sign = -1.0 if rotating is Ring.INNER else 1.0
    half = shaft_hz / 2.0
    spin = pitch / element * half * (1.0 - ratio * ratio)
    return DefectFrequencies(
        cage=_banded(half * (1.0 + cage_sign * ratio), slip),
        outer_ring=_banded(count * half * (1.0 - ratio), slip),
        inner_ring=_banded(count * half * (1.0 + ratio), slip),
        element_spin=_banded(spin, slip),
        element_both=_banded(2.0 * spin, slip),
    )


def geometry_problems(geometry: Geometry) -> tuple[Reason, ...]:
    """Return why no bearing has this geometry."""
    count, element, pitch, angle = geometry
    problems = []
    if not 3 <= count <= MOST_ELEMENTS:
        problems.append(Reason("elements_out_of_range", "A bearing has 3 to 1000 rolling elements."))
    if not SMALLEST_RATIO * pitch <= element < pitch or not 0.0 < pitch <= LARGEST_PITCH_M:
        text = "The elements must be smaller than the pitch circle, and both of a bearing's size."
        problems.append(Reason("diameters_unfit", text))
    elif count * math.asin(element / pitch) > math.pi:
        text = "So many elements of that size don't fit on the pitch circle; check the geometry."
        problems.append(Reason("elements_do_not_fit", text))
    if not 0.0 <= angle < math.pi / 2.0:
        problems.append(Reason("angle_out_of_range", "The contact angle lies from 0 to below 90 degrees."))
    return tuple(problems)


def _banded(frequency_hz: float, slip: float) -> Estimate:
    """Return a frequency with the band that slip opens to either side."""
    reach = slip * frequency_hz
    return Estimate(
        value=frequency_hz,
        u=rectangular(reach),
        low=frequency_hz - reach,
        high=frequency_hz + reach,
        unit="Hz",
        method=METHOD,
        method_version=VERSION,
        status=Status.ESTIMATED,
    )
