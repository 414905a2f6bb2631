"""A site's own wear ladder: what is taken as one, and the usual one where a site has none."""

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from findings.conditions.rules.bearings import Problem
from findings.physics.wear_ladder import DEFAULT_LADDER, Step, ladder_problems

MOST_STEPS: Final = 12
LARGEST_RISE_DB: Final = 200.0
_KEY: Final = re.compile(r"[a-z][a-z0-9_]{0,39}")
_MEMBERS: Final = frozenset(Step._fields)


def steps_problems(steps: Sequence[Step]) -> list[Problem]:
    """Return why these steps can't be a site's ladder, every reason at once."""
    return [*_step_problems(steps), *(Problem("steps", *reason) for reason in ladder_problems(steps))]


def _step_problems(steps: Sequence[Step]) -> Iterator[Problem]:
    if len(steps) > MOST_STEPS:
        yield Problem("steps", "max_length", f"At most {MOST_STEPS} steps.")
    for index, step in enumerate(steps):
        if not _KEY.fullmatch(step.key):
            text = "A key is of small letters, digits and underscores, up to 40, with a letter first."
            yield Problem(f"steps/{index}/key", "invalid", text)
        if not step.rise_db <= LARGEST_RISE_DB:
            yield Problem(f"steps/{index}/rise_db", "out_of_range", f"At most {LARGEST_RISE_DB:g} dB.")
        for member in ("meaning", "source"):
            if not getattr(step, member).strip():
                yield Problem(f"steps/{index}/{member}", "blank", "Say it in words.")


def steps_to_json(steps: Sequence[Step]) -> list[dict[str, Any]]:
    """Return a ladder in plain JSON types."""
    return [step._asdict() for step in steps]


def steps_of(stored: Sequence[Mapping[str, Any]] | None) -> tuple[Step, ...]:
    """Return a stored ladder, which was checked when it was written; None gives the usual one."""
    if stored is None:
        return DEFAULT_LADDER
    return tuple(Step(**{name: step[name] for name in _MEMBERS}) for step in stored)
