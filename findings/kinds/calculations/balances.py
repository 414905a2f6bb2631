"""What a survey left unexplained: flows against a measured total, and leaks missed by two passes."""

from collections.abc import Mapping
from typing import Any

from findings.kinds.calculations import schemas
from findings.kinds.calculations.answers import provenance, value_answer
from findings.kinds.calculations.calculation import Calculation, InvalidInput, Json
from findings.kinds.calculations.input_schema import Problem
from findings.physics.leak_balance import Leak, Verdict, balance, open_at, two_pass
from findings.physics.reference_states import DEFAULT_STATE, STATES
from findings.physics.uncertainty import Uncertain

MOST_FINDINGS = 5000
MOST_MEASUREMENTS = 100
_CLOCK = "on any one clock, s."


def _moment(description: str) -> schemas.Schema:
    """Return the schema of a moment."""
    return {"type": "number", "minimum": -1e12, "maximum": 1e12, "description": description}


LEAK_BALANCE = schemas.inputs(
    ["measurements", "findings"],
    {
        "measurements": schemas.bounded(
            schemas.inputs(
                ["flow_m3_per_s", "flow_u_m3_per_s"],
                {
                    "flow_m3_per_s": schemas.at_least_zero(1e4, "Measured total leak flow, m3/s."),
                    "flow_u_m3_per_s": schemas.at_least_zero(1e4, "Its standard uncertainty, m3/s."),
                    "at_s": _moment(f"When, {_CLOCK} Without it every finding counts."),
                },
            ),
            MOST_MEASUREMENTS,
            "Total leak flows measured, by meter, load times or decay; one balance is drawn for each.",
        ),
        "findings": schemas.bounded(
            schemas.inputs(
                ["flow_m3_per_s", "flow_u_m3_per_s"],
                {
                    "flow_m3_per_s": schemas.at_least_zero(1e4, "The finding's flow, m3/s."),
                    "flow_u_m3_per_s": schemas.at_least_zero(
                        1e4, "Its whole standard uncertainty, shared part included, m3/s."
                    ),
                    "shared_relative_u": schemas.at_least_zero(
                        1.0, "Its own shared part, where it differs: 0 for a flow measured by itself."
                    ),
                    "since_s": _moment(f"Leaking since, {_CLOCK}"),
                    "until_s": _moment(f"Leaking until, {_CLOCK}"),
                },
            ),
            MOST_FINDINGS,
            "Findings with a flow at the same reference state as the measurements.",
            least=0,
        ),
        "findings_without_flow": {
            "type": "integer",
            "minimum": 0,
            "maximum": 100000,
            "default": 0,
            "description": "Findings whose flow isn't known.",
        },
        "shared_relative_u": {
            **schemas.at_least_zero(
                1.0, "Part of every flow that all findings share as uncertainty: instrument, convention."
            ),
            "default": 0.0,
        },
        "reference_state": schemas.STATE,
    },
)

LEAK_BALANCE_ANSWER = schemas.answer(
    {
        "balances": schemas.listing(
            schemas.answer(
                {
                    "at_s": schemas.result("The measurement's moment, s; null where none was given."),
                    "findings": {"type": "integer", "description": "Findings that count at that moment."},
                    **schemas.value_answer("explained", "m3_per_s", "Sum of the findings, m3/s."),
                    **schemas.value_answer(
                        "unexplained", "m3_per_s", "Measured less found, m3/s; below zero: too much found."
                    ),
                    **schemas.value_answer("unexplained_share", "", "Unexplained part of the measured flow."),
                    "z": schemas.result("Unexplained flow over its own standard uncertainty."),
                    "p": schemas.result("Chance of one at least as far from zero if nothing remained."),
                    "verdict": schemas.choice([word.value for word in Verdict], "What that means."),
                    **schemas.PROVENANCE,
                }
            ),
            "One balance for each measurement, in their order.",
        ),
        "reference_state": schemas.choice(list(STATES), "State that every flow refers to."),
    }
)

_COUNT = {"type": "integer", "minimum": 0, "maximum": 10**9}
TWO_PASS_SURVEY = schemas.inputs(
    ["first", "second", "both"],
    {
        "first": {**_COUNT, "description": "Leaks heard in the first pass."},
        "second": {**_COUNT, "description": "Leaks heard in the second pass."},
        "both": {**_COUNT, "description": "Leaks heard in both passes."},
    },
)

