"""Power of a compressor at part load: its share of full power against its share of full flow, by control.

x is delivered flow over full flow, 0 to 1; the power share is power over full-load power. Full flow and
full power belong to the same pressure. The defaults describe a control, not one machine: a site's own
measured share or points come first.
"""

import math
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise
from types import MappingProxyType
from typing import Final

from findings.physics.estimate import Reason

LEAST_X: Final = 1e-9


class Control(StrEnum):
    """How a machine follows demand; the values are those a register writes."""

    INLET_MODULATION = "inlet_modulation"
    INLET_MODULATION_BLOW_DOWN = "inlet_modulation_blow_down"
    LOAD_UNLOAD = "load_unload"
    VARIABLE_DISPLACEMENT = "variable_displacement"
    VARIABLE_SPEED = "variable_speed"
    START_STOP = "start_stop"
    NONE = "none"


@dataclass(frozen=True)
class Share:
    """A part of full load or full flow: value, the interval it lies in, and where it comes from."""

    value: float
    low: float
    high: float
    source: str

    @property
    def u(self) -> float:
        """Return the standard uncertainty of a value anywhere in the interval (JCGM 100, 4.3.7)."""
        return (self.high - self.low) / math.sqrt(12.0)


MEASURED_HALF_WIDTH: Final = 0.03
"""Half width given to a measured share: power meter and load together (judgement)."""

UNLOADED: Final[Mapping[Control, Share]] = MappingProxyType(
    {
        Control.START_STOP: Share(0.0, 0.0, 0.0, "definition: it stands still"),
        Control.VARIABLE_SPEED: Share(
            0.12, 0.10, 0.20, "from memory; the straight line continued to no flow, beside textbook points"
        ),
        Control.LOAD_UNLOAD: Share(
            0.25, 0.22, 0.30, "unloaded 24.9 % of full load, CAGI data sheets as quoted in Energies (2021)"
        ),
        Control.VARIABLE_DISPLACEMENT: Share(
            0.30, 0.25, 0.34, "between the textbook points 48, 62 and 80 % at 25, 50 and 75 % flow"
        ),
        Control.INLET_MODULATION: Share(
            0.70, 0.64, 0.72, "0.70 from memory; textbook points 72, 82 and 90 % give 0.64"
        ),
        Control.INLET_MODULATION_BLOW_DOWN: Share(
            0.25, 0.22, 0.30, "taken as unloaded after blow-down, like load and unload (judgement)"
        ),
        Control.NONE: Share(1.0, 1.0, 1.0, "definition: blow-off, or a fixed machine that never unloads"),
    }
)
"""Power share at no flow, where the machine runs on."""

LEAST_FLOW: Final[Mapping[Control, Share]] = MappingProxyType(
    {
        Control.VARIABLE_SPEED: Share(0.25, 0.15, 0.40, "least speed of common packages (judgement)"),
        Control.INLET_MODULATION_BLOW_DOWN: Share(
            0.40, 0.30, 0.60, "where the inlet valve gives up and the sump blows down, from memory"
        ),
    }
)
"""Flow share below which the machine starts and stops, or blows down and unloads."""

UNLOADING_SHARE: Final = 0.70
"""Power share when the inlet has just closed and the sump is still under pressure (from memory)."""
BLOW_DOWN_S: Final = 40.0
"""Time in which the sump blows down, s (from memory)."""


class CurveRefused(ValueError):
    """No power share can be told; ``reason`` says why."""

    def __init__(self, reason: Reason) -> None:
        """Keep the reason."""
        super().__init__(reason.text)
        self.reason = reason


