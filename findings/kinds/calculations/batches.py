"""The flows of many holes in one call, in columns: one list per quantity, one entry per leak.

Columns, because ten thousand rows as objects take longer to read and check than to work out.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import STANDARD_ATMOSPHERE_PA
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.physics import lazily, leak_flow
from findings.physics.gases import GASES
from findings.physics.input_check import NEGATIVE, TOO_LARGE
from findings.physics.leak_flow import Edge
from findings.physics.reference_states import DEFAULT_STATE, STATES

MOST_ROWS = 10_000
ONE_FOR_ALL = "One entry per leak, or a single one for all of them. "
_MISSING = "A value of this row is missing or isn't a finite number."
WORDS = {
    "not_finite": _MISSING,
    NEGATIVE.code: NEGATIVE.text,
    TOO_LARGE.code: TOO_LARGE.text,
    **leak_flow.WORDS,
}


def _numbers(description: str, default: float | None = None, *, gaps: bool = False) -> schemas.Schema:
    """Return the schema of a column of numbers; what no leak can have is refused row by row, not here."""
    item = {"type": ["number", "null"] if gaps else "number", "minimum": -1e9, "maximum": 1e9}
    column = schemas.bounded(item, MOST_ROWS, ONE_FOR_ALL + description)
    return column if default is None else {**column, "default": [default]}


def _words(words: list[str], description: str, default: str) -> schemas.Schema:
    """Return the schema of a column of words."""
    item = {"type": "string", "enum": words}
    return {**schemas.bounded(item, MOST_ROWS, ONE_FOR_ALL + description), "default": [default]}


COLUMNS = {
    "gas": _words(list(GASES), "The gas that flows.", "air"),
    "diameter_m": _numbers("Hole diameter, m; null: unknown, the row is refused.", gaps=True),
    "diameter_u_m": _numbers("Its standard uncertainty, m.", 0.0),
    "edge": _words([edge.value for edge in Edge], "Shape of the hole's inlet.", Edge.UNKNOWN.value),
    "discharge_coefficient": _numbers("Its own coefficient; null: that of the edge.", gaps=True),
    "discharge_coefficient_u": _numbers("Its standard uncertainty.", 0.0),
    "pressure_gauge_pa": _numbers(
        "Pressure before the hole, Pa gauge; null: unknown, the row is refused.", gaps=True
    ),
    "pressure_u_pa": _numbers("Its standard uncertainty, Pa.", 0.0),
    "downstream_absolute_pa": _numbers(
        "Pressure behind the hole, Pa absolute; null: the atmosphere.", gaps=True
    ),
    "temperature_k": _numbers("Gas temperature, K.", 293.15),
    "temperature_u_k": _numbers("Its standard uncertainty, K.", 0.0),
}
ORIFICE_FLOW_BATCH = schemas.inputs(
    ["diameter_m", "pressure_gauge_pa"],
    {**COLUMNS, "atmosphere_absolute_pa": schemas.ATMOSPHERE, "reference_state": schemas.STATE},
)

ORIFICE_FLOW_BATCH_ANSWER = schemas.answer(
    {
        "rows": {"type": "integer", "description": "Leaks in each column."},
        "refused": {"type": "integer", "description": "Leaks without a figure."},
        "flow_m3_per_s": schemas.listing(
            schemas.result("Flow."), "Volume flows at the reference state, dry, m3/s."
        ),
        "flow_u_m3_per_s": schemas.listing(schemas.result("u."), "Their standard uncertainties, m3/s."),
        "flow_low_m3_per_s": schemas.listing(
            schemas.result("End."), "Lower ends of their 95 % intervals, m3/s."
        ),
        "flow_high_m3_per_s": schemas.listing(
            schemas.result("End."), "Upper ends of their 95 % intervals, m3/s."
        ),
        "mass_flow_kg_per_s": schemas.listing(schemas.result("Flow."), "Mass flows, kg/s."),
        "regime": schemas.listing(
            schemas.result("choked or subsonic.", "string"), "How each leak flows; null where refused."
        ),
        "status": schemas.listing(
            schemas.choice(["estimated", "refused"], "One leak's."), "How each came about."
        ),
        "codes": schemas.listing(
            schemas.listing({"type": "string", "description": "A reason's code."}, "One leak's."),
            "Why each is what it is or was refused; explained once in reasons.",
        ),
        "method": schemas.PROVENANCE["method"],
        "method_version": schemas.PROVENANCE["method_version"],
        "reasons": schemas.REASONS,
        "reference_state": schemas.choice(list(STATES), "State that every flow refers to."),
    }
)


def orifice_flow_batch(data: Mapping[str, Any]) -> Json:
    """Return the flow of each leak in columns, each refused for itself; InvalidInput for odd lengths."""
    _check_lengths(data)
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    batch = lazily.load("findings.physics.batch_flow")
    flows = batch.batch_flow(batch.Leaks(**_columns(data)), state=state)
    refused, bits = flows.refused.tolist(), flows.codes.tolist()
    explained = {each: list(batch.codes_of(each)) for each in set(bits)}
    met = {code for codes in explained.values() for code in codes}
    numbers = {
        "flow_m3_per_s": flows.value,
        "flow_u_m3_per_s": flows.u,
        "flow_low_m3_per_s": flows.low,
        "flow_high_m3_per_s": flows.high,
        "mass_flow_kg_per_s": flows.mass_kg_per_s,
    }
    regimes = {True: "choked", False: "subsonic"}
    return {
        "rows": len(bits),
        "refused": sum(refused),
        **{
            name: [None if gone else number for gone, number in zip(refused, column.tolist(), strict=True)]
            for name, column in numbers.items()
        },
        "regime": [
            None if gone else regimes[choked]
            for gone, choked in zip(refused, flows.choked.tolist(), strict=True)
        ],
        "status": ["refused" if gone else "estimated" for gone in refused],
        "codes": [explained[each] for each in bits],
        "method": leak_flow.METHOD,
        "method_version": leak_flow.VERSION,
        "reasons": [{"code": code, "text": WORDS[code]} for code in batch.CODES if code in met],
        "reference_state": state.key,
    }


def _check_lengths(data: Mapping[str, Any]) -> None:
    """Raise InvalidInput for each column that holds neither one entry nor as many as the longest."""
    lengths = {name: len(data[name]) for name in COLUMNS if name in data}
    rows = max(lengths.values())
    wrong = [name for name, length in lengths.items() if length not in (1, rows)]
    if wrong:
        text = f"must hold 1 entry or {rows}, as many as the longest list"
        raise InvalidInput(*(Problem(f"/{name}", text) for name in wrong))


def _columns(data: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Return the columns as the batch takes them: indices for words, absolute pressures, None for gaps."""
    atmosphere = float(data.get("atmosphere_absolute_pa", STANDARD_ATMOSPHERE_PA))
    behind = data.get("downstream_absolute_pa", [None])
    gases, edges = list(GASES), list(Edge)
    return {
        "gas": _indices(data.get("gas", ["air"]), gases),
        "edge": _indices(data.get("edge", [Edge.UNKNOWN]), edges),
        "coefficient": data.get("discharge_coefficient", [None]),
        "coefficient_u": data.get("discharge_coefficient_u", [0.0]),
        "diameter_m": data["diameter_m"],
        "diameter_u_m": data.get("diameter_u_m", [0.0]),
        "upstream_pa": [None if p is None else p + atmosphere for p in data["pressure_gauge_pa"]],
        "upstream_u_pa": data.get("pressure_u_pa", [0.0]),
        "downstream_pa": [atmosphere if p is None else p for p in behind],
        "temperature_k": data.get("temperature_k", [293.15]),
        "temperature_u_k": data.get("temperature_u_k", [0.0]),
    }


def _indices(words: list[str], known: Sequence[str]) -> list[int]:
    """Return each word's place among the known ones."""
    places = {word: place for place, word in enumerate(known)}
    return [places[word] for word in words]


ROWS = (
    Calculation(
        "orifice-flow-batch",
        "Flows through many holes of known size",
        orifice_flow_batch,
        ORIFICE_FLOW_BATCH,
        ORIFICE_FLOW_BATCH_ANSWER,
        {
            "gas": ["air", "air", "nitrogen", "propane"],
            "diameter_m": [0.0016, 0.0008, 0.002, None],
            "diameter_u_m": [0.0002, 0.0001, 0.0002, 0.0],
            "edge": ["sharp", "unknown", "rounded", "unknown"],
            "pressure_gauge_pa": [700000.0, 650000.0, 400000.0, 200000.0],
            "pressure_u_pa": [10000.0],
        },
        "Isentropic nozzle (ISO 9300 form) and JCGM 100; each row as in orifice-flow.",
    ),
)
