"""What a run did is added up over the sites that the asker may know of."""

import uuid

import pytest

from plantcare.jobs.results import added, recorded, told

ONE, OTHER = uuid.UUID(int=1), uuid.UUID(int=2)
RESULT, ERROR = recorded({ONE: {"opened": 2, "reasons": ["a"]}, OTHER: {"opened": 3, "reasons": ["b"]}}, {})


@pytest.mark.parametrize(
    ("sites", "figures"),
    [
        (None, {"opened": 5, "reasons": ["a", "b"]}),
        ([ONE], {"opened": 2, "reasons": ["a"]}),
        ([OTHER], {"opened": 3, "reasons": ["b"]}),
        ([], {}),
    ],
)
def test_figures_are_those_of_the_sites_seen(
    sites: list[uuid.UUID] | None, figures: dict[str, object]
) -> None:
    assert told(RESULT, ERROR, sites) == (figures, "")


def test_a_failure_elsewhere_is_not_told() -> None:
    result, error = recorded({ONE: {"opened": 1}}, {OTHER: "RuntimeError"})

    assert told(result, error, [ONE]) == ({"opened": 1}, "")
    assert told(result, error, [OTHER]) == ({}, "RuntimeError")


def test_work_of_no_site_is_told_to_all() -> None:
    assert told(*recorded({None: {"deleted": 4}}, {}), [ONE]) == ({"deleted": 4}, "")


def test_what_is_no_number_is_not_added() -> None:
    assert added([{"on": True, "by": "x"}, {"on": False, "by": "y"}]) == {"on": False, "by": "y"}
