"""A database server that outlived the run that started it: found by its own note, stopped in order."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import time
from pathlib import Path

from plantcare.standalone.processes import POLL_S, ReportedError

_PATIENCE_S = 20.0


def stop_left_over(folder: Path) -> bool:
    """Stop a postmaster that still serves the data folder; return whether there was one.

    The number in postmaster.pid may long belong to another program, so it is believed only when that process
    works in the folder. Raises ReportedError when the server does not stop.
    """
    number = _noted_process(folder / "postmaster.pid")
    if number is None or not _serves(number, folder):
        return False
    for wanted in (signal.SIGINT, signal.SIGQUIT):
        with contextlib.suppress(ProcessLookupError):
            os.kill(number, wanted)
        end_s = time.monotonic() + _PATIENCE_S
        while time.monotonic() < end_s:
            if not _serves(number, folder):
                return True
            time.sleep(POLL_S)
    message = f"A PostgreSQL of an earlier run (process {number}) still serves {folder} and does not stop."
    raise ReportedError(message)


def _noted_process(note: Path) -> int | None:
    try:
        return int(note.read_text(encoding="utf-8").split("\n", 1)[0])
    except (OSError, ValueError):
        return None


def _serves(number: int, folder: Path) -> bool:
    """Return whether this process is the folder's postmaster, which works inside its data folder."""
    if Path("/proc/self/cwd").exists():
        try:
            return (Path("/proc") / str(number) / "cwd").resolve(strict=True) == folder.resolve()
        except OSError:
            return False
    answer = subprocess.run(
        ["/bin/ps", "-o", "command=", "-p", str(number)], capture_output=True, text=True, check=False
    )
    return f"-D {folder}" in answer.stdout
