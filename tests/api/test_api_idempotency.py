"""Sending a POST again is harmless."""

from __future__ import annotations

import threading
import uuid
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.utils import timezone
from rest_framework.test import APIClient

from plantcare.api import idempotency
from plantcare.api.models import IdempotencyKey
from tests.api import toys

BODY = {"site_id": str(toys.HERE), "name": "one", "weight_kg": 2.5, "price": "1.50"}


class TestKey:
    def test_is_needed_where_something_is_made(self, api):
        response = api.post("/api/v1/crates", BODY, format="json")
        assert (response.status_code, response.json()["code"]) == (400, "idempotency_key_missing")

    @pytest.mark.parametrize("key", [" ", "", "x" * 256, "a b", "é"])
    def test_is_visible_and_short(self, api, key):
        response = api.post("/api/v1/crates", BODY, format="json", headers={"Idempotency-Key": key})
        assert response.json()["code"] == "idempotency_key_malformed"

    def test_repeats_the_answer_to_the_byte(self, send):
        first, second = send("crates", BODY, key="k"), send("crates", BODY, key="k")
        assert (second.status_code, second.content) == (201, first.content)

    def test_repeats_the_headers(self, send):
        first, second = send("crates", BODY, key="k"), send("crates", BODY, key="k")
        assert second.headers["Idempotency-Replayed"] == "true"
        assert "Idempotency-Replayed" not in first.headers
        assert [second.headers[n] for n in ("ETag", "Location")] == [
            first.headers[n] for n in ("ETag", "Location")
        ]

    def test_has_one_effect(self, send):
        for _ in range(3):
            send("crates", BODY, key="k")
        assert toys.Crate.objects.count() == 1

    def test_takes_the_members_in_any_order(self, send):
        send("crates", BODY, key="k")
        assert send("crates", dict(reversed(BODY.items())), key="k").status_code == 201

    def test_names_the_first_thing_when_used_for_another(self, send):
        first = send("crates", BODY, key="k")
        refused = send("crates", {**BODY, "name": "two"}, key="k")
        assert (refused.status_code, refused.json()["code"]) == (422, "idempotency_key_reused")
        assert first.headers["Location"] in refused.json()["detail"]

    def test_is_not_used_up_by_a_refusal(self, send):
        assert send("crates", {**BODY, "weight_kg": -1}, key="k").status_code == 400
        assert send("crates", BODY, key="k").status_code == 201

    def test_is_not_used_up_by_a_bug(self, send, monkeypatch):
        with monkeypatch.context() as broken:
            broken.setattr(toys.Crates, "location", lambda *_: 1 / 0)
            assert send("crates", BODY, key="k").status_code == 500
        assert toys.Crate.objects.count() == 0
        assert send("crates", BODY, key="k").status_code == 201

    def test_belongs_to_one_caller(self, send, toy_table, django_user_model):
        send("crates", BODY, key="k")
        other = APIClient()
        other.force_authenticate(django_user_model.objects.create_user("other"))
        response = other.post(
            "/api/v1/crates", {**BODY, "name": "two"}, format="json", headers={"Idempotency-Key": "k"}
        )
        assert response.status_code == 201

    def test_belongs_to_one_address(self, send, crates):
        crate = crates()
        send("crates", BODY, key="k")
        assert send(f"crates/{crate.pk}/shut", {}, key="k").status_code == 200

    def test_guards_an_act_that_makes_nothing(self, send, crates):
        crate = crates()
        for _ in range(2):
            send(f"crates/{crate.pk}/shut", {}, key="k")
        crate.refresh_from_db()
        assert crate.version == 2

    def test_may_be_left_out_of_an_act_that_makes_nothing(self, api, crates):
        assert api.post(f"/api/v1/crates/{crates().pk}/shut", {}, format="json").status_code == 200

    def test_ends_after_its_time(self, send):
        send("crates", BODY, key="k")
        IdempotencyKey.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
        assert send("crates", {**BODY, "name": "two"}, key="k").status_code == 201


class TestUpload:
    def upload(self, api, content=b"two valves", **fields):
        form = {
            "site_id": str(toys.HERE),
            "name": "sheet",
            **fields,
            "file": SimpleUploadedFile("a.csv", content),
        }
        return api.post("/api/v1/sheets", form, format="multipart", headers={"Idempotency-Key": "k"})

    def test_repeats_the_answer_for_the_same_bytes(self, api):
        first, second = self.upload(api), self.upload(api)
        assert (second.status_code, second.content) == (201, first.content)
        assert toys.Crate.objects.get().note == "two valves"

    def test_refuses_the_key_for_other_bytes(self, api):
        self.upload(api)
        assert self.upload(api, b"two pipes!").status_code == 422

    def test_refuses_the_key_for_other_fields(self, api):
        self.upload(api)
        assert self.upload(api, name="other").status_code == 422

    def test_refuses_a_large_file(self, api):
        response = self.upload(api, b"x" * 101)
        assert (response.status_code, response.json()["code"]) == (413, "too_large")

    def test_refuses_a_null_character_in_a_field(self, api):
        response = self.upload(api, name="a\x00b")
        assert response.json()["errors"][0]["code"] == "character_refused"


class TestForgetExpired:
    def test_deletes_in_chunks_what_is_past_its_time(self, send):
        for number in range(5):
            send("crates", {**BODY, "name": str(number)})
        moment = timezone.now() + idempotency.KEPT_FOR + timedelta(minutes=1)
        assert idempotency.forget_expired(at=moment, chunk=2) == 5

    def test_keeps_the_rest(self, send):
        send("crates", BODY)
        assert idempotency.forget_expired(at=timezone.now()) == 0


@pytest.mark.django_db(transaction=True)
class TestAtOnce:
    @pytest.fixture(autouse=True)
    def _tidy(self, toy_table, transactional_db):
        yield
        toys.Crate.objects.all().delete()

    def send_together(self, user, sends):
        answers, gate = [], threading.Barrier(len(sends))

        def one(key, body):
            client = APIClient(raise_request_exception=False)
            client.force_authenticate(user)
            gate.wait()
            answers.append(
                client.post("/api/v1/crates", body, format="json", headers={"Idempotency-Key": key})
            )
            connection.close()

        threads = [threading.Thread(target=one, args=each) for each in sends]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        return answers

    def test_one_key_has_one_effect(self, user):
        answers = []
        for _ in range(10):
            key, name = str(uuid.uuid4()), uuid.uuid4().hex
            answers += self.send_together(user, [(key, {**BODY, "name": name})] * 6)
        assert toys.Crate.objects.count() == 10
        assert {answer.status_code for answer in answers} <= {201, 409}
        assert {a.json()["code"] for a in answers if a.status_code == 409} <= {"idempotency_key_running"}

    def test_a_second_request_is_told_that_the_first_still_runs(self, user, monkeypatch):
        entered, leave = threading.Event(), threading.Event()

        def slow(self, data):
            entered.set()
            leave.wait(20)
            return toys.pack(data)

        monkeypatch.setattr(toys.Crates, "act", slow)
        answers = []
        first = threading.Thread(target=lambda: answers.extend(self.send_together(user, [("k", BODY)])))
        first.start()
        entered.wait(20)
        (second,) = self.send_together(user, [("k", BODY)])
        leave.set()
        first.join()
        assert (second.status_code, second.json()["code"]) == (409, "idempotency_key_running")
        assert second.headers["Retry-After"] == "1"
        assert answers[0].status_code == 201
