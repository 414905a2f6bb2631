"""Doors of an order's clocks, and of what stops them."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet
from rest_framework.response import Response
from rest_framework.serializers import SerializerMethodField

from findings.plant.access import POLICY
from findings.plant.rules import Right
from plantcare.api import filtering, shapes
from plantcare.api.views import ChangeDoor, DetailDoor, ListDoor
from workorders.orders import actions, queries
from workorders.orders.api.shapes import ClockShape, choices
from workorders.orders.rules import PAUSABLE, WaitReason

CLOCKS_THAT_PAUSE = choices(PAUSABLE)


class ClockSegmentShape(shapes.Shape):
    """A stretch in which the order ran or waited, who said so, and which clocks stood still in it."""

    id = shapes.UuidField()
    began_at = shapes.AwareDateTimeField()
    ended_at = shapes.AwareDateTimeField(allow_null=True)
    running = SerializerMethodField()
    wait_reason = shapes.TextField()
    text = shapes.TextField()
    pauses = shapes.ListField(child=shapes.ChoiceField(choices=CLOCKS_THAT_PAUSE))
    pauses_until_at = shapes.AwareDateTimeField(
        allow_null=True, help_text="A safety order stands still no longer than to the end of a shutdown."
    )
    by_id = shapes.UuidField(source="user.public_id", allow_null=True)
    by_name = shapes.TextField()

    def get_running(self, segment: Any) -> bool:
        """Say whether the work waited for nothing."""
        return not segment.wait_reason


class OrderClocksShape(shapes.Shape):
    """The clocks of an order as they stand now, and how it ran and waited so far."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    number = shapes.IntegerField()
    clocks = ClockShape(many=True)
    segments = ClockSegmentShape(many=True)


class WorkOrderClocks(DetailDoor):
    """The clocks of one order."""

    operation, room = "work_order_clocks_read", "orders"
    needs = {"GET": Right.VIEW}
    shape = OrderClocksShape
    # The clocks go on while the order's version stays.
    conditional = False

    def rows(self) -> QuerySet[Any]:
        """Return all orders."""
        return queries.orders()

    def answer(self, result: Any, **rest: Any) -> Response:
        """Answer the clocks at the present moment."""
        segments = list(queries.segments_of([result.pk]).select_related("user"))
        vars(result).update(clocks=queries.clocks_of([result], self.at)[result.pk], segments=segments)
        return super().answer(result, **rest)


class PauseRuleShape(shapes.Shape):
    """Which clocks stand still while an order waits for something; safety orders have rows of their own."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    wait_reason = shapes.ChoiceField(choices=choices(WaitReason))
    for_safety = shapes.BooleanField()
    pauses = shapes.ListField(child=shapes.ChoiceField(choices=CLOCKS_THAT_PAUSE))
    source = shapes.TextField()  # type: ignore[assignment]
    version = shapes.IntegerField()


class PauseRuleChange(shapes.InputShape):
    """What is to stand still from the next wait on; a site grants safety orders less, never more."""

    pauses = shapes.ListField(child=shapes.ChoiceField(choices=CLOCKS_THAT_PAUSE), max_length=2)
    source = shapes.TextField(max_length=300)  # type: ignore[assignment]


class PauseRuleFilters(filtering.StrictFilterSet):
    """Narrow the table."""

    site_id = filtering.UuidFilter()
    wait_reason = filtering.ChoicesFilter(choices=choices(WaitReason))
    for_safety = filtering.BooleanFilter()


class PauseRules(ListDoor):
    """What stops the clocks at each site."""

    noun, room = "pause_rule", "orders"
    needs = {"GET": Right.VIEW}
    shape, filterset_class = PauseRuleShape, PauseRuleFilters
    orderings = {"wait_reason": ("wait_reason", "for_safety")}

    def rows(self) -> QuerySet[Any]:
        """Return all rows; a site's first look writes the defaults down."""
        actions.seed_pauses(site_ids=POLICY.sites(self.actor, self.right), at=self.at)
        return queries.pause_rules()


class PauseRule(ChangeDoor):
    """What one reason stops at one site."""

    noun, room = "pause_rule", "orders"
    needs = {"GET": Right.VIEW, "PATCH": Right.PLAN}
    shape, input_shape = PauseRuleShape, PauseRuleChange

    def rows(self) -> QuerySet[Any]:
        """Return all rows."""
        return queries.pause_rules()

    def change(self, obj: Any, data: dict[str, Any]) -> Any:
        """Let something else stand still from the next wait on."""
        return actions.change_pauses(
            actor=self.actor, at=self.at, rule_id=obj.pk, version=self.version, **data
        )
