"""Take away the files that nothing names: of uploads that failed after their file was stored."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import PurePosixPath

from django.db import transaction

from findings.recordings import files, queries
from findings.recordings.actions.storing import take_name
from plantcare.api.actor import Actor

LEFT_ALONE_FOR = timedelta(days=1)
MOST_IN_A_RUN = 1_000


def sweep_files(
    *,
    actor: Actor,  # noqa: ARG001 - the form of every job
    at: datetime,
    site_ids: Sequence[uuid.UUID] | None,  # noqa: ARG001
) -> dict[str, int]:
    """Delete files that are a day old and no recording's or picture's, at most a thousand at once."""
    seen = deleted = 0
    for name in files.names():
        seen += 1
        deleted += _is_swept(name, at)
        if deleted >= MOST_IN_A_RUN:
            break
    return {"seen": seen, "deleted": deleted}


def _is_swept(name: str, at: datetime) -> bool:
    """Delete a file unless it has a name or is young; looked at again under the lock of its storing."""
    sha256 = PurePosixPath(name).stem
    if queries.is_named(sha256):
        return False
    with transaction.atomic():
        take_name(sha256)
        if queries.is_named(sha256) or at - files.last_written(name) < LEFT_ALONE_FOR:
            return False
        files.remove(name)
    return True
