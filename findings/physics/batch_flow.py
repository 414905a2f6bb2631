"""The flows of many leaks at once: what ``leak_flow`` says of each, worked out in columns by numpy.

Imports numpy: load it through ``findings.physics.lazily``.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from findings.physics.gases import GASES, MOLAR_GAS_CONSTANT_J_PER_MOL_K, SaturationLine
from findings.physics.leak_flow import (
    DISCHARGE_COEFFICIENTS,
    HIGHEST_PRESSURE_PA,
    LARGEST_DIAMETER_M,
    NOTABLE_MODEL_ERROR,
    NOTABLE_PRESSURE_PART,
    TEMPERATURE_LIMITS_K,
    Edge,
)
from findings.physics.orifice import choked_factor, critical_pressure_ratio
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState
from findings.physics.uncertainty import COVERAGE_95

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

GAS_KEYS = tuple(GASES)
EDGES = tuple(Edge)
REFUSALS = (
    "not_finite",
    "uncertainty_negative",
    "uncertainty_too_large",
    "diameter_out_of_range",
    "discharge_coefficient_out_of_range",
    "temperature_out_of_range",
    "pressure_below_vacuum",
    "no_pressure_difference",
    "pressure_out_of_range",
    "may_be_liquid",
)
REMARKS = ("edge_unknown", "sharp_edge_convention", "ideal_gas_error", "pressure_difference_unsure")
CODES = REFUSALS + REMARKS
"""Bit n of ``Flows.codes`` stands for the n-th of these; the order is that of ``leak_flow``'s reasons."""


@dataclass(frozen=True, kw_only=True)
class Leaks:
    """Columns of equal length n, or of length 1 for a value that all rows share; SI, pressures absolute.

    ``gas`` and ``edge`` are indices into ``GAS_KEYS`` and ``EDGES``. ``coefficient`` is NaN where the
    edge's own coefficient counts. Every ``u`` is a standard uncertainty in the unit of its value.
    """

    gas: ArrayLike
    diameter_m: ArrayLike
    diameter_u_m: ArrayLike
    edge: ArrayLike
    coefficient: ArrayLike
    coefficient_u: ArrayLike
    upstream_pa: ArrayLike
    upstream_u_pa: ArrayLike
    downstream_pa: ArrayLike
    temperature_k: ArrayLike
    temperature_u_k: ArrayLike


@dataclass(frozen=True)
class Flows:
    """One entry per row: flow, u and 95 % interval in m3/s and mass in kg/s, NaN where refused; code bits."""

    value: Floats
    u: Floats
    low: Floats
    high: Floats
    mass_kg_per_s: Floats
    refused: Flags
    choked: Flags
    codes: NDArray[np.uint32]


@dataclass(frozen=True)
class _GasTable:
    """What the gases are to the formula, one entry per gas of ``GAS_KEYS``."""

    k: Floats
    molar: Floats
    critical: Floats
    factor: Floats
    model_error_per_pa: Floats


@cache
def _gas_table() -> _GasTable:
    """Return the gases as columns."""
    gases = [GASES[key] for key in GAS_KEYS]
    return _GasTable(
        np.array([gas.k for gas in gases]),
        np.array([gas.molar_mass_kg_per_mol for gas in gases]),
        np.array([critical_pressure_ratio(gas.k) for gas in gases]),
        np.array([choked_factor(gas.k) for gas in gases]),
        np.array([gas.model_error_per_pa for gas in gases]),
    )


def batch_flow(leaks: Leaks, *, state: ReferenceState = DEFAULT_STATE) -> Flows:
    """Return for every row what ``leak_flow`` returns for it, to a relative 1e-12, refusals included.

    Raises ValueError for columns whose lengths don't agree and IndexError for an unknown gas or edge.
    """
    table = _gas_table()
    gas, edge = np.asarray(leaks.gas, dtype=np.intp), np.asarray(leaks.edge, dtype=np.intp)
    own, own_u = _floats(leaks.coefficient), _floats(leaks.coefficient_u)
    of_edge = np.isnan(own)
    by_edge = np.array([DISCHARGE_COEFFICIENTS[name] for name in EDGES])[edge]
    coefficient = np.where(of_edge, by_edge[..., 0], own)
    quantities = (
        (_floats(leaks.diameter_m), _floats(leaks.diameter_u_m)),
        (_floats(leaks.upstream_pa), _floats(leaks.upstream_u_pa)),
        (_floats(leaks.temperature_k), _floats(leaks.temperature_u_k)),
        (coefficient, np.where(of_edge, by_edge[..., 1], own_u)),
    )
    downstream = _floats(leaks.downstream_pa)
    (diameter, _), (upstream, _), (temperature, _), _ = quantities
    with np.errstate(all="ignore"):
        ratio = downstream / upstream
        choked = ratio <= table.critical[gas]
        factor, exponent = _flow_factors(ratio, choked, gas, table)
        area = np.pi / 4.0 * diameter * diameter
        specific = MOLAR_GAS_CONSTANT_J_PER_MOL_K * temperature / table.molar[gas]
        mass = coefficient * area * upstream / np.sqrt(specific) * factor
        value = mass / (
            table.molar[gas] * state.pressure_pa / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * state.temperature_k)
        )
        u_d, u_p, u_t, u_c = (u / number for number, u in quantities)
        model_error = table.model_error_per_pa[gas] * upstream
        u_p = exponent * u_p
        u = value * np.sqrt(4.0 * u_d * u_d + u_c * u_c + u_p * u_p + 0.25 * u_t * u_t + model_error**2)
        refusals = _refusals(quantities, downstream, gas)
        remarks = _remarks(of_edge, edge, model_error, u_p)
        return _assembled((value, u, mass), choked, refusals, remarks)


