"""The table of roles and rights."""

import pytest

from findings.plant.rules import ROLE_RIGHTS, Right, Role, rights_of, roles_with


class TestRightsOf:
    def test_no_role_gives_no_right(self) -> None:
        assert rights_of([]) == frozenset()

    def test_two_roles_give_the_union(self) -> None:
        both = rights_of([Role.INSPECTOR, Role.TECHNICIAN])

        assert both == ROLE_RIGHTS[Role.INSPECTOR] | ROLE_RIGHTS[Role.TECHNICIAN]

    def test_stored_text_is_understood(self) -> None:
        assert Right.MEMBERS in rights_of([Role("manager")])

    @pytest.mark.parametrize("role", list(Role))
    def test_every_role_may_at_least_look(self, role: Role) -> None:
        assert Right.VIEW in rights_of([role])


class TestSeparationOfDuties:
    @pytest.mark.parametrize("role", [role for role in Role if role is not Role.MANAGER])
    def test_nobody_below_the_manager_both_repairs_and_verifies(self, role: Role) -> None:
        assert not {Right.REPAIR, Right.VERIFY} <= ROLE_RIGHTS[role]

    @pytest.mark.parametrize("right", [Right.APPROVE_DEFERRAL, Right.CLOSE_BY_REASON, Right.MEMBERS])
    def test_only_the_manager_may(self, right: Right) -> None:
        assert roles_with(right) == {Role.MANAGER}

    def test_only_the_integrator_runs_the_exchange(self) -> None:
        assert roles_with(Right.EXCHANGE) == {Role.INTEGRATOR}

    @pytest.mark.parametrize("right", [Right.ASSESS, Right.VERIFY, Right.PRICES, Right.CLOSE_BY_REASON])
    def test_the_integrator_decides_nothing(self, right: Right) -> None:
        assert right not in ROLE_RIGHTS[Role.INTEGRATOR]


def test_every_right_is_held_by_somebody() -> None:
    assert {right for right in Right if not roles_with(right)} == set()
