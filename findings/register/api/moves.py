"""The door for moves on a finding."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.register import actions, queries
from findings.register.api.shapes import MEDIA, FindingDetailShape
from findings.register.rules import ClosureReason, DismissReason
from plantcare.api import shapes
from plantcare.api.policy import access_policy
from plantcare.api.references import Reference
from plantcare.api.views import ActDoor


class FindingMoveInput(shapes.InputShape):
    """A move by name, and its evidence: each move says which members it takes."""

    move = shapes.ChoiceField(choices=[(act.value, act.value) for act in actions.FindingAct])
    text = shapes.TextField(required=False, max_length=2000, help_text="Why, in at least ten characters.")
    dismiss_reason = shapes.ChoiceField(required=False, choices=[(r.value, r.value) for r in DismissReason])
    closure_reason = shapes.ChoiceField(required=False, choices=[(r.value, r.value) for r in ClosureReason])
    ended_at = shapes.AwareDateTimeField(required=False, help_text="When the loss ended; now if not said.")
    survivor_id = shapes.UuidField(required=False)
    reading_id = shapes.UuidField(required=False)
    medium = shapes.ChoiceField(required=False, choices=MEDIA)


class FindingMoves(ActDoor):
    """Dismiss, reinstate, merge, separate, classify, reopen or close a finding by a recorded reason.

    Each takes its own right: closing by a reason takes close_by_reason, the others take assess.
    Repairs are reported on the work order and proven by a reading.
    """

    operation, room = "finding_move", "register"
    needs = {"POST": "view"}
    shape, input_shape = FindingDetailShape, FindingMoveInput
    if_match = "required"
    references = {"survivor_id": Reference(queries.findings), "reading_id": Reference(queries.readings)}

    def rows(self) -> QuerySet[Any]:
        """Return all findings."""
        return queries.findings()

    def act(self, obj: Any, data: dict[str, Any]) -> Any:
        """Check the move's own right, then make it."""
        act = actions.FindingAct(data.pop("move"))
        access_policy().require(self.actor, actions.right_of(act), obj.site_id)
        return actions.move(
            actor=self.actor, at=self.at, finding_id=obj.pk, act=act, evidence=data, version=self.version
        )

    def answer(self, result: Any, **kwargs: Any) -> Any:
        """Answer the finding as it stands now."""
        self.around = queries.around(result, self.at)
        return super().answer(result, **kwargs)

    def get_serializer_context(self) -> dict[str, Any]:
        """Return the framework's context with the finding's cost and assessment."""
        return {**super().get_serializer_context(), **self.around}

    around: dict[str, Any] = {}
