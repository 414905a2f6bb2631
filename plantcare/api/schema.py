"""The API's own description: OpenAPI 3.1, from what the doors declare."""

from __future__ import annotations

import inspect
from collections.abc import Iterator, Sequence
from typing import Any, Literal

from drf_spectacular.openapi import AutoSchema
from drf_spectacular.plumbing import ResolvedComponent
from drf_spectacular.utils import OpenApiParameter
from rest_framework import serializers

from plantcare.api import units
from plantcare.api.problems import CONTENT_TYPE
from plantcare.api.shapes import InputShape, Shape

SECURITY = {
    "bearerKey": {"type": "http", "scheme": "bearer", "description": "An API key."},
    "session": {"type": "apiKey", "in": "cookie", "name": "sessionid"},
}
PROBLEM = {
    "type": "object",
    "description": "RFC 9457 problem details.",
    "required": ["type", "title", "status", "detail", "instance", "code", "errors", "request_id"],
    "properties": {
        "type": {"type": "string", "format": "uri-reference"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "instance": {"type": "string"},
        "code": {"type": "string", "description": "Stable; programs decide by it."},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "required": ["pointer", "code", "detail"],
                "properties": {
                    "pointer": {"type": "string", "description": "JSON pointer, or ?name."},
                    "code": {"type": "string"},
                    "detail": {"type": "string"},
                },
            },
        },
        "request_id": {"type": "string"},
    },
}
TITLES = {
    "400": "A value is missing or wrong.",
    "401": "Not signed in.",
    "403": "The right is missing on this site.",
    "404": "Not found, or hidden.",
    "406": "The answer's form isn't accepted.",
    "409": "Conflicts with the present state.",
    "412": "Changed meanwhile.",
    "413": "Too large.",
    "415": "The media type isn't read here.",
    "416": "The file ends before this range.",
    "422": "Well formed, but can't be done as asked.",
    "428": "If-Match is missing.",
    "429": "Too many requests.",
    "503": "A part of the service is away; nothing was stored.",
}
_ID = {"type": "string"}  # any text is taken; one that could do harm is replaced, not refused
_ETAG = {"type": "string", "pattern": '^"v[0-9]{1,18}"$'}
_VISIBLE = {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[!-~]+$"}


class DoorSchema(AutoSchema):
    """Describes a door; other views get the framework's guess plus the problems."""

    view: Any

    def get_operation_id(self) -> str:
        """Return noun_verb; stable, because clients name their functions by it."""
        view: Any = self.view
        if getattr(view, "operation", ""):
            return str(view.operation)
        noun = getattr(view, "noun", "")
        if not noun:
            return str(super().get_operation_id())
        verbs = {
            name: verb
            for kind in reversed(type(view).__mro__)
            for name, verb in getattr(kind, "verbs", {}).items()
        }
        return f"{noun}_{verbs.get(str(self.method), str(self.method).lower())}"

    def get_summary(self) -> str:
        """Return the operation's name in words: "Area: list", "Asset decommission"."""
        name = self.get_operation_id()
        noun = "" if getattr(self.view, "operation", "") else getattr(self.view, "noun", "")
        words = f"{noun}: {name.removeprefix(noun).strip('_')}" if noun else name
        return words.replace("_", " ").capitalize().replace("Api ", "API ")

    def get_description(self) -> str:  # type: ignore[override] # the library drops the arguments
        """Return what the door's own class says of itself."""
        own = type(self.view).__doc__
        return inspect.cleandoc(own) if own else str(super().get_description())

    def get_tags(self) -> list[str]:
        """Return the room."""
        room = getattr(self.view, "room", "")
        return [room] if room else list(super().get_tags())

    def get_auth(self) -> list[dict[str, Any]]:
        """Return the two ways of proving who asks."""
        return [{name: []} for name in SECURITY]

    def get_request_serializer(self) -> Any:
        """Return the input shape of a door that takes a body."""
        if self.method == "GET" or not hasattr(self.view, "input_shape"):
            return None
        if hasattr(self.view, "item_shape"):
            return _batch_shape(self.view.item_shape, self.view.max_items)
        return self.view.input_shape if self.view.input_shape().fields else None

    def get_response_serializers(self) -> Any:
        """Return the answer's shape under its status."""
        status = 201 if self.method == "POST" and self._creates() else 200
        return {status: getattr(self.view, "shape", None) or super().get_response_serializers()}

    def _creates(self) -> bool:
        return bool(getattr(self.view, "creates", False)) and not hasattr(self.view, "item_shape")

    def _is_list_view(self, serializer: Any = None) -> bool:  # noqa: ARG002 - the library's signature
        return self.method == "GET" and hasattr(self.view, "filterset_class")

    def _get_pagination_parameters(self) -> list[Any]:
        return []  # all query parameters are named in get_override_parameters

    def get_filter_backends(self) -> list[Any]:
        """Return none: filters are named in get_override_parameters."""
        return []

    def get_override_parameters(self) -> list[Any]:
        """Return every parameter and header that the door reads."""
        return [*self._headers(), *self._query()]

    def _headers(self) -> Iterator[OpenApiParameter]:
        yield _parameter("X-Request-ID", _ID, "header", "Returned and logged; made here if not sent.")
        if self.method == "POST" and getattr(self.view, "replayable", False):
            yield _parameter(
                "Idempotency-Key",
                _VISIBLE,
                "header",
                required=self.view.creates,
                text="The same key sent again gives the same answer and no second effect; kept for 30 days.",
            )
        if self._needs_version():
            required = self.method == "PATCH" or getattr(self.view, "if_match", "") == "required"
            yield _parameter("If-Match", _ETAG, "header", 'The ETag last read, like "v7".', required=required)
        if hasattr(self.view, "media"):
            yield _parameter("Range", {"type": "string"}, "header", 'One part of the file: "bytes=0-1023".')
        if self.method == "GET" and (hasattr(self.view, "conditional") or hasattr(self.view, "media")):
            yield _parameter("If-None-Match", {"type": "string"}, "header", "An ETag; 304 if it still holds.")

    def _needs_version(self) -> bool:
        if self.method == "PATCH":
            return True
        return self.method == "POST" and getattr(self.view, "if_match", "ignored") != "ignored"

    def _query(self) -> Iterator[OpenApiParameter]:
        if not hasattr(self.view, "needs"):
            return
        yield _parameter(
            "units",
            {"type": "string", "enum": units.systems(), "default": units.SI},
            "query",
            "The unit system of the answer's figures; members are renamed by their unit.",
        )
        shape = getattr(self.view, "shape", None)
        names = list(shape().fields) if shape is not None else []
        if names:
            yield _parameter("fields", _listed(names), "query", "Only these members.", explode=False)
        if shape is not None and shape.expandable:
            yield _parameter(
                "expand", _listed(list(shape.expandable)), "query", "Also these members.", explode=False
            )
        if self.method == "GET" and getattr(self.view, "query_shape", None):
            yield from self._asked(self.view.query_shape())
        if self._is_list_view():
            yield from self._list_query()

    def _list_query(self) -> Iterator[OpenApiParameter]:
        limit = {"type": "integer", "minimum": 1, "maximum": 200, "default": 50}
        yield _parameter("limit", limit, "query", "Rows per page.")
        yield _parameter("cursor", {"type": "string"}, "query", "From next or previous of another page.")
        names = list(self.view.orderings)
        yield _parameter("ordering", {"type": "string", "enum": names, "default": names[0]}, "query")
        for name, chosen in self.view.filterset_class.base_filters.items():
            form = dict(getattr(chosen, "openapi", {"type": "string"}))
            text = form.pop("description", "") or str(chosen.extra.get("help_text", "") or "")
            yield _parameter(name, form, "query", text, explode=False if form["type"] == "array" else None)

    def _asked(self, shape: serializers.Serializer[Any]) -> Iterator[OpenApiParameter]:
        for name, field in shape.fields.items():
            form = self._map_serializer_field(field, "request")  # type: ignore[no-untyped-call]
            yield _parameter(name, form, "query", str(field.help_text or ""), required=field.required)

    def _get_request_body(self, direction: Any = "request") -> Any:
        body = super()._get_request_body(direction)  # type: ignore[no-untyped-call]
        if body and self.method == "PATCH":
            body["required"] = True
        return body

    def _get_serializer_name(self, serializer: Any, direction: Any, bypass_extensions: bool = False) -> str:
        name = str(super()._get_serializer_name(serializer, direction, bypass_extensions))
        name = name.removesuffix("Request") if name.endswith("InputRequest") else name
        return name.removesuffix("Shape")

    def _map_basic_serializer(self, serializer: Any, direction: Any) -> Any:
        schema = super()._map_basic_serializer(serializer, direction)  # type: ignore[no-untyped-call]
        if isinstance(serializer, Shape):
            schema.pop("required", None)  # ?fields= may leave any member out
        elif isinstance(serializer, InputShape):
            schema["additionalProperties"] = False
            if serializer.partial:
                schema["minProperties"] = 1
            if hasattr(serializer, "most_items"):
                schema["properties"]["items"] |= {"minItems": 1, "maxItems": serializer.most_items}
        return schema

    def _get_response_bodies(self, direction: Any = "response") -> dict[str, Any]:
        bodies: dict[str, Any] = super()._get_response_bodies(direction)
        if self.method == "GET" and hasattr(self.view, "conditional"):
            bodies["304"] = {"description": "Not modified."}
        for media in getattr(self.view, "other_media", ()):
            bodies["200"]["content"][media] = {"schema": {"type": "string"}}
        if hasattr(self.view, "media"):
            bodies |= _of_file(self.view.media)
        component = ResolvedComponent(  # type: ignore[no-untyped-call]
            name="Problem", type=ResolvedComponent.SCHEMA, object="Problem", schema=PROBLEM
        )
        self.registry.register_on_missing(component)
        for status in self._problem_statuses():
            bodies[status] = {
                "description": TITLES[status],
                "content": {CONTENT_TYPE: {"schema": component.ref}},
            }
        for status, body in bodies.items():
            body.setdefault("headers", {}).update(self._answer_headers(status))
        return bodies

    def _problem_statuses(self) -> list[str]:
        statuses = {"400", "401", "403", "404", "406", "429", "503"}
        if self.method != "GET":
            statuses |= {"409", "413", "415", "422"}
        if self._needs_version():
            statuses |= {"412", "428"}
        if hasattr(self.view, "media"):
            statuses.add("416")
        return sorted(statuses)

    def _answer_headers(self, status: str) -> dict[str, Any]:
        text = {"type": "string"}
        found: dict[str, Any] = {"X-Request-ID": {"schema": text}}
        if status in ("200", "201", "304") and not self._is_list_view() and hasattr(self.view, "needs"):
            found["ETag"] = {"schema": text, "description": "The version, where there is one."}
        if status == "201":
            found["Location"] = {"schema": {"type": "string", "format": "uri-reference"}}
        if status in ("200", "201") and self.method == "POST" and getattr(self.view, "replayable", False):
            found["Idempotency-Replayed"] = {"schema": {"type": "string", "enum": ["true"]}}
        if status in ("429", "503"):
            found["Retry-After"] = {"schema": {"type": "string"}, "description": "Seconds."}
        return found


def _of_file(media: Sequence[str]) -> dict[str, Any]:
    """Return the answers of a door that gives the bytes of a file."""
    content = {one: {"schema": {"type": "string", "format": "binary"}} for one in media}
    return {
        "200": {"description": "The file.", "content": content},
        "206": {"description": "The part that was asked for.", "content": content},
        "304": {"description": "Not modified."},
    }


def add_security(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Write the security schemes into the document (a POSTPROCESSING_HOOKS entry)."""
    result.setdefault("components", {})["securitySchemes"] = SECURITY
    return result


def share_problems(result: dict[str, Any], **_: Any) -> dict[str, Any]:
    """Describe each problem response once, for all operations (a POSTPROCESSING_HOOKS entry)."""
    shared: dict[str, Any] = {}
    for item in result.get("paths", {}).values():
        for operation in item.values():
            responses = operation.get("responses", {})
            for status, body in responses.items():
                if CONTENT_TYPE in body.get("content", {}):
                    shared.setdefault(f"Problem{status}", body)
                    responses[status] = {"$ref": f"#/components/responses/Problem{status}"}
    result.setdefault("components", {})["responses"] = dict(sorted(shared.items()))
    return result


def _batch_shape(item: Any, most_items: int) -> Any:
    name = item.__name__.removesuffix("Input").removesuffix("Shape")
    members: dict[str, Any] = {
        "most_items": most_items,
        "items": serializers.ListSerializer(child=item()),
        "all_or_nothing": serializers.BooleanField(required=False, default=False),
    }
    return type(f"{name}BatchInput", (InputShape,), members)


def _listed(names: list[str]) -> dict[str, Any]:
    return {"type": "array", "items": {"type": "string", "enum": names}, "minItems": 1}


def _parameter(
    name: str,
    form: Any,
    location: Literal["query", "header"],
    text: str = "",
    *,
    required: bool = False,
    explode: bool | None = None,
) -> OpenApiParameter:
    return OpenApiParameter(
        name, type=form, location=location, description=text, required=required, explode=explode
    )
