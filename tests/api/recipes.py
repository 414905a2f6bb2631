"""What a description can't say: which thing a name means, and a body that the doors take.

An operation without a recipe is asked with a body made from its schema. "$name" stands for the id of
the thing of that name on the asking site.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from tests.api.operations import Operation
from tests.sounds import wav

# Any member or parameter that looks like an id has to stand here; None: it names no stored thing.
NAMES: Final[Mapping[str, str | None]] = {
    "area_id": "area",
    "after_id": "marked_after",
    "asset_id": "asset",
    "before_id": "marked_before",
    "compressor_id": "compressor",
    "assignee_id": "user",
    "client_id": None,  # the sender's own mark on a reading
    "corrects_id": "reading",
    "corrects_walk_id": "seam_walk",
    "during_id": "marked_during",
    "finding_id": "finding",
    "finding_ids": "free_finding",
    "first_survey_id": "survey",
    "instrument_id": "instrument",
    "item_id": None,  # whatever a job stumbled at
    "mapping_id": "mapping",
    "order_id": "order",
    "parent_id": "asset",
    "point_id": "point",
    "point_ids": "point",
    "reading_id": "reading",
    "route_id": "route",
    "seam_id": "seam",
    "second_survey_id": "ended_survey",
    "site_id": "site",
    "subject_id": "finding",
    "survey_id": "survey",
    "survivor_id": "survivor",
    "system_id": "system",
}

# The first word of a path, and what {id} names behind it.
COLLECTIONS: Final[Mapping[str, str]] = {
    "api-keys": "api_key",
    "areas": "area",
    "bearing-particulars": "bearing_particulars",
    "calendar-feeds": "calendar_feed",
    "calibration-leaks": "calibration_leak",
    "assets": "asset",
    "closed-months": "month",
    "compressors": "compressor",
    "conditions": "condition",
    "connections": "connection",
    "corrections": "correction",
    "dated-values": "dated_value",
    "deferrals": "deferral",
    "electrical-qualifications": "qualification",
    "escalations": "escalation",
    "findings": "finding",
    "good-states": "good_state",
    "greasings": "greasing",
    "imports": "import",
    "leak-tests": "leak_test",
    "instruments": "instrument",
    "logbook-entries": "entry",
    "mails": "mail",
    "mappings": "mapping",
    "measuring-points": "point",
    "memberships": "membership",
    "pause-rules": "pause_rule",
    "parked-items": "stumble",
    "notices": "notice",
    "opening-releases": "opening_release",
    "panel-particulars": "panel",
    "readings": "reading",
    "recordings": "recording",
    "routes": "route",
    "seam-walks": "seam_walk",
    "seams": "seam",
    "service-levels": "service_level",
    "site-days": "site_day",
    "sites": "site",
    "supply-systems": "system",
    "surveys": "survey",
    "tariff-tables": "tariff_table",
    "verifications": "verification",
    "visit-requests": "visit",
    "wear-ladders": "wear_ladder",
    "work-orders": "order",
    "working-weeks": "working_week",
}


@dataclass(frozen=True)
class Recipe:
    """How to ask: as whom, about which thing, with what."""

    who: str = "owner"  # "login" where a key is refused, "superuser" where no role suffices
    target: str = ""
    body: Any = None
    query: Mapping[str, str] = field(default_factory=dict)
    path: Mapping[str, str] = field(default_factory=dict)


SHEET: Final = ("walk.csv", b"point,taken at,kind,medium\n")
SOUND: Final = wav(mark=-1)
LATER: Final = "2026-04-20T08:00:00Z"
PLANT: Final[Mapping[str, Recipe]] = {
    "api_key_create": Recipe("login", body={"name": "desk", "scopes": ["view"], "expires_at": LATER}),
    "asset_batch": Recipe(
        body={"items": [{"site_id": "$site", "area_id": "$area", "code": "N-1", "name": "New oven"}]}
    ),
    "asset_change": Recipe(target="part"),
    "asset_decommission": Recipe(target="loose_asset"),
    "asset_recommission": Recipe(target="retired_asset"),
    "calibration_leak_create": Recipe(
        body={
            "taken_at": "2026-03-02T09:00:00Z",
            "attachment": "open_horn",
            "gas": "air",
            "leak_family": "hole",
            "level_db": 66.0,
            "background_db": 30.0,
            "distance_m": 0.5,
            "pressure_gauge_pa": 600000,
            "flow_m3_per_s": 0.00003,
            "flow_u_m3_per_s": 0.000001,
            "flow_method": "flow_meter",
        }
    ),
    "compressor_create": Recipe(
        body={
            "system_id": "$system",
            "code": "N-C",
            "control": "variable_speed",
            "rated_flow_m3_per_s": 0.1,
            "rated_power_w": 40000,
        }
    ),
    "connection_create": Recipe(body={"asset_id": "$loose_asset", "system_id": "$system"}),
    "dated_value_create": Recipe(
        body={
            "site_id": "$site",
            "quantity": "electricity_price_per_kwh",
            "value": "0.31",
            "currency": "EUR",
            "from_at": "2026-01-01T00:00:00Z",
            "source": "contract 2026",
        }
    ),
    "tariff_table_create": Recipe(
        body={
            "site_id": "$site",
            "bands": [
                {
                    "name": "all day",
                    "price_per_kwh": "0.21",
                    "windows": [{"start": "00:00", "end": "24:00"}],
                }
            ],
            "currency": "EUR",
            "from_at": "2026-02-01T00:00:00Z",
            "source": "contract 2026",
        }
    ),
    "leak_test_create": Recipe(
        body={
            "method": "load_unload",
            "compressor_id": "$compressor",
            "taken_at": "2026-03-15T03:00:00Z",
            "load_s": [60, 62, 61],
            "unload_s": [240, 238, 241],
            "source": "stopwatch at the station",
        }
    ),
    "logbook_check": Recipe(query={"site_id": "$site"}),
    "measuring_point_batch": Recipe(
        body={"items": [{"site_id": "$site", "asset_id": "$asset", "code": "N-P"}]}
    ),
    "membership_create": Recipe(body={"site_id": "$site", "username": "Tarnbeck.nowhere", "role": "planner"}),
    "site_change": Recipe(body={"name": "Biscuit Works"}),
    "site_create": Recipe(
        "superuser",
        body={"code": "NEW", "name": "New works", "time_zone": "Europe/Berlin", "currency": "EUR"},
    ),
    "supply_system_create": Recipe(
        body={
            "site_id": "$site",
            "code": "N2",
            "name": "Nitrogen",
            "medium": "nitrogen",
            "pressure_gauge_pa": 400000,
        }
    ),
    "supply_system_change": Recipe(body={"pressure_gauge_pa": 650000}),
}
WEAR: Final[Mapping[str, Recipe]] = {
    "bearing_particulars_create": Recipe(
        body={
            "bearing_type": "ball",
            "bore_m": 0.05,
            "outer_diameter_m": 0.11,
            "width_m": 0.027,
            "shaft_speed_hz": 24.5,
            "source": "maker's sheet",
            "from_at": "2026-02-01T00:00:00Z",
        }
    ),
    "good_state_create": Recipe(
        body={
            "cause": "confirmed_good",
            "from_at": "2026-02-01T00:00:00Z",
            "reason": "Runs smoothly, checked by hand.",
        }
    ),
    "wear_ladder_create": Recipe(
        body={
            "site_id": "$site",
            "steps": [
                {
                    "key": "stop",
                    "rise_db": 30,
                    "meaning": "Stop.",
                    "source": "our own trials",
                    "one_reading": True,
                }
            ],
            "source": "reliability meeting",
            "from_at": "2026-02-01T00:00:00Z",
        }
    ),
    "greasing_create": Recipe(
        target="probed_point",
        body={"before_id": "$marked_before", "after_id": "$marked_after", "grease_kg": 0.005},
    ),
    "wear_judge_again": Recipe(target="probed_point"),
}
WHAT_IFS: Final[Mapping[str, Recipe]] = {
    "leak_balance_read": Recipe(query={"first_survey_id": "$survey", "second_survey_id": "$ended_survey"}),
    "what_if_header_pressure": Recipe(body={"after_pressure_gauge_pa": 550000}),
    "what_if_repair_plan": Recipe(
        body={
            "money_budget": "500",
            "usual_cost": "80",
            "usual_hours": "1.5",
            "basis": "full_load",
            "repairs": [{"finding_id": "$finding", "cost": "20", "hours": "1"}],
        }
    ),
    "what_if_branch_shut_off": Recipe(body={"asset_id": "$asset", "hours_per_year": 2000}),
    "what_if_branch_shut_off:area": Recipe(body={"area_id": "$area", "hours_per_year": 2000}),
    "what_if_tariff_change": Recipe(body={"price_per_kwh": "0.31"}),
}
INTAKE: Final[Mapping[str, Recipe]] = {
    "import_create": Recipe(body={"file": SHEET, "site_id": "$site"}),
    "import_try": Recipe(body={"file": SHEET, "site_id": "$site"}),
    "mapping_create": Recipe(
        body={"site_id": "$site", "name": "New sheet", "kind": "survey", "settings": {}}
    ),
    "mapping_change": Recipe(body={"name": "Old sheet"}),
}
INBOX: Final[Mapping[str, Recipe]] = {
    "calendar_feed_create": Recipe("login", body={"site_id": "$site", "scope": "site", "name": "Phone"}),
    "calendar_feed_rotate": Recipe("login"),
    "notice_preference_change": Recipe(body={"mail": "at_once"}),
}
ORDERS: Final[Mapping[str, Recipe]] = {
    "working_week_create": Recipe(
        body={
            "site_id": "$site",
            "from_on": "2026-02-02",
            "shifts": [{"days": ["mon", "fri"], "start": "22:00", "end": "06:00"}],
            "country": "DE",
            "subdivision": "BW",
            "known_until_on": "2027-12-31",
            "source": "shift plan 2026",
        }
    ),
    "site_day_create": Recipe(
        body={
            "site_id": "$site",
            "kind": "shutdown",
            "first_on": "2026-12-24",
            "last_on": "2027-01-06",
            "name": "winter shutdown",
            "source": "works calendar",
        }
    ),
    "working_calendar_read": Recipe(query={"year": "2026"}),
    "pause_rule_change": Recipe(body={"pauses": [], "source": "site rule"}),
    "service_level_create": Recipe(
        body={
            "site_id": "$site",
            "priority": "P3",
            "kind": "enclosure_leak",
            "respond_working_hours": "8",
            "repair_working_hours": "80",
            "verify_days": 14,
            "source": "agreed with production",
        }
    ),
    "service_level_change": Recipe(body={"verify_days": 9}),
    "work_order_create": Recipe(body={"finding_ids": ["$free_finding"]}),
    "work_order_change": Recipe(body={"title": "Renew the seal"}),
    "work_order_set_priority": Recipe(body={"priority": "P1", "reason": "near the walkway"}),
    "work_order_move": Recipe(body={"move": "start", "isolation_confirmed": True}),
    "work_order_move:release": Recipe(target="draft_order", body={"move": "release"}),
    "work_order_move:schedule": Recipe(
        body={"move": "schedule", "scheduled_for": LATER, "assignee_id": "$user"}
    ),
    "work_order_move:wait": Recipe(body={"move": "wait", "wait_reason": "parts"}),
    "work_order_move:resume": Recipe(target="waiting_order", body={"move": "resume"}),
    "work_order_move:report_repair": Recipe(
        target="started_order",
        body={
            "move": "report_repair",
            "outcome": "fixed",
            "action_taken": "New seal fitted",
            "repaired_at": "2026-03-20T07:00:00Z",
            "isolation_confirmed": True,
        },
    ),
    "work_order_move:close": Recipe(
        body={"move": "close", "closure_reason": "branch_isolated", "closure_text": "Valve 12 is locked."}
    ),
    "work_order_move:cancel": Recipe(body={"move": "cancel", "cancel_reason": "duplicate"}),
    "work_order_move:reopen": Recipe(
        target="judged_order", body={"move": "reopen", "reading_id": "$heard_after_check"}
    ),
    "verification_create": Recipe(
        body={"finding_id": "$repaired_finding", "reading_id": "$repaired_reading"}
    ),
}
FINDINGS: Final[Mapping[str, Recipe]] = {
    "deferral_create": Recipe(
        body={
            "finding_id": "$free_finding",
            "reason": "parts",
            "text": "The seal is ordered",
            "until_at": LATER,
        }
    ),
    "assessment_recomputation_read": Recipe(path={"assessment_id": "$assessment"}),
    "finding_move": Recipe(
        target="free_finding",
        body={"move": "dismiss", "dismiss_reason": "no_fault_found", "text": "Nothing there"},
    ),
    "finding_move:merge": Recipe(
        target="duplicate", body={"move": "merge", "survivor_id": "$survivor", "text": "Heard twice"}
    ),
    "finding_move:separate": Recipe(
        target="merged_finding", body={"move": "separate", "text": "Two leaks after all"}
    ),
    "finding_move:reinstate": Recipe(
        target="dismissed_finding", body={"move": "reinstate", "text": "It is there again"}
    ),
    "finding_move:close_by_reason": Recipe(
        target="free_finding",
        body={"move": "close_by_reason", "closure_reason": "branch_isolated", "text": "Valve 12 is locked."},
    ),
    "finding_move:reopen": Recipe(
        target="closed_finding", body={"move": "reopen", "reading_id": "$heard_after_closing"}
    ),
    "finding_move:classify": Recipe(
        "login",
        target="unclear_finding",
        body={"move": "classify", "medium": "compressed_air", "text": "The hose is blue."},
    ),
    "condition_overrule": Recipe(
        body={"sound": "arcing-like", "reason": "It snapped twice while I stood there."}
    ),
    "panel_particulars_create": Recipe(
        body={"point_id": "$point", "from_at": "2026-03-01T00:00:00Z", "enclosure": "switchgear"}
    ),
    "panel_particulars_void": Recipe(target="void_panel", body={"reason": "Another panel"}),
    "electrical_qualification_create": Recipe(
        "login",
        body={
            "site_id": "$site",
            "username": "Tarnbeck.technician",
            "ground": "Course for switchgear, 2025",
            "until_at": LATER,
        },
    ),
    "electrical_qualification_void": Recipe(body={"reason": "The course has lapsed"}),
    "opening_release_create": Recipe(
        "login",
        body={
            "finding_id": "$shut_finding",
            "technique": "thermography",
            "found": "No warm joint is seen",
            "conditions": "Two people stand by",
            "until_at": "2026-04-05T08:00:00Z",
        },
    ),
    "opening_release_void": Recipe(body={"reason": "The weather turned wet"}),
    "recording_create": Recipe(body={"file": ("gear.wav", SOUND)}),
    "recording_void": Recipe(target="loose_recording", body={"reason": "Another machine"}),
    "reading_batch": Recipe(
        body={
            "survey_id": "$survey",
            "items": [
                {"client_id": "n-1", "point_id": "$point", "taken_at": "2026-03-02T09:00:00Z"},
            ],
        }
    ),
}
SEALS: Final[Mapping[str, Recipe]] = {
    "seam_create": Recipe(
        body={
            "point_id": "$point",
            "shape": "ring",
            "length_m": 6.0,
            "outline": {"width_m": 0.9, "height_m": 2.1, "start_corner": "upper_left"},
            "source_description": "Tone source of the sluice",
        }
    ),
    "seam_walk_create": Recipe(
        body={
            "seam_id": "$seam",
            "client_id": "n-1",
            "begun_at": "2026-03-18T08:00:00Z",
            "open_level_db": 52.0,
            "background_db": 5.0,
            "instrument_id": "$instrument",
            "survey_id": "$survey",
            "places": [{"client_id": "p-1", "position_m": 0.0, "level_db": 18.0}],
        }
    ),
    "seam_walk_add_places": Recipe(
        target="begun_seam_walk",
        body={"places": [{"client_id": "n-1", "position_m": 0.2, "level_db": 18.0}]},
    ),
    "seam_walk_finish": Recipe(target="begun_seam_walk", body={"finished_at": "2026-03-18T08:20:00Z"}),
}
MONTHS: Final[Mapping[str, Recipe]] = {
    "month_close": Recipe(path={"month": "2026-02"}),
    "month_lines": Recipe(path={"month": "2026-02"}, query={"figure": "accrued_cost"}),
    "month_of_sites": Recipe(query={"month": "2026-02"}),
    "month_read": Recipe(path={"month": "2026-02"}),
}
RECIPES: Final[Mapping[str, Recipe]] = {
    **PLANT,
    **WEAR,
    **WHAT_IFS,
    **INTAKE,
    **FINDINGS,
    **SEALS,
    **INBOX,
    **ORDERS,
    **MONTHS,
}
DEFAULT: Final = Recipe()


def recipe_of(operation: Operation, variant: str = "") -> Recipe:
    """Return how an operation, or a variant of it, is asked."""
    return RECIPES.get(f"{operation.id}:{variant}" if variant else operation.id, DEFAULT)


def variants(operation: Operation) -> list[str]:
    """Return the names of an operation's variants; "" is the operation as such."""
    prefix = f"{operation.id}:"
    return ["", *(name.removeprefix(prefix) for name in RECIPES if name.startswith(prefix))]
