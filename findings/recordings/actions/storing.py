"""Store a file and name it in one transaction, so that no sweep comes between."""

from __future__ import annotations

from typing import BinaryIO

from findings.recordings import files
from plantcare.jobs.turns import wait_turn


def take_name(sha256: str) -> None:
    """Wait until nobody else stores or sweeps the file of this hash; until the transaction ends."""
    wait_turn(f"recording file {sha256}")


def store(file: BinaryIO, sha256: str, ending: str) -> None:
    """Store a file under its hash inside the transaction that will name it.

    Stored before it is named: a transaction that fails leaves a file that nothing names, which is swept up
    later, and never a row without its file. Raises StoreAway.
    """
    take_name(sha256)
    files.write(file, sha256, ending)
