"""When a vibration is to be looked into: a warning set from the machine's own baseline, not from a table."""

import math

from findings.physics.estimate import Estimate, Reason, Status, refused

METHOD = "vibration_warning"
VERSION = "1"
SHARE_OF_LIMIT = 0.25
"""The warning lies this part of the upper limit of zone B over the baseline."""
HIGHEST_SHARE = 1.25
"""It lies at most at this many times that limit."""
LARGEST_M_PER_S = 1.0
"""No machine of the standard's scope shakes as fast (judgement)."""


def vibration_warning(baseline_m_per_s: float, zone_b_limit_m_per_s: float) -> Estimate:
    """Return the vibration velocity in m/s, r.m.s., from which a machine is to be looked into.

    Baseline plus 25 % of the upper limit of zone B, at most 1.25 times that limit. The limit is the reader's
    own, from the standard, for the machine's group and support. Refused for numbers that can't be, and for
    a baseline that lies above every warning. Source: ISO 10816-3, as a distributor's page restates it.
    """
    numbers = {"baseline_m_per_s": baseline_m_per_s, "zone_b_limit_m_per_s": zone_b_limit_m_per_s}
    kept = {name: value if math.isfinite(value) else None for name, value in numbers.items()}
    problems = _problems(baseline_m_per_s, zone_b_limit_m_per_s)
    if problems:
        return refused(unit="m/s", method=METHOD, version=VERSION, reasons=problems, inputs=kept)
    highest = HIGHEST_SHARE * zone_b_limit_m_per_s
    value = min(baseline_m_per_s + SHARE_OF_LIMIT * zone_b_limit_m_per_s, highest)
    return Estimate(
        value=value,
        u=0.0,
        low=value,
        high=value,
        unit="m/s",
        method=METHOD,
        method_version=VERSION,
        status=Status.STATED,
        reasons=_remarks(baseline_m_per_s, zone_b_limit_m_per_s),
        inputs=kept,
    )


def _problems(baseline_m_per_s: float, limit_m_per_s: float) -> tuple[Reason, ...]:
    """Return why there is no warning to set."""
    problems = []
    if not (math.isfinite(baseline_m_per_s) and 0.0 <= baseline_m_per_s <= LARGEST_M_PER_S):
        problems.append(Reason("baseline_out_of_range", "The baseline lies from 0 to 1 m/s."))
    if not (math.isfinite(limit_m_per_s) and 0.0 < limit_m_per_s <= LARGEST_M_PER_S):
        problems.append(Reason("limit_out_of_range", "The limit of zone B lies above 0, up to 1 m/s."))
    if not problems and baseline_m_per_s >= HIGHEST_SHARE * limit_m_per_s:
        text = "The baseline reaches the highest warning there is: that is no good machine's baseline."
        problems.append(Reason("baseline_above_warning", text))
    return tuple(problems)


def _remarks(baseline_m_per_s: float, limit_m_per_s: float) -> tuple[Reason, ...]:
    """Return what a reader of the warning should know."""
    remarks = [
        Reason("limit_stated", "The limit of zone B was stated by the user, from their copy of the standard.")
    ]
    if baseline_m_per_s > limit_m_per_s:
        text = "The baseline lies above zone B already: such a machine isn't meant to run for long."
        remarks.append(Reason("baseline_above_zone_b", text))
    if baseline_m_per_s + SHARE_OF_LIMIT * limit_m_per_s > HIGHEST_SHARE * limit_m_per_s:
        remarks.append(Reason("capped", "The warning is held at 1.25 times the limit of zone B."))
    return tuple(remarks)
