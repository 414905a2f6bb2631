"""Doors: the building blocks of every API view.

A room's ``api.py`` names the right per method, the rows and shapes, and makes one call into its actions::

    from findings.detectors import actions, queries
    from findings.plant import queries as plant
    from plantcare.api import filtering, shapes
    from plantcare.api.references import Reference
    from plantcare.api.views import ActDoor, ChangeDoor, CreateDoor, ListDoor

    class InstrumentShape(shapes.Shape):            # what is answered
        id = shapes.UuidField()
        site_id = shapes.UuidField()
        name = shapes.TextField()
        version = shapes.IntegerField()

    class InstrumentInput(shapes.InputShape):       # what is taken; unknown members are refused
        site_id = shapes.UuidField()
        area_id = shapes.UuidField(required=False, allow_null=True)
        name = shapes.TextField(max_length=80)

    class InstrumentChange(shapes.InputShape):
        name = shapes.TextField(max_length=80)

    class InstrumentFilters(filtering.StrictFilterSet):
        site_id = filtering.UuidFilter()
        state = filtering.ChoicesFilter(choices=[("in_use", "in use"), ("lost", "lost")])
        q = filtering.TextFilter(fields=["name", "serial"])

    class Instruments(CreateDoor, ListDoor):        # path("instruments", Instruments.as_view())
        noun, room = "instrument", "detectors"
        needs = {"GET": "view", "POST": "manage_instruments"}
        shape, input_shape, filterset_class = InstrumentShape, InstrumentInput, InstrumentFilters
        orderings = {"-created_at": ("-created_at",), "name": ("name",)}   # the first is default
        references = {"area_id": Reference(plant.areas)}   # foreign or unknown: 400, same words

        def rows(self):
            return queries.instruments()            # narrowed by the policy, not here

        def act(self, data):
            return actions.add_instrument(actor=self.actor, at=self.at, **data)

    class Instrument(ChangeDoor):                   # path("instruments/<uuid:id>", ...)
        noun, room = "instrument", "detectors"
        needs = {"GET": "view", "PATCH": "manage_instruments"}
        shape, input_shape = InstrumentShape, InstrumentChange    # rows as above

        def change(self, obj, data):                # self.version is the matched If-Match
            return actions.rename_instrument(
                actor=self.actor, at=self.at, instrument_id=obj.pk, version=self.version, **data)

    class InstrumentLoss(ActDoor):                  # path("instruments/<uuid:id>/loss", ...)
        operation, room = "instrument_report_lost", "detectors"
        needs = {"POST": "manage_instruments"}
        shape, input_shape = InstrumentShape, ReasonInput         # rows as above

        def act(self, obj, data): ...

``site_field`` is the path from a row to its site ("site_id"; "asset__site_id"; "id" for sites themselves;
None for rows of no site). ``self.actor``, ``self.at`` (the clock, read once), ``self.right`` (need of this
method) and, once known, ``self.site_id`` are there for every method. For other reads and calculations use
:class:`Door` with ``self.ask(Shape)`` (query parameters), ``self.take(Shape)`` (body), ``self.one(rows, pk)``
(a path id, 404), ``self.allow(site_id)`` and ``self.answer(obj, shape=...)``. An upload is a door with
``parser_classes = (MultiPartParser,)`` and a ``shapes.FileField()``; its Idempotency-Key covers the bytes.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, ClassVar

from django.db import DatabaseError, transaction
from django.db.models import QuerySet
from django.urls import reverse
from django.utils import timezone
from rest_framework.generics import GenericAPIView
from rest_framework.parsers import BaseParser
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response

from plantcare.api import etags, idempotency, queryparams, references, shapes
from plantcare.api.actor import Actor, actor_of
from plantcare.api.failures import refusal_of
from plantcare.api.filtering import StrictFilterSet
from plantcare.api.pagination import KeysetPagination
from plantcare.api.parsers import ApiJsonParser
from plantcare.api.policy import SIGNED_IN, access_policy, require_on
from plantcare.api.problems import Forbidden, NotFound, Refusal
from plantcare.api.renderers import ApiJsonRenderer
from plantcare.api.schema import DoorSchema
from plantcare.api.throttling import PrincipalThrottle

__all__ = [
    "SIGNED_IN",
    "ActDoor",
    "BatchDoor",
    "ChangeDoor",
    "CreateDoor",
    "DetailDoor",
    "Door",
    "ListDoor",
]


class Door(GenericAPIView[Any]):
    """A view that is closed unless it declares, per method, the right that it needs."""

    needs: ClassVar[Mapping[str, str]] = {}
    room: ClassVar[str] = ""
    noun: ClassVar[str] = ""
    operation: ClassVar[str] = ""
    verbs: ClassVar[Mapping[str, str]] = {}
    site_field: ClassVar[str | None] = "site_id"
    shape: ClassVar[type[shapes.Shape]] = shapes.Shape
    input_shape: ClassVar[type[shapes.InputShape]] = shapes.InputShape
    query_shape: ClassVar[type[shapes.InputShape] | None] = None
    references: ClassVar[Mapping[str, references.Reference]] = {}
    creates: ClassVar[bool] = False
    replayable: ClassVar[bool] = True
    rate: ClassVar[str | None] = "api"
    lookup_url_kwarg = "id"

    permission_classes = (IsAuthenticated,)
    throttle_classes = (PrincipalThrottle,)
    parser_classes: Sequence[type[BaseParser]] = (ApiJsonParser,)
    renderer_classes = (ApiJsonRenderer,)
    filter_backends = ()
    pagination_class: Any = None
    metadata_class = None
    http_method_names = ("get", "head", "post", "put", "patch", "delete")
    schema = DoorSchema()

    actor: Actor
    site_id: uuid.UUID | None = None
    version: int | None = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Read the clock, name the actor, refuse what no method of this door knows."""
        self.at = timezone.now()
        super().initial(request, *args, **kwargs)
        self.actor = actor_of(request)
        queryparams.check(request, self)
        handler = getattr(self, "post", None)
        if request.method == "POST" and self.replayable and handler is not None:
            self.__dict__["post"] = partial(idempotency.once, self, handler)

    @property
    def right(self) -> str:
        """Return the need of the present method; a method without one is closed."""
        method = "GET" if self.request.method == "HEAD" else str(self.request.method)
        if method not in self.needs:
            raise Forbidden
        return self.needs[method]

    @property
    def site(self) -> uuid.UUID:
        """Return the site that the path or the named ids belong to; raise NotFound where none is known."""
        if self.site_id is None:
            raise NotFound
        return self.site_id

    def query_names(self) -> set[str]:
        """Return the query parameters that this door knows besides those of every door."""
        return set(self.query_shape().fields) if self.query_shape is not None else set()

    def rows(self) -> QuerySet[Any]:
        """Return the rows of this door, of all sites: narrowing is not the room's work."""
        raise NotImplementedError

    def allow(self, site_id: uuid.UUID | None) -> None:
        """Refuse unless the actor holds this method's right on the site (404 or 403)."""
        require_on(self.actor, self.right, site_id)
        self.site_id = site_id

    def narrowed(self, rows: QuerySet[Any]) -> QuerySet[Any]:
        """Return the rows that the actor may see with this method's right."""
        if self.right == SIGNED_IN:
            return rows
        if self.site_field is None:
            require_on(self.actor, self.right, None)
            return rows
        return access_policy().narrow(self.actor, self.right, rows, self.site_field)

    def one(self, rows: QuerySet[Any], pk: Any, *, site_field: str | None = "site_id") -> Any:
        """Return one row by a path id, or refuse with 404 (hidden, unknown) or 403."""
        found, self.site_id = references.one(
            rows, pk, actor=self.actor, right=self.right, site_field=site_field
        )
        return found

    def get_object(self) -> Any:
        """Return the row that the path names."""
        pk = self.kwargs[self.lookup_url_kwarg]
        return self.one(self.rows(), pk, site_field=self.site_field)

    def ask(self, shape: type[shapes.InputShape] | None = None) -> dict[str, Any]:
        """Return the validated query parameters."""
        chosen = shape or self.query_shape or shapes.InputShape
        return queryparams.validated(self.request, chosen)

    def take(self, shape: type[shapes.InputShape] | None = None, *, partial: bool = False) -> dict[str, Any]:
        """Return the validated body; raise the 400 problem with pointers."""
        chosen = shape or self.input_shape
        return shapes.validated(chosen, self.request.data, partial=partial)

    def clear(self, data: Mapping[str, Any]) -> dict[str, Any]:
        """Check every id of the body and the right on the one site they share.

        Return the named rows by JSON pointer ("/area_id"). Sets ``self.site_id``.
        """
        named, site_id = references.resolve(
            data, self.references, actor=self.actor, right=self.right, site_id=self.site_id
        )
        if site_id is None:
            self.allow(None)
        self.site_id = site_id
        return named

    def answer(
        self,
        result: Any,
        *,
        shape: type[shapes.Shape] | None = None,
        status: int = 200,
        many: bool = False,
    ) -> Response:
        """Return the result in its shape, with an ETag when it has a version."""
        chosen = shape or self.shape
        body = chosen(result, many=many, context=self.get_serializer_context()).data
        headers = {} if many else etags.headers(result)
        return Response(body, status=status, headers=headers)

    def get_serializer_class(self) -> Any:
        """Return the answer's shape; the schema asks for it."""
        return self.shape

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Add the rate limit's state and forbid shared caches."""
        for name, value in getattr(request, "rate_headers", {}).items():
            response.headers[name] = value
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return super().finalize_response(request, response, *args, **kwargs)


