"""The forms of what the orders room takes and answers."""

from __future__ import annotations

from typing import Any

from rest_framework.serializers import SerializerMethodField

from findings.kinds.release import release_to_json
from findings.register.queries import release_now
from findings.register.rules import ClosureReason
from plantcare.api import shapes
from workorders.orders import queries
from workorders.orders.rules import (
    CancelReason,
    Clock,
    ClockReading,
    ClockState,
    Move,
    MoveName,
    OrderState,
    PriorityClass,
    RepairOutcome,
    Unit,
    WaitReason,
)

NOBODY = 0


def choices(words: Any) -> list[tuple[str, str]]:
    """Return the words of an enumeration as a field's choices."""
    return [(word.value, word.value) for word in words]


ORDER_STATES = choices(OrderState)
PRIORITIES = choices(PriorityClass)
REPAIR_OUTCOMES = choices(RepairOutcome)


class PersonField(shapes.UuidField):
    """Somebody, by the id that the outside knows; inside it is the row's key."""

    def to_internal_value(self, data: Any) -> Any:
        """Return the key, or one that nobody has: whether a person exists is told to nobody."""
        return queries.person_pk(super().to_internal_value(data)) or NOBODY


class ClockShape(shapes.Shape):
    """A promised time as it stands. Used and allowed are in the clock's own time: elapsed or working."""

    clock = shapes.ChoiceField(choices=choices(Clock))
    unit = shapes.ChoiceField(choices=choices(Unit), help_text="How the promised time is counted.")
    amount = shapes.IntegerField(
        allow_null=True, help_text="So many units were promised; null for orders older than this figure."
    )
    state = shapes.ChoiceField(choices=choices(ClockState))
    started_at = shapes.AwareDateTimeField()
    due_at = shapes.AwareDateTimeField(help_text="Moved by waits and approved deferrals so far.")
    used_s = SerializerMethodField()
    allowed_s = SerializerMethodField()
    share = shapes.DecimalString(max_digits=12, decimal_places=4, help_text="Used of allowed; 1 at the end.")
    met_at = shapes.AwareDateTimeField(allow_null=True)
    paused_since = shapes.AwareDateTimeField(allow_null=True)
    paused_why = shapes.TextField()
    paused_by = shapes.TextField()
    breached_at = shapes.AwareDateTimeField(allow_null=True)
    late_s = SerializerMethodField()

    def get_used_s(self, clock: ClockReading) -> int:
        """Return what is used, in seconds."""
        return int(clock.used.total_seconds())

    def get_allowed_s(self, clock: ClockReading) -> int:
        """Return what was allowed, in seconds."""
        return int(clock.allowed.total_seconds())

    def get_late_s(self, clock: ClockReading) -> int:
        """Return by how much it ran out, in elapsed seconds."""
        return int(clock.late.total_seconds())


class OrderShape(shapes.Shape):
    """A work order in a list. `clock_due_at` is `due_at` moved by deferrals and a wait that goes on."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    number = shapes.IntegerField()
    title = shapes.TextField()
    state = shapes.ChoiceField(choices=ORDER_STATES)
    is_safety = shapes.BooleanField()
    priority = shapes.ChoiceField(choices=PRIORITIES)
    computed_priority = shapes.ChoiceField(choices=PRIORITIES)
    area_id = shapes.UuidField()
    asset_id = shapes.UuidField()
    asset_code = shapes.TextField(source="asset.code")
    asset_name = shapes.TextField(source="asset.name")
    assignee_id = shapes.UuidField(source="assignee.public_id", allow_null=True)
    assignee_name = SerializerMethodField()
    cost_of_delay_per_day = shapes.DecimalString(allow_null=True)
    currency = shapes.TextField()
    opened_at = shapes.AwareDateTimeField()
    respond_by_at = shapes.AwareDateTimeField()
    due_at = shapes.AwareDateTimeField()
    clock_due_at = shapes.AwareDateTimeField()
    overdue = shapes.BooleanField()
    scheduled_for_at = shapes.AwareDateTimeField(allow_null=True)
    started_at = shapes.AwareDateTimeField(allow_null=True)
    repaired_at = shapes.AwareDateTimeField(allow_null=True)
    verify_by_at = shapes.AwareDateTimeField(allow_null=True)
    responded_at = shapes.AwareDateTimeField(allow_null=True)
    clocks = ClockShape(many=True)
    ended_at = shapes.AwareDateTimeField(allow_null=True)
    waiting_reason = shapes.TextField()
    cancel_reason = shapes.TextField()
    version = shapes.IntegerField()

    def get_assignee_name(self, order: Any) -> str:
        """Return the name of who is to do it."""
        return str(order.assignee) if order.assignee is not None else ""


class ReleaseField(shapes.JsonObjectField):
    """What a dangerous finding lets out, as the finding's own door tells it; null for every other one."""

    def get_attribute(self, instance: Any) -> Any:
        """Return the release of a finding."""
        release = release_now(instance)
        return None if release is None else release_to_json(release)


