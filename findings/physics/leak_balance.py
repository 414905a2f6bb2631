"""What a survey left unexplained: a measured total against the findings, and leaks that two passes missed.

All flows of one balance stand at the same reference state.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from findings.physics import uncertainty
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.input_check import NEGATIVE, NOT_FINITE
from findings.physics.reference_states import DEFAULT_STATE, ReferenceState
from findings.physics.uncertainty import COVERAGE_95, Interval, Uncertain

METHOD = "leak_balance"
VERSION = "1"
SIGNIFICANT_P = 0.05
CLEAR_P = 0.01
"""A difference is told from chance below 0.05 and called clear below 0.01 (judgement, the usual levels)."""
ROUNDING = 1e-9
LARGEST_M3_PER_S = 1e4
NEGLIGIBLE_M3_PER_S = 1e-15
"""Less than any instrument tells from nothing: an uncertainty or a total below it counts as none."""
TIMES_SEEN_TWICE_FOR_SMALL_BIAS = 7
LARGEST_COUNT = 1_000_000
UPPER_TAIL = 0.025


class Leak(NamedTuple):
    """One finding's flow in m3/s, the part of its relative u that it shares with others, when it leaked.

    ``shared_relative_u`` None takes the balance's own; 0 for a flow that was measured by itself. Moments in
    s of any one clock, the end not counted.
    """

    flow: Uncertain
    shared_relative_u: float | None = None
    since_s: float = -math.inf
    until_s: float = math.inf


class Verdict(StrEnum):
    """Say what the difference between measured and found means."""

    ACCOUNTED_FOR = "accounted_for"
    UNEXPLAINED = "unexplained"
    OVER_EXPLAINED = "over_explained"
    UNDECIDED = "undecided"


@dataclass(frozen=True)
class Balance:
    """Sum of the findings, what remains unexplained (below zero: too much found), and its share of the total.

    ``z`` is the remainder over its own u, ``p`` the chance of one at least as far from zero if nothing
    remained; both None where no u was given or the balance is refused.
    """

    explained: Estimate
    unexplained: Estimate
    share: Estimate
    z: float | None
    p: float | None
    verdict: Verdict


def open_at(leaks: Sequence[Leak], at_s: float) -> list[Leak]:
    """Return the leaks that were open at a moment in s."""
    return [leak for leak in leaks if leak.since_s <= at_s < leak.until_s]


def sum_of(leaks: Sequence[Leak], shared_relative_u: float = 0.0) -> Uncertain:
    """Return the sum of flows: shared parts add up, the rest adds in quadrature (JCGM 100, 5.2.2).

    The rest of a finding is what its u holds beside the shared part, never less than nothing.
    """
    shared = [_shared_u(leak, shared_relative_u) for leak in leaks]
    own = math.fsum(max(leak.flow.u**2 - part**2, 0.0) for leak, part in zip(leaks, shared, strict=True))
    total = math.fsum(leak.flow.value for leak in leaks)
    return Uncertain(total, math.sqrt(own + math.fsum(shared) ** 2))


def balance(
    total: Uncertain,
    leaks: Sequence[Leak],
    *,
    shared_relative_u: float = 0.0,
    without_flow: int = 0,
    state: ReferenceState = DEFAULT_STATE,
) -> Balance:
    """Compare a measured total leak flow in m3/s with the findings; ``without_flow`` more have no figure.

    ``shared_relative_u`` is what the findings' uncertainties have in common (instrument, calibration,
    convention), as a part of each flow; it is contained in each u. Refused, never guessed, for numbers that
    aren't flows.
    """
    inputs = {
        "total_flow_m3_per_s": _plain(total.value),
        "total_flow_u_m3_per_s": _plain(total.u),
        "findings": len(leaks),
        "findings_without_flow": without_flow,
        "shared_relative_u": _plain(shared_relative_u),
        "reference_state": state.key,
    }
    problems = _problems(total, leaks, shared_relative_u, without_flow)
    if problems:
        flow, share = (
            refused(unit=unit, method=METHOD, version=VERSION, reasons=problems, inputs=inputs)
            for unit in ("m3/s", "1")
        )
        return Balance(flow, flow, share, None, None, Verdict.UNDECIDED)
    found = sum_of(leaks, shared_relative_u)
    rest = Uncertain(total.value - found.value, math.hypot(total.u, found.u))
    z = rest.value / rest.u if rest.u > NEGLIGIBLE_M3_PER_S else None
    p = None if z is None else math.erfc(abs(z) / math.sqrt(2.0))
    verdict = _verdict(z, p)
    reasons = _reasons(verdict, p, len(leaks), without_flow)
    return Balance(
        _estimate(found, uncertainty.interval(*found, floor=0.0), "m3/s", METHOD, (), inputs),
        _estimate(rest, uncertainty.interval(*rest), "m3/s", METHOD, reasons, inputs),
        _share(total, found, reasons, inputs),
        z,
        p,
        verdict,
    )


def _shared_u(leak: Leak, common: float) -> float:
    """Return the shared part of a finding's u in m3/s."""
    return leak.flow.value * (common if leak.shared_relative_u is None else leak.shared_relative_u)


