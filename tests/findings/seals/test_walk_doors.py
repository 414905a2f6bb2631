"""Walks along a seam over REST: the source first, then the places, then what they come to."""

from __future__ import annotations

import pytest
from defusedxml import ElementTree

from findings.readings.models import Reading
from findings.register.models import Finding
from findings.seals.models import SeamPlace, SeamResult, SeamWalk
from findings.surveys.models import Survey
from tests.findings.seals.door import BEGUN, ENDED, LEVELS, TIGHT, begin, make_seam, places, walk
from tests.people import Api, api_as

pytestmark = pytest.mark.django_db


@pytest.fixture
def seam():
    return make_seam()


@pytest.fixture
def api(seam) -> Api:
    return api_as("inspector", seam.site)


class TestBeginning:
    def test_says_at_once_that_the_source_is_strong(self, api, seam):
        answer = begin(api, seam)

        assert answer.status_code == 201
        assert answer.json()["source_strength"] == "strong"
        assert answer.json()["verdict"] is None

    def test_says_what_more_would_be_comfortable(self, api, seam):
        # 20 dB make a pass possible, 26 are wanted: 22 are in hand.
        said = begin(api, seam, background_db=30.0).json()

        assert said["source_strength"] == "just_enough"
        assert "4.0 dB more" in said["source_reasons"][0]["text"]

    def test_refuses_a_source_too_weak_before_the_walk(self, api, seam):
        answer = begin(api, seam, background_db=37.0)

        problem = answer.json()
        assert (answer.status_code, problem["code"]) == (422, "tone_source_too_weak")
        assert "lacks 5.0 dB" in problem["detail"]
        assert (problem["margin_db"], problem["limit_level_db"]) == (15.0, 32.0)
        assert not SeamWalk.objects.exists()

    def test_with_a_source_too_weak_goes_on_only_when_insisted(self, api, seam):
        said = walk(api, seam, (37.0,) * 17, background_db=37.0, insist=True)

        assert said["nothing_can_pass"] is True
        assert said["verdict"] == "not_determined"
        assert {place["verdict"] for place in said["result"]["places"]} == {"not_determined"}

    def test_a_background_above_the_open_level_is_too_weak(self, api, seam):
        assert begin(api, seam, background_db=60.0).json()["code"] == "tone_source_too_weak"

    def test_takes_the_seams_distance(self, api, seam):
        assert begin(api, seam).json()["distance_m"] == 0.1

    def test_the_same_walk_sent_again_is_the_same(self, api, seam):
        said = {"client_id": "phone-7", "instrument_id": None}
        first = begin(api, seam, **said)

        again = begin(api, seam, **said)

        assert (again.status_code, again.json()["id"]) == (200, first.json()["id"])
        assert SeamWalk.objects.count() == 1

    def test_another_walk_under_the_same_key_is_refused(self, api, seam):
        begin(api, seam, client_id="phone-7", instrument_id=None)

        answer = begin(api, seam, client_id="phone-7", instrument_id=None, open_level_db=50.0)

        assert (answer.status_code, answer.json()["code"]) == (409, "seam_walk_client_id_reused")

    def test_of_a_seam_described_anew_is_refused(self, api, seam):
        make_seam(seam.point, from_at="2026-03-01T00:00:00Z", length_m=4.2)

        answer = begin(api, seam)

        assert answer.json()["errors"][0]["code"] == "seam_not_in_force"

    @pytest.mark.parametrize("member", ["open_level_db", "background_db"])
    def test_refuses_levels_that_cannot_be(self, api, seam, member):
        answer = begin(api, seam, **{member: 250.0})

        assert answer.json()["errors"][0]["pointer"] == f"/{member}"

    def test_in_the_future_is_refused(self, api, seam):
        answer = begin(api, seam, begun_at="2199-01-01T00:00:00Z")

        assert answer.json()["errors"][0]["code"] == "in_future"


class TestPlaces:
    def test_sent_twice_are_kept_once(self, api, seam):
        at = f"/seam-walks/{begin(api, seam).json()['id']}/places"
        api.post(at, {"places": places()[:5]})

        answer = api.post(at, {"places": places()[3:8]})

        assert answer.json() == {"created": 3, "known": 2}
        assert SeamPlace.objects.count() == 8

    def test_twice_in_one_batch_are_kept_once(self, api, seam):
        at = f"/seam-walks/{begin(api, seam).json()['id']}/places"

        assert api.post(at, {"places": [*places()[:2], *places()[:2]]}).json() == {"created": 2, "known": 2}

    def test_with_another_content_under_a_known_key_are_refused(self, api, seam):
        at = f"/seam-walks/{begin(api, seam).json()['id']}/places"
        api.post(at, {"places": places()[:1]})

        answer = api.post(at, {"places": [{**places()[0], "level_db": 19.0}]})

        assert (answer.status_code, answer.json()["code"]) == (409, "seam_place_client_id_reused")

    def test_off_the_seam_are_refused_and_none_is_kept(self, api, seam):
        at = f"/seam-walks/{begin(api, seam).json()['id']}/places"

        answer = api.post(at, {"places": [*places()[:2], {**places()[2], "position_m": 4.1}]})

        assert answer.status_code == 400
        assert answer.json()["errors"][0]["pointer"] == "/places/2/position_m"
        assert not SeamPlace.objects.exists()

    def test_of_a_finished_walk_are_refused(self, api, seam):
        detail = walk(api, seam)

        answer = api.post(
            f"/seam-walks/{detail['id']}/places", {"places": [{**places()[0], "client_id": "late"}]}
        )

        assert (answer.status_code, answer.json()["code"]) == (409, "seam_walk_finished")


