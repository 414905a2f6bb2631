"""The named states to which volume flows refer; a flow without its state is worth nothing."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from findings.physics.gases import MOLAR_GAS_CONSTANT_J_PER_MOL_K, Gas
from findings.physics.quantities import convert


@dataclass(frozen=True)
class ReferenceState:
    """A dry state: pressure in Pa absolute, temperature in K."""

    key: str
    label: str
    pressure_pa: float
    temperature_k: float
    source: str


def _fahrenheit_state(key: str, label: str, psia: float, fahrenheit: float, source: str) -> ReferenceState:
    """Return a state given in US units."""
    return ReferenceState(key, label, convert(psia, "psi", "Pa"), convert(fahrenheit, "°F", "K"), source)


_ROWS = (
    ReferenceState(
        "bar20", "1 bar, 20 °C", 1e5, 293.15, "ISO 1217 free air delivered, dry; clause from memory"
    ),
    ReferenceState("normal", "1 atm, 0 °C", 101325.0, 273.15, "DIN 1343, from memory"),
    ReferenceState("metric_standard", "1 atm, 15 °C", 101325.0, 288.15, "ISO 13443, from memory"),
    _fahrenheit_state("us_standard", "14.696 psia, 60 °F", 14.696, 60.0, "US gas trade, common practice"),
    _fahrenheit_state("us_68f", "14.696 psia, 68 °F", 14.696, 68.0, "ASME normal air taken dry, from memory"),
    _fahrenheit_state(
        "us_14_5_68f", "14.5 psia, 68 °F", 14.5, 68.0, "US compressor trade data sheets, from memory"
    ),
)

STATES: Mapping[str, ReferenceState] = MappingProxyType({state.key: state for state in _ROWS})
DEFAULT_STATE = STATES["bar20"]


def convert_flow(flow_m3_per_s: float, source: ReferenceState, target: ReferenceState) -> float:
    """Return a dry gas's volume flow in m3/s at another state; the mass flow stays the same."""
    pressures = source.pressure_pa / target.pressure_pa
    return flow_m3_per_s * pressures * target.temperature_k / source.temperature_k


def density_kg_per_m3(gas: Gas, state: ReferenceState) -> float:
    """Return the ideal-gas density in kg/m3 at a state."""
    molar = MOLAR_GAS_CONSTANT_J_PER_MOL_K * state.temperature_k
    return gas.molar_mass_kg_per_mol * state.pressure_pa / molar


def volume_flow_m3_per_s(mass_flow_kg_per_s: float, gas: Gas, state: ReferenceState) -> float:
    """Return the volume flow in m3/s at a state of a mass flow in kg/s."""
    return mass_flow_kg_per_s / density_kg_per_m3(gas, state)
