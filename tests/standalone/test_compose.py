"""The container description keeps what a plant relies on."""

import pytest
import yaml

from plantcare.standalone.datafolder import PROJECT

DESCRIPTION = yaml.safe_load((PROJECT / "docker-compose.yml").read_text(encoding="utf-8"))
SERVICES = DESCRIPTION["services"]
LASTING = sorted(set(SERVICES) - {"migrate"})
OURS = ["migrate", "web", "worker", "beat"]


def words(name):
    return " ".join(SERVICES[name]["command"])


class TestServices:
    def test_are_the_six_parts(self):
        assert sorted(SERVICES) == ["beat", "migrate", "postgres", "redis", "web", "worker"]

    @pytest.mark.parametrize("name", LASTING)
    def test_come_back_after_a_failure(self, name):
        assert SERVICES[name]["restart"] == "unless-stopped"

    @pytest.mark.parametrize("name", LASTING)
    def test_say_whether_they_are_well(self, name):
        assert SERVICES[name]["healthcheck"]["test"]

    @pytest.mark.parametrize("name", ["web", "worker", "beat"])
    def test_wait_for_the_tables(self, name):
        assert SERVICES[name]["depends_on"]["migrate"] == {"condition": "service_completed_successfully"}

    @pytest.mark.parametrize("name", OURS)
    def test_have_no_rights_they_do_not_need(self, name):
        assert SERVICES[name]["cap_drop"] == ["ALL"]

    def test_keep_beat_apart_from_the_worker(self):
        assert (" beat" in words("beat"), "--beat" in words("worker")) == (True, False)


class TestQueue:
    def test_drops_nothing(self):
        assert "--maxmemory-policy noeviction" in words("redis")


class TestDoor:
    def test_is_open_to_this_machine_only(self):
        assert SERVICES["web"]["ports"] == ["127.0.0.1:8000:8000"]


class TestSecrets:
    @pytest.mark.parametrize("name", ["PLANTCARE_SECRET_KEY", "DATABASE_URL", "REDIS_URL"])
    def test_have_no_value_here(self, name):
        assert ":?set it in .env}" in SERVICES["web"]["environment"][name]


class TestVolumes:
    def test_hold_what_must_outlive_a_container(self):
        assert sorted(DESCRIPTION["volumes"]) == ["database", "files", "queue"]
