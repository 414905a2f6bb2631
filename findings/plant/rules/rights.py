"""Who may do what: rights, roles, and the one table that joins them."""

from collections.abc import Iterable, Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final


class Right(StrEnum):
    """One thing a person or an API key may do at a site; the value is also the key's scope."""

    VIEW = "view"
    REGISTER = "register"
    RECORD = "record"
    ASSESS = "assess"
    PLAN = "plan"
    REPAIR = "repair"
    VERIFY = "verify"
    CLOSE_BY_REASON = "close_by_reason"
    DEFER = "defer"
    APPROVE_DEFERRAL = "approve_deferral"
    RELEASE_OPENING = "release_opening"
    PRICES = "prices"
    JOBS = "jobs"
    EXCHANGE = "exchange"
    MEMBERS = "members"


class Criticality(StrEnum):
    """How much the plant depends on an asset: A most, C least (common practice)."""

    A = "A"
    B = "B"
    C = "C"


class Method(StrEnum):
    """How the detector is used at a measuring point."""

    AIRBORNE = "airborne"
    CONTACT = "contact"
    TONE_SOURCE = "tone_source"
    ELECTRICAL = "electrical"


class Role(StrEnum):
    """A part somebody plays at one site; nobody holds a role everywhere."""

    INSPECTOR = "inspector"
    PLANNER = "planner"
    TECHNICIAN = "technician"
    MANAGER = "manager"
    INTEGRATOR = "integrator"


ROLE_RIGHTS: Final[Mapping[Role, frozenset[Right]]] = MappingProxyType(
    {
        # Walks and listens: records, says what it means, and judges repairs by a new reading.
        # No repair right, so that the usual judge is never the usual repairer.
        # Releases the opening of an enclosure like a technician, if confirmed as qualified for it besides.
        Role.INSPECTOR: frozenset(
            {Right.VIEW, Right.RECORD, Right.ASSESS, Right.VERIFY, Right.DEFER, Right.RELEASE_OPENING}
        ),
        # Ranks and schedules; keeps the register and the prices the ranking stands on.
        # Asks for a deferral but does not grant one: the one who plans must not excuse the delay.
        Role.PLANNER: frozenset(
            {
                Right.VIEW,
                Right.REGISTER,
                Right.RECORD,
                Right.ASSESS,
                Right.PLAN,
                Right.DEFER,
                Right.JOBS,
                Right.PRICES,
            }
        ),
        # Repairs, may take a reading at the job, may say that it must wait.
        # No verify right: a repair is never judged by the hand that made it.
        Role.TECHNICIAN: frozenset(
            {Right.VIEW, Right.RECORD, Right.REPAIR, Right.DEFER, Right.RELEASE_OPENING}
        ),
        # Answers for money and risk: everything but the wire to the outside system,
        # which takes somebody who knows both of its ends.
        Role.MANAGER: frozenset(Right) - {Right.EXCHANGE},
        # Joins the plant's existing system: brings assets, readings and plans over and back.
        # Decides nothing: no assessment, no closure, no deferral, no price.
        Role.INTEGRATOR: frozenset({Right.VIEW, Right.REGISTER, Right.RECORD, Right.PLAN, Right.EXCHANGE}),
    }
)


def rights_of(roles: Iterable[Role]) -> frozenset[Right]:
    """Unite the rights of all roles somebody holds at one site; no role gives no right."""
    return frozenset[Right]().union(*(ROLE_RIGHTS[Role(role)] for role in roles))


def roles_with(right: Right) -> frozenset[Role]:
    """List the roles that carry a right, for a refusal that says whom to ask."""
    return frozenset(role for role, rights in ROLE_RIGHTS.items() if right in rights)
