"""Say what a pressure leak loses, from one reading and the supply system that feeds the asset."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from findings.kinds.base import Kind, Medium
from findings.kinds.pressure_leak import PressureLeakEvidence, assess
from findings.physics.estimate import Estimate, Reason, refused
from findings.physics.leak_flow import Edge
from findings.plant.models import Site
from findings.readings.models import Reading
from findings.readings.rules import DirectMethod
from findings.register.actions.levels import level_estimate, level_speaks
from findings.register.models import Assessment, Finding
from findings.supply.models import SupplySystem

SYSTEM_TEMPERATURE_U_K = 8.0
"""How well a network's stated temperature is known at the leak (our judgement)."""

_METHODS = {
    DirectMethod.BAG: "bag",
    DirectMethod.FLOW_METER: "meter",
    DirectMethod.PRESSURE_DECAY: "pressure_decay",
}
_NO_SYSTEM = Reason(
    "system_missing", "No supply system of this medium feeds the asset; the loss has no price until one does."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What stands around a reading: its site, the finding's medium and the system that feeds the asset."""

    site: Site
    medium: Medium | None
    system: SupplySystem | None


def says_something(reading: Reading) -> bool:
    """Tell whether a reading carries evidence of a flow."""
    known = reading.flow_m3_per_s is not None or reading.hole_diameter_m is not None
    return known or level_speaks(reading)


def assess_reading(
    finding: Finding, reading: Reading, around: Surroundings, *, recorded_at: datetime
) -> Assessment | None:
    """Compute and keep the leak rate a reading speaks for; None for kinds that aren't computed.

    What can't be computed is kept as a refusal with its reasons, never as zero.
    """
    if finding.kind != Kind.PRESSURE_LEAK:
        return None
    evidence = evidence_of(reading, around)
    estimate = _volume_only(assess(evidence))
    if estimate.is_refused:
        estimate = _volume_only(assess(replace(evidence, level=level_estimate(reading, around))))
    inputs = {
        **estimate.inputs,
        "medium": "" if around.medium is None else around.medium.value,
        "system_id": None if around.system is None else str(around.system.pk),
        "pressure_from": _source(reading.pressure_gauge_pa, around.system),
        "temperature_from": _source(reading.temperature_k, around.system),
    }
    reasons = list(estimate.reasons)
    if around.system is None:
        reasons.append(_NO_SYSTEM)
    return Assessment.objects.create(
        site_id=finding.site_id,
        finding=finding,
        reading=reading,
        method=estimate.method,
        method_version=estimate.method_version,
        status=estimate.status.value,
        leak_rate_m3_per_s=estimate.value,
        u_m3_per_s=estimate.u,
        low_m3_per_s=estimate.low,
        high_m3_per_s=estimate.high,
        inputs=inputs,
        reasons=[reason._asdict() for reason in reasons],
        at=reading.taken_at,
        recorded_at=recorded_at,
    )


def evidence_of(reading: Reading, around: Surroundings) -> PressureLeakEvidence:
    """Return the evidence of a reading; what it doesn't say is taken from the supply system."""
    system = around.system
    temperature_k, temperature_u_k = reading.temperature_k, 1.0
    pressure_gauge_pa = reading.pressure_gauge_pa
    if system is not None:
        if temperature_k is None:
            temperature_k, temperature_u_k = system.temperature_k, SYSTEM_TEMPERATURE_U_K
        if pressure_gauge_pa is None:
            pressure_gauge_pa = system.pressure_gauge_pa
    return PressureLeakEvidence(
        medium=around.medium or Medium.OTHER,
        gas_name=(system.gas_name or None) if system is not None else None,
        pressure_gauge_pa=pressure_gauge_pa,
        atmosphere_pa=around.site.atmosphere_pa,
        temperature_k=temperature_k,
        temperature_u_k=temperature_u_k if temperature_k is not None else None,
        diameter_m=reading.hole_diameter_m,
        edge=Edge(reading.edge) if reading.edge else Edge.UNKNOWN,
        **_flow(reading),
    )


def _flow(reading: Reading) -> dict[str, Any]:
    if reading.flow_m3_per_s is None:
        return {}
    method = DirectMethod(reading.flow_method)
    if method is DirectMethod.STATED:
        return {
            "stated_flow_m3_per_s": reading.flow_m3_per_s,
            "stated_flow_u_m3_per_s": reading.flow_u_m3_per_s,
        }
    return {
        "measured_flow_m3_per_s": reading.flow_m3_per_s,
        "measured_flow_u_m3_per_s": reading.flow_u_m3_per_s,
        "measured_method": _METHODS[method],
    }


def _source(own: float | None, system: SupplySystem | None) -> str:
    if own is not None:
        return "reading"
    return "" if system is None else "system"


def _volume_only(estimate: Estimate) -> Estimate:
    """Keep steam's mass flow beside a refusal: it has no volume at 1 bar and 20 °C."""
    if estimate.is_refused or estimate.unit == "m3/s":
        return estimate
    text = "Steam is a mass flow; it is shown with the inputs and has no volume at 1 bar and 20 °C."
    whole = estimate.to_json()
    return refused(
        unit="m3/s",
        method=estimate.method,
        version=estimate.method_version,
        reasons=(Reason("mass_flow_only", text), *estimate.reasons),
        inputs={
            **estimate.inputs,
            "mass_flow": {name: whole[name] for name in ("value", "low", "high", "unit")},
        },
    )
