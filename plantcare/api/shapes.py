"""Shapes: the form of what is taken (InputShape) and of what is answered (Shape)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, ClassVar

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from plantcare.api.failures import flatten
from plantcare.api.fields import (
    AwareDateTimeField,
    BooleanField,
    ChoiceField,
    CurrencyField,
    DateField,
    DecimalString,
    FileField,
    FloatField,
    IntegerField,
    JsonObjectField,
    TextField,
    UuidField,
)
from plantcare.api.problems import FieldError, Invalid, Unprocessable, pointer

__all__ = [
    "AwareDateTimeField",
    "BatchResultShape",
    "BooleanField",
    "ChoiceField",
    "CurrencyField",
    "DateField",
    "DecimalString",
    "FileField",
    "FloatField",
    "InputShape",
    "IntegerField",
    "JsonObjectField",
    "ListField",
    "MoneyShape",
    "Shape",
    "TextField",
    "UuidField",
]


class ListField(serializers.ListField):
    """A list of at most ``max_length`` values."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 1_000)
        super().__init__(**kwargs)

    def to_internal_value(self, data: Any) -> list[Any]:
        """Refuse anything but a JSON array."""
        if not isinstance(data, list):
            self.fail("not_a_list", input_type=type(data).__name__)
        return list(super().to_internal_value(data))


class Shape(serializers.Serializer[Any]):
    """The form of an answer.

    ``?fields=id,state`` leaves only the named members. Members named in ``expandable`` are
    given only when ``?expand=`` names them.
    """

    expandable: ClassVar[Sequence[str]] = ()

    def get_fields(self) -> dict[str, Any]:
        """Return the members that this request asks for."""
        fields = dict(super().get_fields())
        if not self._is_outermost():
            return {name: field for name, field in fields.items() if name not in self.expandable}
        query = getattr(self.context.get("request"), "query_params", {})
        expanded = _names(query, "expand", self.expandable)
        fields = {n: f for n, f in fields.items() if n in expanded or n not in self.expandable}
        wanted = _names(query, "fields", fields)
        return {n: f for n, f in fields.items() if n in wanted} if wanted else fields

    def _is_outermost(self) -> bool:
        parent: Any = self.parent
        if isinstance(parent, serializers.ListSerializer):
            parent = parent.parent
        return parent is None and "request" in self.context


class InputShape(serializers.Serializer[Any]):
    """The form of a body: unknown members are refused, nothing is dropped in silence."""

    default_error_messages = {"unknown_member": "This member isn't known here."}

    def to_internal_value(self, data: Any) -> Any:
        """Return the validated members; collect unknown ones beside the other errors."""
        unknown: dict[str, list[Any]] = {}
        if isinstance(data, Mapping):
            message = str(self.error_messages["unknown_member"])
            for name in data:
                field = self.fields.get(name)
                if field is None or field.read_only:
                    unknown[str(name)[:80]] = [serializers.ErrorDetail(message, "unknown_member")]
        try:
            value = super().to_internal_value(data)
        except serializers.ValidationError as exc:
            if isinstance(exc.detail, dict):
                raise serializers.ValidationError({**exc.detail, **unknown}) from None
            raise
        if unknown:
            raise serializers.ValidationError(unknown)
        return value


class MoneyShape(Shape):
    """An amount with its currency."""

    amount = DecimalString(max_digits=18, decimal_places=2)
    currency = CurrencyField()


@extend_schema_field({"type": "object", "description": "A problem document, as a refusal has it."})
class ProblemField(serializers.JSONField):
    """What kept one item from being done."""


class BatchItemShape(Shape):
    """What became of one item: an id, or a problem document."""

    index = IntegerField()
    status = IntegerField()
    id = UuidField(allow_null=True)
    problem = ProblemField(allow_null=True)


class BatchResultShape(Shape):
    """What became of each item, in the order they were sent."""

    results = BatchItemShape(many=True)


class BatchRefused(Unprocessable):
    """All or nothing was asked for, and not all could be done."""

    code = "batch_refused"
    title = "Nothing was kept: at least one item was refused."


def validated(shape: type[InputShape], data: Any, *, partial: bool = False) -> dict[str, Any]:
    """Return the validated members of a body; raise Invalid with JSON pointers."""
    if data is None or (hasattr(data, "lists") and not data):
        data = {}
    taker = shape(data=data, partial=partial)
    if not taker.is_valid():
        raise Invalid(errors=errors_of(taker))
    values = dict(taker.validated_data)
    if partial and not values:
        msg = "Name at least one member to change."
        raise Invalid(msg, code="nothing_to_change")
    return values


def errors_of(taker: serializers.BaseSerializer[Any]) -> list[FieldError]:
    """Return the errors of a serializer that found its data invalid."""
    return list(flatten(serializers.ValidationError(dict(taker.errors)).get_full_details()))


def check_asked(shape: type[Shape], query: Mapping[str, str]) -> None:
    """Refuse unknown names in ``?fields=`` and ``?expand=`` before anything is done."""
    names = set(shape._declared_fields)  # noqa: SLF001 - expandable ones too, whatever is asked for
    if names:
        _names(query, "expand", shape.expandable)
        _names(query, "fields", names)


def batch_of(data: Any, max_items: int) -> tuple[list[Any], bool]:
    """Return the items of a batch and whether it is all or nothing; raise Invalid."""
    errors = list(_batch_errors(data, max_items))
    if errors:
        raise Invalid(errors=errors)
    return data["items"], data.get("all_or_nothing", False)


def refuse_batch_if(all_or_nothing: bool, results: Sequence[Mapping[str, Any]]) -> None:
    """Raise BatchRefused, with pointers into the items, when an item failed and none may."""
    failed = [result for result in results if result["problem"] is not None]
    if not (all_or_nothing and failed):
        return
    errors = []
    for result in failed:
        at, problem = pointer("items", result["index"]), result["problem"]
        inner = [FieldError(at + e["pointer"], e["code"], e["detail"]) for e in problem["errors"]]
        errors += inner or [FieldError(at, problem["code"], problem["detail"])]
    raise BatchRefused(errors=errors)


def _batch_errors(data: Any, max_items: int) -> Iterator[FieldError]:
    if not isinstance(data, dict):
        yield FieldError("", "invalid", "A JSON object with items is needed.")
        return
    for name in sorted(set(data) - {"items", "all_or_nothing"}):
        yield FieldError(pointer(name[:80]), "unknown_member", "This member isn't known here.")
    items = data.get("items")
    if not isinstance(items, list) or not items:
        yield FieldError("/items", "required", "A list with at least one item is needed.")
    elif len(items) > max_items:
        yield FieldError("/items", "max_length", f"At most {max_items} items in one request.")
    if not isinstance(data.get("all_or_nothing", False), bool):
        yield FieldError("/all_or_nothing", "invalid", "true or false.")


def _names(query: Mapping[str, str], parameter: str, known: Any) -> set[str]:
    asked = set(query[parameter].split(",")) if parameter in query else set()
    unknown = sorted(asked - set(known))
    if unknown:
        detail = f"Not known here: {', '.join(name[:80] for name in unknown)}."
        raise Invalid(errors=[FieldError(f"?{parameter}", "invalid_choice", detail)])
    return asked
