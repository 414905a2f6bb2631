"""Which account PostgreSQL runs as, and which folders that account can enter.

PostgreSQL refuses to run as root. Started by root it is given the rights of `nobody`; started by anybody else
it keeps the rights of who started it. No folder that was there before has its rights changed for this.
"""

from __future__ import annotations

import os
import pwd
import stat
import tempfile
from dataclasses import dataclass
from pathlib import Path

from plantcare.standalone.processes import ReportedError


@dataclass(frozen=True)
class Account:
    """An account by its numbers, as the kernel wants them."""

    name: str
    uid: int
    gid: int


def database_account() -> Account | None:
    """Return the account that PostgreSQL needs instead of ours, or None when ours will do."""
    if os.geteuid() != 0:
        return None
    try:
        entry = pwd.getpwnam("nobody")
    except KeyError:
        message = (
            "Started as root, but there is no account 'nobody' to run PostgreSQL as. Start as another user."
        )
        raise ReportedError(message) from None
    return Account(entry.pw_name, entry.pw_uid, entry.pw_gid)


def closed_folder(path: Path, account: Account | None) -> Path | None:
    """Return the first folder on the way to `path`, itself included, that the account can't enter."""
    if account is None:
        return None
    whole = path.absolute()
    for folder in [*reversed(whole.parents), whole]:
        if folder.is_dir() and not _may_enter(folder.stat(), account):
            return folder
    return None


def refuse_closed_folder(path: Path, account: Account | None) -> None:
    """Raise ReportedError, with the remedy, when the account can't enter `path`."""
    closed = closed_folder(path, account)
    if closed is not None and account is not None:
        message = (
            f"PostgreSQL does not run as root; it would run as {account.name}, who can't enter {closed}. "
            f"Name a folder that everybody can enter with --data, or start as another user."
        )
        raise ReportedError(message)


def _may_enter(facts: os.stat_result, account: Account) -> bool:
    if facts.st_uid == account.uid:
        return bool(facts.st_mode & stat.S_IXUSR)
    if facts.st_gid == account.gid:
        return bool(facts.st_mode & stat.S_IXGRP)
    return bool(facts.st_mode & stat.S_IXOTH)


def temporary_base(account: Account | None) -> Path:
    """Return a folder for temporary files that both we and the account can use."""
    choices = [Path(tempfile.gettempdir()), Path("/tmp"), Path("/var/tmp")]  # noqa: S108 - only a base for mkdtemp
    for base in choices:
        if base.is_dir() and os.access(base, os.W_OK | os.X_OK) and closed_folder(base, account) is None:
            return base
    message = f"No usable folder for temporary files: tried {', '.join(map(str, choices))}."
    raise ReportedError(message)
