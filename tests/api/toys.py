"""A tiny service for the plumbing's tests: crates on shelves, on sites that are only ids."""

from __future__ import annotations

import uuid
from typing import Any

from django.db import connection, models, transaction
from django.db.models import F, Q, QuerySet
from django.http import HttpRequest, HttpResponse
from django.urls import path
from rest_framework.parsers import MultiPartParser
from rest_framework.response import Response

from plantcare.api import etags, filtering, shapes
from plantcare.api.actor import Actor
from plantcare.api.identifiers import uuid7
from plantcare.api.pages import urlpatterns as documentation
from plantcare.api.problems import Conflict, FieldError, Forbidden, NotFound, constraint_refusals
from plantcare.api.references import Reference
from plantcare.api.views import SIGNED_IN, ActDoor, BatchDoor, ChangeDoor, CreateDoor, Door, ListDoor
from plantcare.health import livez, readyz

handler400 = "plantcare.api.failures.bad_request"
handler403 = "plantcare.api.failures.permission_denied"
handler404 = "plantcare.api.failures.page_not_found"
handler500 = "plantcare.api.failures.server_error"

HERE, THERE = uuid7(), uuid7()


class Crate(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid7)
    site_id = models.UUIDField()
    name = models.CharField(max_length=40)
    note = models.CharField(max_length=40, null=True)  # noqa: DJ001 - an ordering by an empty column is tested
    weight_kg = models.FloatField(default=1.0)
    price = models.DecimalField(max_digits=12, decimal_places=2, default=0)
    inside = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="+")
    packed_at = models.DateTimeField(null=True)
    tags = models.JSONField(default=dict)
    count = models.IntegerField(default=0)
    version = models.IntegerField(default=1)

    class Meta:
        app_label = "toys"
        constraints = [
            models.UniqueConstraint(fields=["site_id", "name"], name="crate_name_once"),
            models.UniqueConstraint(fields=["note"], name="crate_note_once"),
            models.CheckConstraint(condition=Q(weight_kg__gte=0), name="crate_has_weight"),
        ]

    def __str__(self) -> str:
        return self.name


class NameTaken(Conflict):
    code = "name_taken"
    title = "Another crate has that name."


constraint_refusals["crate_name_once"] = lambda: NameTaken(
    errors=[FieldError("/name", "name_taken", "Taken.")]
)


class ToyPolicy:
    """Everybody sees HERE and may read, pack and shut there; only superusers see THERE."""

    rights = frozenset({"read", "pack", "shut"})

    def sites(self, actor: Actor, right: str) -> list[uuid.UUID] | None:
        if actor.is_superuser:
            return None
        return [HERE] if right in self.rights else []

    def narrow(
        self, actor: Actor, right: str, queryset: QuerySet[Any], site_field: str = "site_id"
    ) -> QuerySet[Any]:
        sites = self.sites(actor, right)
        return queryset if sites is None else queryset.filter(**{f"{site_field}__in": sites})

    def require(self, actor: Actor, right: str, site_id: uuid.UUID) -> None:
        if actor.is_superuser:
            return
        if site_id != HERE:
            raise NotFound
        if right not in self.rights:
            raise Forbidden


POLICY = ToyPolicy()


class CrateShape(shapes.Shape):
    expandable = ("inside",)
    id = shapes.UuidField()
    site_id = shapes.UuidField()
    name = shapes.TextField()
    note = shapes.TextField(allow_null=True)
    weight_kg = shapes.FloatField()
    price = shapes.DecimalString()
    packed_at = shapes.AwareDateTimeField(allow_null=True)
    version = shapes.IntegerField()


class InsideShape(CrateShape):
    inside = CrateShape(allow_null=True)


class ReadingInput(shapes.InputShape):
    level_db = shapes.FloatField()


class CrateInput(shapes.InputShape):
    site_id = shapes.UuidField()
    name = shapes.TextField(max_length=40)
    note = shapes.TextField(required=False, allow_null=True)
    weight_kg = shapes.FloatField(required=False)
    price = shapes.DecimalString(required=False, max_digits=12, decimal_places=2)
    inside_id = shapes.UuidField(required=False, allow_null=True)
    packed_at = shapes.AwareDateTimeField(required=False)
    tags = shapes.JsonObjectField(required=False)
    count = shapes.IntegerField(required=False)
    readings = ReadingInput(many=True, required=False)


class CrateChange(shapes.InputShape):
    name = shapes.TextField(max_length=40)


