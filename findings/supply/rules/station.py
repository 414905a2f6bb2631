"""The compressors of one system as a whole: who trims, and what taking a flow away really saves."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from findings.physics.estimate import Reason
from findings.physics.machine_group import Machine
from findings.physics.marginal_saving import DRAWS, Saving, group_saving
from findings.physics.uncertainty import Uncertain
from findings.supply.rules.leak_tests import at_reference
from findings.supply.rules.stated import ControlType

NO_MACHINE = Reason(
    "no_machine",
    "No compressor in use is recorded for the system, so nobody can tell what a repair really saves; the "
    "full-load figure says what the air is worth.",
)
DEMAND_MISSING = Reason(
    "demand_missing",
    "The system's mean demand isn't recorded, so nobody can tell which machine answers to a repair. Record "
    "what the machines deliver on average as a dated value.",
)
ORDER_MISSING = Reason(
    "load_order_missing",
    "Several machines feed the system and not all have a place in the load order, so nobody can tell which "
    "of them trims. Record the order.",
)
STORAGE_UNKNOWN = Reason(
    "storage_unknown",
    "The storage of the system isn't recorded; it is taken as ample, which flatters a machine that loads and "
    "unloads.",
)


class MachineRow(Protocol):
    """What is recorded of a machine."""

    code: str
    control: str
    rated_flow_m3_per_s: float
    rated_power_w: float
    unloaded_share: float | None
    least_share: float | None
    load_order: int | None
    part_load_points: list[list[float]]


@dataclass(frozen=True, slots=True)
class Station:
    """The machines in use, base load first; flows at 1 bar, 20 °C, dry."""

    machines: tuple[Machine, ...] = ()
    is_ordered: bool = True
    remarks: tuple[Reason, ...] = ()

    def problems(self, demand_m3_per_s: float | None) -> tuple[Reason, ...]:
        """Return why no saving can be told."""
        if not self.machines:
            return (NO_MACHINE,)
        found = () if self.is_ordered else (ORDER_MISSING,)
        return found if demand_m3_per_s is not None else (*found, DEMAND_MISSING)

    def saving(self, demand_m3_per_s: float | None, flow: Uncertain, *, draws: int = DRAWS) -> Saving:
        """Return what taking a flow (m3/s at 1 bar, 20 °C) away is worth and saves, W; refused in words."""
        problems = self.problems(demand_m3_per_s)
        if problems or demand_m3_per_s is None:
            return Saving(None, None, None, None, None, None, problems)
        return group_saving(self.machines, demand_m3_per_s, flow, draws=draws)


def station_of(rows: Iterable[MachineRow], *, storage_m3: float | None, atmosphere_pa: float) -> Station:
    """Return the station of the machines in use, which come in their load order."""
    rows = list(rows)
    machines = tuple(
        Machine(
            key=row.code,
            control=row.control,
            rated_flow_m3_per_s=at_reference(row.rated_flow_m3_per_s, atmosphere_pa=atmosphere_pa),
            rated_power_w=row.rated_power_w,
            unloaded_share=row.unloaded_share,
            least_share=row.least_share,
            storage_m3=storage_m3,
            points=tuple((float(x), float(y)) for x, y in row.part_load_points) or None,
            order=place,
        )
        for place, row in enumerate(rows, start=1)
    )
    cycles = any(row.control == ControlType.LOAD_UNLOAD and not row.part_load_points for row in rows)
    return Station(
        machines,
        is_ordered=len(rows) <= 1 or all(row.load_order is not None for row in rows),
        remarks=(STORAGE_UNKNOWN,) if cycles and storage_m3 is None else (),
    )
