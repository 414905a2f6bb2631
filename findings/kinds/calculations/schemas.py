"""Pieces of which the calculations build their schemas; every field carries its unit in its name."""

from typing import Any

from findings.physics.estimate import Status
from findings.physics.reference_states import DEFAULT_STATE, STATES

Schema = dict[str, Any]


def positive(most: float, description: str) -> Schema:
    """Return the schema of a number above zero."""
    return {"type": "number", "exclusiveMinimum": 0, "maximum": most, "description": description}


def at_least_zero(most: float, description: str) -> Schema:
    """Return the schema of a number not below zero."""
    return {"type": "number", "minimum": 0, "maximum": most, "description": description}


def exact(most: int, description: str) -> Schema:
    """Return the schema of an exact decimal not below zero, written as a string or a number."""
    return {
        "type": ["string", "number"],
        "format": "decimal",
        "minimum": 0,
        "maximum": most,
        "description": description,
    }


def choice(words: list[str], description: str, default: str | None = None) -> Schema:
    """Return the schema of one word out of several."""
    schema: Schema = {"type": "string", "enum": words, "description": description}
    return schema if default is None else {**schema, "default": default}


def inputs(required: list[str], properties: dict[str, Schema]) -> Schema:
    """Return the schema of a calculation's whole input."""
    return {
        "type": "object",
        "required": required,
        "properties": properties,
        "additionalProperties": False,
    }


ATMOSPHERE = {**positive(2e5, "Atmosphere, Pa absolute."), "default": 101325.0}
TEMPERATURE = {**positive(2000.0, "Gas temperature, K."), "default": 293.15}
STATE = choice(list(STATES), "Reference state of the flow given back.", DEFAULT_STATE.key)
TIMES = {
    "type": "array",
    "minItems": 1,
    "maxItems": 1000,
    "items": at_least_zero(1e6, "Time, s."),
}


def result(description: str, kind: str = "number") -> Schema:
    """Return the schema of a figure in an answer: null where it was refused."""
    return {"type": [kind, "null"], "description": description}


def money(description: str) -> Schema:
    """Return the schema of an exact decimal in an answer, written as a string; null where it was refused."""
    return {"type": ["string", "null"], "format": "decimal", "description": description}


def listing(item: Schema, description: str) -> Schema:
    """Return the schema of a list in an answer."""
    return {"type": "array", "items": item, "description": description}


def bounded(item: Schema, most: int, description: str, *, least: int = 1) -> Schema:
    """Return the schema of a list in an input, of bounded length."""
    return {"type": "array", "minItems": least, "maxItems": most, "items": item, "description": description}


def value_answer(name: str, unit: str, description: str) -> dict[str, Schema]:
    """Return the schema of a value with its spread; ``unit`` ends each name."""
    ending = f"_{unit}" if unit else ""
    return {
        f"{name}{ending}": result(description),
        f"{name}_u{ending}": result("Its standard uncertainty."),
        f"{name}_low{ending}": result("Lower end of its 95 % interval."),
        f"{name}_high{ending}": result("Upper end of its 95 % interval."),
    }


def answer(always: dict[str, Schema], sometimes: dict[str, Schema] | None = None) -> Schema:
    """Return the schema of an answer; ``sometimes`` are the figures that need inputs not everyone gives."""
    return {
        "type": "object",
        "required": list(always),
        "properties": {**always, **(sometimes or {})},
        "additionalProperties": False,
    }


REASONS = listing(
    answer(
        {
            "code": {"type": "string", "description": "Stable, for programs."},
            "text": {"type": "string", "description": "The same for people."},
        }
    ),
    "What was assumed, what limits the figure, or why it was refused.",
)
PROVENANCE = {
    "status": choice(
        [status.value for status in Status], "How the figure came about; refused: there is no figure."
    ),
    "method": {"type": "string", "description": "How it was worked out."},
    "method_version": {"type": "string", "description": "Version of the method."},
    "reasons": REASONS,
}
FLOW_ANSWER = {
    "flow_m3_per_s": result("Volume flow at the reference state, dry, m3/s."),
    "flow_u_m3_per_s": result("Its standard uncertainty, m3/s."),
    "flow_low_m3_per_s": result("Lower end of its 95 % interval, m3/s."),
    "flow_high_m3_per_s": result("Upper end of its 95 % interval, m3/s."),
    "reference_state": choice(list(STATES), "State that the flow refers to."),
    **PROVENANCE,
}
