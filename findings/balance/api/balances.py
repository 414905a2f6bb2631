"""The door of the leak balance."""

from __future__ import annotations

import uuid
from typing import Any

from rest_framework.response import Response

from findings.balance import queries
from findings.balance.api.shapes import LeakBalanceShape
from findings.plant.rules import Right
from findings.supply import queries as supply
from findings.surveys import queries as surveys
from plantcare.api import shapes
from plantcare.api.problems import FieldError, Invalid
from plantcare.api.views import Door


class LeakBalanceQuery(shapes.InputShape):
    """At which moment, and by which two surveys what was missed is reckoned."""

    at = shapes.AwareDateTimeField(required=False, help_text="Now, where it isn't named.")
    first_survey_id = shapes.UuidField(required=False)
    second_survey_id = shapes.UuidField(required=False)


class LeakBalance(Door):
    """The measured leakage of a supply system against the findings that lose at a moment."""

    noun, room = "leak_balance", "balance"
    verbs = {"GET": "read"}
    needs = {"GET": Right.VIEW}
    shape, query_shape = LeakBalanceShape, LeakBalanceQuery

    def get(self, *_: Any, **__: Any) -> Response:
        """Answer the balance."""
        system = self.one(supply.systems(), self.kwargs["id"])
        asked = self.ask()
        at = asked.get("at", self.at)
        if at > self.at:
            text = "Nobody knows yet what leaks then."
            raise Invalid(text, errors=[FieldError("?at", "in_the_future", text)])
        return self.answer(queries.leak_balance(system, at, self._surveys(system.site_id, asked)))

    def _surveys(self, site_id: uuid.UUID, asked: dict[str, Any]) -> Any:
        """Return both surveys that were named, or None. Raises Invalid for one alone or of another site."""
        names = ("first_survey_id", "second_survey_id")
        given = [name for name in names if name in asked]
        if not given:
            return None
        found = {name: self._survey(site_id, name, asked[name]) for name in given}
        for name in names:
            if name not in found:
                raise _wrong(name, "required", "It takes two surveys to tell what both missed.")
        first, second = found.values()
        if first.pk == second.pk:
            raise _wrong(names[1], "same_survey", "A survey compared with itself has missed nothing.")
        return first, second

    def _survey(self, site_id: uuid.UUID, name: str, survey_id: uuid.UUID) -> Any:
        found = surveys.surveys().filter(pk=survey_id, site_id=site_id).first()
        if found is None:
            raise _wrong(name, "unknown_reference", "Names nothing here.")
        return found


def _wrong(name: str, code: str, text: str) -> Invalid:
    return Invalid(text, errors=[FieldError(f"?{name}", code, text)])