TWO_PASS_SURVEY_ANSWER = schemas.answer(
    {
        **schemas.value_answer("there", "", "Leaks there are."),
        **schemas.value_answer("missed", "", "Leaks that both passes missed."),
        "first_found": schemas.result("Part of the second pass's leaks that the first had heard."),
        "second_found": schemas.result("Part of the first pass's leaks that the second heard."),
        **schemas.PROVENANCE,
    }
)


def leak_balance(data: Mapping[str, Any]) -> Json:
    """Return a balance for each measurement: explained, unexplained, its share, its significance."""
    leaks = [_leak(row, index) for index, row in enumerate(data["findings"])]
    state = STATES[data.get("reference_state", DEFAULT_STATE.key)]
    balances = []
    for row in data["measurements"]:
        moment = row.get("at_s")
        counted = leaks if moment is None else open_at(leaks, moment)
        drawn = balance(
            Uncertain(row["flow_m3_per_s"], row["flow_u_m3_per_s"]),
            counted,
            shared_relative_u=data.get("shared_relative_u", 0.0),
            without_flow=data.get("findings_without_flow", 0),
            state=state,
        )
        balances.append(
            {
                "at_s": moment,
                "findings": len(counted),
                **value_answer(drawn.explained, "explained", "m3_per_s"),
                **value_answer(drawn.unexplained, "unexplained", "m3_per_s"),
                **value_answer(drawn.share, "unexplained_share"),
                "z": drawn.z,
                "p": drawn.p,
                "verdict": drawn.verdict.value,
                **provenance(drawn.unexplained),
            }
        )
    return {"balances": balances, "reference_state": state.key}


def _leak(row: Mapping[str, Any], index: int) -> Leak:
    """Return a finding of the input; raises InvalidInput where it ends before it begins."""
    given = {name: row[name] for name in ("shared_relative_u", "since_s", "until_s") if name in row}
    leak = Leak(Uncertain(row["flow_m3_per_s"], row["flow_u_m3_per_s"]), **given)
    if leak.until_s < leak.since_s:
        raise InvalidInput(Problem(f"/findings/{index}/until_s", "must not be before since_s"))
    return leak


def two_pass_survey(data: Mapping[str, Any]) -> Json:
    """Return how many leaks there are by two passes, and how many both missed."""
    passes = two_pass(data["first"], data["second"], data["both"])
    return {
        **value_answer(passes.there, "there"),
        **value_answer(passes.missed, "missed"),
        "first_found": passes.first_found,
        "second_found": passes.second_found,
        **provenance(passes.there),
    }


ROWS = (
    Calculation(
        "leak-balance",
        "Measured leak flow against the sum of the findings",
        leak_balance,
        LEAK_BALANCE,
        LEAK_BALANCE_ANSWER,
        {
            "measurements": [
                {"flow_m3_per_s": 0.062, "flow_u_m3_per_s": 0.004, "at_s": 0.0},
                {"flow_m3_per_s": 0.047, "flow_u_m3_per_s": 0.004, "at_s": 1209600.0},
            ],
            "findings": [
                {"flow_m3_per_s": 0.012, "flow_u_m3_per_s": 0.004, "until_s": 604800.0},
                {"flow_m3_per_s": 0.009, "flow_u_m3_per_s": 0.003},
                {"flow_m3_per_s": 0.0065, "flow_u_m3_per_s": 0.0003, "shared_relative_u": 0.0},
            ],
            "findings_without_flow": 2,
            "shared_relative_u": 0.15,
        },
        "Correlated sum by JCGM 100, 5.2.2; interval of the share by Fieller (1954).",
    ),
    Calculation(
        "two-pass-survey",
        "Leaks that two passes of a survey both missed",
        two_pass_survey,
        TWO_PASS_SURVEY,
        TWO_PASS_SURVEY_ANSWER,
        {"first": 42, "second": 38, "both": 31},
        "Chapman (1951), variance by Seber (1970), log-based interval by Burnham et al. (1987).",
    ),
)
