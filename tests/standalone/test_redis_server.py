"""A real Redis-protocol server from the installed packages."""

import pytest
import redis

from plantcare.standalone.binaries import redis_program
from plantcare.standalone.redis_server import RedisServer, answers
from plantcare.standalone.supervisor import Supervisor

pytestmark = pytest.mark.processes


@pytest.fixture
def server(folder):
    return RedisServer(program=redis_program(), folder=folder, logs=folder)


class TestRedisServer:
    def test_takes_and_gives_back(self, supervisor, server):
        with redis.Redis.from_url(server.open(supervisor)) as line:
            line.set("line", "wrapping")

            assert line.get("line") == b"wrapping"

    def test_refuses_new_work_rather_than_dropping_waiting_work(self, supervisor, server):
        with redis.Redis.from_url(server.open(supervisor)) as line:
            assert line.config_get("maxmemory-policy") == {"maxmemory-policy": "noeviction"}

    def test_refuses_who_brings_no_password(self, supervisor, server):
        port = int(server.open(supervisor).rsplit(":", 1)[1].split("/")[0])

        assert not answers(port, "guess")

    def test_shows_its_password_in_no_process_list(self, supervisor, server):
        url = server.open(supervisor)

        assert url.split(":")[2].split("@")[0] not in " ".join(supervisor.children[0].process.args)

    def test_is_gone_after_the_run(self, server):
        with Supervisor() as run:
            server.open(run)
            process = run.children[0].process

        assert process.returncode == 0