def _problems(
    total: Uncertain, leaks: Sequence[Leak], common: float, without_flow: int
) -> tuple[Reason, ...]:
    """Return why no balance can be drawn."""
    own = [0.0 if leak.shared_relative_u is None else leak.shared_relative_u for leak in leaks]
    pairs = (total, *(leak.flow for leak in leaks))
    if not all(map(math.isfinite, (*(number for pair in pairs for number in pair), *own, common))):
        return (NOT_FINITE,)
    if any(number < 0.0 for number in (*(pair.u for pair in pairs), *own, common)):
        return (NEGATIVE,)
    problems = []
    if any(pair.value < 0.0 for pair in pairs) or without_flow < 0:
        text = "A leak flow and a number of findings are never below zero."
        problems.append(Reason("below_zero", text))
    if any(number > LARGEST_M3_PER_S for pair in pairs for number in pair):
        problems.append(
            Reason("flow_out_of_range", "A plant's flow isn't above 10 000 m3/s; check its unit.")
        )
    if any(part > 1.0 for part in (*own, common)):
        problems.append(Reason("shared_part_too_large", "A shared relative uncertainty isn't above 1."))
    wrong = sum(_shared_u(leak, common) > leak.flow.u * (1.0 + ROUNDING) for leak in leaks)
    if wrong:
        text = (
            f"The shared part is larger than the whole uncertainty of {wrong} finding(s); give those their "
            "own shared part, 0 where they share nothing."
        )
        problems.append(Reason("shared_part_too_large", text))
    return tuple(problems)


def _verdict(z: float | None, p: float | None) -> Verdict:
    """Return what the remainder means."""
    if z is None or p is None:
        return Verdict.UNDECIDED
    if p >= SIGNIFICANT_P:
        return Verdict.ACCOUNTED_FOR
    return Verdict.UNEXPLAINED if z > 0.0 else Verdict.OVER_EXPLAINED


_WORDS = {
    Verdict.ACCOUNTED_FOR: (
        "within_uncertainty",
        "What was measured and what was found differ by no more than their uncertainties allow.",
    ),
    Verdict.UNEXPLAINED: (
        "more_measured_than_found",
        (
            "The findings don't explain what was measured: leaks were missed or rated too low, or something "
            "else still took air, such as an open user, a drain or a dryer's purge."
        ),
    ),
    Verdict.OVER_EXPLAINED: (
        "more_found_than_measured",
        (
            "The findings add up to more than was measured: some are rated too high, weren't leaking at that "
            "time, or are counted twice."
        ),
    ),
    Verdict.UNDECIDED: (
        "no_uncertainty",
        "No uncertainty was given, so nobody can tell whether the difference means anything.",
    ),
}


def _reasons(verdict: Verdict, p: float | None, leaks: int, without_flow: int) -> tuple[Reason, ...]:
    """Return what the remainder means, in words."""
    code, text = _WORDS[verdict]
    if p is not None and p < SIGNIFICANT_P:
        text += " The difference is clear." if p < CLEAR_P else " The difference is likely, not certain."
    reasons = [Reason(code, text)]
    if not leaks:
        reasons.append(Reason("no_findings", "No finding with a flow was given."))
    if without_flow:
        text = f"{without_flow} finding(s) have no flow; what they lose is part of the unexplained."
        reasons.append(Reason("findings_without_flow", text))
    return tuple(reasons)


def _share(
    total: Uncertain, found: Uncertain, reasons: tuple[Reason, ...], inputs: Mapping[str, object]
) -> Estimate:
    """Return the unexplained part of the total, 1 - found/total, with Fieller's interval for the ratio.

    Refused where the total can't be told from zero. Source: Fieller, J. R. Statist. Soc. B 16 (1954).
    """
    reach = COVERAGE_95 * total.u / total.value if total.value > NEGLIGIBLE_M3_PER_S else math.inf
    if reach >= 1.0:
        text = "The measured total can't be told from zero, so no share of it follows."
        return refused(
            unit="1",
            method=METHOD,
            version=VERSION,
            reasons=(Reason("total_not_above_zero", text),),
            inputs=inputs,
        )
    ratio, spread = found.value / total.value, reach * reach
    root = math.sqrt(found.u**2 * (1.0 - spread) + (ratio * total.u) ** 2)
    half = COVERAGE_95 / total.value * root
    low, high = ((ratio - half) / (1.0 - spread), (ratio + half) / (1.0 - spread))
    share = Uncertain(1.0 - ratio, math.hypot(found.u, ratio * total.u) / total.value)
    bounds = Interval(min(1.0 - high, share.value), max(1.0 - low, share.value))
    return _estimate(share, bounds, "1", METHOD, reasons, inputs)


