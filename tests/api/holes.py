"""Doors with a hole each, on purpose: the crawler that finds none of them proves nothing elsewhere.

Each door is a real one with one thing left out or done wrong, as it happens in a hurry.
"""

from __future__ import annotations

from typing import Any

from django.db.models import F
from django.urls import path
from rest_framework.authentication import BaseAuthentication
from rest_framework.response import Response
from rest_framework.serializers import SerializerMethodField

from findings.plant import queries as plant
from findings.plant.api.assets import Asset, AssetChange, Assets, AssetShape
from findings.plant.api.points import MeasuringPoint, PointChange
from findings.plant.api.sites import Area, AreaInput, Areas, AreaShape
from findings.plant.models import Area as AreaRow
from findings.plant.models import Asset as AssetRow
from findings.plant.models import MeasuringPoint as PointRow
from findings.plant.models import Site
from findings.supply.api.compressors import Compressors
from findings.supply.models import Compressor as CompressorRow
from plantcare.api import shapes
from plantcare.api.problems import Conflict, Forbidden, NotFound
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor, Door
from plantcare.people.models import ApiKey, User

handler404 = "plantcare.api.failures.page_not_found"
handler500 = "plantcare.api.failures.server_error"


class OpenList(Areas):
    """A list that forgets to narrow."""

    noun, operation = "", "hole_list"
    http_method_names = ("get",)

    def narrowed(self, rows: Any) -> Any:
        return rows


class OpenDetail(Area):
    """A row looked up by its id alone."""

    operation = "hole_detail"
    http_method_names = ("get",)

    def get_object(self) -> Any:
        return AreaRow.objects.get(pk=self.kwargs["id"])


class OpenAct(MeasuringPoint):
    """A change that never looks the row up in its site."""

    operation = "hole_act"
    http_method_names = ("patch",)
    input_shape = PointChange

    def patch(self, *_: Any, **__: Any) -> Response:
        data = self.take(partial=True)
        row = PointRow.objects.get(pk=self.kwargs["id"])
        PointRow.objects.filter(pk=row.pk).update(**data)
        return self.answer(row)


class LooseReference(Compressors):
    """A create that takes any system's id, and keeps it under the caller's site."""

    operation = "hole_reference"
    http_method_names = ("post",)
    references = {}

    def clear(self, data: Any) -> Any:
        return {}

    def act(self, data: dict[str, Any]) -> Any:
        mine = plant.memberships().filter(user_id=self.actor.user_id).first()
        return CompressorRow.objects.create(site_id=mine.site_id, created_at=self.at, **data)


class WritableSite(Areas):
    """A create that never asks whether the caller belongs to the site."""

    operation = "hole_site"
    http_method_names = ("post",)

    def clear(self, data: Any) -> Any:
        return {}


class LooseMember(Assets):
    """A create that reads a member that it does not offer."""

    operation = "hole_member"
    http_method_names = ("post",)

    def take(self, *args: Any, **kwargs: Any) -> dict[str, Any]:
        self.asked_site = self.request.data.pop("site_id", None)
        return super().take(*args, **kwargs)

    def act(self, data: dict[str, Any]) -> Any:
        made = super().act(data)
        if self.asked_site:
            area = AreaRow.objects.filter(site_id=self.asked_site).first()
            AssetRow.objects.filter(pk=made.pk).update(site_id=self.asked_site, area=area)
        return made


class NoSignIn(Areas):
    """A list that lets everybody in."""

    operation = "hole_no_sign_in"
    http_method_names = ("get",)
    permission_classes = ()

    def narrowed(self, rows: Any) -> Any:
        return rows.filter(site__code__startswith="Tarnbeck")


class AnyKeyAuthentication(BaseAuthentication):
    """Looks at the key's prefix only."""

    def authenticate(self, request: Any) -> Any:
        text = request.headers.get("Authorization", "")
        prefix = text.split("_")[1] if text.count("_") > 1 else ""
        user = User.objects.filter(pk__in=_owners_of(prefix)).first()
        return (user, None) if user else None

    def authenticate_header(self, request: Any) -> str:
        return "Bearer"


def _owners_of(prefix: str) -> Any:
    return ApiKey.objects.filter(prefix=prefix).values("user_id")


class AnyKey(Areas):
    """A list behind a log-in that a revoked key still opens."""

    operation = "hole_any_key"
    http_method_names = ("get",)
    authentication_classes = (AnyKeyAuthentication,)


class CountShape(shapes.Shape):
    """How many there are."""

    count = shapes.IntegerField()


class Total(Door):
    """A figure over all sites."""

    operation, room = "hole_total", "plant"
    needs = {"GET": "view"}
    shape = CountShape

    def get(self, *_: Any, **__: Any) -> Response:
        return self.answer({"count": AssetRow.objects.count()})


class AssetQuery(shapes.InputShape):
    """Which asset."""

    asset_id = shapes.UuidField(required=False)


