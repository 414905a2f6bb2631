"""The flows of many leaks at once: what ``leak_flow`` says of each, worked out in columns by numpy.

Imports numpy: load it through ``findings.physics.lazily``.
"""

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from findings.physics.gases import (
    GASES,
    MODEL_ERROR_TEMPERATURE_K,
    MOLAR_GAS_CONSTANT_J_PER_MOL_K,
)
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

WIDEST_M = LARGEST_DIAMETER_M * (1.0 + 1e-9)
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


Pair = tuple[Floats, Floats]
"""A column and its standard uncertainties."""


@dataclass(frozen=True)
class _Tables:
    """What gases and edges are to the formula, one entry for each of ``GAS_KEYS`` and ``EDGES``."""

    k: Floats
    molar: Floats
    critical: Floats
    factor: Floats
    model_error_per_pa: Floats
    coefficient: Floats
    coefficient_u: Floats
    edge_bits: NDArray[np.uint32]
    condenses: Flags
    line_slope: Floats
    line_warm: Floats
    line_high: Floats
    line_critical: Floats


def _lines() -> tuple[Floats, Floats, Floats, Floats]:
    """Return slope, 1/T and p of the warm end and critical temperature of each vapour line, 0 for none."""
    rows = []
    for gas in (GASES[key] for key in GAS_KEYS):
        if gas.saturation is None:
            rows.append((0.0, 0.0, 0.0, 0.0))
        else:
            (cold, warm), (low, high) = gas.saturation.temperatures_k, gas.saturation.pressures_pa
            slope = math.log(high / low) / (1.0 / cold - 1.0 / warm)
            rows.append((slope, 1.0 / warm, high, gas.saturation.critical_temperature_k))
    slopes, warms, highs, criticals = np.array(rows).T
    return slopes, warms, highs, criticals


@cache
def _tables() -> _Tables:
    """Return gases and edges as columns."""
    gases = [GASES[key] for key in GAS_KEYS]
    coefficients = [DISCHARGE_COEFFICIENTS[edge] for edge in EDGES]
    remarks = {Edge.UNKNOWN: "edge_unknown", Edge.SHARP: "sharp_edge_convention"}
    bits = [1 << CODES.index(remarks[edge]) if edge in remarks else 0 for edge in EDGES]
    return _Tables(
        np.array([gas.k for gas in gases]),
        np.array([gas.molar_mass_kg_per_mol for gas in gases]),
        np.array([critical_pressure_ratio(gas.k) for gas in gases]),
        np.array([choked_factor(gas.k) for gas in gases]),
        np.array([gas.model_error_per_pa for gas in gases]),
        np.array([coefficient.value for coefficient in coefficients]),
        np.array([coefficient.u for coefficient in coefficients]),
        np.array(bits, dtype=np.uint32),
        np.array([gas.saturation is not None for gas in gases]),
        *_lines(),
    )


