"""A leak's flow that was measured or stated outright, for every kind of leak that has one."""

from dataclasses import dataclass

from findings.physics.direct_flow import stated_flow
from findings.physics.estimate import Estimate, Reason, Status
from findings.physics.reference_states import DEFAULT_STATE, STATES

MEASURED_METHODS = frozenset(
    {"bag", "cylinder", "meter", "pressure_decay", "load_unload", "variable_area_meter"}
)


@dataclass(frozen=True, kw_only=True)
class KnownFlow:
    """What was measured or stated: flows in m3/s at the named reference state, None where none was.

    ``..._u_...`` are standard uncertainties. ``measured_method`` is one of MEASURED_METHODS.
    """

    measured_flow_m3_per_s: float | None = None
    measured_flow_u_m3_per_s: float | None = None
    measured_method: str = "meter"
    measured_state: str = DEFAULT_STATE.key
    stated_flow_m3_per_s: float | None = None
    stated_flow_u_m3_per_s: float | None = None
    stated_state: str = DEFAULT_STATE.key


def problems_of_state(state: str) -> tuple[Reason, ...]:
    """Return why a flow at this reference state can't be used."""
    if state not in STATES:
        return (
            Reason("reference_state_unknown", "The reference state of the flow isn't one of those known."),
        )
    return ()


def problems_of_measured(known: KnownFlow) -> tuple[Reason, ...]:
    """Return why the measured flow can't be used."""
    problems = problems_of_state(known.measured_state)
    if known.measured_method not in MEASURED_METHODS:
        problems = (*problems, Reason("method_unknown", "The way of measuring isn't one of those known."))
    return problems


def measured(known: KnownFlow, flow_m3_per_s: float) -> Estimate:
    """Return the measured flow at 1 bar 20 °C; the caller has asked for its problems."""
    return stated_flow(
        flow_m3_per_s,
        known.measured_flow_u_m3_per_s,
        source_state=STATES[known.measured_state],
        status=Status.MEASURED,
        method=known.measured_method,
    )


def stated(known: KnownFlow, flow_m3_per_s: float) -> Estimate:
    """Return the stated flow at 1 bar 20 °C; the caller has asked for the problems of its state."""
    return stated_flow(flow_m3_per_s, known.stated_flow_u_m3_per_s, source_state=STATES[known.stated_state])
