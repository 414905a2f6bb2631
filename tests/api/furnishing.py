"""Put one thing of every kind on a site, with the site's word in every text."""

from __future__ import annotations

import itertools
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

from findings.deferrals.models import Deferral
from findings.intake.models import Import
from findings.intake.models import Mapping as ColumnMapping
from findings.logbook import actions as logbook
from findings.logbook.models import Entry
from findings.plant.models import Asset, MeasuringPoint, Membership
from findings.readings.models import Reading
from findings.recordings.models import AnalysisAttempt
from findings.recordings.rules import ANALYSIS_VERSION
from findings.register import actions as register
from findings.register.models import Assessment, Finding
from findings.seals import actions as seals
from findings.seals.rules import NewPlace, NewSeam, NewWalk
from findings.supply.models import SupplySystem
from findings.supply.rules import Quantity
from plantcare.jobs.models import JobRun, Stumble
from plantcare.jobs.registry import jobs
from plantcare.people.actions import issue_key
from tests import makers
from tests.api.furnishing_panels import furnish_panel
from tests.api.probing import probe
from tests.api.siteplan import AT, DAY, KEY_LIFE, SitePlan
from tests.makers import NOW
from tests.people import make_user
from tests.workorders.scene import EVERY_RIGHT, SILENT, listen
from workorders.clocks.models import Escalation
from workorders.feeds.models import CalendarFeed
from workorders.inbox.models import Mail, News, Notice
from workorders.orders.actions import change_priority, move, open_order
from workorders.orders.actions.levels import seed_levels
from workorders.orders.actions.pausing import seed_pauses
from workorders.orders.models import OrderFinding, PauseRule, ServiceLevel, WorkOrder
from workorders.orders.rules import MoveName, PriorityClass
from workorders.statements.models import ClosedMonth, Correction
from workorders.verification.actions import verify

_numbers = itertools.count(1)


def furnish(place: SitePlan) -> None:
    """Put one thing of every kind on a site; once more makes more of everything."""
    _lay_out(place)
    _walk(place)
    _record(place)
    _walk_seams(place)
    probe(place)
    _judge(place)
    _order(place)
    _repair(place)
    furnish_panel(place)
    _write_down(place)
    _tell(place)


def _lay_out(place: SitePlan) -> None:
    site = place.site
    place["site"] = site
    place["area"] = makers.make_area(site, code=place.code("H"), name=place.words("wrapping hall"))
    place["asset"] = _asset(place)
    place["part"] = _asset(place, parent=place["asset"])
    place["loose_asset"] = _asset(place)
    place["retired_asset"] = _asset(
        place, decommissioned_at=NOW, decommissioned_reason=place.words("scrapped")
    )
    place["system"] = _priced_system(place)
    place["connection"] = makers.make_connection(place["asset"], place["system"])
    place["compressor"] = makers.make_compressor(place["system"], code=place.code("C"))
    place["leak_test"] = makers.make_leak_test(
        place["system"],
        compressor=place["compressor"],
        taken_at=NOW - DAY - timedelta(seconds=next(_numbers)),
        source=place.words("flow meter"),
        note=place.words("nobody worked"),
        as_sent={"said": place.word},
    )
    place["dated_value"] = makers.make_value(
        site,
        Quantity.ELECTRICITY_PRICE_PER_KWH,
        "0.25",
        from_at=NOW - DAY - timedelta(seconds=next(_numbers)),
        source=place.words("contract"),
    )
    place["tariff_table"] = makers.make_tariff_table(
        site,
        name=place.words("day and night"),
        from_at=NOW - 2 * DAY - timedelta(seconds=next(_numbers)),
        source=place.words("contract"),
    )
    place["working_week"] = makers.make_working_week(
        site, from_on=NOW.date() - next(_numbers) * DAY, source=place.words("shift plan")
    )
    place["site_day"] = makers.make_site_day(
        site,
        first_on=NOW.date() + next(_numbers) * DAY,
        name=place.words("shutdown"),
        source=place.words("works calendar"),
    )
    place["instrument"] = makers.make_instrument(
        site,
        code=place.code("D"),
        name=place.words("detector"),
        serial=place.words("serial"),
        calibration_certificate=place.words("certificate"),
    )
    place["calibration_leak"] = makers.make_calibration_leak(
        place["instrument"], note=place.words("test nozzle"), taken_at=NOW
    )
    place["void_calibration_leak"] = makers.make_calibration_leak(
        place["instrument"], void_at=NOW, void_reason=place.words("wrong nozzle")
    )
    place["point"] = point(place)
    place["route"] = makers.make_route(
        site, [place["point"]], code=place.code("R"), name=place.words("Mondays")
    )
    place["visit"] = makers.make_visit(
        place["point"], origin=place.code("origin"), note=place.words("look again")
    )
    place["membership"] = Membership.objects.create(
        site=site,
        user=make_user(f"{place.word}.{next(_numbers)}", first_name=place.word, last_name="Helper"),
        role="technician",
        since_at=makers.LONG_AGO,
    )
    place["user"] = place.people["technician"]