def batch_flow(leaks: Leaks, *, state: ReferenceState = DEFAULT_STATE) -> Flows:
    """Return for every row what ``leak_flow`` returns for it, to a relative 1e-12, refusals included.

    Raises ValueError for columns whose lengths don't agree and IndexError for an unknown gas or edge.
    """
    tables = _tables()
    gas, edge = np.asarray(leaks.gas, dtype=np.intp), np.asarray(leaks.edge, dtype=np.intp)
    own = _floats(leaks.coefficient)
    of_edge = np.isnan(own)
    quantities = (
        (_floats(leaks.diameter_m), _floats(leaks.diameter_u_m)),
        (_floats(leaks.upstream_pa), _floats(leaks.upstream_u_pa)),
        (_floats(leaks.temperature_k), _floats(leaks.temperature_u_k)),
        (
            np.where(of_edge, tables.coefficient[edge], own),
            np.where(of_edge, tables.coefficient_u[edge], _floats(leaks.coefficient_u)),
        ),
    )
    downstream = _floats(leaks.downstream_pa)
    (diameter, _), (upstream, _), (temperature, _), (coefficient, _) = quantities
    with np.errstate(all="ignore"):
        ratio, molar = downstream / upstream, tables.molar[gas]
        choked = ratio <= tables.critical[gas]
        factor, exponent = _flow_factors(ratio, choked, gas, tables)
        area = np.pi / 4.0 * diameter * diameter
        specific = MOLAR_GAS_CONSTANT_J_PER_MOL_K * temperature / molar
        mass = coefficient * area * upstream / np.sqrt(specific) * factor
        value = mass / (molar * state.pressure_pa / (MOLAR_GAS_CONSTANT_J_PER_MOL_K * state.temperature_k))
        u_d, u_p, u_t, u_c = (u / number for number, u in quantities)
        sound = _sound(quantities, downstream) & ~_liquid(upstream, temperature, gas)
        cold = np.maximum(MODEL_ERROR_TEMPERATURE_K / temperature, 1.0)
        model_error = tables.model_error_per_pa[gas] * upstream * cold * cold * cold
        u_p = exponent * u_p
        u = value * np.sqrt(
            4.0 * u_d * u_d + u_c * u_c + u_p * u_p + 0.25 * u_t * u_t + model_error * model_error
        )
        remarks = np.where(of_edge, tables.edge_bits[edge], np.uint32(0))
        remarks = remarks | _flagged(model_error > NOTABLE_MODEL_ERROR, "ideal_gas_error")
        remarks = remarks | _flagged(u_p > NOTABLE_PRESSURE_PART, "pressure_difference_unsure")
        return _assembled((value, u, mass), choked, sound, remarks, (quantities, downstream, gas))


def codes_of(bits: int) -> tuple[str, ...]:
    """Return the codes that a row's bits stand for."""
    return tuple(code for place, code in enumerate(CODES) if bits >> place & 1)


def _floats(column: ArrayLike) -> Floats:
    """Return a column as numbers."""
    return np.asarray(column, dtype=np.float64)


def _flow_factors(
    ratio: Floats, choked: Flags, gas: NDArray[np.intp], tables: _Tables
) -> tuple[Floats, Floats]:
    """Return the flow factor and the pressure exponent; logarithms are taken of subsonic rows only."""
    ratio, choked, gas = np.broadcast_arrays(ratio, choked, gas)
    factor, exponent = tables.factor[gas], np.ones(ratio.shape)
    rows = np.flatnonzero(~choked)
    if rows.size:
        k, log = tables.k[gas.reshape(-1)[rows]], np.log(ratio.reshape(-1)[rows])
        part = -np.expm1((k - 1.0) / k * log)
        factor.reshape(-1)[rows] = np.sqrt(2.0 * k / (k - 1.0) * np.exp(2.0 / k * log) * part)
        exponent.reshape(-1)[rows] = (k - 1.0) / k * (1.0 + part) / (2.0 * part)
    return factor, exponent


def _flagged(rows: Flags, code: str) -> NDArray[np.uint32]:
    """Return a code's bit in these rows."""
    return rows * np.uint32(1 << CODES.index(code))


def _sound(quantities: tuple[Pair, ...], downstream: Floats) -> Flags:
    """Return the rows without anything wrong but, perhaps, a liquid; a comparison with NaN is never true."""
    (diameter, _), (upstream, _), (temperature, _), (coefficient, _) = quantities
    lowest, highest = TEMPERATURE_LIMITS_K
    sound: Flags = (diameter > 0.0) & (diameter <= WIDEST_M) & (coefficient > 0.0) & (coefficient <= 1.0)
    sound = sound & (temperature >= lowest) & (temperature <= highest)
    sound = sound & (downstream >= 0.0) & (upstream > downstream) & (upstream <= HIGHEST_PRESSURE_PA)
    for value, u in quantities:
        sound = sound & (u >= 0.0) & (u <= value)
    return sound


