"""A database that goes away in the middle of an act: 503, and how to repeat it without harm."""

from __future__ import annotations

import json
from typing import Any

import psycopg
import pytest
from django.db import OperationalError, connection
from django.test import RequestFactory

from plantcare.api.failures import answer_exception, was_cut


def answered(method: str, exc: Exception) -> tuple[int, Any, Any]:
    request = getattr(RequestFactory(), method)("/api/v1/work-orders")
    answer = answer_exception(exc, {"request": request})
    return answer.status_code, json.loads(answer.content), answer.headers


@pytest.mark.django_db(transaction=True)
class TestCut:
    @pytest.fixture
    def cut(self) -> OperationalError:
        """What a statement raises whose session an administrator has ended."""
        try:
            with pytest.raises(OperationalError) as raised, connection.cursor() as cursor:
                cursor.execute("SELECT pg_terminate_backend(pg_backend_pid())")
            return raised.value
        finally:
            connection.close()

    def test_a_write_is_told_that_its_outcome_is_unknown_and_how_to_repeat_it(self, cut) -> None:
        status, body, headers = answered("post", cut)
        assert (status, body["code"], headers["Retry-After"]) == (503, "outcome_unknown", "5")
        assert "same Idempotency-Key" in body["detail"]

    def test_a_read_is_only_told_to_come_back(self, cut) -> None:
        status, body, _ = answered("get", cut)
        assert (status, body["code"]) == (503, "unavailable")


def raised_by(address: str) -> OperationalError:
    try:
        psycopg.connect(address, connect_timeout=1)
    except psycopg.OperationalError as cause:
        exc = OperationalError(*cause.args)
        exc.__cause__ = cause
        return exc
    raise AssertionError


def test_a_write_that_found_no_database_was_not_stored() -> None:
    status, body, _ = answered("post", raised_by("postgres://x@127.0.0.1:1/none"))

    assert (status, body["code"]) == (503, "unavailable")
    assert body["title"].startswith("Not stored")


def test_a_lock_that_was_waited_for_in_vain_stored_nothing() -> None:
    exc = OperationalError("canceling statement due to lock timeout")
    exc.__cause__ = psycopg.errors.LockNotAvailable()

    assert not was_cut(exc)
    assert answered("post", exc)[1]["code"] == "busy"


def test_a_line_that_broke_without_a_word_counts_as_cut() -> None:
    exc = OperationalError("consuming input failed: server closed the connection unexpectedly")
    exc.__cause__ = psycopg.OperationalError("server closed the connection unexpectedly")

    assert was_cut(exc)
