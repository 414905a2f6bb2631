"""Save and change column mappings."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import F

from findings.intake.models import Mapping
from findings.intake.rules import FileKind, MappingProblem, mapping_from_json
from findings.logbook.actions import write
from plantcare.api.actor import Actor
from plantcare.api.problems import FieldError, Invalid, PreconditionFailed


class MappingWrong(Invalid):
    """The mapping names what does not exist."""

    code = "mapping_wrong"
    title = "The mapping cannot be used as it is."


def pointed(problems: Sequence[MappingProblem], root: str) -> list[FieldError]:
    """Return a mapping's problems as pointers below ``root``."""
    return [FieldError(f"{root}{problem.pointer}", "mapping_wrong", problem.text) for problem in problems]


def save_mapping(
    *, actor: Actor, at: datetime, site_id: uuid.UUID, name: str, kind: str, settings: Any
) -> Mapping:
    """Save a mapping for later files. Raises MappingWrong with every problem."""
    _check(settings, FileKind(kind))
    with transaction.atomic():
        mapping = Mapping.objects.create(
            site_id=site_id, name=name, kind=kind, settings=settings, created_at=at
        )
        _log(actor, at, mapping, "mapping.saved")
    return mapping


def change_mapping(
    *,
    actor: Actor,
    at: datetime,
    mapping_id: uuid.UUID,
    version: int,
    name: str | None = None,
    settings: Any = None,
) -> Mapping:
    """Change a mapping's name or columns. Raises MappingWrong, PreconditionFailed."""
    with transaction.atomic():
        mapping = Mapping.objects.get(pk=mapping_id)
        if settings is not None:
            _check(settings, FileKind(mapping.kind))
        changed = Mapping.objects.filter(pk=mapping_id, version=version).update(
            name=name or mapping.name,
            settings=mapping.settings if settings is None else settings,
            version=F("version") + 1,
        )
        if not changed:
            raise PreconditionFailed
        mapping.refresh_from_db()
        _log(actor, at, mapping, "mapping.changed")
    return mapping


def _check(settings: Any, kind: FileKind) -> None:
    _, problems = mapping_from_json(settings, kind)
    if problems:
        raise MappingWrong(errors=pointed(problems, "/settings"))


def _log(actor: Actor, at: datetime, mapping: Mapping, act: str) -> None:
    write(
        site_id=mapping.site_id,
        actor=actor,
        at=at,
        act=act,
        subject_kind="mapping",
        subject_id=mapping.pk,
        subject_version=mapping.version,
        detail={"name": mapping.name, "kind": mapping.kind},
    )
