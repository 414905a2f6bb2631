"""The environment that our children see."""

from __future__ import annotations

import os
from pathlib import Path

from plantcare.standalone.datafolder import Secrets

_LOOPBACK = ("127.0.0.1", "localhost", "[::1]")


def clean_environment() -> dict[str, str]:
    """Return our environment without PostgreSQL's own variables, in a locale that is always there."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PG", "LC_", "LANG"))}
    return kept | {"LC_ALL": "C.UTF-8"}


def application_environment(
    *, database_url: str, redis_url: str, secrets: Secrets, files: Path
) -> dict[str, str]:
    """Return what Plantcare's own programs need: addresses, key, hosts and folder, debugging off.

    A key or further host names that the user has set are kept.
    """
    asked_hosts = [name for name in os.environ.get("PLANTCARE_ALLOWED_HOSTS", "").split(",") if name]
    return clean_environment() | {
        "DATABASE_URL": database_url,
        "REDIS_URL": redis_url,
        "DJANGO_SETTINGS_MODULE": "plantcare.settings",
        "PLANTCARE_SECRET_KEY": os.environ.get("PLANTCARE_SECRET_KEY") or secrets.secret_key,
        "PLANTCARE_ALLOWED_HOSTS": ",".join(dict.fromkeys([*_LOOPBACK, *asked_hosts])),
        "PLANTCARE_DATA_DIR": str(files),
        "PLANTCARE_DEBUG": "0",
        "PYTHONUNBUFFERED": "1",
    }