def _asset(place: SitePlan, **values: Any) -> Asset:
    given = {"area": place["area"], "code": place.code("A"), "name": place.words("flow wrapper")}
    return makers.make_asset(place.site, **{**given, **values})


def _priced_system(place: SitePlan) -> SupplySystem:
    values = {"code": place.code("AIR"), "name": place.words("compressed air")}
    if "system" in place.things:
        return makers.make_system(place.site, **values)
    system = makers.make_priced_system(place.site, **values)
    makers.make_value(place.site, Quantity.MEAN_DEMAND_M3_PER_S, "0.1", system=system)
    return system


def point(place: SitePlan) -> MeasuringPoint:
    """Make a measuring point at the site's asset."""
    return makers.make_point(asset=place["asset"], code=place.code("P"), name=place.words("valve"))


def _walk(place: SitePlan) -> None:
    values = {"inspector_name": place.words("Falk"), "note": place.words("walk")}
    values |= {"instrument": place["instrument"], "started_at": NOW - timedelta(hours=1)}
    place["survey"] = makers.make_survey(place.site, code=place.code("S"), route=place["route"], **values)
    place["ended_survey"] = makers.make_survey(
        place.site, code=place.code("S"), ended_at=NOW, **{**values, "started_at": NOW - DAY}
    )
    place["finding"] = heard(place)
    place["assessment"] = Assessment.objects.get(finding=place["finding"])
    place["reading"] = listen(
        place["finding"].point,
        NOW + timedelta(hours=1),
        by=place.actor("inspector"),
        survey=place["survey"],
        note=place.words("hisses"),
        pattern=place.words("steady")[:24],
        as_sent={"level": place.words("55 dB")},
    ).reading


def _record(place: SitePlan) -> None:
    said = {"file_name": place.words("walk.wav"), "uploaded_by": place.words("Falk")}
    place["recording"] = makers.make_recording(place["reading"], **said)
    makers.make_analysis(place["recording"], picture_words=place.words("6 s"), result={"said": place.word})
    place["loose_recording"] = makers.make_recording(place["reading"], **said)
    AnalysisAttempt.objects.create(
        site=place.site,
        recording=place["loose_recording"],
        method_version=ANALYSIS_VERSION,
        number=1,
        started_at=NOW,
    )


def _late_reading(place: SitePlan, finding: Finding) -> Reading:
    """Write down that it is heard again after its end, without what the register would make of that."""
    return Reading.objects.create(
        site=place.site,
        survey=place["survey"],
        point=finding.point,
        client_id=place.code("late"),
        fingerprint=b"0" * 32,
        taken_at=AT - timedelta(hours=12),
        recorded_at=AT,
        kind=finding.kind,
        medium=finding.medium,
        note=place.words("hisses again"),
    )


def heard(place: SitePlan, at: datetime = NOW, **said: Any) -> Finding:
    """Hear a leak at a new point of the site."""
    taken = listen(
        point(place),
        at,
        by=place.actor("inspector"),
        survey=place["survey"],
        **{"note": place.words("hisses"), **said},
    )
    assert taken.finding is not None
    return taken.finding


def _walk_seams(place: SitePlan) -> None:
    by, at = place.actor("inspector"), AT - 2 * DAY
    place["seam"] = seals.add_seam(
        actor=by,
        at=NOW,
        seam=NewSeam(
            point_id=point(place).pk,
            shape="line",
            length_m=2.0,
            source_description=place.words("tone source"),
            note=place.words("gasket of the sluice"),
        ),
    )
    for name, finished_at in (("seam_walk", at), ("begun_seam_walk", None)):
        place[name] = seals.begin_walk(
            actor=by,
            at=at,
            seam_id=place["seam"].pk,
            walk=NewWalk(
                client_id=place.code("walk"),
                begun_at=at,
                open_level_db=52.0,
                background_db=5.0,
                instrument_id=place["instrument"].pk,
                survey_id=place["survey"].pk,
                note=place.words("door shut twice"),
            ),
            places=[
                NewPlace(
                    client_id=f"p{index}",
                    position_m=0.4 * index,
                    level_db=level_db,
                    note=place.words("corner"),
                )
                for index, level_db in enumerate((18.0, 18.0, 40.0, 18.0, 18.0, 18.0))
            ],
            finished_at=finished_at,
        ).walk


