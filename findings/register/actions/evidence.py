"""The evidence that a reading brings, together with what stands around it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from findings.kinds.assessing import LeakEvidence
from findings.kinds.base import Kind, Medium
from findings.kinds.enclosure_leak import EnclosureLeakEvidence
from findings.kinds.pressure_leak import PressureLeakEvidence
from findings.kinds.vacuum_leak import VacuumLeakEvidence
from findings.physics.leak_flow import Edge
from findings.plant.models import Site
from findings.readings.models import Reading
from findings.readings.rules import DirectMethod
from findings.supply.models import SupplySystem

SYSTEM_TEMPERATURE_U_K = 8.0
"""How well a network's stated temperature is known at the leak (our judgement)."""

_METHODS = {
    DirectMethod.BAG: "bag",
    DirectMethod.CYLINDER: "cylinder",
    DirectMethod.FLOW_METER: "meter",
    DirectMethod.VARIABLE_AREA_METER: "variable_area_meter",
    DirectMethod.PRESSURE_DECAY: "pressure_decay",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What stands around a reading: its site, the finding's medium and the system that feeds the asset."""

    site: Site
    medium: Medium | None
    system: SupplySystem | None


def says_something(reading: Reading) -> bool:
    """Tell whether a reading carries evidence of a flow."""
    known = reading.flow_m3_per_s is not None or reading.hole_diameter_m is not None
    return known or _level_speaks(reading)


def _level_speaks(reading: Reading) -> bool:
    """Tell whether a level may tell of a flow; a number heard through who knows what can't."""
    heard = reading.level_db is not None and reading.attachment != ""
    return heard and reading.kind == Kind.PRESSURE_LEAK


def evidence_of(kind: Kind, reading: Reading, around: Surroundings) -> LeakEvidence | None:
    """Return the evidence of a reading for a kind; None for kinds whose flow isn't computed."""
    match kind:
        case Kind.PRESSURE_LEAK:
            return _pressure_leak(reading, around)
        case Kind.VACUUM_LEAK:
            return _vacuum_leak(reading, around)
        case Kind.ENCLOSURE_LEAK:
            return EnclosureLeakEvidence(
                level_db=reading.level_db,
                background_db=reading.background_db,
                distance_m=reading.distance_m,
            )
    return None


def sources_of(reading: Reading, around: Surroundings) -> dict[str, Any]:
    """Return where the evidence comes from, for people who read the inputs."""
    return {
        "medium": "" if around.medium is None else around.medium.value,
        "system_id": None if around.system is None else str(around.system.pk),
        "pressure_from": _source(reading.pressure_gauge_pa, around.system),
        "temperature_from": _source(reading.temperature_k, around.system),
    }


def _pressure_leak(reading: Reading, around: Surroundings) -> PressureLeakEvidence:
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


def _vacuum_leak(reading: Reading, around: Surroundings) -> VacuumLeakEvidence:
    """Return the evidence of a reading; the pump stands at the system's pressure, the leak at its own.

    A system's temperature is that of its pipe, not of the room whose air comes in.
    """
    system, atmosphere_pa = around.system, around.site.atmosphere_pa
    at_pump = None if system is None else atmosphere_pa + system.pressure_gauge_pa
    at_leak = at_pump if reading.pressure_gauge_pa is None else atmosphere_pa + reading.pressure_gauge_pa
    return VacuumLeakEvidence(
        line_absolute_pa=at_leak,
        pump_inlet_absolute_pa=at_pump,
        pump_inlet_temperature_k=None if system is None else system.temperature_k,
        atmosphere_pa=atmosphere_pa,
        temperature_k=reading.temperature_k,
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
