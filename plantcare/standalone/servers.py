"""The two servers Plantcare needs: the plant's own where their addresses are given, else ours."""

from __future__ import annotations

import os
import time

from plantcare.standalone.account import database_account
from plantcare.standalone.binaries import postgres_programs, redis_program
from plantcare.standalone.datafolder import DataFolder, Secrets
from plantcare.standalone.environment import application_environment
from plantcare.standalone.postgres import Postgres
from plantcare.standalone.redis_server import RedisServer
from plantcare.standalone.supervisor import Supervisor, remark


def brings_own_database() -> bool:
    """Return whether the user names a PostgreSQL of their own."""
    return bool(os.environ.get("DATABASE_URL"))


def open_servers(
    supervisor: Supervisor, folder: DataFolder, secrets: Secrets, *, kept: bool
) -> dict[str, str]:
    """Start what is missing and return the environment for Plantcare's programs.

    DATABASE_URL and REDIS_URL, each by itself, replace our server when they are set.
    """
    begun_s = time.monotonic()
    database_url = os.environ.get("DATABASE_URL") or _open_postgres(supervisor, folder, secrets, kept=kept)
    redis_url = os.environ.get("REDIS_URL") or _open_redis(supervisor, folder)
    if supervisor.children:
        names = " and ".join(child.name for child in supervisor.children)
        remark(f"{names} started in {time.monotonic() - begun_s:.1f} s.")
    return application_environment(
        database_url=database_url, redis_url=redis_url, secrets=secrets, files=folder.files
    )


def _open_postgres(supervisor: Supervisor, folder: DataFolder, secrets: Secrets, *, kept: bool) -> str:
    account = database_account()
    server = Postgres(
        programs=postgres_programs(supervisor.tidying, account),
        folder=folder.postgres,
        logs=folder.logs,
        password=secrets.database_password,
        account=account,
        kept=kept,
    )
    return server.open(supervisor)


def _open_redis(supervisor: Supervisor, folder: DataFolder) -> str:
    return RedisServer(program=redis_program(), folder=folder.logs, logs=folder.logs).open(supervisor)