class ListDoor(Door):
    """GET a page of rows: narrowed, filtered, ordered."""

    verbs: ClassVar[Mapping[str, str]] = {"GET": "list"}
    filterset_class: ClassVar[type[StrictFilterSet]] = StrictFilterSet
    orderings: ClassVar[Mapping[str, tuple[str, ...]]] = {"id": ("id",)}
    refuses_outsiders: ClassVar[bool] = False  # else who has the right nowhere gets an empty page
    pagination_class = KeysetPagination

    def query_names(self) -> set[str]:
        """Return the filters, and what pages and orders."""
        names = {"limit", "cursor", "ordering", *self.filterset_class.base_filters}
        return super().query_names() | names

    def complete(self, page: list[Any]) -> None:
        """Add to a page's rows what is read for all of them at once; nothing by default."""

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer one page."""
        if self.refuses_outsiders:
            self.allow(None)
        rows = self.filterset_class.narrow(self.request, self.narrowed(self.rows()))
        pages = KeysetPagination()
        page = pages.paginate_queryset(rows, self.request, view=self)
        self.complete(page)
        body = self.shape(page, many=True, context=self.get_serializer_context()).data
        return pages.get_paginated_response(body)


class CreateDoor(Door):
    """POST something new: 201 with Location and ETag, once per Idempotency-Key."""

    verbs: ClassVar[Mapping[str, str]] = {"GET": "list", "POST": "create"}
    creates = True
    detail_route: ClassVar[str] = ""

    def act(self, data: dict[str, Any]) -> Any:
        """Make the one call into the room's actions and return what was made."""
        raise NotImplementedError

    def post(self, *_: Any, **__: Any) -> Response:
        """Validate, check the site and every named id, act, answer."""
        data = self.take()
        self.clear(data)
        made = self.act(data)
        response = self.answer(made, status=201)
        response.headers["Location"] = self.location(made)
        return response

    def location(self, made: Any) -> str:
        """Return the address of what was made."""
        pk = made["id"] if isinstance(made, Mapping) else made.pk
        if self.detail_route:
            return reverse(self.detail_route, kwargs={"id": pk})
        return f"{self.request.path.rstrip('/')}/{pk}"


