"""What each of the commands does, from the first folder to the last exit code."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

from plantcare.standalone.account import database_account, refuse_closed_folder
from plantcare.standalone.datafolder import PROJECT, DataFolder, Secrets, default_root, write_private
from plantcare.standalone.leftovers import stop_left_over
from plantcare.standalone.ports import HOST, choose_port
from plantcare.standalone.processes import ReportedError
from plantcare.standalone.servers import brings_own_database, open_servers
from plantcare.standalone.site import Site, manage_command
from plantcare.standalone.supervisor import Supervisor, say
from plantcare.standalone.temporary import temporary_folder

USUAL_PORT = 8000
MOST_TEST_PROCESSES = 4


def serve(supervisor: Supervisor, *, name: str, data: Path | None, port: int | None, fresh: bool) -> int:
    """Run the whole service on the kept data of `name` (demo or plant) until the user stops it."""
    folder = _folder(name, data)
    _hold(supervisor, folder)
    if fresh:
        _forget(folder)
    chosen = choose_port(port, USUAL_PORT)
    # An address that the user has set stands; mails and calendars name it.
    public = {"PLANTCARE_PUBLIC_URL": f"http://{HOST}:{chosen}"}
    environment = public | open_servers(supervisor, folder, folder.secrets(), kept=True)
    site = Site(supervisor, folder, environment, chosen)
    say("Bringing the tables up to date ...")
    site.manage("migrate", "--no-input")
    told = _load_demo(site) if name == "demo" else _first_user(data)
    site.open()
    site.announce(*told.splitlines())
    supervisor.watch()
    say("Stopping ...")
    return 0


def manage(supervisor: Supervisor, *, name: str, data: Path | None, arguments: list[str]) -> int:
    """Run manage.py against the running service, or against servers started for this one command."""
    folder = _folder(name, data)
    if folder.hold(supervisor.tidying):
        environment = open_servers(supervisor, folder, folder.secrets(), kept=True)
    else:
        environment = os.environ | _running_environment(folder)
    return supervisor.foreground(manage_command(*arguments), environment=environment, folder=Path.cwd())


def test(supervisor: Supervisor, *, arguments: list[str]) -> int:
    """Run pytest on scratch servers that are thrown away; return pytest's exit code.

    All of the tests run on several processors at once, file by file; chosen ones run as they are asked for.
    """
    spread = [] if arguments else ["--numprocesses", str(_processors()), "--dist", "loadfile"]
    return _on_scratch_servers(supervisor, [sys.executable, "-m", "pytest", *spread, *arguments])


def _processors() -> int:
    """Return how many tests may run side by side: each has a database and a broker database of its own."""
    return min(os.cpu_count() or 1, MOST_TEST_PROCESSES)


def bench(supervisor: Supervisor, *, arguments: list[str]) -> int:
    """Run the benchmarks on scratch servers that are thrown away."""
    return _on_scratch_servers(supervisor, manage_command("bench", *arguments))


def _on_scratch_servers(supervisor: Supervisor, command: list[str]) -> int:
    folder = DataFolder(temporary_folder(supervisor.tidying, database_account()))
    folder.make()
    environment = open_servers(supervisor, folder, Secrets.draw(), kept=False)
    return supervisor.foreground(command, environment=environment, folder=PROJECT)


def _folder(name: str, data: Path | None) -> DataFolder:
    account = database_account()
    folder = DataFolder(data.absolute() if data else default_root(name, account))
    if not brings_own_database():
        refuse_closed_folder(folder.root, account)
    folder.make()
    return folder


def _hold(supervisor: Supervisor, folder: DataFolder) -> None:
    if not folder.hold(supervisor.tidying):
        where = _running_note(folder).get("address", "an address not yet known")
        message = (
            f"{folder.root} is already in use by a running Plantcare, at {where}. "
            f"Stop that one, or name another folder with --data."
        )
        raise ReportedError(message)


def _forget(folder: DataFolder) -> None:
    if brings_own_database():
        message = "--fresh forgets what our own servers keep. DATABASE_URL names yours: empty it yourself."
        raise ReportedError(message)
    stop_left_over(folder.postgres)
    folder.forget()


def _load_demo(site: Site) -> str:
    """Load the invented plant, if it is not there yet, and return who may log in and what to try first.

    That is the last paragraph the command writes. Of our own database it is kept, for a key is shown once.
    """
    say("Loading the demo plant (the first time takes a while) ...")
    told = site.manage("demo", aloud=True).read_text(encoding="utf-8", errors="replace")
    closing = told.strip().split("\n\n")[-1]
    if brings_own_database():
        return closing
    if not site.folder.told.exists():
        write_private(site.folder.told, closing)
    return site.folder.told.read_text(encoding="utf-8")


def _first_user(data: Path | None) -> str:
    where = f"--data {data} " if data else ""
    return f"The first user, in a second terminal:  python -m plantcare manage {where}createsuperuser"


def _running_note(folder: DataFolder) -> dict[str, object]:
    try:
        note = json.loads(folder.running.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return note if isinstance(note, dict) else {}


def _running_environment(folder: DataFolder) -> dict[str, str]:
    environment = _running_note(folder).get("environment")
    if not isinstance(environment, dict):
        message = f"{folder.root} is in use by a Plantcare that is not ready yet. Try again in a moment."
        raise ReportedError(message)
    return {str(name): str(value) for name, value in environment.items()}
