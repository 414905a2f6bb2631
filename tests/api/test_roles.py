"""Every role at every door, as the table says; what is refused changes nothing."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from findings.plant.rules import Right
from plantcare.people.models import ApiKey
from tests.api import ledger
from tests.api.asking import Asker
from tests.api.operations import described, operations
from tests.api.recipes import variants
from tests.api.role_table import ROLES, Row, rows
from tests.api.siteplan import HOME, key_for
from tests.api.world import TwoSites
from workorders.feeds.models import CalendarFeed
from workorders.inbox.models import Notice

pytestmark = pytest.mark.django_db

OPERATIONS = {one.id: one for one in operations(described())}
ROWS = rows()
# Who may verify may close by a verification, and is asked for that one; by a reason still nothing ends.
SHORT_OF_PROOF = {"work_order_move:close"}
OF_A_RIGHT = [row for row in ROWS if row.right in {right.value for right in Right}]


@pytest.fixture(autouse=True)
def toy_service() -> None:
    """Stay with the real service."""


def is_refused(row: Row, answer: Any) -> bool:
    """Tell whether an answer says that the right is missing, alone or item by item."""
    if answer.status == 200 and answer.did_nothing:
        return all(one["status"] == 403 for one in answer.data["results"])
    return answer.status == 403 or (row.name in SHORT_OF_PROOF and answer.status == 422)


PERSONAL: Mapping[str, Any] = {"api-keys": ApiKey, "calendar-feeds": CalendarFeed, "notices": Notice}
"""What belongs to one person: each role is asked about its own."""


class Doorman:
    """Asks as a role, or by a key with some scopes, and says what came of it."""

    def __init__(self, world: TwoSites) -> None:
        self.world = world
        self.asker = Asker(world)
        owner = world.home.people["owner"]
        self.keys_without = {right.value: key_for(owner, without=right.value) for right in Right}
        self.key_to_look = key_for(owner, only=("view",))
        self.before = ledger.everything()

    def question(self, row: Row, user: Any) -> Any:
        """Return the request of a row; keys belong to their own people."""
        operation = OPERATIONS[row.operation]
        thing = None
        if operation.collection in PERSONAL and operation.path_names:
            thing = PERSONAL[operation.collection].objects.filter(user=user).order_by("id").first()
        return self.asker.question(operation, self.world.home, variant=row.variant, thing=thing)

    def as_role(self, row: Row, role: str) -> Any:
        """Ask with the role's key, or at its log-in where a key is refused."""
        user = self.world.home.people[role]
        question = self.question(row, user)
        if self.asker.recipe(OPERATIONS[row.operation], row.variant).who != "owner":
            return self.asker.ask(question, login=user)
        return self.asker.ask(question, self.world.home.keys[role])

    def by_key(self, row: Row, key: str) -> Any:
        """Ask with a key of the owner."""
        return self.asker.ask(self.question(row, self.world.home.people["owner"]), key)

    def changed(self) -> list[str]:
        """Return the tables that differ from before."""
        now = ledger.everything()
        return [table for table, digest in now.items() if digest != self.before[table]]


@pytest.fixture(scope="module")
def doorman(two_sites: TwoSites) -> Doorman:
    return Doorman(two_sites)


class TestTable:
    def test_has_a_row_for_every_operation_and_variant(self) -> None:
        wanted = {
            f"{one.id}:{variant}".rstrip(":") for one in OPERATIONS.values() for variant in variants(one)
        }

        assert {row.name for row in ROWS} == wanted

    def test_has_each_row_once(self) -> None:
        assert len({row.name for row in ROWS}) == len(ROWS)

    def test_gives_one_right_to_the_same_roles_everywhere(self) -> None:
        allowed: dict[str, set[frozenset[str]]] = {}
        for row in ROWS:
            allowed.setdefault(row.right, set()).add(row.allowed)

        assert {right for right, ways in allowed.items() if len(ways) > 1} == set()


class TestRole:
    @pytest.mark.parametrize("row", ROWS, ids=lambda row: row.name)
    def test_is_let_in_as_the_table_says(self, doorman: Doorman, row: Row) -> None:
        for role in ROLES:
            with ledger.undone():
                answer = doorman.as_role(row, role)
                if role in row.allowed:
                    assert answer.ok, (role, answer)
                else:
                    assert is_refused(row, answer), (role, answer)
                    assert doorman.changed() == [], role


class TestKey:
    @pytest.mark.parametrize("row", OF_A_RIGHT, ids=lambda row: row.name)
    def test_without_the_scope_is_refused_though_its_owner_may(self, doorman: Doorman, row: Row) -> None:
        with ledger.undone():
            answer = doorman.by_key(row, doorman.keys_without[row.right])
            assert doorman.changed() == []

        if row.right == "view":  # nothing is seen, a list is empty, an id in a body names nothing
            assert answer.status in (200, 400, 404), answer
            assert HOME.lower() not in answer.text.lower()
        else:
            assert is_refused(row, answer), answer

    @pytest.mark.parametrize(
        "row", [row for row in OF_A_RIGHT if row.right != "view"], ids=lambda row: row.name
    )
    def test_to_look_only_looks(self, doorman: Doorman, row: Row) -> None:
        with ledger.undone():
            answer = doorman.by_key(row, doorman.key_to_look)
            assert doorman.changed() == []

        assert is_refused(row, answer), answer
