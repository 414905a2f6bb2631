"""Temporary folders that are gone afterwards, also when the run that made them was killed."""

from __future__ import annotations

import contextlib
import fcntl
import os
import shutil
import stat
import tempfile
from pathlib import Path

from plantcare.standalone.account import Account, temporary_base

PREFIX = "plantcare-scratch-"
_LOCK = ".held"


def temporary_folder(tidying: contextlib.ExitStack, account: Account | None) -> Path:
    """Make a temporary folder that others may enter but not list; it goes when `tidying` closes.

    Folders left by runs that were killed are removed first: theirs is the lock that nobody holds any more.
    """
    base = temporary_base(account)
    _sweep(base)
    folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=base))
    tidying.callback(shutil.rmtree, folder, ignore_errors=True)
    held = (folder / f"{_LOCK}.new").open("wb")
    tidying.callback(held.close)
    fcntl.flock(held, fcntl.LOCK_EX)
    (folder / f"{_LOCK}.new").rename(folder / _LOCK)  # so that it is never seen unlocked while we live
    folder.chmod(0o711)
    return folder


def _sweep(base: Path) -> None:
    for folder in base.glob(f"{PREFIX}*"):
        with contextlib.suppress(OSError):
            facts = folder.lstat()
            if stat.S_ISDIR(facts.st_mode) and facts.st_uid == os.geteuid() and _is_left_over(folder):
                shutil.rmtree(folder, ignore_errors=True)


def _is_left_over(folder: Path) -> bool:
    """Return whether the folder has our lock and nobody holds it; without a lock it may be anybody's."""
    try:
        with (folder / _LOCK).open("rb") as held:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (FileNotFoundError, BlockingIOError):
        return False
    return True
