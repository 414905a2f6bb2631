"""A leak out of a line or vessel under pressure: what it loses, by the best evidence there is."""

from dataclasses import dataclass
from typing import Any

from findings.kinds.base import Kind, Medium
from findings.kinds.definition import KindOfFinding
from findings.kinds.known_flow import (
    KnownFlow,
    measured,
    problems_of_measured,
    problems_of_state,
    stated,
)
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.gases import GASES, Gas, find_gas
from findings.physics.leak_flow import Conditions, Edge, Opening, leak_flow
from findings.physics.steam import steam_flow
from findings.physics.uncertainty import Uncertain

DEFINITION = KindOfFinding(
    kind=Kind.PRESSURE_LEAK,
    label="Pressure leak",
    heard_by="airborne sensor",
    takes=frozenset(
        {
            "level_db",
            "background_db",
            "distance_m",
            "diameter_m",
            "edge",
            "pressure_gauge_pa",
            "temperature_k",
            "measured_flow_m3_per_s",
            "stated_flow_m3_per_s",
        }
    ),
    needs=frozenset(),
    media=frozenset(Medium) - {Medium.VACUUM},
    loses_gas=True,
)

STANDARD_ATMOSPHERE_PA = 101325.0
ASSUMED_TEMPERATURE = Uncertain(293.15, 8.0)
ASSUMED_DIAMETER_RELATIVE_U = 0.10
ASSUMED_PRESSURE_U_PA = 10000.0
ASSUMED_PRESSURE_RELATIVE_U = 0.05
NATURAL_GAS_RELATIVE_U = 0.04

_GAS_OF_MEDIUM = {
    Medium.COMPRESSED_AIR: "air",
    Medium.NITROGEN: "nitrogen",
    Medium.OXYGEN: "oxygen",
    Medium.ARGON: "argon",
    Medium.CARBON_DIOXIDE: "carbon_dioxide",
    Medium.HYDROGEN: "hydrogen",
    Medium.NATURAL_GAS: "methane",
    Medium.PROPANE: "propane",
}


@dataclass(frozen=True, kw_only=True)
class PressureLeakEvidence(KnownFlow):
    """What is known about a leak; every field but the medium may be missing.

    Pressures are gauge in Pa, ``..._u_...`` are standard uncertainties. ``measured`` takes a finished
    estimate of the direct methods in place of a measured flow, ``level`` what the detector's level says
    of the flow. ``gas_name`` names the gas of the medium ``other``.
    """

    medium: Medium
    gas_name: str | None = None
    pressure_gauge_pa: float | None = None
    pressure_u_pa: float | None = None
    atmosphere_pa: float = STANDARD_ATMOSPHERE_PA
    temperature_k: float | None = None
    temperature_u_k: float | None = None
    diameter_m: float | None = None
    diameter_u_m: float | None = None
    edge: Edge = Edge.UNKNOWN
    measured: Estimate | None = None
    level: Estimate | None = None


def assess(evidence: PressureLeakEvidence) -> Estimate:
    """Return the leak's flow at 1 bar 20 °C in m3/s (steam: kg/s) by the best evidence.

    A measured flow goes before a stated one, a stated one before the hole's size, that before the
    detector's level. A refused better method is said and the next one tried. With too little evidence
    the result is refused with the missing inputs named, never zero.
    """
    if evidence.medium is Medium.VACUUM:
        text = "Vacuum has no pressure to leak out of; record a vacuum leak."
        return _refusal(evidence, (Reason("medium_not_of_this_kind", text),))
    passed: list[Reason] = []
    for attempt in (_measured, _stated, _through_hole, _by_level):
        estimate = attempt(evidence)
        if estimate is not None and not estimate.is_refused:
            return _with_reasons(estimate, passed)
        passed += estimate.reasons if estimate is not None else ()
    return _refusal(evidence, tuple(dict.fromkeys(passed)))


def _measured(evidence: PressureLeakEvidence) -> Estimate | None:
    """Return the measured flow, if there is one."""
    if evidence.measured is not None and evidence.measured.unit == _unit_of(evidence):
        return evidence.measured
    if evidence.measured_flow_m3_per_s is None and evidence.measured is None:
        return None
    problems = _problems_of_volume(evidence) or problems_of_measured(evidence)
    if problems or evidence.measured_flow_m3_per_s is None:
        return _refusal(
            evidence, problems or (Reason("unit_mismatch", "The measured flow has another unit."),)
        )
    return measured(evidence, evidence.measured_flow_m3_per_s)


def _stated(evidence: PressureLeakEvidence) -> Estimate | None:
    """Return the stated flow, if there is one."""
    if evidence.stated_flow_m3_per_s is None:
        return None
    problems = _problems_of_volume(evidence) or problems_of_state(evidence.stated_state)
    if problems:
        return _refusal(evidence, problems)
    return stated(evidence, evidence.stated_flow_m3_per_s)


def _unit_of(evidence: PressureLeakEvidence) -> str:
    """Return the unit of the loss: steam by mass, gases by volume."""
    return "kg/s" if evidence.medium is Medium.STEAM else "m3/s"


def _problems_of_volume(evidence: PressureLeakEvidence) -> tuple[Reason, ...]:
    """Return why a volume flow can't stand for the loss."""
    if evidence.medium is Medium.STEAM:
        return (Reason("steam_needs_mass_flow", "A loss of steam is stated by mass, not by volume."),)
    return ()


