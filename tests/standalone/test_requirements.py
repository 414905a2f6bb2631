"""The lists of packages install the same files everywhere."""

import re

import pytest

from plantcare.standalone.datafolder import PROJECT

LISTS = ["requirements.txt", ".ci/requirements.txt"]


@pytest.mark.parametrize("name", LISTS)
class TestRequirements:
    def test_pin_every_package_by_hash(self, name):
        entries = re.split(r"\n(?=[a-z0-9])", (PROJECT / name).read_text(encoding="utf-8"))
        loose = [entry for entry in entries if "==" not in entry or "--hash=sha256:" not in entry]

        assert loose == []

    def test_name_no_place_to_fetch_from(self, name):
        text = (PROJECT / name).read_text(encoding="utf-8")

        assert not re.search(r"://|--index|--extra|--find-links|--trusted|file:", text)


class TestWishes:
    @pytest.mark.parametrize(
        ("wishes", "pins"),
        [(".ci/requirements-run.in", "requirements.txt"), (".ci/requirements.in", ".ci/requirements.txt")],
    )
    def test_are_what_the_list_pins(self, wishes, pins):
        pinned = set(re.findall(r"^([a-z0-9-]+)==(\S+)", (PROJECT / pins).read_text(encoding="utf-8"), re.M))
        wanted = {
            (package.lower(), version)
            for package, version in re.findall(
                r"^([A-Za-z0-9-]+)(?:\[[a-z,]+\])?==(\S+)",
                (PROJECT / wishes).read_text(encoding="utf-8"),
                re.M,
            )
        }

        assert wanted - pinned == set()
