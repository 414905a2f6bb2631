"""A folder in which a file is either whole under its name, or not there."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import Any

from django.core.files.storage import FileSystemStorage

UNFINISHED = ".part"


class WholeFileStorage(FileSystemStorage):
    """Writes beside the place and renames when all bytes are on the disk; the same name is replaced.

    Django's own storage writes in place, so that a process killed half-way leaves half a file under the
    final name. Here it leaves a file that ends in ``.part``, which nothing reads.
    """

    def get_available_name(self, name: str, max_length: int | None = None) -> str:  # noqa: ARG002
        """Return the name itself: whoever stores under it means that name."""
        return name

    def _save(self, name: str, content: Any) -> str:
        place = Path(self.path(name))
        place.parent.mkdir(parents=True, exist_ok=True)
        handle, unfinished = tempfile.mkstemp(dir=place.parent, suffix=UNFINISHED)
        try:
            with os.fdopen(handle, "wb") as out:
                for chunk in content.chunks():
                    out.write(chunk)
                out.flush()
                os.fsync(out.fileno())
            Path(unfinished).replace(place)
        except BaseException:
            Path(unfinished).unlink(missing_ok=True)
            raise
        _keep_names(place.parent)
        return name


def _keep_names(folder: Path) -> None:
    """Bring the folder's own entry to the disk, so that a power cut doesn't take the new name."""
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
