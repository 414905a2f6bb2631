"""A site's data does not exist for the others, whatever is asked and however."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.urls import URLPattern, URLResolver, get_resolver

from tests.api import ledger
from tests.api.crawler import Crawler, unmapped
from tests.api.operations import METHODS, PREFIX, Operation, described, operations
from tests.api.recipes import RECIPES

pytestmark = pytest.mark.django_db

OPERATIONS = operations(described())
OPEN_PAGES = {"openapi.yaml", "openapi.json", "problems"}
"""What anybody may read: the description of the API itself."""


@pytest.fixture(autouse=True)
def toy_service() -> None:
    """Stay with the real service."""


@pytest.fixture(scope="module")
def crawler(two_sites: Any) -> Crawler:
    return Crawler(two_sites)


def routes(resolver: URLResolver, prefix: str = "") -> Iterator[tuple[str, Any]]:
    for pattern in resolver.url_patterns:
        path = f"{prefix}{pattern.pattern}"
        if isinstance(pattern, URLPattern):
            yield path, pattern.callback
        else:
            yield from routes(pattern, path)


class TestInventory:
    def test_every_route_is_described(self) -> None:
        described_paths = {one.path for one in OPERATIONS}
        found = set()
        for path, callback in routes(get_resolver("plantcare.urls")):
            if path.startswith("api/v1/") and path.removeprefix("api/v1/") not in OPEN_PAGES:
                plain = "/".join(
                    "{" + part.strip("<>").rpartition(":")[2] + "}" if part.startswith("<") else part
                    for part in path.split("/")
                )
                found.add((f"/{plain}", callback))

        assert {path for path, _ in found} == described_paths

    def test_every_method_of_a_route_is_described(self) -> None:
        described_methods = {(one.path, one.method) for one in OPERATIONS}
        answered = set()
        for path, callback in routes(get_resolver("plantcare.urls")):
            if path.startswith("api/v1/") and path.removeprefix("api/v1/") not in OPEN_PAGES:
                plain = path.replace("<uuid:", "{").replace("<slug:", "{").replace("<str:", "{")
                plain = "/" + plain.replace("<", "{").replace(">", "}")
                answered |= {(plain, method) for method in METHODS if hasattr(callback.cls, method)}

        assert {path for path, _ in answered} <= {one.path for one in OPERATIONS}
        assert answered == described_methods

    def test_every_path_is_below_the_prefix(self) -> None:
        assert [one.path for one in OPERATIONS if not one.path.startswith(PREFIX)] == []

    def test_every_id_has_a_kind(self) -> None:
        assert unmapped(OPERATIONS) == set()

    def test_every_recipe_is_of_an_operation(self) -> None:
        assert {name.partition(":")[0] for name in RECIPES} <= {one.id for one in OPERATIONS}

    def test_every_table_has_a_site_or_belongs_to_people(self) -> None:
        assert ledger.without_site() == ledger.OF_NO_SITE


class TestWall:
    @pytest.mark.parametrize("operation", OPERATIONS, ids=lambda one: one.id)
    def test_holds(self, crawler: Crawler, operation: Operation) -> None:
        assert "\n".join(str(breach) for breach in crawler.crawl(operation)) == ""

    def test_was_tried_where_it_opens(self, crawler: Crawler) -> None:
        """Every operation was granted to the owner: a door that is always shut proves nothing."""
        asked = {one.id for one in OPERATIONS} | {name for name in RECIPES if ":" in name}

        assert asked - crawler.granted == set()

    def test_was_tried_in_earnest(self, crawler: Crawler) -> None:
        assert crawler.probes > 10 * len(OPERATIONS)

    def test_nothing_changes_when_only_the_other_site_grows(self, crawler: Crawler) -> None:
        assert "\n".join(str(breach) for breach in crawler.grown(OPERATIONS)) == ""