@dataclass(frozen=True)
class Curve:
    """The part-load behaviour of one machine; build it with ``curve_of``.

    ``cycle_s`` is V dp / (p_atm Q), the time in s in which full flow fills the storage through the
    pressure band: infinite for ample storage. ``points`` are measured (flow share, power share) pairs.
    """

    control: Control
    unloaded: Share
    least: Share | None = None
    cycle_s: float = math.inf
    points: tuple[tuple[float, float], ...] = ()

    def share(self, x: float) -> float:
        """Return the power share at flow share x of a machine that is on; raises CurveRefused outside."""
        if not 0.0 <= x <= 1.0 + LEAST_X:
            text = "The machine would have to deliver less than nothing or more than its full flow."
            raise CurveRefused(Reason("outside_full_flow", text))
        if self.points:
            return _between(self.points, x)
        x = min(x, 1.0)
        if self.control is Control.LOAD_UNLOAD:
            return x + (1.0 - x) * self._mean_unloaded(x)
        line = self._line(x)
        if self.least is None or x >= self.least.value:
            return line
        knee = self._line(self.least.value)
        floor = 0.0 if self.control is Control.VARIABLE_SPEED else self.unloaded.value
        return floor + (knee - floor) * x / self.least.value

    def slope(self, x: float) -> float:
        """Return the marginal factor at x: what the power share falls by per flow share taken away.

        At a corner it is the slope below it, since a repair takes flow away; above 1 where the machine
        cycles (little storage, or below its least speed): there a cubic metre costs more than at full load.
        """
        if self.control is Control.LOAD_UNLOAD and not self.points:
            return self._cycle_slope(x)
        step = min(1e-6, max(x, LEAST_X) / 2.0)
        return (self.share(x) - self.share(max(x - step, 0.0))) / step

    def factor(self, x: float, part: float) -> float:
        """Return the finite marginal factor of taking ``part`` of the full flow away at x, 0 < part <= x."""
        return (self.share(x) - self.share(max(x - part, 0.0))) / part

    def corners(self) -> tuple[float, ...]:
        """Return the flow shares inside 0..1 where the slope jumps."""
        if self.points:
            return tuple(x for x, _ in self.points[1:-1])
        return () if self.least is None or not 0.0 < self.least.value < 1.0 else (self.least.value,)

    def _line(self, x: float) -> float:
        start = self.unloaded.value
        if self.control is Control.INLET_MODULATION_BLOW_DOWN:
            start = UNLOADED[Control.INLET_MODULATION].value
        return start + (1.0 - start) * x

    def _mean_unloaded(self, x: float) -> float:
        """Return the mean power share while off load: it falls in a straight line as the sump blows down."""
        off_s = math.inf if x <= LEAST_X else self.cycle_s / x
        end, fall = self.unloaded.value, UNLOADING_SHARE - self.unloaded.value
        if math.isinf(off_s) or fall <= 0.0:
            return end
        if off_s >= BLOW_DOWN_S:
            return end + fall * BLOW_DOWN_S / (2.0 * off_s)
        return UNLOADING_SHARE - fall * off_s / (2.0 * BLOW_DOWN_S)

    def _cycle_slope(self, x: float) -> float:
        end, fall = self.unloaded.value, UNLOADING_SHARE - self.unloaded.value
        if math.isinf(self.cycle_s) or fall <= 0.0:
            return 1.0 - end
        if x * BLOW_DOWN_S <= self.cycle_s:
            return 1.0 - end + fall * BLOW_DOWN_S / (2.0 * self.cycle_s) * (1.0 - 2.0 * x)
        return 1.0 - UNLOADING_SHARE + fall * self.cycle_s / (2.0 * BLOW_DOWN_S * x * x)


def _between(points: tuple[tuple[float, float], ...], x: float) -> float:
    """Return the power share between measured points; nothing is guessed beyond them."""
    if not points[0][0] - LEAST_X <= x <= points[-1][0] + LEAST_X:
        text = (
            f"The measured points reach from {points[0][0]:.0%} to {points[-1][0]:.0%} of full flow, and "
            f"the power at {x:.0%} is needed. Measure there, or leave the points away to use the usual curve."
        )
        raise CurveRefused(Reason("outside_measured_points", text))
    index = min(max(bisect_right(points, (x, math.inf)), 1), len(points) - 1)
    (left, low), (right, high) = points[index - 1], points[index]
    return low + (high - low) * (x - left) / (right - left)


