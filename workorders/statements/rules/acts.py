"""From the acts that the logbook keeps of findings to the events that a statement counts."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from workorders.statements.rules.history import Event, EventKind

NO_REPAIR: Final = frozenset({"asset_decommissioned", "branch_isolated"})
"""Closures after which nothing more is lost, though nothing was repaired."""


@dataclass(frozen=True, slots=True)
class RecordedAct:
    """One act on a finding; `at` is when it was written down, `detail` what the register told with it."""

    finding_id: str
    act: str
    at: datetime
    detail: Mapping[str, Any]

    def moment(self, name: str) -> datetime | None:
        """Give a moment that the detail names."""
        told = self.detail.get(name)
        return datetime.fromisoformat(told) if told else None


class Chronicle:
    """The events of all findings of a site, from its acts in the order of the logbook.

    `judged_at` gives, by finding and reading, when a reading that judged a repair was taken: a repair
    held or not from then on, whenever it was judged.
    """

    def __init__(self, judged_at: Mapping[tuple[str, str], datetime]) -> None:
        self.events: dict[str, list[Event]] = defaultdict(list)
        self._judged_at = judged_at
        self._ended_at: dict[str, datetime] = {}

    def add_all(self, acts: Iterable[RecordedAct]) -> None:
        """Take acts in order; an act that no statement counts is passed over."""
        for act in acts:
            hand = _HANDS.get(act.act)
            if hand is not None:
                hand(self, act)

    def add(self, act: RecordedAct, kind: EventKind, at: datetime | None = None, **rest: Any) -> None:
        """Take one event, known since its act was written down."""
        self.events[act.finding_id].append(Event(kind, at or act.at, act.at, **rest))

    def opened(self, act: RecordedAct) -> None:
        """A reading found it."""
        self.add(act, EventKind.FOUND, act.moment("taken_at"))

    def repaired(self, act: RecordedAct) -> None:
        """Somebody reported its repair."""
        self.add(act, EventKind.REPAIRED, act.moment("repaired_at"))

    def closed(self, act: RecordedAct) -> None:
        """A reading proved its repair."""
        at = self._of_reading(act)
        self._ended_at[act.finding_id] = at
        self.add(act, EventKind.PASSED, at, repaired_at=act.moment("repaired_at"))

    def rejected(self, act: RecordedAct) -> None:
        """A reading showed that its repair did not hold, or only in part."""
        kind = EventKind.PARTIAL if act.detail.get("partial") else EventKind.FAILED
        self.add(act, kind, self._of_reading(act), repaired_at=act.moment("repaired_at"))

    def closed_by_reason(self, act: RecordedAct) -> None:
        """It ended without a reading."""
        gone = act.detail.get("closure_reason") in NO_REPAIR
        at = (act.moment("loss_ended_at") if gone else None) or act.at
        self._ended_at[act.finding_id] = at
        self.add(act, EventKind.REMOVED if gone else EventKind.CLOSED, at)

    def reopened(self, act: RecordedAct) -> None:
        """It came back; never before the end that it came back from."""
        at = act.moment("taken_at") or act.at
        self.add(act, EventKind.REOPENED, max(at, self._ended_at.get(act.finding_id, at)))

    def took_over(self, act: RecordedAct) -> None:
        """A duplicate became a part of it: it was found when the earlier of the two was."""
        finds = [item.at for item in self._finds_of(act)]
        if finds:
            self.add(act, EventKind.FOUND, min(finds))

    def gave_back(self, act: RecordedAct) -> None:
        """The duplicate stands on its own again."""
        finds = {item.at for item in self._finds_of(act)}
        mine = self.events[act.finding_id]
        self.events[act.finding_id] = [
            *mine[:1],
            *(
                replace(item, void_at=act.at)
                if item.kind is EventKind.FOUND and item.void_at is None and item.at in finds
                else item
                for item in mine[1:]
            ),
        ]

    def _finds_of(self, act: RecordedAct) -> list[Event]:
        duplicate = self.events.get(str(act.detail.get("duplicate_id")), [])
        return [item for item in duplicate if item.kind is EventKind.FOUND and item.void_at is None]

    def _of_reading(self, act: RecordedAct) -> datetime:
        return self._judged_at.get((act.finding_id, str(act.detail.get("reading_id"))), act.at)


def _simply(kind: EventKind) -> Callable[[Chronicle, RecordedAct], None]:
    return lambda chronicle, act: chronicle.add(act, kind)


_HANDS: Final[Mapping[str, Callable[[Chronicle, RecordedAct], None]]] = {
    "finding.opened": Chronicle.opened,
    "finding.repaired": Chronicle.repaired,
    "finding.closed": Chronicle.closed,
    "finding.repair_rejected": Chronicle.rejected,
    "finding.closed_by_reason": Chronicle.closed_by_reason,
    "finding.reopened": Chronicle.reopened,
    "finding.dismissed": _simply(EventKind.DISMISSED),
    "finding.reinstated": _simply(EventKind.REINSTATED),
    "finding.merged": _simply(EventKind.MERGED),
    "finding.separated": _simply(EventKind.SEPARATED),
    "finding.took_over": Chronicle.took_over,
    "finding.gave_back": Chronicle.gave_back,
}

ACTS: Final = tuple(_HANDS)
"""The acts that a statement counts."""
