"""The guarded write: a row changes only from the version that its changer saw."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.db.models import Model

from plantcare.api.etags import stale


def change(row: Model, version: int | None, values: Mapping[str, Any]) -> dict[str, list[Any]]:
    """Write the values that differ, raise the version by one, and return {name: [old, new]}.

    Where nothing differs, nothing is written and {} is returned. ``version`` None takes the row as it was
    loaded. Raise PreconditionFailed (412) where the row moved on meanwhile.
    """
    found: Any = row
    if version is not None and found.version != version:
        raise stale(found.version)
    changed = {
        name: [getattr(found, name), value] for name, value in values.items() if getattr(found, name) != value
    }
    if not changed:
        return {}
    rows = type(found)._base_manager.filter(pk=found.pk)  # noqa: SLF001 - the only way to a row's own table
    new = {name: value for name, (_, value) in changed.items()}
    if not rows.filter(version=found.version).update(**new, version=found.version + 1):
        raise stale(rows.values_list("version", flat=True).get())
    for name, value in new.items():
        setattr(found, name, value)
    found.version += 1
    return changed