class Looked(Door):
    """A look by a query parameter that no one checks."""

    operation, room = "hole_query", "plant"
    needs = {"GET": "view"}
    shape, query_shape = AssetShape, AssetQuery

    def get(self, *_: Any, **__: Any) -> Response:
        found = AssetRow.objects.filter(pk=self.ask().get("asset_id")).first()
        return self.answer({"count": 0 if found is None else len(found.code)}, shape=CountShape)


class Oracle(Area):
    """A refusal that tells a foreign id from an unknown one."""

    operation = "hole_oracle"
    http_method_names = ("get",)

    def get_object(self) -> Any:
        if not plant.areas().filter(pk=self.kwargs["id"]).exists():
            raise NotFound
        try:
            return super().get_object()
        except NotFound:
            raise Forbidden from None


class IdsInput(shapes.InputShape):
    """Which points."""

    point_ids = shapes.ListField(child=shapes.UuidField(), min_length=1)


class BulkIds(ActDoor):
    """A list of ids of which only the first is checked."""

    operation, room = "hole_bulk", "plant"
    needs = {"POST": "register"}
    shape, input_shape = AssetShape, IdsInput

    def rows(self) -> Any:
        return plant.assets()

    def clear(self, data: Any) -> Any:
        first = {"point_ids": data["point_ids"][:1]}
        return super().clear(first)

    references = {"point_ids.*": Reference(plant.points)}

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        PointRow.objects.filter(pk__in=data["point_ids"]).update(retired_at=self.at)
        return obj


class WrittenThenRefused(Area):
    """A change that writes first and refuses afterwards."""

    operation = "hole_write"
    http_method_names = ("patch",)

    def patch(self, *args: Any, **kwargs: Any) -> Response:
        AreaRow.objects.filter(pk=self.kwargs["id"]).update(version=F("version") + 1)
        return super().patch(*args, **kwargs)


class CodeTaken(Conflict):
    """Tells too much."""

    code = "code_taken_somewhere"


class QuotesForeignText(Areas):
    """A refusal that quotes another site's text."""

    operation = "hole_quote"
    http_method_names = ("post",)
    input_shape = AreaInput

    def act(self, data: dict[str, Any]) -> Any:
        twin = AreaRow.objects.exclude(site_id=data["site_id"]).order_by("-pk").first()
        detail = f"Its twin is {twin.name}."
        raise CodeTaken(detail)


class Neighbours(AreaShape):
    """An area with what stands beside it."""

    expandable = ("beside",)
    beside = SerializerMethodField()

    def get_beside(self, _: Any) -> list[str]:
        return [row.name for row in AreaRow.objects.all()]


class Expanded(Areas):
    """A list that is narrowed, with something beside each row that isn't."""

    operation = "hole_expand"
    http_method_names = ("get",)
    shape = Neighbours


class MovedAcross(Asset):
    """A change that lets somebody of both sites pull a thing over."""

    operation = "hole_move"
    http_method_names = ("patch",)
    input_shape = AssetChange

    def patch(self, *_: Any, **__: Any) -> Response:
        found = self.get_object()
        data = self.take(partial=True)
        if "area_id" in data:
            area = self.one(plant.areas(), data["area_id"])
            AssetRow.objects.filter(pk=found.pk).update(area=area, site_id=area.site_id)
        return self.answer(found)


class BadBodyOracle(Areas):
    """A refusal in a body that tells a foreign id from an unknown one."""

    operation = "hole_body_oracle"
    http_method_names = ("post",)

    def clear(self, data: Any) -> Any:
        if Site.objects.filter(pk=data["site_id"]).exists():
            return super().clear(data)
        raise NotFound


urlpatterns = [
    path("api/v1/areas/open-list", OpenList.as_view()),
    path("api/v1/areas/<uuid:id>/open", OpenDetail.as_view()),
    path("api/v1/measuring-points/<uuid:id>/open", OpenAct.as_view()),
    path("api/v1/compressors/loose", LooseReference.as_view()),
    path("api/v1/areas/any-site", WritableSite.as_view()),
    path("api/v1/assets/loose", LooseMember.as_view()),
    path("api/v1/areas/no-sign-in", NoSignIn.as_view()),
    path("api/v1/areas/any-key", AnyKey.as_view()),
    path("api/v1/areas/total", Total.as_view()),
    path("api/v1/assets/looked", Looked.as_view()),
    path("api/v1/areas/<uuid:id>/oracle", Oracle.as_view()),
    path("api/v1/assets/<uuid:id>/bulk", BulkIds.as_view()),
    path("api/v1/areas/<uuid:id>/written", WrittenThenRefused.as_view()),
    path("api/v1/areas/quotes", QuotesForeignText.as_view()),
    path("api/v1/areas/expanded", Expanded.as_view()),
    path("api/v1/assets/<uuid:id>/moved", MovedAcross.as_view()),
    path("api/v1/areas/body-oracle", BadBodyOracle.as_view()),
]
