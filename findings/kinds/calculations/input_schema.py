"""A strict check of plain JSON input against the part of JSON Schema that the calculations use."""

import math
from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any, NamedTuple

LONGEST_DECIMAL = 40
LARGEST_EXPONENT = 40


class Problem(NamedTuple):
    """What is wrong at a place in the input, named by its JSON pointer."""

    pointer: str
    message: str


def check(data: Any, schema: Mapping[str, Any], pointer: str = "") -> tuple[Problem, ...]:
    """Return every problem of ``data``; none means it may be computed with."""
    return tuple(_CHECKS[_kind(schema)](data, schema, pointer))


def decimal_of(value: Any) -> Decimal | None:
    """Return the finite decimal a JSON number or string stands for, or None."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return None
    text = str(value)
    if len(text) > LONGEST_DECIMAL:
        return None
    try:
        number = Decimal(text)
    except InvalidOperation:
        return None
    sane = number.is_finite() and abs(number.adjusted()) <= LARGEST_EXPONENT
    return number if sane else None


def _kind(schema: Mapping[str, Any]) -> str:
    """Return which check a schema wants."""
    return "decimal" if schema.get("format") == "decimal" else str(schema["type"])


def _object(data: Any, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problems of an object and of its members."""
    if not isinstance(data, Mapping):
        yield Problem(pointer, "must be an object")
        return
    properties = schema["properties"]
    for name in schema.get("required", ()):
        if name not in data:
            yield Problem(f"{pointer}/{name}", "is required")
    for name, value in data.items():
        place = f"{pointer}/{str(name)[:60].replace('~', '~0').replace('/', '~1')}"
        if name in properties:
            yield from check(value, properties[name], place)
        else:
            yield Problem(place, "is not an input of this calculation")


def _array(data: Any, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problems of a list and of its items."""
    if not isinstance(data, list):
        yield Problem(pointer, "must be a list")
        return
    if not schema["minItems"] <= len(data) <= schema["maxItems"]:
        yield Problem(pointer, f"must hold {schema['minItems']} to {schema['maxItems']} items")
        return
    for index, item in enumerate(data):
        yield from check(item, schema["items"], f"{pointer}/{index}")


def _bounds(number: float | Decimal, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problem of a number outside its bounds."""
    if "exclusiveMinimum" in schema and number <= schema["exclusiveMinimum"]:
        yield Problem(pointer, f"must be above {schema['exclusiveMinimum']}")
    if "minimum" in schema and number < schema["minimum"]:
        yield Problem(pointer, f"must not be below {schema['minimum']}")
    if "maximum" in schema and number > schema["maximum"]:
        yield Problem(pointer, f"must not be above {schema['maximum']}")


def _number(data: Any, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problems of a finite number."""
    if isinstance(data, bool) or not isinstance(data, int | float):
        yield Problem(pointer, "must be a number")
    elif isinstance(data, float) and not math.isfinite(data):
        yield Problem(pointer, "must be a finite number")
    else:
        yield from _bounds(data, schema, pointer)


def _integer(data: Any, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problems of a whole number."""
    if isinstance(data, bool) or not isinstance(data, int):
        yield Problem(pointer, "must be a whole number")
    else:
        yield from _bounds(data, schema, pointer)


def _decimal(data: Any, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problems of an exact number, written as a string or a number."""
    number = decimal_of(data)
    if number is None:
        yield Problem(pointer, "must be a decimal number, such as '0.15'")
    else:
        yield from _bounds(number, schema, pointer)


def _string(data: Any, schema: Mapping[str, Any], pointer: str) -> Iterator[Problem]:
    """Yield the problems of a text: one of an enumeration, or of bounded length without control signs."""
    if not isinstance(data, str):
        yield Problem(pointer, "must be a text")
    elif "enum" in schema and data not in schema["enum"]:
        yield Problem(pointer, f"must be one of {', '.join(schema['enum'])}")
    elif not schema.get("minLength", 0) <= len(data) <= schema.get("maxLength", 60):
        yield Problem(pointer, "has the wrong length")
    elif not data.isprintable():
        yield Problem(pointer, "holds signs that can't be printed")


_CHECKS = {
    "object": _object,
    "array": _array,
    "number": _number,
    "integer": _integer,
    "decimal": _decimal,
    "string": _string,
}
