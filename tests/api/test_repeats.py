"""Sending the same again has one effect and one answer, at every door that makes something."""

from __future__ import annotations

from typing import Any

import pytest

from findings.balance.api.what_ifs import DOORS
from findings.kinds.calculations import CALCULATIONS
from tests.api import ledger
from tests.api.asking import Answer, Asker, Question
from tests.api.operations import UPLOAD, Operation, described, operations
from tests.api.world import TwoSites

pytestmark = pytest.mark.django_db

OPERATIONS = operations(described())
CREATING = [one for one in OPERATIONS if one.creates]
WITHOUT_KEY = {
    "api_key_create",  # a kept answer would keep the secret
    "calendar_feed_create",  # nor may it keep a secret address
    "calendar_feed_rotate",
    "job_run",  # a job is harmless when it runs twice
    "reading_batch",  # each reading carries its sender's own mark, for ever
    "reading_create",
    "recording_create",  # a file is told by its own content
    "seam_walk_add_places",  # so does each place of a walk along a seam,
    "seam_walk_create",  # and the walk itself
    # A question about what would be leaves nothing behind.
    *(f"what_if_{name.replace('-', '_')}" for name in DOORS),
    # Nor does a calculation.
    *(f"calculate_{name.replace('-', '_')}" for name in CALCULATIONS),
}
"""Every POST that takes no Idempotency-Key, and why."""


@pytest.fixture(autouse=True)
def toy_service() -> None:
    """Stay with the real service."""


@pytest.fixture(scope="module")
def asker(two_sites: TwoSites) -> Asker:
    return Asker(two_sites)


def ask(asker: Asker, operation: Operation, question: Question) -> Answer:
    return asker.ask_as(asker.recipe(operation).who, question, asker.world.home)


def otherwise(question: Question) -> Question:
    """Return the request with another content that is as well formed."""
    if question.media == UPLOAD:
        name, content = question.body["file"]
        return question.but(body={**question.body, "file": (name, content + b"\n")})
    return question.but(body=_changed(question.body))


def _changed(body: Any) -> Any:
    if isinstance(body, list):
        return [*body, *body] if len(body) != 1 or not isinstance(body[0], dict) else [_changed(body[0])]
    if isinstance(body, dict):
        name = sorted(body)[-1]
        inner = body[name]
        changed = _changed(inner) if isinstance(inner, dict | list) else f"{inner} otherwise"
        return {**body, name: changed}
    return body


def test_every_post_takes_a_key_or_says_why_not() -> None:
    posts = [one for one in OPERATIONS if one.method == "post"]

    assert {one.id for one in posts if "Idempotency-Key" not in one.headers} == WITHOUT_KEY


def test_everything_that_is_made_demands_a_key() -> None:
    made = [one for one in OPERATIONS if one.method == "post" and "201" in one.document["responses"]]

    assert {one.id for one in made if not one.creates} <= WITHOUT_KEY


@pytest.mark.parametrize("name", ["reading_batch", "reading_create"])
def test_a_reading_sent_twice_is_one_reading(asker: Asker, name: str) -> None:
    operation = next(one for one in OPERATIONS if one.id == name)
    question = asker.question(operation, asker.world.home)
    with ledger.undone():
        assert ask(asker, operation, question).ok
        once = ledger.everything()

        assert ask(asker, operation, question).status == 200
        assert ledger.everything() == once


@pytest.mark.parametrize("operation", CREATING, ids=lambda one: one.id)
class TestCreating:
    def test_twice_with_one_key_makes_one(self, asker: Asker, operation: Operation) -> None:
        question = asker.question(operation, asker.world.home)
        with ledger.undone():
            first = ask(asker, operation, question)
            once = ledger.everything()
            second = ask(asker, operation, question)

            assert first.ok, first
            assert (second.status, second.data) == (first.status, first.data)
            assert second.headers.get("Location") == first.headers.get("Location")
            assert second.headers.get("Idempotency-Replayed") == "true"
            assert ledger.everything() == once

    def test_other_content_under_the_same_key_is_refused(self, asker: Asker, operation: Operation) -> None:
        question = asker.question(operation, asker.world.home)
        with ledger.undone():
            assert ask(asker, operation, question).ok
            once = ledger.everything()
            second = ask(asker, operation, otherwise(question))

            assert (second.status, second.data["code"]) == (422, "idempotency_key_reused")
            assert ledger.everything() == once

    def test_without_a_key_is_refused(self, asker: Asker, operation: Operation) -> None:
        question = asker.question(operation, asker.world.home)
        with ledger.undone():
            before = ledger.everything()
            answer = ask(asker, operation, question.but(headers={}))

            assert (answer.status, answer.data["code"]) == (400, "idempotency_key_missing")
            assert ledger.everything() == before

    def test_somebody_elses_key_is_another_key(self, asker: Asker, operation: Operation) -> None:
        question = asker.question(operation, asker.world.home)
        with ledger.undone():
            first = ask(asker, operation, question)
            stranger = asker.ask(question, asker.world.key_of_nowhere)

            assert first.ok, first
            assert "Idempotency-Replayed" not in stranger.headers
            assert stranger.did_nothing
