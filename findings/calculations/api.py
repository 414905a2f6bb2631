"""Doors of the calculations: what there is, and one address for each."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Final

from rest_framework.response import Response

from findings.kinds.calculations import CALCULATIONS, Calculation, InvalidInput, calculate
from plantcare.api import shapes, units
from plantcare.api.problems import FieldError, Invalid
from plantcare.api.schema import DoorSchema
from plantcare.api.views import SIGNED_IN, Door


class CalculationShape(shapes.Shape):
    """A calculation: its name, what it takes, an example, and where its method comes from."""

    name = shapes.TextField()
    title = shapes.TextField()
    schema = shapes.JsonObjectField()
    answer = shapes.JsonObjectField()
    example = shapes.JsonObjectField()
    source = shapes.TextField()  # type: ignore[assignment]


class CalculationListShape(shapes.Shape):
    """All calculations."""

    results = CalculationShape(many=True)


class Calculations(Door):
    """The calculations that can be asked for by name."""

    operation, room = "calculation_list", "calculations"
    needs: ClassVar = {"GET": SIGNED_IN}
    site_field = None
    shape = CalculationListShape

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer them with their schemas."""
        return self.answer({"results": list(CALCULATIONS.values())})


class CalculationSchema(DoorSchema):
    """Describes a calculation by its own schema and example."""

    def get_request_serializer(self) -> Any:
        """Return the schema of the input, as the calculation itself checks it."""
        calculation = self.view.calculation
        schema = {**calculation.schema, "examples": [dict(calculation.example)]}
        return {"application/json": schema}

    def _get_request_body(self, direction: Any = "request") -> Any:
        return {**super()._get_request_body(direction), "required": True}

    def get_response_serializers(self) -> Any:
        """Return the schema of the answer, with what the example comes to."""
        calculation = self.view.calculation
        answer = calculate(calculation.name, dict(calculation.example))
        return {200: {**_in_any_units(calculation.answer), "examples": [answer]}}


def _in_any_units(schema: Mapping[str, Any]) -> dict[str, Any]:
    """Return an answer's schema for every unit system: what other units rename isn't required in SI."""
    told = dict(schema)
    if "items" in told:
        told["items"] = _in_any_units(told["items"])
    if "properties" in told:
        told["properties"] = {name: _in_any_units(inner) for name, inner in told["properties"].items()}
        told["required"] = [name for name in told["required"] if not _is_renamed(name)]
        if any(map(_is_renamed, told["properties"])):
            told.pop("additionalProperties")
    return told


def _is_renamed(name: str) -> bool:
    """Tell whether a figure bears another name in some other units."""
    return any(name not in units.rendered({name: None}, system) for system in units.systems())


class CalculationDoor(Door):
    """Work one thing out from the body alone."""

    calculation: ClassVar[Calculation]
    room = "calculations"
    needs: ClassVar = {"POST": SIGNED_IN}
    site_field = None
    # The same input gives the same answer without any key.
    replayable = False
    schema = CalculationSchema()

    def post(self, *_: Any, **__: Any) -> Response:
        """Answer the result, or every place where the input doesn't fit."""
        try:
            return Response(calculate(self.calculation.name, self.request.data))
        except InvalidInput as wrong:
            errors = [FieldError(place.pointer, "invalid", place.message) for place in wrong.problems]
            raise Invalid(errors=errors) from None


def _door_of(calculation: Calculation) -> type[CalculationDoor]:
    members = {
        "__doc__": f"{calculation.title}. {calculation.source}",
        "__module__": __name__,
        "calculation": calculation,
        "operation": f"calculate_{calculation.name.replace('-', '_')}",
        # Each door describes itself: a schema object belongs to one class.
        "schema": CalculationSchema(),
    }
    return type(f"{calculation.name.title().replace('-', '')}Door", (CalculationDoor,), members)


DOORS: Final[Mapping[str, type[CalculationDoor]]] = {
    name: _door_of(calculation) for name, calculation in CALCULATIONS.items()
}
"""One door per calculation, so that each is described by its own schema."""
