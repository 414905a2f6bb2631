"""The best choice of things under one or two limits (0/1 knapsack), in whole numbers, with proof or its gap.

Both limits are folded into one by the weights that make the continuous bound lowest (surrogate relaxation,
Glover 1965); Dantzig's bound on that one limit cuts a depth-first search. Whole numbers throughout, so
that a bound is a bound. Checked against exhaustion and against scipy's mixed-integer solver.
"""

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import accumulate
from typing import Final, NamedTuple

WEIGHT_STEPS: Final = 1 << 16


class Thing(NamedTuple):
    """A choice: what it brings (above 0), and what it takes of each limit (not below 0)."""

    value: int
    takes: tuple[int, ...]


class Choice(NamedTuple):
    """The best set found, its value, and a value that no set exceeds; proven where the two are one."""

    chosen: frozenset[int]
    value: int
    bound: int
    nodes: int

    @property
    def is_proven(self) -> bool:
        """Tell whether no other set is better."""
        return self.value >= self.bound


class _Folded:
    """Things under one folded limit, in falling order of value per weight, with sums to bound quickly."""

    def __init__(
        self, things: Sequence[Thing], places: Sequence[int], limits: tuple[int, ...], part: int
    ) -> None:
        self.factors = _factors(limits, part)
        self.capacity = self.weight(limits)
        weights = {place: self.weight(things[place].takes) for place in places}
        self.order = sorted(places, key=lambda place: _rank(things[place].value, weights[place]))
        self.weights = [weights[place] for place in self.order]
        self.values = [things[place].value for place in self.order]
        self.sum_weights = [0, *accumulate(self.weights)]
        self.sum_values = [0, *accumulate(self.values)]

    def weight(self, takes: tuple[int, ...]) -> int:
        """Return what is taken of the folded limit."""
        return sum(factor * take for factor, take in zip(self.factors, takes, strict=True))

    def bound(self, start: int, room: int) -> int:
        """Return what the things from ``start`` on bring at most in the room left of the folded limit."""
        if room < 0:
            return -1
        stop = bisect_right(self.sum_weights, self.sum_weights[start] + room) - 1
        whole = self.sum_values[stop] - self.sum_values[start]
        if stop == len(self.order):
            return whole
        rest = room - (self.sum_weights[stop] - self.sum_weights[start])
        return whole + rest * self.values[stop] // self.weights[stop]


def _factors(limits: tuple[int, ...], part: int) -> tuple[int, ...]:
    """Return the whole-number weights that fold two limits into one, each measured by its own size."""
    if len(limits) < 2:
        return (1,) * len(limits)
    return part * limits[1], (WEIGHT_STEPS - part) * limits[0]


def _rank(value: int, weight: int) -> tuple[int, Fraction]:
    return (1, Fraction(-value, weight)) if weight else (0, Fraction(-value))


def _best_folding(things: Sequence[Thing], places: Sequence[int], limits: tuple[int, ...]) -> _Folded:
    """Return the folding with the lowest bound: it falls and then rises with the part of the first limit."""
    low, high = 0, WEIGHT_STEPS
    if len(limits) < 2:
        return _Folded(things, places, limits, 0)
    best = min(
        (_Folded(things, places, limits, part) for part in (low, high)),
        key=lambda one: one.bound(0, one.capacity),
    )
    while high - low > 2:
        third = (high - low) // 3
        left, right = (_Folded(things, places, limits, part) for part in (low + third, high - third))
        if left.bound(0, left.capacity) <= right.bound(0, right.capacity):
            high -= third
        else:
            low += third
        best = min((best, left, right), key=lambda one: one.bound(0, one.capacity))
    return best


def _greedy(
    things: Sequence[Thing], order: Sequence[int], limits: tuple[int, ...]
) -> tuple[frozenset[int], int]:
    """Return what fits when taken in order."""
    left, chosen, value = list(limits), set(), 0
    for place in order:
        takes = things[place].takes
        if all(take <= room for take, room in zip(takes, left, strict=True)):
            left = [room - take for take, room in zip(takes, left, strict=True)]
            chosen.add(place)
            value += things[place].value
    return frozenset(chosen), value