def _estimate(
    value: Uncertain,
    bounds: Interval,
    unit: str,
    method: str,
    reasons: tuple[Reason, ...],
    inputs: Mapping[str, object],
) -> Estimate:
    """Return an estimate of this version."""
    return Estimate(
        value=value.value,
        u=value.u,
        low=bounds.low,
        high=bounds.high,
        unit=unit,
        method=method,
        method_version=VERSION,
        status=Status.ESTIMATED,
        reasons=reasons,
        inputs=inputs,
    )


def _plain(number: float) -> float | None:
    """Return the number, or None where JSON can't carry it."""
    return number if math.isfinite(number) else None


@dataclass(frozen=True)
class TwoPasses:
    """Leaks there are by two passes, and those that both missed; numbers of leaks, not flows.

    ``first_found`` and ``second_found`` are the parts that each pass heard of what the other heard.
    """

    there: Estimate
    missed: Estimate
    first_found: float | None
    second_found: float | None


def two_pass(first: int, second: int, both: int) -> TwoPasses:
    """Estimate how many leaks there are from how many each pass heard and how many were heard by both.

    Chapman's estimate and its variance; the interval is the log-based one of Burnham et al. (1987), which
    never falls below the number seen. Where one pass heard nothing new its upper end comes from the
    hypergeometric chance instead. Refused for impossible counts and where a pass heard nothing. Sources:
    Chapman, Univ. Calif. Publ. Statist. 1 (1951); Seber, Biometrika 57 (1970), for the variance.
    """
    inputs = {"first": first, "second": second, "both": both}
    problems = _count_problems(first, second, both)
    if problems:
        none = refused(unit="1", method="two_pass", version=VERSION, reasons=problems, inputs=inputs)
        return TwoPasses(none, none, None, None)
    seen = first + second - both
    there = (first + 1) * (second + 1) / (both + 1) - 1.0
    variance = (first + 1) * (second + 1) * (first - both) * (second - both) / ((both + 1) ** 2 * (both + 2))
    unseen = (first - both) * (second - both) / (both + 1)
    bounds = Interval(0.0, float(_largest_missed(first, second, both)))
    if unseen:
        spread = math.exp(COVERAGE_95 * math.sqrt(math.log1p(variance / unseen**2)))
        bounds = Interval(unseen / spread, unseen * spread)
    reasons = _pass_reasons(first, second, both)
    u = math.sqrt(variance)
    above = Interval(min(seen + bounds.low, there), max(seen + bounds.high, there))
    return TwoPasses(
        _estimate(Uncertain(there, u), above, "1", "two_pass", reasons, inputs),
        _estimate(Uncertain(unseen, u), bounds, "1", "two_pass", reasons, inputs),
        both / second,
        both / first,
    )


def _count_problems(first: int, second: int, both: int) -> tuple[Reason, ...]:
    """Return why these counts can't come from two passes, or tell nothing."""
    if min(first, second, both) < 0 or max(first, second) > LARGEST_COUNT:
        return (Reason("count_out_of_range", "A number of leaks lies between 0 and 1 000 000."),)
    if both > min(first, second):
        text = "No more leaks can be heard by both passes than by either of them; check which are the same."
        return (Reason("more_in_both_than_heard", text),)
    if not first or not second:
        text = "A pass that heard no leak tells nothing about those that both missed; walk it again."
        return (Reason("a_pass_heard_nothing", text),)
    return ()


def _largest_missed(first: int, second: int, both: int) -> int:
    """Return the most leaks that may be missed where the smaller pass heard none beside the larger one's.

    So many that such a smaller pass still has a chance of 2.5 %: C(larger, both)/C(larger + missed, both).
    """
    larger = max(first, second)
    heard = math.lgamma(larger + 1) - math.lgamma(larger - both + 1)
    low, high = 0, math.ceil(larger / UPPER_TAIL)
    while high - low > 1:
        middle = (low + high) // 2
        there = larger + middle
        chance = math.exp(heard - math.lgamma(there + 1) + math.lgamma(there - both + 1))
        low, high = (middle, high) if chance >= UPPER_TAIL else (low, middle)
    return low


def _pass_reasons(first: int, second: int, both: int) -> tuple[Reason, ...]:
    """Return what the reader of a two-pass estimate should know."""
    text = (
        "Assumes independent passes over the same leaks: none repaired or new between them, none skipped on "
        "purpose, each recognised when heard again. Loud leaks are heard by both, so the true number tends "
        "to be higher."
    )
    reasons = [Reason("assumes_independent_passes", text)]
    if not both:
        text = (
            "No leak was heard twice: the figure is only a rough, low guess and says that both passes missed "
            "much, or that the same leak wasn't recognised."
        )
        reasons.append(Reason("none_in_both", text))
    elif both < TIMES_SEEN_TWICE_FOR_SMALL_BIAS:
        text = "Fewer than seven leaks were heard twice: the figure tends to be low (rule from memory)."
        reasons.append(Reason("few_in_both", text))
    if both == min(first, second):
        text = "One pass heard nothing beside the other's leaks; that doesn't prove that none is left."
        reasons.append(Reason("nothing_new_in_one_pass", text))
    return tuple(reasons)