def _refusals(quantities: tuple[Pair, ...], downstream: Floats, gas: NDArray[np.intp]) -> NDArray[np.uint32]:
    """Return, row by row, the bits of what is wrong, as ``leak_flow`` looks for it."""
    diameter, upstream, temperature, coefficient = (value for value, _ in quantities)
    unfinished = ~np.isfinite(downstream)
    negative: Flags = np.zeros((), dtype=np.bool_)
    large: Flags = np.zeros((), dtype=np.bool_)
    for value, u in quantities:
        size = np.abs(value)
        unfinished = unfinished | ~(np.isfinite(value) & np.isfinite(u))
        negative = negative | (u < 0.0)
        large = large | ((u > size) & (size > 0.0))
    negative = negative & ~unfinished
    large = large & ~(unfinished | negative)
    sound = ~(unfinished | negative | large)
    lowest, highest = TEMPERATURE_LIMITS_K
    tempered = sound & (temperature >= lowest) & (temperature <= highest)
    below = (downstream < 0.0) | (upstream <= 0.0)
    found = (
        unfinished,
        negative,
        large,
        sound & ~((diameter > 0.0) & (diameter <= WIDEST_M)),
        sound & ~((coefficient > 0.0) & (coefficient <= 1.0)),
        sound & ~tempered,
        tempered & below,
        tempered & ~below & (upstream <= downstream),
        tempered & (upstream > HIGHEST_PRESSURE_PA),
        tempered & _liquid(upstream, temperature, gas),
    )
    bits = np.zeros(unfinished.shape, dtype=np.uint32)
    for code, flags in zip(REFUSALS, found, strict=True):
        bits |= _flagged(flags, code)
    return bits


def _liquid(upstream: Floats, temperature: Floats, gas: NDArray[np.intp]) -> Flags:
    """Return which rows stand above the vapour pressure of their gas."""
    tables = _tables()
    shape = np.broadcast_shapes(upstream.shape, temperature.shape, gas.shape, (1,))
    liquid = np.zeros(shape, dtype=np.bool_)
    rows = np.flatnonzero(np.broadcast_to(tables.condenses[gas], shape))
    if rows.size:
        kind, warmth = _rows(gas, shape, rows), _rows(temperature, shape, rows)
        pressure = tables.line_high[kind] * np.exp(
            tables.line_slope[kind] * (tables.line_warm[kind] - 1.0 / warmth)
        )
        condensed = (warmth < tables.line_critical[kind]) & (_rows(upstream, shape, rows) > pressure)
        liquid[rows] = condensed
    return liquid


def _assembled(
    numbers: tuple[Floats, Floats, Floats],
    choked: Flags,
    sound: Flags,
    remarks: NDArray[np.uint32],
    columns: tuple[tuple[Pair, ...], Floats, NDArray[np.intp]],
) -> Flows:
    """Return the rows of full length from value, u and mass; the refused few are looked at closely."""
    shape = np.broadcast_shapes(numbers[1].shape, sound.shape, remarks.shape, (1,))
    value, u, mass = (_filled(column, shape) for column in numbers)
    bits, sound, choked = _filled(remarks, shape), np.broadcast_to(sound, shape), _filled(choked, shape)
    rows = np.flatnonzero(~sound)
    if rows.size:
        quantities, downstream, gas = columns
        pairs = tuple((_rows(one, shape, rows), _rows(u_of, shape, rows)) for one, u_of in quantities)
        bits[rows] = _refusals(pairs, _rows(downstream, shape, rows), _rows(gas, shape, rows))
        value[rows] = u[rows] = mass[rows] = np.nan
        choked[rows] = False
    reach = COVERAGE_95 * u
    return Flows(value, u, np.maximum(value - reach, 0.0), value + reach, mass, ~sound, choked, bits)


def _filled(column: NDArray[Any], shape: tuple[int, ...]) -> NDArray[Any]:
    """Return a column of full length that may be written to."""
    return column if column.shape == shape else np.broadcast_to(column, shape).copy()


def _rows(column: NDArray[Any], shape: tuple[int, ...], rows: NDArray[np.intp]) -> NDArray[Any]:
    """Return some rows of a column."""
    return np.broadcast_to(column, shape)[rows]
