"""What each figure of a month means, in a sentence that is answered beside it."""

from collections.abc import Mapping
from typing import Final

DEFINITIONS: Final[Mapping[str, str]] = {
    "accrued_cost": (
        "What the month's losses cost: leak rate × cost of a cubic metre in force × elapsed hours of "
        "the month, piece by piece, at full load. Deferred findings included, dismissed and merged "
        "ones not."
    ),
    "accrued_cost_deferred": "The part of the accrued cost that ran while an approved deferral was in force.",
    "avoided_verified": (
        "(Rate before − rate after) × prices in force × hours since the repair, for a year of elapsed "
        "time at most, until the spot leaks again or goes out of service; only of repairs that a "
        "reading afterwards proved, whole or in part. At full load, like the accrued cost: what the "
        "compressor room's meter shows may be less, as told at each finding."
    ),
    "avoided_claimed": (
        "The same of repairs that are reported and not checked yet. Never added to the verified."
    ),
    "cost_past_due": "Cost of delay: the part of the accrued cost that ran after the order's due time.",
    "cost_past_extended_due": "The same after the due time moved on by approved deferrals.",
    "energy_kwh": "Electricity that the lost gas took to make, by the specific energy in force.",
    "volume_m3": "What was lost, at 1 bar, 20 °C, dry.",
    "co2e_kg": (
        "The energy × the grid factor in force. Of the electricity only; a lost gas's own effect apart."
    ),
    "open_start": (
        "Open when the month began: found and neither closed, dismissed nor merged. Deferred ones and "
        "repairs not yet checked are open."
    ),
    "found": "First read in the month. Dismissed and merged findings do not count.",
    "reopened": "Closed before and heard again at the same spot in the month.",
    "repaired": "Repairs reported in the month, whatever their check says later.",
    "repairs_rejected": "Repairs that a reading of the month showed not to hold.",
    "closed": (
        "Verified closures: a reading after the repair shows the fault gone. One finding may close twice."
    ),
    "closed_by_reason": "Ended in the month by a recorded reason, without a reading.",
    "removed": "Ended because asset or branch went out of service; no repair and no saving.",
    "open_end": "Open at the month's end, or now in the running month.",
    "ledger_balances": (
        "Open at the end = open at the start + found + reopened − closed − closed by a reason − "
        "removed. A statement that does not balance is not given."
    ),
    "open_end_by_state": "The open ones apart: open, deferred, and repaired but not yet checked.",
    "without_loss": "Open findings of which no leak rate is known, so that no money is told of them.",
    "repair_rates.throughput": "Closed in the month and still closed ÷ found in the month; may exceed 1.",
    "repair_rates.clearance": (
        "Closed and still closed ÷ (open at the start, found or reopened), each finding once; 95 % "
        "interval after Wilson."
    ),
    "repair_rates.cohort": (
        "Of those found in the month the share repaired within 30 days (Kaplan-Meier); told once 30 "
        "days have passed since its end."
    ),
    "repair_rates.by_flow": (
        "Clearance with leak rates (m³/s) in place of counts: of a closed one what its repair took "
        "away, of the others the last rate."
    ),
    "repair_rates.by_cost": (
        "Clearance with yearly cost in place of counts, at the prices of the month's end."
    ),
    "repair_rates.ever": "Of all found so far the share that is closed and still closed; 95 % after Wilson.",
    "verified_share": "Verified closures ÷ (verified closures + closures by a reason); 95 % after Wilson.",
    "checks": (
        "Passed ÷ repairs of the month; passed ÷ those whose result is known or overdue; and of "
        "repairs checked for the first time the share that passed at once."
    ),
    "backlog_age": (
        "Ages of the open findings in days: since found, since they came back, and less approved "
        "deferral; percentiles interpolated; the mean weighted by leak rate."
    ),
    "time_to_repair": (
        "Days from found to the repair that a check proved (Kaplan-Meier over all findings, open ones "
        "counted as not yet repaired; 95 % log-log interval). The mean of the repaired ones alone is "
        "biased."
    ),
    "releaks": (
        "Of verified repairs the share that leaks again within 90, 180 and 365 days (Kaplan-Meier), "
        "and per 100 years of watching, with exact Poisson limits."
    ),
}
