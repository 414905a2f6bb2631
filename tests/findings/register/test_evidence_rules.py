"""What an assessment weighs beside another of the same leak."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.register.rules import Proof, Strength, replaces, standing_in, strength_of, why_kept
from tests.makers import NOW

PROOFS = st.lists(
    st.builds(
        Proof,
        st.sampled_from(list(Strength)),
        st.integers(0, 20).map(lambda days: NOW + timedelta(days=days)),
    ),
    max_size=8,
).map(lambda proofs: sorted(proofs, key=lambda proof: proof.at))


class TestStrength:
    @pytest.mark.parametrize(
        ("status", "method", "strength"),
        [
            ("measured", "meter", Strength.MEASURED),
            ("stated", "stated", Strength.STATED),
            ("estimated", "orifice", Strength.HOLE),
            ("estimated", "level", Strength.LEVEL),
            ("measured", "level", Strength.MEASURED),
            ("refused", "orifice", Strength.NONE),
            ("", "", Strength.NONE),
        ],
    )
    def test_follows_from_status_and_method(self, status, method, strength):
        assert strength_of(status, method) is strength

    def test_ranks_measured_stated_hole_level(self):
        assert Strength.MEASURED > Strength.STATED > Strength.HOLE > Strength.LEVEL > Strength.NONE


class TestReplacing:
    def test_of_nothing_takes_any_proof(self):
        assert replaces(Proof(Strength.LEVEL, NOW), None)

    def test_by_a_refusal_never_happens(self):
        assert not replaces(Proof(Strength.NONE, NOW), None)

    def test_among_equals_goes_to_the_later(self):
        old, new = Proof(Strength.HOLE, NOW), Proof(Strength.HOLE, NOW + timedelta(days=1))

        assert (replaces(new, old), replaces(old, new)) == (True, False)

    @given(PROOFS)
    def test_leaves_the_strongest_standing_and_of_those_the_last(self, proofs):
        index = standing_in(proofs, NOW)

        real = [proof for proof in proofs if proof.strength is not Strength.NONE]
        best = max(real, key=lambda proof: (proof.strength, proof.at), default=None)
        assert (None if index is None else proofs[index]) == best

    def test_leaves_out_what_was_before_the_opening(self):
        proofs = [Proof(Strength.MEASURED, NOW), Proof(Strength.LEVEL, NOW + timedelta(days=2))]

        assert standing_in(proofs, NOW + timedelta(days=1)) == 1


class TestWords:
    def test_name_what_stands_and_since_when(self):
        reason = why_kept(Proof(Strength.HOLE, NOW + timedelta(days=1)), Proof(Strength.MEASURED, NOW))

        assert reason.code == "weaker_evidence"
        assert "A measurement of 2026-03-02 stands" in reason.text
