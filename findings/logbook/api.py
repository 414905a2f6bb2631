"""Doors of the logbook: read it, and prove that it is whole."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework import serializers
from rest_framework.response import Response

from findings.logbook import queries
from plantcare.api import filtering, shapes
from plantcare.api.views import DetailDoor, Door, ListDoor


class HashField(serializers.CharField):
    """A hash in hexadecimal digits."""

    def to_representation(self, value: Any) -> str:
        """Return the digits."""
        return bytes(value).hex()


class EntryShape(shapes.Shape):
    """One act, as it was written down."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    sequence = shapes.IntegerField()
    act = shapes.TextField()
    subject_kind = shapes.TextField()
    subject_id = shapes.UuidField()
    subject_version = shapes.IntegerField(allow_null=True)
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    actor_name = shapes.TextField()
    key_id = shapes.UuidField(allow_null=True)
    request_id = shapes.TextField()
    reason = shapes.TextField()
    detail = shapes.JsonObjectField()
    hash = HashField(help_text="SHA-256 over the hash before it and this entry.")


class EntryFilters(filtering.StrictFilterSet):
    """Filters of entries."""

    site_id = filtering.UuidFilter()
    subject_id = filtering.UuidFilter()
    subject_kind = filtering.CodeFilter()
    act = filtering.CodeFilter()
    at_from = filtering.AwareDateTimeFilter(field_name="at", lookup_expr="gte")
    at_before = filtering.AwareDateTimeFilter(field_name="at", lookup_expr="lt")


class LogbookEntries(ListDoor):
    """Every act of the caller's sites, the newest first."""

    noun, room = "logbook_entry", "logbook"
    needs = {"GET": "view"}
    shape, filterset_class = EntryShape, EntryFilters
    orderings = {"-id": ("-id",), "id": ("id",)}

    def rows(self) -> QuerySet[Any]:
        """Return all entries."""
        return queries.entries()


class LogbookEntry(DetailDoor):
    """One act."""

    noun, room = "logbook_entry", "logbook"
    needs = {"GET": "view"}
    shape = EntryShape

    def rows(self) -> QuerySet[Any]:
        """Return all entries."""
        return queries.entries()


class CheckQuery(shapes.InputShape):
    """Whose chain."""

    site_id = shapes.UuidField()


class CheckShape(shapes.Shape):
    """Whether every entry of a site's chain is there and as it was written."""

    whole = shapes.BooleanField()
    length = shapes.IntegerField()
    broken_at = shapes.IntegerField(allow_null=True)
    why = shapes.TextField()


class LogbookCheck(Door):
    """Walk a site's chain from its start; asked by those who answer for the site."""

    operation, room = "logbook_check", "logbook"
    needs = {"GET": "members"}
    shape, query_shape = CheckShape, CheckQuery

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer whether the chain is whole."""
        site_id = self.ask()["site_id"]
        self.allow(site_id)
        return self.answer(queries.check_chain(site_id))
