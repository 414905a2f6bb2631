"""Void a row that was only ever added: once, with a reason, and never rewritten."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any, TypeVar

from django.db.models import Model

from findings.plant.actions.refusals import refuse
from plantcare.api.problems import Conflict, NotFound

Row = TypeVar("Row", bound=Model)


def check_reason(reason: str) -> str:
    """Return the reason without blanks around it; raises Invalid where there is none."""
    if not reason.strip():
        refuse("/reason", "blank", "A reason is needed.")
    return reason.strip()


def void_row(
    model: type[Row], row_id: uuid.UUID, *, at: datetime, reason: str, already: type[Conflict], **more: Any
) -> Row:
    """Void a row by one guarded write, inside the caller's transaction; raises NotFound, ``already``.

    ``more`` names further columns that are written once with it, such as who did it.
    """
    rows = model._default_manager.filter(pk=row_id)  # noqa: SLF001 - the manager of a model that is given
    if not rows.exists():
        raise NotFound
    if not rows.filter(void_at__isnull=True).update(void_at=at, void_reason=reason, **more):
        raise already
    return rows.get()