def best_choice(things: Sequence[Thing], limits: Sequence[int], *, most_nodes: int = 200_000) -> Choice:
    """Return the set of things with the highest value inside the limits (one or two, not below 0).

    The search stops after ``most_nodes`` nodes; the answer then carries the best set found and the bound.
    Raises ValueError for another number of limits, a value not above 0, or a negative take.
    """
    _check(things, limits)
    bounds = tuple(limits)
    fitting = [
        place
        for place, thing in enumerate(things)
        if all(take <= limit for take, limit in zip(thing.takes, bounds, strict=True))
    ]
    # A limit of 0 is kept by leaving out what takes of it; folding it in would make the other one nothing.
    kept = [index for index, limit in enumerate(bounds) if limit > 0]
    slim = [Thing(thing.value, tuple(thing.takes[index] for index in kept)) for thing in things]
    return _Search(slim, fitting, tuple(bounds[index] for index in kept), most_nodes).run()


def _check(things: Sequence[Thing], limits: Sequence[int]) -> None:
    wrong = any(
        thing.value <= 0 or len(thing.takes) != len(limits) or min(thing.takes) < 0 for thing in things
    )
    if wrong or not 1 <= len(limits) <= 2 or min(limits) < 0:
        msg = "one or two limits not below 0; values above 0, takes of each limit not below 0"
        raise ValueError(msg)


class _Search:
    """Depth first, taking before leaving, along the folded order."""

    def __init__(
        self, things: Sequence[Thing], places: Sequence[int], limits: tuple[int, ...], most_nodes: int
    ) -> None:
        self.things, self.limits, self.most_nodes = things, limits, most_nodes
        self.folded = _best_folding(things, places, limits)
        by_value = sorted(places, key=lambda place: -things[place].value)
        self.best, self.value = max(
            (_greedy(things, order, limits) for order in (self.folded.order, by_value)),
            key=lambda one: one[1],
        )
        self.nodes = 0

    def run(self) -> Choice:
        """Search until nothing can be better or the nodes are spent."""
        folded = self.folded
        root = folded.bound(0, folded.capacity)
        # Each entry: next place, folded room, room of each limit, value, path of the taken ones.
        stack: list[_Node] = [_Node(0, folded.capacity, self.limits, 0, None)]
        while stack and root > self.value:
            if self.nodes >= self.most_nodes:
                open_bound = max(node.value + folded.bound(node.place, node.room) for node in stack)
                return Choice(self.best, self.value, max(min(root, open_bound), self.value), self.nodes)
            self._visit(stack.pop(), stack)
        return Choice(self.best, self.value, self.value, self.nodes)

    def _visit(self, node: "_Node", stack: list["_Node"]) -> None:
        self.nodes += 1
        folded = self.folded
        if node.value > self.value:
            self.best, self.value = frozenset(_taken(node.path)), node.value
        if node.place == len(folded.order) or node.value + folded.bound(node.place, node.room) <= self.value:
            return
        place = folded.order[node.place]
        thing, following = self.things[place], node.place + 1
        stack.append(_Node(following, node.room, node.left, node.value, node.path))
        left = tuple(room - take for room, take in zip(node.left, thing.takes, strict=True))
        if not left or min(left) >= 0:
            room = node.room - folded.weights[node.place]
            stack.append(_Node(following, room, left, node.value + thing.value, (place, node.path)))


_Path = tuple[int, "_Path"] | None


class _Node(NamedTuple):
    place: int
    room: int
    left: tuple[int, ...]
    value: int
    path: "_Path"


def _taken(path: "_Path") -> list[int]:
    taken = []
    while path is not None:
        place, path = path
        taken.append(place)
    return taken
