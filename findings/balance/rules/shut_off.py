"""What if a branch were shut off while nobody needs its air."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, NamedTuple
from uuid import UUID

from findings.balance.rules.system_now import OpenLeak, SystemNow
from findings.balance.rules.yearly import Yearly, factor_of, money_of_energy, saving_of
from findings.physics.branch_shut_off import METHOD, VERSION, shut_off_energy_kwh
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.leak_balance import sum_of
from findings.physics.uncertainty import Uncertain
from findings.register.rules import price_per_kwh

ENERGY_RELATIVE_U: Final = 0.05
"""Of a stated specific energy (judgement)."""
CAUTION: Final = Reason(
    "who_needs_the_air",
    "Before a branch is shut off, whoever answers for the plant has to know what hangs on it: brakes, "
    "clamps, seals, instrument air and fire doors may need the pressure. Isolate, vent and lock by the "
    "site's rules.",
)
NO_FINDING: Final = Reason(
    "no_finding_in_branch", "No open finding with a rate lies in this branch, so nothing is known to save."
)
NO_ENERGY: Final = Reason("specific_energy_missing", "No specific energy is in force for the supply system.")


class Shutting(NamedTuple):
    """Hours a year in which the branch would else be under pressure, and what refills it at each opening.

    ``refilled_m3`` of free air go in at each of ``refills`` openings a year.
    """

    hours: Uncertain
    refilled_m3: float = 0.0
    refills: float = 0.0


@dataclass(frozen=True, slots=True)
class ShutOff:
    """The energy (kWh) and money that a year of shutting off saves, and the findings of the branch."""

    leaks: tuple[OpenLeak, ...]
    flow: Uncertain
    energy: Estimate
    yearly: Yearly


def shut_branch(
    now: SystemNow, shutting: Shutting, *, asset_ids: Collection[UUID] = (), area_id: UUID | None = None
) -> ShutOff:
    """Return what the leaks of some assets, or of an area, don't take while the branch is shut off."""
    leaks = tuple(leak for leak in now.leaks if leak.area_id == area_id or leak.asset_id in asset_ids)
    flow = sum_of([leak.leak() for leak in leaks])
    energy = now.energy_j_per_m3
    if not leaks or energy is None:
        return _refused(leaks, flow, (NO_ENERGY if leaks else NO_FINDING,))
    saving = saving_of(now, flow)
    factor = factor_of(saving)
    if factor is None:
        return _refused(leaks, flow, saving.reasons)
    told = shut_off_energy_kwh(
        flow,
        Uncertain(float(energy), ENERGY_RELATIVE_U * float(energy)),
        factor,
        shutting.hours,
        refilled_m3=shutting.refilled_m3,
        refills=shutting.refills,
    )
    return ShutOff(leaks, flow, told, money_of_energy(told, price_per_kwh(now.values)))


def _refused(leaks: tuple[OpenLeak, ...], flow: Uncertain, reasons: tuple[Reason, ...]) -> ShutOff:
    nothing = refused(unit="kWh", method=METHOD, version=VERSION, reasons=reasons, inputs={})
    return ShutOff(leaks, flow, nothing, Yearly(reasons=reasons))