class OrderFindingShape(shapes.Shape):
    """A finding of an order; a dangerous one with what it lets out."""

    id = shapes.UuidField()
    number = shapes.IntegerField()
    kind = shapes.TextField()
    medium = shapes.TextField()
    hazard = shapes.TextField()
    is_safety = shapes.BooleanField()
    status = shapes.TextField()
    severity = shapes.IntegerField(allow_null=True)
    point_id = shapes.UuidField()
    point_code = shapes.TextField(source="point.code")
    asset_id = shapes.UuidField()
    asset_code = shapes.TextField(source="asset.code")
    leak_rate_m3_per_s = shapes.DecimalString(allow_null=True, max_digits=18, decimal_places=12)
    release = ReleaseField(allow_null=True)
    found_at = shapes.AwareDateTimeField()


class RepairReportShape(shapes.Shape):
    """What a technician did."""

    id = shapes.UuidField()
    outcome = shapes.ChoiceField(choices=REPAIR_OUTCOMES)
    action_taken = shapes.TextField()
    cause = shapes.TextField()
    parts = shapes.ListField(child=shapes.TextField())
    labour_hours = shapes.DecimalString(allow_null=True, max_digits=8, decimal_places=2)
    cost = shapes.DecimalString(allow_null=True, max_digits=14, decimal_places=2)
    currency = shapes.TextField()
    isolation_confirmed = shapes.BooleanField()
    repaired_at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    user_id = shapes.UuidField(source="user.public_id", allow_null=True)


class ReasonShape(shapes.Shape):
    """Why a figure is what it is."""

    code = shapes.TextField()
    text = shapes.TextField()


class CautionShape(shapes.Shape):
    """What to mind before work; local codes and licensed trades decide."""

    key = shapes.TextField()
    text = shapes.TextField()
    basis = shapes.TextField()


class AllowedMoveShape(shapes.Shape):
    """A move open to the caller: where it leads, what it asks, and which values take this way."""

    move = shapes.TextField()
    target = shapes.TextField()
    needs = shapes.ListField(child=shapes.TextField())
    when = shapes.JsonObjectField()


class OrderSheetShape(OrderShape):
    """A work order with everything that belongs on its paper."""

    instructions = shapes.TextField()
    consequence = shapes.IntegerField(allow_null=True)
    likelihood = shapes.IntegerField(allow_null=True)
    priority_reasons = ReasonShape(many=True)
    cautions = CautionShape(many=True)
    warnings = ReasonShape(many=True, help_text="What keeps the work from beginning now, and whom to ask.")
    findings = OrderFindingShape(many=True)
    repair_reports = RepairReportShape(many=True)
    allowed_moves = AllowedMoveShape(many=True)


# What the API calls the evidence that the table of moves asks.
EVIDENCE = {"reason": "text", "assignee_id": "assignee", "reading_id": "reading"}
_API_NAMES = {evidence: name for name, evidence in EVIDENCE.items()}


def move_of(row: Move, *, hazard: bool) -> dict[str, Any]:
    """Return a row of the table of moves in the names of this door."""
    asked = row.evidence + (row.hazard_evidence if hazard else ())
    when = {} if row.when is None else {_API_NAMES.get(row.when[0], row.when[0]): sorted(row.when[1])}
    needs = [_API_NAMES.get(name, name) for name in asked]
    return {"move": row.name, "target": row.target, "needs": needs, "when": when}


class OrderInput(shapes.InputShape):
    """What opens an order."""

    site_id = shapes.UuidField(required=False)
    finding_ids = shapes.ListField(child=shapes.UuidField(), min_length=1, max_length=100)
    title = shapes.TextField(required=False, allow_blank=True, max_length=200)
    instructions = shapes.TextField(required=False, allow_blank=True, max_length=5_000)
    assignee_id = PersonField(required=False, allow_null=True)
    released = shapes.BooleanField(required=False)


class OrderChange(shapes.InputShape):
    """What may be said anew on an order."""

    title = shapes.TextField(max_length=200)
    instructions = shapes.TextField(allow_blank=True, max_length=5_000)
    assignee_id = PersonField(allow_null=True)


class MoveInput(shapes.InputShape):
    """A move, its reason, and the evidence that it needs."""

    move = shapes.ChoiceField(choices=choices(MoveName))
    reason = shapes.TextField(required=False, allow_blank=True, max_length=5_000)
    scheduled_for = shapes.AwareDateTimeField(required=False)
    assignee_id = PersonField(required=False)
    wait_reason = shapes.ChoiceField(required=False, choices=choices(WaitReason))
    isolation_confirmed = shapes.BooleanField(required=False)
    outcome = shapes.ChoiceField(required=False, choices=REPAIR_OUTCOMES)
    action_taken = shapes.TextField(required=False, max_length=5_000)
    cause = shapes.TextField(required=False, allow_blank=True, max_length=200)
    parts = shapes.ListField(required=False, child=shapes.TextField(max_length=200), max_length=100)
    labour_hours = shapes.DecimalString(required=False, max_digits=8, decimal_places=2, min_value=0)
    cost = shapes.DecimalString(required=False, max_digits=14, decimal_places=2, min_value=0)
    repaired_at = shapes.AwareDateTimeField(required=False)
    cancel_reason = shapes.ChoiceField(required=False, choices=choices(CancelReason))
    closure_reason = shapes.ChoiceField(required=False, choices=choices(ClosureReason))
    closure_text = shapes.TextField(required=False, max_length=5_000)
    reading_id = shapes.UuidField(required=False)


class PriorityInput(shapes.InputShape):
    """A priority set by hand."""

    priority = shapes.ChoiceField(choices=PRIORITIES)
    reason = shapes.TextField(required=False, allow_blank=True, max_length=5_000)
