"""The crawler finds what is wrong on purpose; otherwise its silence elsewhere means nothing."""

from __future__ import annotations

from typing import Any

import pytest

from tests.api.crawler import Crawler
from tests.api.operations import described, operations
from tests.api.recipes import RECIPES, Recipe

pytestmark = pytest.mark.django_db

HOLES = operations(described("tests.api.holes"))
RECIPES_OF_HOLES = {
    "hole_reference": RECIPES["compressor_create"],
    "hole_bulk": Recipe(body={"point_ids": ["$point"]}),
}
# What the crawler has to say of each, in its own words.
SAID = {
    "hole_act": "changed rows of the other site",
    "hole_any_key": "in place of 401",
    "hole_body_oracle": "to an unknown id",
    "hole_bulk": "changed rows of the other site",
    "hole_detail": "tells",
    "hole_expand": "tells",
    "hole_list": "tells",
    "hole_member": "changed rows of the other site",
    "hole_move": "moved to the other site",
    "hole_no_sign_in": "in place of 401",
    "hole_oracle": "to an unknown id",
    "hole_query": "to an unknown id",
    "hole_quote": "tells",
    "hole_reference": "rows point across",
    "hole_site": "changed rows of the other site",
    "hole_total": "the answer changed",
    "hole_write": "changed rows of the other site",
}


@pytest.fixture(autouse=True)
def toy_service(settings: Any) -> None:
    settings.ROOT_URLCONF = "tests.api.holes"


@pytest.fixture(scope="module")
def crawler(two_sites: Any) -> Crawler:
    return Crawler(two_sites, RECIPES_OF_HOLES)


def test_there_are_enough_holes() -> None:
    assert {one.id for one in HOLES} == set(SAID)
    assert len(SAID) >= 10


@pytest.mark.parametrize("operation", HOLES, ids=lambda one: one.id)
def test_every_hole_is_found(crawler: Crawler, operation: Any) -> None:
    breaches = crawler.crawl(operation) + crawler.grown([operation] if operation.method == "get" else [])

    assert SAID[operation.id] in "\n".join(str(breach) for breach in breaches)
