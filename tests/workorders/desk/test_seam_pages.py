"""A technician walks a seam on the phone; everybody reads what the walk came to."""

from __future__ import annotations

import re
from typing import Any

import pytest

from findings.register.models import Finding
from findings.seals.models import SeamPlace, SeamResult, SeamWalk
from tests.findings.seals.door import LEVELS, make_seam, walk
from tests.people import api_as
from tests.workorders.desk.reader import content_of, reader

pytestmark = pytest.mark.django_db


@pytest.fixture
def seam() -> Any:
    return make_seam()


def hidden(page: Any) -> dict[str, str]:
    """Return the hidden fields of a page's first form of its main part, the token aside."""
    body = page.content.decode()
    main = body[body.index("<main") :]
    found = re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', main)
    return {name: value for name, value in found if name != "csrfmiddlewaretoken"}


def begun(browser: Any, seam: Any, **said: Any) -> Any:
    at = f"/seams/{seam.pk}/walk/"
    body = {
        "open_level_db": "52",
        "background_db": "5",
        "distance_m": "0.1",
        **hidden(browser.get(at)),
        **said,
    }
    return browser.post(at, body)


def kept(browser: Any, page: str, position_m: float, level_db: float) -> Any:
    body = {**hidden(browser.get(page)), "position_m": position_m, "level_db": level_db}
    return browser.post(f"{page}places/", body)


class TestWalking:
    def test_goes_from_the_source_to_the_result(self, seam):
        browser = reader(seam.site, "technician")

        page = begun(browser, seam).headers["Location"]
        for index, level_db in enumerate(LEVELS):
            assert kept(browser, page, 0.25 * index, level_db).status_code == 302
        browser.post(f"{page}finish/")

        words = content_of(browser.get(page))
        assert "The walk: ■ fail" in words
        assert "A tenth of the open reading is taken of the sound pressure" in words
        assert "What a pass does not say" in words
        assert Finding.objects.get().kind == "enclosure_leak"

    def test_says_where_the_next_place_is(self, seam):
        browser = reader(seam.site, "technician")
        page = begun(browser, seam).headers["Location"]
        kept(browser, page, 0.0, 18.0)

        assert "the next one is at 0.5 m of 4.0 m" in content_of(browser.get(page))

    def test_with_a_weak_source_stops_before_the_walk(self, seam):
        answer = begun(reader(seam.site, "technician"), seam, background_db="40")

        assert answer.status_code == 422
        assert "The source is too weak" in content_of(answer)
        assert "Walk all the same" in content_of(answer)
        assert not SeamWalk.objects.exists()

    def test_with_a_weak_source_goes_on_when_insisted(self, seam):
        browser = reader(seam.site, "technician")

        page = begun(browser, seam, background_db="40", insist="on").headers["Location"]

        assert "Nothing can pass in this walk" in content_of(browser.get(page))

    def test_takes_a_second_tap_for_the_same_place(self, seam):
        browser = reader(seam.site, "technician")
        page = begun(browser, seam).headers["Location"]
        body = {**hidden(browser.get(page)), "position_m": 0.0, "level_db": 18.0}

        browser.post(f"{page}places/", body)
        browser.post(f"{page}places/", body)

        assert SeamPlace.objects.count() == 1

    def test_with_too_few_places_goes_on(self, seam):
        browser = reader(seam.site, "technician")
        page = begun(browser, seam).headers["Location"]

        answer = browser.post(f"{page}finish/")

        assert answer.status_code == 422
        assert "at least 5 different places" in content_of(answer)
        assert not SeamResult.objects.exists()

    def test_off_the_seam_is_said_beside_the_field(self, seam):
        browser = reader(seam.site, "technician")
        page = begun(browser, seam).headers["Location"]

        answer = kept(browser, page, 4.5, 18.0)

        assert answer.status_code == 400
        assert "It lies on the seam: from 0 to 4 m." in content_of(answer)

    def test_a_wrong_walk_is_walked_again(self, seam):
        old = walk(api_as("inspector", seam.site), seam)
        browser = reader(seam.site, "technician")
        at = f"/seams/{seam.pk}/walk/?corrects={old['id']}"
        body = {"open_level_db": "52", "background_db": "5", "distance_m": "0.1", **hidden(browser.get(at))}

        browser.post(at, body)

        assert str(SeamWalk.objects.get(corrects__isnull=False).corrects_id) == old["id"]


class TestReading:
    def test_the_finding_shows_plan_and_places(self, seam):
        walk(api_as("inspector", seam.site), seam)
        finding = Finding.objects.get()

        page = reader(seam.site).get(f"/findings/{finding.pk}/")

        words = content_of(page)
        assert '<svg xmlns="http://www.w3.org/2000/svg" class="seam-plan"' in page.content.decode()
        assert "1.25 m ■ fail" in words
        assert "0.75 m ◆ watch" in words
        assert "0.00 m ○ pass" in words

    def test_names_in_the_plan_stay_texts(self, seam):
        seam.point.asset.name = "<script>alert(1)</script>"
        seam.point.asset.save()
        detail = walk(api_as("inspector", seam.site), seam)

        assert b"<script" not in reader(seam.site).get(f"/seam-walks/{detail['id']}/").content

    def test_the_list_tells_what_each_seam_came_to(self, seam):
        walk(api_as("inspector", seam.site), seam)
        make_seam(
            seam.point.__class__.objects.create(
                site=seam.site, asset=seam.point.asset, code="HATCH", created_at=seam.recorded_at
            )
        )

        words = content_of(reader(seam.site).get(f"/sites/{seam.site.code}/seams/"))

        assert "■ fail" in words
        assert "HATCH" in words
        assert "never" in words

    def test_shows_the_cautions_before_the_form(self, seam):
        words = content_of(reader(seam.site, "technician").get(f"/seams/{seam.pk}/walk/"))

        assert words.index("Nobody stays inside with the tone source") < words.index("Through the open door")


class TestAccess:
    @pytest.mark.parametrize("path", ["/seams/{seam}/walk/", "/seam-walks/{walk}/"])
    def test_of_another_site_is_not_found(self, seam, path):
        detail = walk(api_as("inspector", seam.site), seam)
        stranger = reader(make_seam().site)

        assert stranger.get(path.format(seam=seam.pk, walk=detail["id"])).status_code == 404
