"""The order in which a tree is built from rows that name their parents."""

from collections.abc import Iterable, Mapping


def walk_order(parents: Mapping[int, int | None]) -> tuple[list[int], set[int]]:
    """Return the numbers with every parent before its children, and those that hang under themselves.

    ``parents`` maps a number to its parent's number or None.
    """
    order: list[int] = []
    done: set[int] = set()
    circling: set[int] = set()
    for start in parents:
        line: list[int] = []
        here: int | None = start
        while here is not None and here not in done and here not in circling:
            if here in line:
                circling.update(line)
                break
            line.append(here)
            here = parents[here]
        if here is not None and here in circling:
            circling.update(line)
            continue
        order.extend(reversed(line))
        done.update(line)
    return order, circling


def repeated(codes: Iterable[str]) -> set[str]:
    """Return the codes that occur more than once."""
    seen: set[str] = set()
    again: set[str] = set()
    for code in codes:
        (again if code in seen else seen).add(code)
    return again
