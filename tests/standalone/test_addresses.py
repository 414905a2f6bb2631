"""Inside a test run the servers' addresses are set, ours or the caller's."""

import os

import psycopg
import redis


class TestAddresses:
    def test_lead_to_a_postgresql_that_plantcare_supports(self):
        with psycopg.connect(os.environ["DATABASE_URL"]) as connection:
            assert connection.info.server_version >= 15_00_00

    def test_lead_to_a_server_of_the_redis_protocol(self):
        with redis.Redis.from_url(os.environ["REDIS_URL"]) as line:
            assert line.ping()