def problems_of_points(points: tuple[tuple[float, float], ...]) -> tuple[Reason, ...]:
    """Return why measured points are no part-load curve: unsorted, falling, or no shares at all."""
    if len(points) < 2:
        return (Reason("too_few_points", "A measured curve needs at least two points."),)
    if not all(math.isfinite(x) and math.isfinite(y) for x, y in points):
        return (Reason("not_finite", "A measured point isn't a finite number."),)
    if not all(0.0 <= x <= 1.0 and 0.0 <= y <= 1.5 for x, y in points):
        text = "Flow shares lie between 0 and 1, power shares between 0 and 1.5 of full load."
        return (Reason("not_a_share", text),)
    for (left, low), (right, high) in pairwise(points):
        if right - left < 1e-6:
            text = f"The flow shares must rise from point to point; {right:g} follows {left:g}."
            return (Reason("points_not_sorted", text),)
        if high < low:
            text = f"The power falls from {low:g} to {high:g} while the flow rises; one of them is misread."
            return (Reason("power_falls", text),)
    return ()


def curve_of(
    control: Control | str,
    *,
    unloaded_share: float | None = None,
    least_share: float | None = None,
    cycle_s: float | None = None,
    points: tuple[tuple[float, float], ...] | None = None,
) -> Curve:
    """Return the curve of a control with what the site knows better; raises CurveRefused for nonsense.

    ``unloaded_share`` is the measured power share at no flow, ``least_share`` the flow share of the least
    speed or of the blow-down point, ``cycle_s`` the time that full flow takes to fill the storage through
    its pressure band (``storage_time_s``); without it load and unload is taken with ample storage.
    """
    if control not in set(Control):
        text = f"No part-load curve is known for the control {str(control)[:40]!r}."
        raise CurveRefused(Reason("control_unknown", text))
    kind = Control(control)
    if points:
        problems = problems_of_points(tuple(points))
        if problems:
            raise CurveRefused(problems[0])
        return Curve(kind, UNLOADED[kind], points=tuple((float(x), float(y)) for x, y in points))
    curve = Curve(kind, UNLOADED[kind], LEAST_FLOW.get(kind))
    if unloaded_share is not None and kind not in {Control.START_STOP, Control.NONE}:
        curve = replace(curve, unloaded=_measured(unloaded_share, "unloaded_share", 1.0))
    if least_share is not None and curve.least is not None:
        curve = replace(curve, least=_measured(least_share, "least_share", 0.95))
    if kind is Control.LOAD_UNLOAD and cycle_s is not None:
        if not (math.isfinite(cycle_s) and cycle_s > 0.0):
            text = "The storage must hold something and its pressure band be wider than nothing."
            raise CurveRefused(Reason("storage_impossible", text))
        curve = replace(curve, cycle_s=cycle_s)
    return curve


def _measured(value: float, name: str, most: float) -> Share:
    if not (math.isfinite(value) and 0.0 <= value <= most):
        raise CurveRefused(
            Reason("share_impossible", f"The {name.replace('_', ' ')} lies between 0 and {most:g}.")
        )
    half = MEASURED_HALF_WIDTH
    return Share(value, max(value - half, 0.0), min(value + half, most), "the site's own figure")


def storage_time_s(
    storage_m3: float, band_pa: float, full_flow_m3_per_s: float, *, atmosphere_pa: float
) -> float:
    """Return V dp / (p_atm Q): the time in s in which full flow fills the storage through the band.

    Isothermal; the flow is free air at the atmosphere. At flow share x the machine is off load for this
    over x, and on load for this over 1 - x.
    """
    return storage_m3 * band_pa / (atmosphere_pa * full_flow_m3_per_s)