class TestFinishing:
    def test_gives_each_place_its_verdict_and_each_leak_its_place(self, api, seam):
        # The peaks are the tops of parabolas through three points in dB, as the test of the sum has them.
        walk_id = begin(api, seam).json()["id"]
        api.post(f"/seam-walks/{walk_id}/places", {"places": places()})

        said = api.post(f"/seam-walks/{walk_id}/finish", {"finished_at": ENDED}).json()

        verdicts = {place["position_m"]: place["verdict"] for place in said["result"]["places"]}
        assert [at for at, verdict in verdicts.items() if verdict == "fail"] == [1.0, 1.25]
        assert [at for at, verdict in verdicts.items() if verdict == "watch"] == [0.75, 1.5, 3.0]
        assert sum(verdict == "pass" for verdict in verdicts.values()) == 12
        assert said["verdict"] == "fail"
        assert [leak["position_m"] for leak in said["result"]["leaks"]] == pytest.approx(
            [1.130, 2.907], abs=5e-4
        )

    def test_computes_the_same_once_more(self, api, seam):
        said = walk(api, seam)["result"]

        assert said["computes_the_same"] is True
        assert (said["method"], said["method_version"]) == ("seal_test", "1")

    def test_prints_the_convention_and_what_a_pass_does_not_say(self, api, seam):
        said = walk(api, seam)

        assert "drop of at least 20 dB" in said["convention"]
        assert "gives no flow" in said["result"]["not_said"]
        assert {"tone_source", "confined_space", "hearing"} <= {one["key"] for one in said["cautions"]}

    def test_of_a_failed_seam_opens_a_finding_at_its_point(self, api, seam):
        said = walk(api, seam)

        finding = Finding.objects.get()
        assert (finding.kind, finding.point_id) == ("enclosure_leak", seam.point_id)
        reading = Reading.objects.get(pk=said["result"]["reading_id"])
        assert (reading.level_db, reading.background_db, reading.distance_m) == (39.3, 5.0, 0.1)

    def test_of_a_tight_seam_reads_quiet(self, api, seam):
        said = walk(api, seam, TIGHT)

        assert said["verdict"] == "pass"
        assert Reading.objects.get().kind == ""
        assert not Finding.objects.exists()

    def test_of_a_seam_not_walked_whole_tells_neither(self, api, seam):
        said = walk(api, seam, TIGHT[:9])

        assert said["verdict"] == "not_determined"
        assert said["result"]["not_walked"] == [{"from_m": 2.0, "to_m": 4.0}]
        assert not Finding.objects.exists()

    def test_with_too_few_places_is_refused_and_may_go_on(self, api, seam):
        walk_id = begin(api, seam, places=places()[:4]).json()["id"]

        answer = api.post(f"/seam-walks/{walk_id}/finish", {"finished_at": ENDED})

        assert (answer.status_code, answer.json()["code"]) == (422, "seam_walk_not_judged")
        assert answer.json()["errors"][0]["code"] == "too_few_points"
        assert api.post(f"/seam-walks/{walk_id}/places", {"places": places()[4:]}).status_code == 200

    def test_twice_is_refused(self, api, seam):
        detail = walk(api, seam)

        answer = api.post(f"/seam-walks/{detail['id']}/finish", {"finished_at": ENDED})

        assert (answer.status_code, answer.json()["code"]) == (409, "seam_walk_finished")
        assert SeamResult.objects.count() == 1

    def test_a_whole_walk_sent_again_leaves_one_of_everything(self, api, seam):
        whole = {"client_id": "phone-7", "instrument_id": None, "places": places(), "finished_at": ENDED}
        begin(api, seam, **whole)

        again = begin(api, seam, **whole)

        assert (again.status_code, again.json()["verdict"]) == (200, "fail")
        assert [model.objects.count() for model in (SeamWalk, SeamResult, Reading, Survey)] == [1, 1, 1, 1]

    def test_before_it_began_is_refused(self, api, seam):
        walk_id = begin(api, seam, places=places()).json()["id"]

        answer = api.post(f"/seam-walks/{walk_id}/finish", {"finished_at": "2026-03-01T00:00:00Z"})

        assert answer.json()["errors"][0]["code"] == "before_start"

    def test_hears_a_leak_across_the_start_of_a_ring_once(self, api):
        ring = make_seam(shape="ring", length_m=4.0)
        levels = (40.0, 30.0, *(18.0,) * 13, 38.0)

        said = walk(api_as("inspector", ring.site), ring, levels)

        # The parabola's top by hand: a quarter metre times (38 - 30) over twice (38 - 80 + 30), before 0.
        [leak] = said["result"]["leaks"]
        assert said["result"]["not_walked"] == []
        assert leak["position_m"] == pytest.approx(4.0 - 0.25 / 3.0)
        assert leak["position_low_m"] < leak["position_m"] < leak["position_high_m"]

    def test_by_the_number_shown_judges_otherwise(self, api):
        # An open reading of 44 dB: a tenth of the sound pressure is 24 dB, of the number shown 4.4 dB.
        seam = make_seam(criterion="displayed_number")
        said = walk(
            api_as("inspector", seam.site), seam, (10.0,) * 17, open_level_db=44.0, background_db=-10.0
        )

        assert said["verdict"] == "fail"
        assert said["result"]["limit_level_db"] == pytest.approx(4.4)
        assert "number shown" in said["convention"]


