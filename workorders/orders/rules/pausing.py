"""Which waiting stops which clock: a site's table, and what a safety order never gets."""

from collections.abc import Mapping
from datetime import datetime
from types import MappingProxyType
from typing import Final, NamedTuple

from workorders.orders.rules.levels import Clock
from workorders.orders.rules.moves import WaitReason
from workorders.orders.rules.priority import PriorityClass

PAUSABLE: Final = (Clock.REPAIR, Clock.VERIFY)
"""A first answer cannot wait: saying what the work waits for is the answer."""

NOTHING: Final[frozenset[Clock]] = frozenset()
DEFAULT_PAUSES: Final[Mapping[WaitReason, frozenset[Clock]]] = MappingProxyType(
    {
        WaitReason.PARTS: frozenset({Clock.REPAIR}),
        WaitReason.SHUTDOWN: frozenset({Clock.REPAIR}),
        WaitReason.ACCESS: frozenset({Clock.REPAIR}),
        # The site itself gives permits and sends trades: waiting for itself lengthens no promise.
        WaitReason.PERMIT: NOTHING,
        WaitReason.TRADE: NOTHING,
    }
)
"""Where a site starts with ordinary orders (our judgement)."""

SAFETY_PAUSES: Final[Mapping[WaitReason, frozenset[Clock]]] = MappingProxyType(
    {reason: frozenset({Clock.REPAIR}) if reason is WaitReason.SHUTDOWN else NOTHING for reason in WaitReason}
)
"""The most that a site may grant a safety order. Delay of repair is allowed where it is infeasible without a
shutdown, to the end of the next one: 40 CFR 60.482-9(a) and 61.242-10(a), for regulated leaks. It is granted
to no P1: a danger to people is made safe, not waited out (our judgement)."""


class Granted(NamedTuple):
    """Which clocks stand still during a wait, and until when at most (None: as long as it lasts)."""

    clocks: frozenset[Clock]
    until: datetime | None = None


def default_pauses(reason: WaitReason, *, for_safety: bool) -> frozenset[Clock]:
    """Return the clocks that a reason stops where the site has said nothing."""
    return (SAFETY_PAUSES if for_safety else DEFAULT_PAUSES)[reason]


def pause_fault(reason: WaitReason, clocks: frozenset[Clock], *, for_safety: bool) -> str:
    """Say what a site's row of the table may not grant, or nothing."""
    if not clocks <= set(PAUSABLE):
        return "Only the clocks of the repair and of its check may stand still."
    if for_safety and not clocks <= SAFETY_PAUSES[reason]:
        return "A safety order waits on no clock but for a shutdown: 40 CFR 60.482-9(a)."
    return ""


def granted(
    reason: WaitReason,
    clocks: frozenset[Clock],
    *,
    priority: PriorityClass,
    is_safety: bool,
    shutdown_ends_at: datetime | None,
) -> Granted:
    """Return what a wait stops: for a safety order only to the end of a shutdown that is recorded."""
    if not is_safety:
        return Granted(clocks)
    allowed = clocks & SAFETY_PAUSES[reason]
    if priority is PriorityClass.P1 or shutdown_ends_at is None or not allowed:
        return Granted(NOTHING)
    return Granted(allowed, shutdown_ends_at)