class CrateFilters(filtering.StrictFilterSet):
    site_id = filtering.UuidFilter()
    name = filtering.ChoicesFilter(choices=[("a", "A"), ("b", "B"), ("c", "C")])
    heavy = filtering.BooleanFilter(method="are_heavy")
    packed_after = filtering.AwareDateTimeFilter(field_name="packed_at", lookup_expr="gte")
    q = filtering.TextFilter(fields=["name", "note"])

    def are_heavy(self, rows: QuerySet[Any], name: str, value: bool) -> QuerySet[Any]:
        return rows.filter(weight_kg__gte=10) if value else rows


def pack(data: dict[str, Any]) -> Crate:
    data.pop("readings", None)
    with transaction.atomic():
        return Crate.objects.create(**data)


class Crates(CreateDoor, ListDoor):
    noun, room = "crate", "store"
    needs = {"GET": "read", "POST": "pack"}
    shape, input_shape, filterset_class = InsideShape, CrateInput, CrateFilters
    orderings = {
        "name": ("name",),
        "-name": ("-name",),
        "note": ("note",),
        "-note": ("-note",),
        "-packed_at": ("-packed_at", "-weight_kg"),
    }
    references = {"inside_id": Reference(Crate.objects.all)}

    def rows(self) -> QuerySet[Crate]:
        return Crate.objects.all()

    def act(self, data: dict[str, Any]) -> Crate:
        return pack(data)


class CrateDetail(ChangeDoor):
    noun, room = "crate", "store"
    needs = {"GET": "read", "PATCH": "pack"}
    shape, input_shape = InsideShape, CrateChange

    def rows(self) -> QuerySet[Crate]:
        return Crate.objects.all()

    def change(self, obj: Crate, data: dict[str, Any]) -> Crate:
        guarded = Crate.objects.filter(pk=obj.pk, version=self.version)
        with transaction.atomic():
            changed = guarded.update(**data, version=F("version") + 1)
        if not changed:
            raise etags.stale(Crate.objects.get(pk=obj.pk).version)
        return Crate.objects.get(pk=obj.pk)


class CrateShut(ActDoor):
    operation, room = "crate_shut", "store"
    needs = {"POST": "shut"}
    shape = CrateShape

    def rows(self) -> QuerySet[Crate]:
        return Crate.objects.all()

    def act(self, obj: Crate, data: dict[str, Any]) -> Crate:
        Crate.objects.filter(pk=obj.pk).update(version=F("version") + 1)
        return Crate.objects.get(pk=obj.pk)


class CrateBurn(CrateShut):
    operation = "crate_burn"
    needs = {"POST": "burn"}


class CrateBatch(BatchDoor):
    noun, room = "crate", "store"
    needs = {"POST": "pack"}
    item_shape = CrateInput
    references = {"inside_id": Reference(Crate.objects.all)}
    max_items = 5

    def act(self, data: dict[str, Any]) -> Crate:
        return pack(data)


class SheetInput(shapes.InputShape):
    site_id = shapes.UuidField()
    name = shapes.TextField(max_length=40)
    file = shapes.FileField(max_bytes=100)


class Sheets(CreateDoor):
    noun, room = "sheet", "store"
    needs = {"POST": "pack"}
    shape, input_shape = CrateShape, SheetInput
    parser_classes = (MultiPartParser,)

    def act(self, data: dict[str, Any]) -> Crate:
        note = data.pop("file").read().decode()
        return pack({**data, "note": note})


class Trouble(Door):
    """Fails as asked."""

    operation, room = "trouble_read", "store"
    needs = {"GET": SIGNED_IN}

    def query_names(self) -> set[str]:
        return {"kind"}

    def get(self, *_: Any, **__: Any) -> Response:
        kind = self.request.query_params.get("kind", "")
        if kind == "bug":
            msg = "SELECT secret FROM /etc/passwd"
            raise RuntimeError(msg)
        with connection.cursor() as cursor:
            cursor.execute({"range": "SELECT 2147483648::int", "gone": "SELECT * FROM no_such"}[kind])
        return Response({})


def page(request: HttpRequest) -> HttpResponse:
    return HttpResponse("a page")


urlpatterns = [
    path("livez", livez),
    path("readyz", readyz),
    path("page", page),
    path("api/v1/crates", Crates.as_view(), name="crates"),
    path("api/v1/crates/batch", CrateBatch.as_view()),
    path("api/v1/crates/<uuid:id>", CrateDetail.as_view()),
    path("api/v1/crates/<uuid:id>/shut", CrateShut.as_view()),
    path("api/v1/crates/<uuid:id>/burn", CrateBurn.as_view()),
    path("api/v1/sheets", Sheets.as_view()),
    path("api/v1/trouble", Trouble.as_view()),
    *documentation,
]
