"""The folder that keeps a plant's data between two runs, and what belongs in it.

postgres/      the database; when we run as root it is owned by the account PostgreSQL runs as
files/         uploads, mail, static files: what the application itself stores
logs/          one log per program, begun anew at each start
secrets.json   the passwords and the secret key, drawn once (0600)
demo.txt       who may log in to the demo, as told when it was loaded (0600)
running.json   the addresses of a running service, for `manage` (0600)
held           locked by the process that uses the folder
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import json
import os
import secrets
import shutil
from dataclasses import dataclass
from pathlib import Path

from plantcare.standalone.account import Account, closed_folder
from plantcare.standalone.processes import ReportedError

PROJECT = Path(__file__).resolve().parent.parent.parent
_SYSTEM_BASE = Path("/var/lib")


@dataclass(frozen=True)
class Secrets:
    """What must stay the same from run to run and must not be guessed."""

    database_password: str
    secret_key: str

    @classmethod
    def draw(cls) -> Secrets:
        """Draw fresh ones from the system's generator."""
        return cls(secrets.token_urlsafe(24), secrets.token_urlsafe(50))


@dataclass(frozen=True)
class DataFolder:
    """The folder's parts by name."""

    root: Path

    @property
    def postgres(self) -> Path:
        """Return the database's own folder."""
        return self.root / "postgres"

    @property
    def logs(self) -> Path:
        """Return the folder of logs."""
        return self.root / "logs"

    @property
    def files(self) -> Path:
        """Return the folder of what the application stores."""
        return self.root / "files"

    @property
    def running(self) -> Path:
        """Return the note that a running service leaves for `manage`."""
        return self.root / "running.json"

    @property
    def told(self) -> Path:
        """Return the note of what the demo said when it was loaded."""
        return self.root / "demo.txt"

    def make(self) -> None:
        """Make the folder and its parts where they are missing; raises ReportedError when it can't."""
        try:
            self.root.mkdir(mode=0o711, parents=True, exist_ok=True)  # PostgreSQL's account must pass through
            self.logs.mkdir(mode=0o700, exist_ok=True)
            self.files.mkdir(mode=0o700, exist_ok=True)
            (self.root / ".gitignore").write_text("*\n", encoding="ascii")
        except OSError as trouble:
            message = f"The data folder {self.root} can't be written: {trouble}. Choose another with --data."
            raise ReportedError(message) from trouble

    def hold(self, tidying: contextlib.ExitStack) -> bool:
        """Lock the folder until `tidying` closes; return False when another process holds it."""
        held = (self.root / "held").open("ab")
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            held.close()
            return False
        tidying.callback(held.close)
        return True

    def forget(self) -> None:
        """Remove what this folder keeps, and nothing that is not known to be ours."""
        for part in (self.postgres, self.files):
            if part.exists():
                shutil.rmtree(part)
        for note in (self.root / "secrets.json", self.told):
            note.unlink(missing_ok=True)
        self.files.mkdir(mode=0o700)

    def secrets(self) -> Secrets:
        """Return the secrets, drawn at the first call."""
        place = self.root / "secrets.json"
        if not place.exists():
            drawn = Secrets.draw()
            write_private(place, json.dumps(drawn.__dict__, indent=1))
        return Secrets(**json.loads(place.read_text(encoding="utf-8")))


def write_private(place: Path, text: str) -> None:
    """Write a file that only we can read, whole or not at all."""
    half = place.with_name(f"{place.name}.new")
    half.unlink(missing_ok=True)
    with os.fdopen(os.open(half, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as out:
        out.write(text)
        out.flush()
        os.fsync(out.fileno())
    half.replace(place)


def default_root(name: str, account: Account | None) -> Path:
    """Return where the data of `name` (demo or plant) is kept when the user names no folder.

    First choice is `.plantcare` beside the code; else the user's data folder. Root's database runs as another
    account, so there a folder that this account can't reach is no choice, and /var/lib is the second one.
    """
    beside = PROJECT / ".plantcare"
    if os.access(PROJECT, os.W_OK) and closed_folder(beside, account) is None:
        return beside / name
    if account is not None:
        mark = hashlib.sha256(os.fsencode(PROJECT)).hexdigest()[:8]
        return _SYSTEM_BASE / f"plantcare-{mark}" / name
    home = os.environ.get("XDG_DATA_HOME", "")
    base = Path(home) if home.startswith("/") else Path.home() / ".local" / "share"
    return base / "plantcare" / name
