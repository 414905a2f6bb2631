"""A strict check of plain JSON input against the part of JSON Schema that the calculations use."""

import math
from collections.abc import Iterator, Mapping
from decimal import Decimal, InvalidOperation
from itertools import islice
from typing import Any, NamedTuple

LONGEST_DECIMAL = 40
LARGEST_EXPONENT = 40
MOST_PROBLEMS_OF_A_LIST = 50


class Problem(NamedTuple):
    """What is wrong at a place in the input, named by its JSON pointer."""

    pointer: str
    message: str


def check(data: Any, schema: Mapping[str, Any], pointer: str = "") -> tuple[Problem, ...]:
    """Return every problem of ``data``; none means it may be computed with; a list names its first 50."""
    if data is None and "null" in _types(schema):
        return ()
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


def _types(schema: Mapping[str, Any]) -> list[str]:
    """Return the JSON types that a schema takes."""
    types = schema["type"]
    return [types] if isinstance(types, str) else list(types)


def _kind(schema: Mapping[str, Any]) -> str:
    """Return which check a schema wants."""
    if schema.get("format") == "decimal":
        return "decimal"
    return next(kind for kind in _types(schema) if kind != "null")


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
    if _all_fit(data, schema["items"]):
        return
    each = (
        problem
        for index, item in enumerate(data)
        for problem in check(item, schema["items"], f"{pointer}/{index}")
    )
    yield from islice(each, MOST_PROBLEMS_OF_A_LIST)


def _all_fit(data: list[Any], item: Mapping[str, Any]) -> bool:
    """Tell at a glance whether a list holds fitting numbers or words only; else a closer look names them."""
    kept = [entry for entry in data if entry is not None] if "null" in _types(item) else data
    types = set(map(type, kept))
    if "enum" in item:
        return types <= {str} and set(kept) <= set(item["enum"])
    if _kind(item) != "number" or not types <= {int, float}:
        return False
    try:
        finite = all(map(math.isfinite, kept))
    except OverflowError:
        return False
    ends = (min(kept), max(kept)) if kept else ()
    return finite and not any(True for end in ends for _ in _bounds(end, item, ""))


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
