"""The store of recordings and pictures: a folder, or a bucket of an S3-compatible server, by the settings."""

from __future__ import annotations

import hashlib
import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from tempfile import TemporaryFile
from typing import IO, Any, BinaryIO, Final, cast

from django.conf import settings
from django.core.files import File
from django.core.files.storage import Storage, storages

from findings.physics import lazily
from findings.recordings.rules import key_of
from plantcare.api.problems import Unavailable

logger = logging.getLogger(__name__)

ALIAS: Final = "recordings"
CHUNK_BYTES: Final = 256 * 1024


class StoreAway(Unavailable):
    """The store of files can't be reached or written; nothing was kept."""

    code = "file_store_unavailable"


class FileChanged(Exception):
    """The stored bytes aren't those that were stored."""


def store() -> Storage:
    """Return the store that the settings name."""
    return storages[ALIAS]


def digest_of(file: BinaryIO) -> tuple[str, int]:
    """Return SHA-256 in hex and the number of bytes of a file, read in pieces."""
    digest, size = hashlib.sha256(), 0
    file.seek(0)
    while piece := file.read(CHUNK_BYTES):
        digest.update(piece)
        size += len(piece)
    return digest.hexdigest(), size


def write(file: BinaryIO, sha256: str, ending: str) -> None:
    """Store a file under its hash; once more is the same. Raises StoreAway."""
    file.seek(0)
    with _told_as_away():
        store().save(key_of(sha256, ending), File(file))


def opened(sha256: str, ending: str) -> IO[bytes]:
    """Return a stored file to be read and sought in. Raises StoreAway."""
    with _told_as_away():
        return cast(IO[bytes], store().open(key_of(sha256, ending), "rb"))


@contextmanager
def local_copy(sha256: str, ending: str) -> Iterator[BinaryIO]:
    """Give a copy on the local disk, checked against its hash. Raises StoreAway, FileChanged."""
    with TemporaryFile() as copy:
        with _told_as_away(), opened(sha256, ending) as kept:
            while piece := kept.read(CHUNK_BYTES):
                copy.write(piece)
        if digest_of(cast(BinaryIO, copy))[0] != sha256:
            raise FileChanged
        copy.seek(0)
        yield cast(BinaryIO, copy)


def names() -> Iterator[str]:
    """Yield the name of every stored file."""
    for first in _folders(""):
        for second in _folders(first):
            folder = f"{first}/{second}"
            yield from (f"{folder}/{name}" for name in store().listdir(folder)[1])


def last_written(name: str) -> datetime:
    """Return when a file was written."""
    return store().get_modified_time(name)


def remove(name: str) -> None:
    """Delete a file; one that is gone already is no error."""
    store().delete(name)


def _folders(path: str) -> list[str]:
    try:
        return sorted(store().listdir(path)[0])
    except FileNotFoundError:
        return []  # nothing was ever stored


@contextmanager
def _told_as_away() -> Iterator[None]:
    try:
        yield
    except _failures() as exc:
        logger.warning("the store of recordings fails: %s: %s", type(exc).__name__, exc)
        raise StoreAway from exc


def _failures() -> tuple[type[Exception], ...]:
    """Return what a store raises; the S3 client is loaded only where it is the store."""
    backend: dict[str, Any] = settings.STORAGES[ALIAS]
    if "s3" not in str(backend["BACKEND"]):
        return (OSError,)
    inner, outer = lazily.load("botocore.exceptions"), lazily.load("boto3.exceptions")
    return (OSError, inner.BotoCoreError, inner.ClientError, outer.Boto3Error)
