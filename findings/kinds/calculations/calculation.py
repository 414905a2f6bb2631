"""What a calculation is: plain JSON in, plain JSON out, nothing stored."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from findings.kinds.calculations.input_schema import Problem

Json = dict[str, Any]


class InvalidInput(ValueError):
    """Raised for input that doesn't fit; ``problems`` lists each place and what is wrong there."""

    def __init__(self, *problems: Problem) -> None:
        """Keep the problems."""
        super().__init__("; ".join(f"{problem.pointer} {problem.message}" for problem in problems))
        self.problems = problems


@dataclass(frozen=True)
class Calculation:
    """A calculation: what it does, its function, the schemas of input and answer, an example, its source.

    ``source`` names the method and where it comes from, as a reader of the docs page needs it.
    """

    name: str
    title: str
    run: Callable[[Mapping[str, Any]], Json]
    schema: Mapping[str, Any]
    answer: Mapping[str, Any]
    example: Mapping[str, Any]
    source: str
