"""Recordings in a bucket: the settings' own store against an S3-compatible server in a process of its own."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from plantcare.standalone.ports import free_port
from tests.processes.patience import PATIENCE_S

pytestmark = pytest.mark.processes

ASKED = """
import hashlib, io, json
import boto3, django
django.setup()
from django.conf import settings
from findings.recordings import files

options = settings.STORAGES["recordings"]["OPTIONS"]
keys = {"aws_access_key_id": options["access_key"], "aws_secret_access_key": options["secret_key"]}
server = boto3.client("s3", endpoint_url=options["endpoint_url"], region_name="us-east-1", **keys)
server.create_bucket(Bucket=options["bucket_name"])
content = b"RIFF" + bytes(9_000_000)
sha256 = hashlib.sha256(content).hexdigest()
for _ in range(2):
    files.write(io.BytesIO(content), sha256, "wav")
with files.opened(sha256, "wav") as kept:
    size = kept.size
    kept.seek(1)
    part = kept.read(3).decode()
with files.local_copy(sha256, "wav") as copy:
    same = copy.read() == content
named = list(files.names())
young = files.last_written(named[0]).tzinfo is not None
files.remove(named[0])
try:
    files.opened(sha256, "wav")
    gone = "there"
except files.StoreAway as away:
    gone = away.code
told = {"size": size, "part": part, "same": same, "named": named, "young": young, "gone": gone}
print(json.dumps(told | {"sha256": sha256}))
"""


@pytest.fixture
def server(tmp_path: Path) -> Iterator[str]:
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    log = (tmp_path / "server.log").open("wb")
    command = [sys.executable, "-m", "moto.server", "-H", "127.0.0.1", "-p", str(port)]
    process = subprocess.Popen(command, stdout=log, stderr=log)
    try:
        _wait(port, process)
        yield address
    finally:
        process.terminate()
        process.wait()
        log.close()


def _wait(port: int, process: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            socket.create_connection(("127.0.0.1", port), timeout=5).close()
        except OSError:
            assert process.poll() is None, "the server ended"
            assert time.monotonic() < until, "the server did not answer"
            time.sleep(0.2)
        else:
            return


def test_a_bucket_keeps_gives_lists_and_forgets(server: str) -> None:
    kept = {name: value for name, value in os.environ.items() if name != "PYTEST_VERSION"}
    environment = kept | {
        "DJANGO_SETTINGS_MODULE": "plantcare.settings",
        "PLANTCARE_S3_BUCKET": "recordings",
        "PLANTCARE_S3_URL": server,
        "PLANTCARE_S3_REGION": "us-east-1",
        "PLANTCARE_S3_KEY": "somebody",
        "PLANTCARE_S3_SECRET": "something",
    }
    run = subprocess.run([sys.executable, "-c", ASKED], env=environment, capture_output=True, check=False)
    assert run.returncode == 0, run.stderr.decode()
    told = json.loads(run.stdout)

    sha256 = told.pop("sha256")
    assert told == {
        "size": 9_000_004,
        "part": "IFF",
        "same": True,
        "named": [f"{sha256[:2]}/{sha256[2:4]}/{sha256}.wav"],
        "young": True,
        "gone": "file_store_unavailable",
    }