def gas_of(medium: Medium, gas_name: str | None) -> Gas | None:
    """Return the gas whose data stand for the medium, or None where no data are held for it."""
    name = _GAS_OF_MEDIUM.get(medium)
    return GASES[name] if name else find_gas(gas_name or "")


def _gas_of(evidence: PressureLeakEvidence) -> Gas | None:
    """Return the gas of the evidence."""
    return gas_of(evidence.medium, evidence.gas_name)


def _missing(evidence: PressureLeakEvidence) -> tuple[Reason, ...]:
    """Return what the hole formula lacks."""
    missing = []
    if evidence.diameter_m is None:
        missing.append(Reason("diameter_missing", "The hole's diameter isn't known."))
    if evidence.pressure_gauge_pa is None:
        missing.append(Reason("pressure_missing", "The pressure before the leak isn't known."))
    if evidence.medium is not Medium.STEAM and _gas_of(evidence) is None:
        missing.append(Reason("gas_unknown", "No data are held for this gas, or it isn't named."))
    return tuple(missing)


def _through_hole(evidence: PressureLeakEvidence) -> Estimate:
    """Return the flow from the hole's size and the pressure."""
    missing = _missing(evidence)
    if missing or evidence.diameter_m is None or evidence.pressure_gauge_pa is None:
        return _refusal(evidence, missing)
    remarks: list[Reason] = []
    diameter_u, pressure_u = evidence.diameter_u_m, evidence.pressure_u_pa
    if diameter_u is None:
        diameter_u = abs(evidence.diameter_m) * ASSUMED_DIAMETER_RELATIVE_U
        text = "No uncertainty came with the diameter; a tenth of it is assumed (judgement)."
        remarks.append(Reason("diameter_uncertainty_assumed", text))
    if pressure_u is None:
        pressure_u = min(ASSUMED_PRESSURE_U_PA, ASSUMED_PRESSURE_RELATIVE_U * abs(evidence.pressure_gauge_pa))
        text = "No uncertainty came with the pressure; 5 %, at most 0.1 bar, is assumed (judgement)."
        remarks.append(Reason("pressure_uncertainty_assumed", text))
    opening = Opening(Uncertain(evidence.diameter_m, diameter_u), evidence.edge)
    upstream = Uncertain(evidence.pressure_gauge_pa + evidence.atmosphere_pa, pressure_u)
    if evidence.medium is Medium.STEAM:
        return _with_reasons(steam_flow(opening, upstream, evidence.atmosphere_pa), remarks)
    return _gas_through_hole(evidence, opening, upstream, remarks)


def _gas_through_hole(
    evidence: PressureLeakEvidence, opening: Opening, upstream: Uncertain, remarks: list[Reason]
) -> Estimate:
    """Return a gas's flow through the hole with what was assumed."""
    gas = _gas_of(evidence)
    if gas is None:
        return _refusal(evidence, _missing(evidence))
    temperature = ASSUMED_TEMPERATURE
    if evidence.temperature_k is None:
        remarks.append(Reason("temperature_assumed", "The gas temperature isn't known; 20 °C is assumed."))
    else:
        temperature = Uncertain(evidence.temperature_k, evidence.temperature_u_k or 0.0)
    composition_u = 0.0
    if evidence.medium is Medium.NATURAL_GAS:
        composition_u = NATURAL_GAS_RELATIVE_U
        remarks.append(Reason("natural_gas_as_methane", "Natural gas is computed as methane."))
    conditions = Conditions(upstream, evidence.atmosphere_pa, temperature)
    return _with_reasons(leak_flow(opening, conditions, gas, gas_relative_u=composition_u), remarks)


def _by_level(evidence: PressureLeakEvidence) -> Estimate | None:
    """Return what the level says, if it was asked: a figure for sums when calibrated, else an indication."""
    estimate = evidence.level
    if estimate is None or estimate.is_refused:
        return estimate
    if estimate.unit != _unit_of(evidence):
        return None
    if estimate.status is Status.INDICATIVE:
        return estimate
    mean = estimate.inputs.get("mean_flow_m3_per_s")
    if not isinstance(mean, float) or estimate.high is None or not 0.0 < mean < estimate.high:
        return estimate
    text = "The figure is the mean of what such a level can mean, so that sums of many leaks come out right."
    for_sums = Estimate.from_json({**estimate.to_json(), "value": mean})
    return _with_reasons(for_sums, [Reason("mean_of_level", text)])


def _with_reasons(estimate: Estimate, reasons: list[Reason]) -> Estimate:
    """Return the estimate with further reasons behind its own."""
    merged = tuple(dict.fromkeys((*estimate.reasons, *reasons)))
    return Estimate.from_json({**estimate.to_json(), "reasons": [reason._asdict() for reason in merged]})


def _refusal(evidence: PressureLeakEvidence, reasons: tuple[Reason, ...]) -> Estimate:
    """Return the refusal of an assessment."""
    inputs: dict[str, Any] = {"medium": evidence.medium.value, "gas_name": evidence.gas_name}
    return refused(
        unit=_unit_of(evidence), method="pressure_leak", version="1", reasons=reasons, inputs=inputs
    )
