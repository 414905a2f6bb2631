"""The measured leakage against the sum of the findings, and what the difference costs."""

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final, NamedTuple

from findings.balance.rules.system_now import SystemNow
from findings.physics.estimate import Estimate, Reason, Status, refused
from findings.physics.leak_balance import METHOD, SIGNIFICANT_P, VERSION, Balance, Verdict, balance, sum_of
from findings.physics.uncertainty import Uncertain, interval
from findings.register.rules import FindingCost, LeakRate, finding_cost, without_cost

OLD_TEST: Final = timedelta(days=90)
"""From this age on a test says little of today's leaks (judgement)."""
NO_TEST: Final = Reason(
    "no_leak_test",
    "No leak test is recorded by then, so there is no measured total to set the findings against. Measure "
    "one while nothing is produced, and record it.",
)


class SinceTest(NamedTuple):
    """How many findings were repaired, and how many found, after the test."""

    repaired: int = 0
    found: int = 0


@dataclass(frozen=True, slots=True)
class Reconciled:
    """A balance with the cost of the measured total and of what is unexplained in it."""

    measured: Estimate
    balance: Balance
    is_significant: bool | None
    total_cost: FindingCost
    unexplained_cost: FindingCost
    reasons: tuple[Reason, ...]


def reconcile(now: SystemNow, at: datetime, since: SinceTest) -> Reconciled:
    """Return the balance of a system; without a test only the findings' sum has a figure."""
    total, leaks = now.total(), [leak.leak() for leak in now.leaks]
    if total is None:
        nothing = refused(unit="m3/s", method=METHOD, version=VERSION, reasons=(NO_TEST,), inputs={})
        empty = Balance(
            _told(sum_of(leaks)), nothing, replace(nothing, unit="1"), None, None, Verdict.UNDECIDED
        )
        no_cost = without_cost(*NO_TEST)
        return Reconciled(nothing, empty, None, no_cost, no_cost, (NO_TEST,))
    flow, remarks = total
    drawn = balance(flow, leaks, without_flow=now.without_flow)
    return Reconciled(
        _told(flow, remarks),
        drawn,
        None if drawn.p is None else drawn.p < SIGNIFICANT_P,
        _cost(now, flow.value),
        _cost(now, drawn.unexplained.value),
        _remarks(now, at, since),
    )


def _told(flow: Uncertain, reasons: tuple[Reason, ...] = ()) -> Estimate:
    bounds = interval(flow.value, flow.u, floor=0.0)
    return Estimate(
        flow.value, flow.u, bounds.low, bounds.high, "m3/s", METHOD, VERSION, Status.MEASURED, reasons
    )


def _cost(now: SystemNow, flow: float | None) -> FindingCost:
    if flow is None:
        return without_cost("no_flow", "No flow is known, so that nothing is priced.")
    if flow <= 0.0:
        text = "The findings explain all that was measured: nothing is left to price."
        return without_cost("nothing_unexplained", text)
    return finding_cost(LeakRate(Decimal(repr(flow))), now.supply, now.known, now.station)


def _remarks(now: SystemNow, at: datetime, since: SinceTest) -> tuple[Reason, ...]:
    """Return what happened since the test that a reader has to weigh."""
    found = []
    if now.measured is not None and at - now.measured.taken_at > OLD_TEST:
        days = (at - now.measured.taken_at).days
        text = f"The test is {days} days old; the findings are those open now. Measure again."
        found.append(Reason("test_is_old", text))
    if since.repaired:
        text = f"{since.repaired} finding(s) were repaired since the test; they stand in the unexplained."
        found.append(Reason("repaired_since_test", text))
    if since.found:
        text = (
            f"{since.found} finding(s) were first heard after the test; they count as leaking during it, "
            "which holds for leaks that were there unheard."
        )
        found.append(Reason("found_since_test", text))
    return tuple(found)