class DetailDoor(Door):
    """GET one row, with ETag and 304."""

    verbs: ClassVar[Mapping[str, str]] = {"GET": "read"}
    # Off where the answer shows more than the row that carries the version.
    conditional: ClassVar[bool] = True

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the row, or that the caller's copy still holds."""
        found = self.get_object()
        unchanged = self.conditional and "expand" not in self.request.query_params
        if unchanged and etags.matches_none(self.request, found):
            return Response(status=304, headers=etags.headers(found))
        return self.answer(found)


class ChangeDoor(DetailDoor):
    """GET one row and PATCH it under If-Match."""

    verbs: ClassVar[Mapping[str, str]] = {"GET": "read", "PATCH": "change"}

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Make the one call into the room's actions and return the changed object."""
        raise NotImplementedError

    def patch(self, *_: Any, **__: Any) -> Response:
        """Validate the given members only, check the version, act, answer."""
        found = self.get_object()
        data = self.take(partial=True)
        self.clear(data)
        # After all other checks, as RFC 9110 section 13.2.1 orders it.
        self.version = etags.require_if_match(self.request, found.version)
        return self.answer(self.change(found, data))


class ActDoor(Door):
    """POST an act on one row; ``creates = True`` where it makes a new thing (201, key required)."""

    # "required": no act without the version; "optional": checked when sent; "ignored".
    if_match: ClassVar[str] = "optional"

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Make the one call into the room's actions and return the result."""
        raise NotImplementedError

    def post(self, *_: Any, **__: Any) -> Response:
        """Find the row, check the right, validate, check the version, act, answer."""
        found = self.get_object()
        data = self.take()
        self.clear(data)
        required = self.if_match == "required"
        if self.if_match != "ignored" and (required or "If-Match" in self.request.headers):
            self.version = etags.require_if_match(self.request, found.version)
        return self.answer(self.act(found, data), status=201 if self.creates else 200)


class BatchDoor(Door):
    """POST up to ``max_items`` items in one transaction, each with its own result.

    The answer is 200 with one result per item, whether all or some succeeded: one bad item
    doesn't sink the others. With ``all_or_nothing`` any bad item refuses the batch with 422
    and nothing is kept.
    """

    verbs: ClassVar[Mapping[str, str]] = {"POST": "batch"}
    item_shape: ClassVar[type[shapes.InputShape]] = shapes.InputShape
    shape = shapes.BatchResultShape
    max_items: ClassVar[int] = 500
    creates = True

    def act(self, data: dict[str, Any]) -> Any:
        """Make the one call for one item and return what was made."""
        raise NotImplementedError

    def post(self, *_: Any, **__: Any) -> Response:
        """Take the items one by one."""
        items, all_or_nothing = shapes.batch_of(self.request.data, self.max_items)
        with transaction.atomic():
            results = [self._item(index, item) for index, item in enumerate(items)]
            shapes.refuse_batch_if(all_or_nothing, results)
        return self.answer({"results": results})

    def _item(self, index: int, item: Any) -> dict[str, Any]:
        self.site_id = None
        try:
            with transaction.atomic():
                data = shapes.validated(self.item_shape, item)
                self.clear(data)
                made = self.act(data)
        except (Refusal, DatabaseError) as exc:
            refusal = refusal_of(exc)
            if refusal.status >= 500:
                raise
            problem = refusal.body(self.request.path)
            return {"index": index, "status": refusal.status, "id": None, "problem": problem}
        return {"index": index, "status": 201, "id": made.pk, "problem": None}
