"""A door that leaks sound: walked, mended, walked again, proven or not."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest

from findings.register.models import Finding
from findings.seals.models import Seam
from tests.findings.seals.door import LEVELS, TIGHT, begin, make_seam, places, walk
from tests.makers import make_instrument
from tests.people import Api, api_as
from tests.workorders.scene import ordered, repaired
from workorders.orders.models import WorkOrder

pytestmark = pytest.mark.django_db

MENDED_AT = datetime(2026, 3, 4, 12, tzinfo=UTC)
AFTER = {"begun_at": "2026-03-05T09:00:00Z", "finished_at": "2026-03-05T09:20:00Z"}


@pytest.fixture
def seam() -> Seam:
    return make_seam()


@pytest.fixture
def api(seam: Seam) -> Api:
    return api_as("inspector", seam.site)


@pytest.fixture
def held(seam: Seam) -> dict[str, str]:
    """Name the one detector that both walks are made with."""
    return {"instrument_id": str(make_instrument(seam.site).pk)}


def mended(finding: Finding) -> WorkOrder:
    return repaired(ordered(finding), MENDED_AT)


def verified(api: Api, detail: dict[str, Any]) -> dict[str, Any]:
    answer = api.post(
        "/verifications",
        {"finding_id": str(Finding.objects.get().pk), "reading_id": detail["result"]["reading_id"]},
    )
    assert answer.status_code == 201, answer.json()
    judged: dict[str, Any] = answer.json()
    return judged


def codes(judged: dict[str, Any]) -> list[str]:
    return [reason["code"] for reason in judged["reasons"]]


def test_a_failed_seam_asks_for_an_order_by_its_severity(api: Api, seam: Seam, held: dict[str, str]) -> None:
    walk(api, seam, **held)

    finding = Finding.objects.select_related("condition").get()
    # 52 dB through the open door, 39.3 at the loudest place: 7.3 dB above the passing level of 32.
    assert (finding.condition.state, finding.condition_severity) == ("fail", 4)
    assert (finding.condition.order_due, finding.condition.look_again_days) == (True, 30)


def test_a_passing_walk_after_the_repair_closes_the_finding(
    api: Api, seam: Seam, held: dict[str, str]
) -> None:
    walk(api, seam, **held)
    order = mended(Finding.objects.get())

    judged = verified(api, walk(api, seam, TIGHT, **held, **AFTER))

    assert (judged["verdict"], codes(judged)) == ("passed", ["walk_passed"])
    assert Finding.objects.get().status == "closed"
    assert WorkOrder.objects.get(pk=order.pk).state == "closed"


def test_a_walk_that_fails_again_opens_it_again(api: Api, seam: Seam, held: dict[str, str]) -> None:
    walk(api, seam, **held)
    mended(Finding.objects.get())

    judged = verified(api, walk(api, seam, **held, **AFTER))

    assert (judged["verdict"], codes(judged)) == ("failed", ["walk_failed"])
    assert Finding.objects.get().status == "open"


def test_a_place_still_raised_is_no_proof(api: Api, seam: Seam, held: dict[str, str]) -> None:
    walk(api, seam, **held)
    mended(Finding.objects.get())

    judged = verified(api, walk(api, seam, (*TIGHT[:8], 28.0, *TIGHT[9:]), **held, **AFTER))

    assert (judged["verdict"], codes(judged)) == ("partial", ["place_raised"])


def test_walks_with_two_instruments_are_not_compared(api: Api, seam: Seam) -> None:
    walk(api, seam)
    mended(Finding.objects.get())

    judged = verified(api, walk(api, seam, TIGHT, **AFTER))

    assert (judged["verdict"], codes(judged)) == ("cannot_tell", ["other_instrument"])
    assert Finding.objects.get().status == "repaired"


def test_walks_with_two_sources_are_not_compared(api: Api, seam: Seam, held: dict[str, str]) -> None:
    walk(api, seam, **held)
    mended(Finding.objects.get())
    other = make_seam(seam.point, source_description="Another source", from_at="2026-03-05T00:00:00Z")

    judged = verified(api, walk(api, other, TIGHT, **held, **AFTER))

    assert (judged["verdict"], codes(judged)) == ("cannot_tell", ["other_source"])


def test_a_walk_that_could_not_tell_proves_nothing(api: Api, seam: Seam, held: dict[str, str]) -> None:
    walk(api, seam, **held)
    mended(Finding.objects.get())

    judged = verified(api, walk(api, seam, TIGHT[:9], **held, **AFTER))

    assert (judged["verdict"], codes(judged)) == ("cannot_tell", ["walk_not_determined"])


def test_a_walk_that_could_not_tell_leaves_the_judgement_of_the_last(
    api: Api, seam: Seam, held: dict[str, str]
) -> None:
    walk(api, seam, **held)

    walk(api, seam, TIGHT[:9], **held, **AFTER)

    assert Finding.objects.get().condition_severity == 4


def test_a_seam_to_be_watched_is_written_down_without_an_order(
    api: Api, seam: Seam, held: dict[str, str]
) -> None:
    walk(api, seam, (*TIGHT[:8], 28.0, *TIGHT[9:]), **held)

    finding = Finding.objects.select_related("condition").get()
    assert (finding.condition.state, finding.condition.order_due) == ("watch", False)


def test_a_walk_sent_in_pieces_comes_to_the_same(api: Api, seam: Seam, held: dict[str, str]) -> None:
    begun = begin(api, seam, **held).json()["id"]
    for place in reversed(places(LEVELS)):
        api.post(f"/seam-walks/{begun}/places", {"places": [place]})
    api.post(f"/seam-walks/{begun}/finish", {"finished_at": "2026-03-02T09:20:00Z"})

    in_pieces = api.get(f"/seam-walks/{begun}").json()["result"]

    at_once = walk(api, seam, **held)["result"]
    assert [in_pieces[name] for name in ("places", "leaks", "verdict")] == [
        at_once[name] for name in ("places", "leaks", "verdict")
    ]
