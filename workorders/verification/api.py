"""Doors of the verification room."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from findings.plant.access import POLICY
from findings.readings import queries as readings
from findings.register import queries as register
from plantcare.api import filtering, shapes
from plantcare.api.references import Reference
from plantcare.api.views import CreateDoor, DetailDoor, ListDoor
from workorders.verification import actions, queries
from workorders.verification.rules import Verdict

_VERDICTS = [(verdict.value, verdict.value.replace("_", " ")) for verdict in Verdict]


class VerdictReasonShape(shapes.Shape):
    """Why a verdict is what it is."""

    code = shapes.TextField()
    text = shapes.TextField()


class VerificationShape(shapes.Shape):
    """The judgement of one reading after one repair."""

    id = shapes.UuidField()
    site_id = shapes.UuidField()
    finding_id = shapes.UuidField()
    finding_number = shapes.IntegerField(source="finding.number")
    order_id = shapes.UuidField(allow_null=True)
    reading_id = shapes.UuidField(allow_null=True)
    verdict = shapes.ChoiceField(choices=_VERDICTS)
    reasons = VerdictReasonShape(many=True)
    residual_m3_per_s = shapes.DecimalString(allow_null=True, max_digits=18, decimal_places=12)
    repaired_at = shapes.AwareDateTimeField()
    at = shapes.AwareDateTimeField()
    recorded_at = shapes.AwareDateTimeField()
    user_id = shapes.UuidField(source="user.public_id", allow_null=True)
    actor_name = shapes.TextField()


class VerificationInput(shapes.InputShape):
    """The reading to judge; for electrical gear also who looked and whether it was live."""

    finding_id = shapes.UuidField()
    reading_id = shapes.UuidField()
    energised = shapes.BooleanField(required=False, allow_null=True)
    qualified = shapes.BooleanField(required=False)


class VerificationFilters(filtering.StrictFilterSet):
    """Narrow the list of verifications."""

    site_id = filtering.UuidFilter()
    finding_id = filtering.UuidFilter()
    order_id = filtering.UuidFilter()
    verdict = filtering.ChoicesFilter(choices=_VERDICTS)
    from_at = filtering.AwareDateTimeFilter(field_name="at", lookup_expr="gte")
    to_at = filtering.AwareDateTimeFilter(field_name="at", lookup_expr="lt")


class Verifications(CreateDoor, ListDoor):
    """Verifications: list and judge."""

    noun, room = "verification", "verification"
    needs = {"GET": "view", "POST": "verify"}
    shape, input_shape, filterset_class = VerificationShape, VerificationInput, VerificationFilters
    orderings = {"-at": ("-at", "-id"), "at": ("at",)}
    references = {"finding_id": Reference(register.findings), "reading_id": Reference(readings.readings)}

    def rows(self) -> QuerySet[Any]:
        """Return all verifications."""
        return queries.verifications()

    def act(self, data: dict[str, Any]) -> Any:
        """Judge one reading."""
        rights = POLICY.rights(self.actor, self.site_id)
        return actions.verify(actor=self.actor, at=self.at, rights=rights, **data)


class Verification(DetailDoor):
    """One verification."""

    noun, room = "verification", "verification"
    needs = {"GET": "view"}
    shape = VerificationShape

    def rows(self) -> QuerySet[Any]:
        """Return all verifications."""
        return queries.verifications()
