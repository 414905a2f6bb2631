"""Recordings over the API: what is told of one, its sound in parts, its picture, and voiding it."""

from __future__ import annotations

from typing import Any

import pytest

from findings.logbook.models import Entry
from findings.recordings.models import Recording
from tests.makers import NOW, make_analysis, make_reading, make_recording
from tests.people import api_as, member
from tests.sounds import wav
from tests.workorders.desk.reader import reader_for

pytestmark = pytest.mark.django_db


@pytest.fixture
def recording() -> Recording:
    return make_recording(content=wav(mark=7))


def whole(answer: Any) -> bytes:
    return b"".join(answer.streaming_content)


def ranged(recording: Recording, asked: str, **headers: str) -> Any:
    api = api_as("inspector", recording.site)
    return api.generic("GET", f"/api/v1/recordings/{recording.pk}/sound", headers={"Range": asked, **headers})


class TestReading:
    def test_a_new_one_waits(self, recording: Recording) -> None:
        told = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}").json()

        assert (told["state"], told["analysis"], told["analysed_at"]) == ("waiting", None, None)

    def test_one_that_was_heard_tells_its_result(self, recording: Recording) -> None:
        make_analysis(recording)
        told = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}").json()

        assert (told["state"], told["analysis"]["result"]["character"]) == ("done", "smooth")
        assert told["analysed_at"] == NOW.isoformat().replace("+00:00", "Z")

    def test_one_that_was_refused_says_why(self, recording: Recording) -> None:
        make_analysis(recording, state="refused", reasons=[{"code": "damaged", "text": "Copy it again."}])
        told = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}").json()

        assert (told["state"], told["analysis"]["reasons"][0]["code"]) == ("refused", "damaged")

    def test_the_newest_analysis_counts(self, recording: Recording) -> None:
        make_analysis(recording, method_version="0", ended_at=NOW.replace(year=2025))
        make_analysis(recording, result={"character": "rhythmic"})
        told = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}").json()

        assert told["analysis"]["result"]["character"] == "rhythmic"

    def test_the_list_is_narrowed_to_a_reading(self, recording: Recording) -> None:
        other = make_recording(make_reading(recording.reading.point))
        api = api_as("inspector", recording.site)
        rows = api.get("/recordings", reading_id=str(other.reading_id)).json()["results"]

        assert [row["id"] for row in rows] == [str(other.pk)]


class TestSound:
    def test_the_bytes_are_those_that_were_sent(self, recording: Recording) -> None:
        answer = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}/sound")

        assert whole(answer) == wav(mark=7)

    @pytest.mark.parametrize(
        ("header", "value"),
        [
            ("Content-Type", "audio/wav"),
            ("X-Content-Type-Options", "nosniff"),
            ("Content-Security-Policy", "sandbox; default-src 'none'"),
            ("Accept-Ranges", "bytes"),
            ("Cache-Control", "private, no-cache"),
        ],
    )
    def test_a_browser_is_told_to_run_nothing(self, recording: Recording, header: str, value: str) -> None:
        answer = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}/sound")

        assert answer.headers[header] == value

    def test_it_is_saved_under_a_name_of_ours(self, recording: Recording) -> None:
        answer = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}/sound")

        assert answer.headers["Content-Disposition"] == f'attachment; filename="recording-{recording.pk}.wav"'

    @pytest.mark.parametrize(
        ("asked", "first", "last"),
        [
            ("bytes=0-99", 0, 99),
            ("bytes=44-", 44, None),
            ("bytes=-10", -10, None),
            ("bytes=5-10000000", 5, None),
        ],
    )
    def test_a_part_is_given(self, recording: Recording, asked: str, first: int, last: int | None) -> None:
        answer, content = ranged(recording, asked), wav(mark=7)
        expected = content[first:] if last is None else content[first : last + 1]

        assert answer.status_code == 206
        assert whole(answer) == expected
        begins = first % len(content)
        assert answer.headers["Content-Range"] == (
            f"bytes {begins}-{begins + len(expected) - 1}/{len(content)}"
        )

    @pytest.mark.parametrize("asked", ["bytes=10000000-", "bytes=-0"])
    def test_a_part_beyond_the_end_is_refused(self, recording: Recording, asked: str) -> None:
        answer = ranged(recording, asked)

        assert (answer.status_code, answer.json()["code"]) == (416, "range_outside")
        assert answer.headers["Content-Range"] == f"bytes */{recording.bytes}"

    @pytest.mark.parametrize("asked", ["bytes=0-1,5-9", "bytes=9-2", "lines=1-2", "bytes=-", "bytes=a-b"])
    def test_what_cannot_be_read_is_answered_with_the_whole(self, recording: Recording, asked: str) -> None:
        answer = ranged(recording, asked)

        assert (answer.status_code, len(whole(answer))) == (200, recording.bytes)

    def test_a_part_of_another_file_is_not_given(self, recording: Recording) -> None:
        assert ranged(recording, "bytes=0-9", **{"If-Range": '"other"'}).status_code == 200

    def test_a_copy_that_holds_is_not_sent_again(self, recording: Recording) -> None:
        headers = {"If-None-Match": f'"{recording.sha256}"'}
        api = api_as("inspector", recording.site)
        answer = api.generic("GET", f"/api/v1/recordings/{recording.pk}/sound", headers=headers)

        assert (answer.status_code, answer.content) == (304, b"")

    def test_the_player_of_a_page_may_ask_by_the_log_in(self, recording: Recording) -> None:
        browser = reader_for(member(recording.site, "inspector"))
        answer = browser.get(
            f"/api/v1/recordings/{recording.pk}/sound", headers={"Accept": "audio/*;q=0.9,*/*;q=0.5"}
        )

        assert answer.status_code == 200

    def test_a_foreign_one_is_not_found(self, recording: Recording) -> None:
        assert (
            api_as("manager", make_reading().site).get(f"/recordings/{recording.pk}/sound").status_code == 404
        )


class TestPicture:
    def test_is_not_found_while_nothing_was_heard(self, recording: Recording) -> None:
        answer = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}/picture")

        assert answer.status_code == 404

    def test_is_a_drawing_that_runs_nothing(self, recording: Recording) -> None:
        make_analysis(recording)
        answer = api_as("inspector", recording.site).get(f"/recordings/{recording.pk}/picture")

        assert whole(answer).startswith(b"<svg")
        assert answer.headers["Content-Type"] == "image/svg+xml"
        assert "sandbox" in answer.headers["Content-Security-Policy"]


class TestVoiding:
    def test_keeps_the_recording_with_its_reason(self, recording: Recording) -> None:
        api = api_as("manager", recording.site)
        answer = api.post(f"/recordings/{recording.pk}/void", {"reason": "Another machine"})

        assert (answer.json()["state"], answer.json()["void_reason"]) == ("void", "Another machine")
        assert Entry.objects.get(act="recording.voided").reason == "Another machine"

    def test_happens_once(self, recording: Recording) -> None:
        api = api_as("manager", recording.site)
        api.post(f"/recordings/{recording.pk}/void", {"reason": "Another machine"})
        again = api.post(f"/recordings/{recording.pk}/void", {"reason": "Once more"})

        assert (again.status_code, again.json()["code"]) == (409, "recording_void")