def _judge(place: SitePlan) -> None:
    by = place.actor("manager")
    for name in ("survivor", "duplicate", "free_finding", "waiting_finding", "asked_finding"):
        place[name] = heard(place)
    place["merged_finding"] = heard(place)
    register.merge(
        actor=by,
        at=AT - DAY,
        duplicate_id=place["merged_finding"].pk,
        survivor_id=place["survivor"].pk,
        reason=place.words("heard twice"),
    )
    place["dismissed_finding"] = heard(place)
    register.dismiss(
        actor=by,
        at=AT - DAY,
        finding_id=place["dismissed_finding"].pk,
        dismiss_reason="no_fault_found",
        text=place.words("nothing there"),
    )
    place["closed_finding"] = heard(place)
    register.close_by_reason(
        actor=by,
        at=AT - DAY,
        finding_id=place["closed_finding"].pk,
        closure_reason="branch_isolated",
        closure_text=place.words("valve 12 is locked shut"),
    )
    place["heard_after_closing"] = _late_reading(place, place["closed_finding"])
    place["unclear_finding"] = heard(place, medium="")
    place["deferral"] = _deferral(place, place["asked_finding"])
    approved = {"approved_by": place.people["manager"], "approved_at": NOW + DAY}
    place["approved_deferral"] = _deferral(place, place["waiting_finding"], **approved)
    register.defer(
        actor=by,
        at=NOW + DAY,
        finding_id=place["waiting_finding"].pk,
        deferral_id=place["approved_deferral"].pk,
        until_at=AT + 30 * DAY,
    )


def _deferral(place: SitePlan, finding: Finding, **values: Any) -> Deferral:
    given = {
        "reason": "parts",
        "text": place.words("the seal is ordered"),
        "interim_measures": place.words("barrier"),
        "is_safety": False,
        "until_at": AT + 30 * DAY,
        "requested_by": place.people["planner"],
        "requested_at": NOW,
    }
    return Deferral.objects.create(site=place.site, finding=finding, **{**given, **values})


def order(place: SitePlan, at: datetime = NOW, **values: Any) -> WorkOrder:
    """Open an order for a new finding."""
    given = {"title": place.words("renew the seal"), "instructions": place.words("shut valve 12")}
    by = place.actor("planner")
    return open_order(actor=by, at=at, finding_ids=[heard(place).pk], **{**given, **values})


def step(place: SitePlan, paper: WorkOrder, name: MoveName, at: datetime, **proof: Any) -> WorkOrder:
    """Move an order with every right."""
    by = place.actor("technician")
    return move(actor=by, at=at, order_id=paper.pk, name=name, evidence=proof, rights=EVERY_RIGHT)


def _order(place: SitePlan) -> None:
    seed_levels(site_ids=[place.site.pk], at=NOW)
    seed_pauses(site_ids=[place.site.pk], at=NOW)
    place["pause_rule"] = PauseRule.objects.get(site=place.site, wait_reason="parts", for_safety=False)
    place["service_level"] = ServiceLevel.objects.get(site=place.site, priority="P3")
    place["draft_order"] = order(place, released=False)
    place["order"] = change_priority(
        actor=place.actor("planner"),
        at=NOW,
        order_id=order(place, assignee_id=place.people["technician"].pk).pk,
        version=None,
        priority=PriorityClass.P2,
        reason=place.words("near the walkway"),
    )
    place["started_order"] = step(place, order(place), MoveName.START, NOW, isolation_confirmed=True)
    place["waiting_order"] = step(
        place, order(place), MoveName.WAIT, NOW, wait_reason="parts", text=place.words("parts")
    )


def _repair(place: SitePlan) -> None:
    for name in ("repaired", "judged"):
        paper = step(place, order(place), MoveName.START, NOW + DAY, isolation_confirmed=True)
        place[f"{name}_order"] = step(
            place,
            paper,
            MoveName.REPORT_REPAIR,
            NOW + DAY,
            outcome="fixed",
            action_taken=place.words("new seal"),
            cause=place.words("worn"),
            parts=[place.words("seal kit")],
            cost=Decimal(12),
            labour_hours=Decimal(1),
            repaired_at=NOW + DAY,
            isolation_confirmed=True,
        )
        place[f"{name}_finding"] = OrderFinding.objects.get(order=place[f"{name}_order"]).finding
        place[f"{name}_reading"] = listen(
            place[f"{name}_finding"].point,
            NOW + 2 * DAY,
            by=place.actor("inspector"),
            survey=place["survey"],
            **{**SILENT, "note": place.words("silent")},
        ).reading
    place["verification"] = verify(
        actor=place.actor("inspector"),
        at=NOW + 2 * DAY,
        finding_id=place["judged_finding"].pk,
        reading_id=place["judged_reading"].pk,
        rights=EVERY_RIGHT,
    )
    place["heard_after_check"] = _late_reading(place, place["judged_finding"])


