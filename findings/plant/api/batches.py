"""Doors that load a whole plant in one go."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from django.db import transaction
from rest_framework.response import Response

from findings.plant import actions
from findings.plant.api.assets import CRITICALITIES, RunningWindowInput
from findings.plant.api.points import MEDIA, METHODS
from findings.plant.rules import Right
from plantcare.api import shapes
from plantcare.api.problems import Refusal
from plantcare.api.views import BatchDoor


class AssetItemInput(shapes.InputShape):
    """An asset of a batch; its area and parent by id or by code, the parent perhaps of the same batch."""

    site_id = shapes.UuidField()
    area_id = shapes.UuidField(required=False, allow_null=True)
    area_code = shapes.TextField(max_length=32, required=False, allow_blank=True)
    parent_id = shapes.UuidField(required=False, allow_null=True)
    parent_code = shapes.TextField(max_length=64, required=False, allow_blank=True)
    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200)
    asset_class = shapes.TextField(max_length=64, required=False, allow_blank=True)
    criticality = shapes.ChoiceField(choices=CRITICALITIES, required=False)
    running_windows = RunningWindowInput(many=True, required=False)
    access_restrictions = shapes.ListField(
        child=shapes.TextField(max_length=200), required=False, max_length=20
    )


class PointItemInput(shapes.InputShape):
    """A measuring point of a batch; its asset by id or by code."""

    site_id = shapes.UuidField()
    asset_id = shapes.UuidField(required=False, allow_null=True)
    asset_code = shapes.TextField(max_length=64, required=False, allow_blank=True)
    code = shapes.TextField(max_length=64)
    name = shapes.TextField(max_length=200, required=False, allow_blank=True)
    method = shapes.ChoiceField(choices=METHODS, required=False)
    medium = shapes.ChoiceField(choices=MEDIA, required=False, allow_blank=True)


class RegisterBatch(BatchDoor):
    """Takes the items of one site together, because they may name each other."""

    needs = {"POST": Right.REGISTER}

    def act_all(self, site_id: uuid.UUID, items: Sequence[dict[str, Any]]) -> Sequence[Any]:
        """Make the one call for a site's items; return what was made or why not, item by item."""
        raise NotImplementedError

    def post(self, *_: Any, **__: Any) -> Response:
        """Take the items site by site."""
        items, all_or_nothing = shapes.batch_of(self.request.data, self.max_items)
        with transaction.atomic():
            outcomes = [self._read(item) for item in items]
            self._make(outcomes)
            results = [self._result(index, outcome) for index, outcome in enumerate(outcomes)]
            shapes.refuse_batch_if(all_or_nothing, results)
        return self.answer({"results": results})

    def _read(self, item: Any) -> Any:
        try:
            return shapes.validated(self.item_shape, item)
        except Refusal as refusal:
            return refusal

    def _make(self, outcomes: list[Any]) -> None:
        by_site: dict[uuid.UUID, list[int]] = defaultdict(list)
        for index, outcome in enumerate(outcomes):
            if isinstance(outcome, dict):
                by_site[outcome.pop("site_id")].append(index)
        for site_id, indices in by_site.items():
            made = self._at_site(site_id, [outcomes[index] for index in indices])
            for index, outcome in zip(indices, made, strict=True):
                outcomes[index] = outcome

    def _at_site(self, site_id: uuid.UUID, items: list[dict[str, Any]]) -> Sequence[Any]:
        self.site_id = None
        try:
            self.clear({"site_id": site_id})
        except Refusal as refusal:
            return [refusal] * len(items)
        return self.act_all(site_id, items)

    def _result(self, index: int, outcome: Any) -> dict[str, Any]:
        if isinstance(outcome, Refusal):
            problem = outcome.body(self.request.path)
            return {"index": index, "status": outcome.status, "id": None, "problem": problem}
        return {"index": index, "status": 201, "id": outcome.pk, "problem": None}


class AssetBatches(RegisterBatch):
    """Load up to 500 assets."""

    operation, room = "asset_batch", "plant"
    item_shape = AssetItemInput

    def act_all(self, site_id: uuid.UUID, items: Sequence[dict[str, Any]]) -> Sequence[Any]:
        """Make the assets."""
        new = [actions.NewAsset(**item) for item in items]
        return actions.add_assets(actor=self.actor, at=self.at, site_id=site_id, items=new)


class MeasuringPointBatches(RegisterBatch):
    """Load up to 500 measuring points."""

    operation, room = "measuring_point_batch", "plant"
    item_shape = PointItemInput

    def act_all(self, site_id: uuid.UUID, items: Sequence[dict[str, Any]]) -> Sequence[Any]:
        """Make the points."""
        new = [actions.NewPoint(**item) for item in items]
        return actions.add_points(actor=self.actor, at=self.at, site_id=site_id, items=new)
