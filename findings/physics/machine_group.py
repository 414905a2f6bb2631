"""Compressors that feed one network in base-load order: who runs, at what power, for a demand.

Demand is filled in order: each machine runs full before the next one starts, the last one running trims,
those behind it stand still. Power against demand is then a chain of part-load curves, straight where they
are, with a step wherever a machine starts. Flows in m3/s of free air, powers in W.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

from findings.physics import part_load
from findings.physics.estimate import Reason
from findings.physics.part_load import Curve, CurveRefused

PRESSURE_BAND_PA: Final = 70_000.0
"""Width of the load and unload band where none is given, Pa (common practice: about 0.7 bar)."""
ATMOSPHERE_PA: Final = 101_325.0
MOST_MACHINES: Final = 30
STILL: Final = 1e-12
"""Flow share below which a machine has nothing to deliver."""


@dataclass(frozen=True)
class Machine:
    """A compressor as the group needs it: rated flow in m3/s of free air, rated power in W at full load.

    ``unloaded_share``: measured power share at no flow. ``least_share``: flow share of least speed or
    blow-down. ``storage_m3``: storage it cycles on, with ``band_pa`` (None: ample). ``points``: measured
    (flow share, power share), which then hold alone. ``order``: the lowest is loaded first.
    """

    key: str
    control: str
    rated_flow_m3_per_s: float
    rated_power_w: float
    unloaded_share: float | None = None
    least_share: float | None = None
    storage_m3: float | None = None
    points: tuple[tuple[float, float], ...] | None = None
    order: int = 1
    band_pa: float = PRESSURE_BAND_PA

    def curve(self) -> Curve:
        """Return its part-load curve; raises CurveRefused."""
        ratings = (self.rated_flow_m3_per_s, self.rated_power_w)
        if not all(math.isfinite(number) and number > 0.0 for number in ratings):
            text = f"The machine {self.key} needs a rated flow and a rated power above 0."
            raise CurveRefused(Reason("rating_impossible", text))
        cycle_s = None
        if self.storage_m3 is not None:
            cycle_s = part_load.storage_time_s(
                self.storage_m3, self.band_pa, self.rated_flow_m3_per_s, atmosphere_pa=ATMOSPHERE_PA
            )
        return part_load.curve_of(
            self.control,
            unloaded_share=self.unloaded_share,
            least_share=self.least_share,
            cycle_s=cycle_s,
            points=self.points,
        )


class Loaded(NamedTuple):
    """A machine's place in a demand: flow share, and power in W, 0 where it stands still."""

    key: str
    flow_share: float
    power_w: float


class Placed(NamedTuple):
    """A machine with its curve and the flow in m3/s that the machines before it deliver."""

    machine: Machine
    curve: Curve
    before: float

    def flow_share(self, demand: float) -> float:
        """Return the part of its full flow that it delivers at a demand, 0 to 1."""
        return min(max((demand - self.before) / self.machine.rated_flow_m3_per_s, 0.0), 1.0)

    def power_w(self, demand: float, curve: Curve | None = None) -> float:
        """Return its power in W at a demand of the whole group, 0 where it stands still."""
        share = self.flow_share(demand)
        if share <= STILL:
            return 0.0
        return (curve or self.curve).share(share) * self.machine.rated_power_w


class Group:
    """Machines in loading order; raises CurveRefused for a machine that can't be."""

    def __init__(self, machines: Sequence[Machine]) -> None:
        if not machines:
            raise CurveRefused(Reason("no_machine", "No compressor of this system is described."))
        if len(machines) > MOST_MACHINES:
            raise CurveRefused(
                Reason("too_many_machines", f"At most {MOST_MACHINES} machines feed one system.")
            )
        self.placed: list[Placed] = []
        self.capacity = 0.0
        for machine in sorted(machines, key=lambda machine: machine.order):
            self.placed.append(Placed(machine, machine.curve(), self.capacity))
            self.capacity += machine.rated_flow_m3_per_s

    def check_demand(self, demand: float) -> None:
        """Raise CurveRefused for a demand that the group doesn't have or can't meet."""
        if not demand > 0.0:
            text = "The demand must be above 0; measure or estimate what the system delivers."
            raise CurveRefused(Reason("no_demand", text))
        if demand > self.capacity * (1.0 + 1e-9):
            text = (
                f"The demand of {demand:.4g} m³/s is above all machines together, {self.capacity:.4g} m³/s."
            )
            raise CurveRefused(Reason("demand_above_capacity", text))

    def power_w(self, demand: float) -> float:
        """Return the power in W of all machines at a demand."""
        return math.fsum(placed.power_w(demand) for placed in self.placed)

    def running(self, demand: float) -> list[Placed]:
        """Return the machines that run at a demand; the last one trims."""
        return [placed for placed in self.placed if placed.flow_share(demand) > STILL]

    def loads(self, demand: float) -> tuple[Loaded, ...]:
        """Return each machine's part of a demand."""
        return tuple(
            Loaded(placed.machine.key, placed.flow_share(demand), placed.power_w(demand))
            for placed in self.placed
        )

    def full_load_j_per_m3(self, demand: float) -> float:
        """Return the full-load specific power of the machines that run at a demand."""
        running = [placed.machine for placed in self.running(demand)]
        flow = math.fsum(machine.rated_flow_m3_per_s for machine in running)
        return math.fsum(machine.rated_power_w for machine in running) / flow

    def step_w(self, demand: float, left: float) -> float:
        """Return the unloaded power in W of machines that need not run once the demand is ``left``."""
        return math.fsum(
            placed.curve.share(0.0) * placed.machine.rated_power_w
            for placed in self.running(demand)
            if placed.flow_share(left) <= STILL
            and not (placed.curve.points and placed.curve.points[0][0] > 0)
        )