class TestCorrecting:
    def test_names_the_old_walk_and_corrects_its_reading(self, api, seam):
        old = walk(api, seam)

        new = walk(api, seam, (*LEVELS[:4], 36.0, *LEVELS[5:]), corrects_walk_id=old["id"])

        assert new["corrects_walk_id"] == old["id"]
        assert api.get(f"/seam-walks/{old['id']}").json()["corrected_by_walk_id"] == new["id"]
        corrected = Reading.objects.get(pk=new["result"]["reading_id"]).corrects_id
        assert str(corrected) == old["result"]["reading_id"]

    def test_by_a_tight_seam_leaves_the_finding_to_a_person(self, api, seam):
        old = walk(api, seam)

        new = walk(api, seam, TIGHT, corrects_walk_id=old["id"])

        assert Reading.objects.get(pk=new["result"]["reading_id"]).corrects_id is None
        assert Finding.objects.get().status == "open"

    def test_happens_once(self, api, seam):
        old = walk(api, seam)
        begin(api, seam, corrects_walk_id=old["id"])

        answer = begin(api, seam, corrects_walk_id=old["id"])

        assert (answer.status_code, answer.json()["code"]) == (409, "seam_walk_corrected_already")

    def test_leaves_an_unfinished_walk_unfinished(self, api, seam):
        old = begin(api, seam, places=places()).json()["id"]
        begin(api, seam, corrects_walk_id=old)

        answer = api.post(f"/seam-walks/{old}/finish", {"finished_at": ENDED})

        assert (answer.status_code, answer.json()["code"]) == (409, "seam_walk_corrected")

    def test_of_another_seam_is_refused(self, api, seam):
        other = make_seam(
            make_seam().point.__class__.objects.create(
                site=seam.site, asset=seam.point.asset, code="OTHER", created_at=seam.recorded_at
            )
        )
        old = walk(api, other)

        answer = begin(api, seam, corrects_walk_id=old["id"])

        assert answer.json()["errors"][0]["code"] == "other_seam"


class TestPlan:
    def test_is_a_drawing_that_can_do_nothing(self, api, seam):
        answer = api.get(f"/seam-walks/{walk(api, seam)['id']}/plan")

        assert answer.headers["Content-Type"] == "image/svg+xml; charset=utf-8"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Content-Security-Policy"].startswith("sandbox; default-src 'none'")

    def test_prints_the_convention(self, api, seam):
        answer = api.get(f"/seam-walks/{walk(api, seam)['id']}/plan")

        said = " ".join(text.text for text in ElementTree.fromstring(answer.content).iter() if text.text)
        assert "A tenth of the open reading is taken of the sound pressure" in said

    def test_keeps_a_name_a_text(self, api, seam):
        asset = seam.point.asset
        asset.name = "<script>alert(1)</script>"
        asset.save()

        answer = api.get(f"/seam-walks/{walk(api, seam)['id']}/plan")

        assert b"<script" not in answer.content

    def test_of_an_unfinished_walk_is_not_there(self, api, seam):
        walk_id = begin(api, seam).json()["id"]

        answer = api.get(f"/seam-walks/{walk_id}/plan")

        assert (answer.status_code, answer.headers["Content-Type"]) == (404, "application/problem+json")

    def test_is_given_to_who_asks_for_a_drawing(self, api, seam):
        at = f"/api/v1/seam-walks/{walk(api, seam)['id']}/plan"

        assert api.generic("GET", at, headers={"Accept": "image/svg+xml"}).status_code == 200


class TestListing:
    def test_narrows_to_what_failed(self, api, seam):
        walk(api, seam)
        begin(api, seam)

        found = api.get("/seam-walks", verdict="fail").json()["results"]

        assert [one["verdict"] for one in found] == ["fail"]

    def test_finds_the_unfinished(self, api, seam):
        walk(api, seam)
        begun = begin(api, seam).json()["id"]

        assert [one["id"] for one in api.get("/seam-walks", finished="false").json()["results"]] == [begun]

    def test_of_another_site_is_not_there(self, api, seam):
        walk_id = begin(api, seam).json()["id"]

        assert api_as("manager", make_seam().site).get(f"/seam-walks/{walk_id}").status_code == 404


def test_the_levels_are_those_of_the_picture() -> None:
    assert len(LEVELS) == 17
    assert BEGUN < ENDED