def codes_of(bits: int) -> tuple[str, ...]:
    """Return the codes that a row's bits stand for."""
    return tuple(code for place, code in enumerate(CODES) if bits >> place & 1)


def _floats(column: ArrayLike) -> Floats:
    """Return a column as numbers."""
    return np.asarray(column, dtype=np.float64)


def _flow_factors(
    ratio: Floats, choked: Flags, gas: NDArray[np.intp], table: _GasTable
) -> tuple[Floats, Floats]:
    """Return the flow factor and the pressure exponent; logarithms are taken of subsonic rows only."""
    ratio, choked, gas = np.broadcast_arrays(ratio, choked, gas)
    factor, exponent = table.factor[gas], np.ones(ratio.shape)
    rows = np.flatnonzero(~choked)
    if rows.size:
        k, log = table.k[gas.reshape(-1)[rows]], np.log(ratio.reshape(-1)[rows])
        part = -np.expm1((k - 1.0) / k * log)
        factor.reshape(-1)[rows] = np.sqrt(2.0 * k / (k - 1.0) * np.exp(2.0 / k * log) * part)
        exponent.reshape(-1)[rows] = (k - 1.0) / k * (1.0 + part) / (2.0 * part)
    return factor, exponent


def _refusals(
    quantities: tuple[tuple[Floats, Floats], ...], downstream: Floats, gas: NDArray[np.intp]
) -> list[Flags]:
    """Return, in the order of ``REFUSALS``, which rows are refused for it, as one leak is."""
    diameter, upstream, temperature, coefficient = (value for value, _ in quantities)
    unfinished = ~np.isfinite(downstream)
    negative: Flags = np.zeros((), dtype=np.bool_)
    large: Flags = np.zeros((), dtype=np.bool_)
    for value, u in quantities:
        size = np.abs(value)
        unfinished = unfinished | ~(np.isfinite(value) & np.isfinite(u))
        negative = negative | (u < 0.0)
        large = large | ((u > size) & (size > 0.0))
    sound = ~unfinished
    negative = negative & sound
    sound = sound & ~negative
    large = large & sound
    sound = sound & ~large
    lowest, highest = TEMPERATURE_LIMITS_K
    tempered = sound & (temperature >= lowest) & (temperature <= highest)
    below = (downstream < 0.0) | (upstream <= 0.0)
    return [
        unfinished,
        negative,
        large,
        sound & ~((diameter > 0.0) & (diameter <= LARGEST_DIAMETER_M * (1.0 + 1e-9))),
        sound & ~((coefficient > 0.0) & (coefficient <= 1.0)),
        sound & ~tempered,
        tempered & below,
        tempered & ~below & (upstream <= downstream),
        tempered & (upstream > HIGHEST_PRESSURE_PA),
        tempered & _liquid(upstream, temperature, gas),
    ]


def _liquid(upstream: Floats, temperature: Floats, gas: NDArray[np.intp]) -> Flags:
    """Return which rows stand above the vapour pressure of their gas."""
    upstream, temperature, gas = np.broadcast_arrays(upstream, temperature, gas)
    liquid = np.zeros(gas.shape, dtype=np.bool_)
    for index, key in enumerate(GAS_KEYS):
        line = GASES[key].saturation
        if line is not None:
            rows = gas == index
            liquid[rows] = upstream[rows] > _vapour_pressure_pa(line, temperature[rows])
    return liquid


def _vapour_pressure_pa(line: SaturationLine, temperature: Floats) -> Floats:
    """Return ``line.pressure_pa`` of each temperature."""
    (cold, warm), (low, high) = line.temperatures_k, line.pressures_pa
    slope = np.log(high / low) / (1.0 / cold - 1.0 / warm)
    below = high * np.exp(slope * (1.0 / warm - 1.0 / temperature))
    pressures: Floats = np.where(temperature >= line.critical_temperature_k, np.inf, below)
    return pressures


def _remarks(
    of_edge: Flags, edge: NDArray[np.intp], model_error: Floats, pressure_part: Floats
) -> list[Flags]:
    """Return, in the order of ``REMARKS``, which rows earn it."""
    return [
        of_edge & (edge == EDGES.index(Edge.UNKNOWN)),
        of_edge & (edge == EDGES.index(Edge.SHARP)),
        model_error > NOTABLE_MODEL_ERROR,
        pressure_part > NOTABLE_PRESSURE_PART,
    ]


def _assembled(
    numbers: tuple[Floats, Floats, Floats], choked: Flags, refusals: list[Flags], remarks: list[Flags]
) -> Flows:
    """Return the rows of full length from value, u and mass, without a number where they are refused."""
    shapes = (column.shape for column in (*numbers, *refusals, *remarks))
    bits = np.zeros(np.broadcast_shapes(*shapes, (1,)), dtype=np.uint32)
    for place, flags in enumerate(refusals):
        bits |= flags * np.uint32(1 << place)
    refused = bits != 0
    kept = ~refused
    for place, flags in enumerate(remarks, start=len(refusals)):
        bits |= (flags & kept) * np.uint32(1 << place)
    value, u, mass = (np.where(refused, np.nan, column) for column in numbers)
    reach = COVERAGE_95 * u
    low, high = np.maximum(value - reach, 0.0), value + reach
    return Flows(value, u, low, high, mass, refused, choked & kept, bits)
