"""Words of the pages for the words of the records."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

_SAID: Final[Mapping[str, str]] = MappingProxyType(
    {
        "escalated": "ageing, told to the next person",
        "safety_found": "a danger that was found",
        "worsened": "got worse",
        "assigned": "your work order",
        "resumed": "work order waits no longer",
        "repair_failed": "a repair that did not hold",
        "deferral_asked": "asked to let it wait",
        "deferral_answered": "your question was answered",
        "deferral_ending": "its waiting ends soon",
        "deferral_ended": "its waiting ended",
        "month_closed": "a closed month",
        "repaired": "repaired, not yet verified",
        "dismissed": "no fault",
        "in_progress": "in progress",
        "gas": "fuel gas or unknown gas",
        "inert": "suffocating gas",
        "rotation": "moving machine",
        "electrical": "electricity",
        "none": "no danger of its own",
        "not_found": "nothing found to repair",
        "needs_shutdown": "needs a shutdown",
        "partial": "partly",
        "electricity_price_per_kwh": "electricity price per kWh",
        "gas_price_per_m3": "gas price per m³",
        "demand_charge_per_kw_month": "demand charge per kW and month",
    }
)

_ACTS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "finding.opened": "Found",
        "finding.heard_again": "Heard again",
        "finding.repaired": "Repair reported",
        "finding.repair_rejected": "Repair did not hold",
        "finding.closed": "Closed",
        "finding.closed_by_reason": "Closed by a recorded reason",
        "finding.reopened": "Opened again",
        "finding.dismissed": "Dismissed: no fault",
        "finding.merged": "Merged into another finding",
        "finding.separated": "Separated again",
        "finding.reinstated": "Taken up again",
        "finding.heard_after_repair": "Heard after the repair",
        "finding.quiet": "Listened to again: nothing heard",
        "work_order.repair_reported": "Repair reported on the work order",
        "work_order.waiting": "Work order waits",
        "work_order.priority_changed": "Priority changed",
        "notice.taken": "Somebody sees to it",
        "deferral.ending": "Its waiting ends soon",
        "mail.parked": "A mail was given up",
        "mail.retried": "A mail is sent once more",
        "escalation.taken": "Somebody sees to it",
        "finding.escalated": "Told to the next person",
        "finding.classified": "Judged by a person",
        "finding.corrected": "A reading was corrected",
        "finding.deferred": "Allowed to wait",
        "finding.deferral_ended": "Its waiting ended",
        "finding.heard_before": "Was heard earlier than known",
        "finding.better_evidence": "Was heard earlier, with better evidence",
        "finding.took_over": "Took over a duplicate’s story",
        "finding.gave_back": "Gave a duplicate’s story back",
    }
)


def plain(word: str) -> str:
    """Return a record's word as people write it; an unknown word loses its underscores."""
    return _SAID.get(word, word.replace("_", " "))


def title(word: str) -> str:
    """Return the same with a capital first letter."""
    said = plain(word)
    return said[:1].upper() + said[1:]


def act_told(act: str, detail: Mapping[str, object] = MappingProxyType({})) -> str:
    """Return what a logbook entry tells; an unknown act is told by its own words."""
    if act == "finding.escalated" and detail.get("to_role"):
        return f"Told to the {detail['to_role']}"
    if act == "finding.heard_again" and detail.get("rate_kept"):
        return "Heard again; its rate stays"
    if act in _ACTS:
        return _ACTS[act]
    noun, _, verb = act.rpartition(".")
    return title(f"{noun} {verb}".strip().replace(".", " "))


def actor_told(name: str) -> str:
    """Return who acted: a job by its words."""
    job = name.removeprefix("job ")
    return name if job == name else f"the job “{plain(job)}”"


def result_told(result: Mapping[str, object]) -> str:
    """Return what a job did: its counts that are not zero, and the reasons it gives."""
    parts = []
    for name, value in result.items():
        if isinstance(value, list):
            parts += [str(one) for one in value]
        elif value:
            parts.append(f"{value} {plain(name)}")
    return "; ".join(parts) or "nothing was to be done"


def counted(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun: 1 finding, 2 findings."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def compared(now: int, then: int) -> str:
    """Return how a number stands beside an earlier one: 5 fewer than, 2 more than, as many as."""
    if now == then:
        return "as many as"
    return f"{abs(now - then)} {'fewer' if now < then else 'more'} than"
