"""A figure with all that belongs to it, and the cautions that go with an act, in an answer."""

from collections.abc import Sequence

from findings.kinds.base import Kind
from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import provenance
from findings.kinds.calculations.calculation import Json
from findings.kinds.cautions import cautions
from findings.physics.estimate import Estimate, Reason


def figure_schema(unit: str, description: str) -> schemas.Schema:
    """Return the schema of a figure in an answer, its unit at the end of each name; see ``figure``."""
    fields = {
        f"value_{unit}": schemas.result("The value; null where it was refused."),
        f"u_{unit}": schemas.result("Its standard uncertainty."),
        f"low_{unit}": schemas.result("Lower end of its 95 % interval."),
        f"high_{unit}": schemas.result("Upper end of its 95 % interval."),
    }
    return {**schemas.answer({**fields, **schemas.PROVENANCE}), "description": description}


def figure(estimate: Estimate, unit: str) -> Json:
    """Return an estimate as ``figure_schema`` describes it."""
    return {
        f"value_{unit}": estimate.value,
        f"u_{unit}": estimate.u,
        f"low_{unit}": estimate.low,
        f"high_{unit}": estimate.high,
        **provenance(estimate),
    }


def reason_list(reasons: Sequence[Reason]) -> list[Json]:
    """Return reasons as ``schemas.REASONS`` describes them."""
    return [reason._asdict() for reason in reasons]


CAUTIONS = schemas.listing(
    schemas.answer(
        {
            "key": {"type": "string", "description": "Stable, for programs."},
            "text": {
                "type": "string",
                "description": "What to mind; local code and the site's rules decide.",
            },
            "basis": {"type": "string", "description": "The public rule it rests on."},
        }
    ),
    "Cautions for whoever acts on this answer.",
)


def caution_list(kind: Kind) -> list[Json]:
    """Return the cautions of a kind as ``CAUTIONS`` describes them."""
    return [caution._asdict() for caution in cautions(kind, None)]


def yes_or_no(description: str) -> schemas.Schema:
    """Return the schema of a yes, a no or, where it can't be decided, null in an answer."""
    return {"type": ["boolean", "null"], "description": description}