def _tell(place: SitePlan) -> None:
    """Tell everybody of the last thing written down, mail it to the owner, and give each a calendar."""
    site, owner = place.site, place.people["owner"]
    last = Entry.objects.filter(site=site).order_by("-sequence")[0]
    news = News.objects.create(
        site=site,
        sequence=last.sequence,
        kind="assigned",
        order=place["order"],
        headline=place.words("seal"),
        todo=place.words("repair it"),
        at=AT - DAY,
    )
    place["mail"] = Mail.objects.create(
        site=site,
        user=owner,
        message_id=f"<{place.code('mail')}@plant.example>",
        subject=place.words("seal"),
        text=place.words("repair it"),
        html=place.words("repair it"),
        state="parked",
        last_error=place.words("no such person"),
        next_try_at=AT,
        created_at=AT - DAY,
        ended_at=AT,
    )
    for user in place.people.values():
        place["notice"] = Notice.objects.create(site=site, news=news, user=user, at=AT - DAY)
        place["calendar_feed"] = CalendarFeed.objects.create(
            site=site,
            user=user,
            scope="mine",
            name=place.words("phone"),
            prefix=f"{next(_numbers):08x}",
            digest=b"0" * 32,
            created_at=AT - DAY,
        )


def _write_down(place: SitePlan) -> None:
    site, n = place.site, next(_numbers)
    place["escalation"] = Escalation.objects.create(
        site=site,
        finding=place["finding"],
        episode=0,
        step=1,
        to_role="manager",
        reason=place.words("it ages"),
        at=AT - DAY,
    )
    month_on = datetime(2025 - n // 12, n % 12 + 1, 1, tzinfo=UTC).date()
    money = {"accrued_cost": 1, "avoided_verified": 1, "avoided_claimed": 1}
    place["month"] = ClosedMonth.objects.create(
        site=site,
        month_on=month_on,
        closed_at=AT - DAY,
        currency="EUR",
        figures={},
        inputs_digest=b"0" * 32,
        actor_name=place.words("Kern"),
        **money,
    )
    place["correction"] = Correction.objects.create(
        site=site, month=place["month"], booked_in_on=NOW.date(), at=AT - DAY, **money
    )
    place["mapping"] = ColumnMapping.objects.create(
        site=site, name=place.code("sheet"), kind="survey", settings={}, created_at=NOW
    )
    place["import"] = Import.objects.create(
        site=site,
        kind="survey",
        file_name=place.words("walk.csv"),
        digest=n.to_bytes(32, "big"),
        mapping_digest=b"0" * 32,
        strictness="all_or_nothing",
        user=place.people["planner"],
        at=NOW,
        report=[{"row": 1, "verdict": "taken", "notes": [], "outcome": "", "made_kind": "", "made_id": None}],
        counts={"taken": 1, "doubtful": 0, "refused": 0, "known": 0, "blank": 0},
    )
    place["api_key"] = issue_key(
        user=place.people["owner"],
        name=place.words("key"),
        scopes=["view"],
        at=AT - DAY,
        expires_at=AT + KEY_LIFE,
    )[0]
    JobRun.objects.create(
        job=next(name for name, job in jobs().items() if job.right),
        site_id=site.pk,
        requested_by=place.words("Kern"),
        started_at=NOW + timedelta(minutes=next(_numbers)),
        ended_at=AT,
        outcome="done",
        result={"said": place.word},
    )
    place["stumble"] = Stumble.objects.create(
        job="open_due_orders",
        site_id=site.pk,
        item_id=uuid4(),
        failures=5,
        reason=place.words("ValueError"),
        first_at=NOW,
        last_at=AT - DAY,
        parked_at=AT - DAY,
    )
    logbook.write(
        site_id=site.pk,
        actor=place.actor("manager"),
        at=AT - DAY,
        act="finding.opened",
        subject_kind="finding",
        subject_id=place["finding"].pk,
        reason=place.words("for the record"),
        detail={"said": place.word},
    )
    place["entry"] = Entry.objects.filter(site=site).order_by("-sequence").first()
