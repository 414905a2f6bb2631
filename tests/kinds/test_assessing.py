"""Evidence kept as JSON gives the same result again, and what can't be computed says why."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.kinds import recomputing
from findings.kinds.assessing import assess, evidence_from_json, evidence_to_json, recompute
from findings.kinds.base import Kind, Medium
from findings.kinds.enclosure_leak import EnclosureLeakEvidence
from findings.kinds.known_flow import MEASURED_METHODS
from findings.kinds.level_evidence import LevelEvidence, flow_from_level
from findings.kinds.pressure_leak import PressureLeakEvidence
from findings.kinds.recomputing import Kept, Outcome, compare
from findings.kinds.vacuum_leak import VacuumLeakEvidence
from findings.physics.direct_flow import bag_flow
from findings.physics.estimate import Estimate
from findings.physics.leak_flow import VERSION, Edge
from findings.physics.level_model import prior_model
from findings.physics.reference_states import STATES
from findings.physics.uncertainty import Uncertain

NUMBER = st.none() | st.floats(allow_nan=False, allow_infinity=False)
FLOWS = {
    "measured_flow_m3_per_s": NUMBER,
    "measured_flow_u_m3_per_s": NUMBER,
    "measured_method": st.sampled_from(sorted(MEASURED_METHODS)),
    "measured_state": st.sampled_from(sorted(STATES)),
    "stated_flow_m3_per_s": NUMBER,
    "stated_flow_u_m3_per_s": NUMBER,
    "stated_state": st.sampled_from(sorted(STATES)),
}
PRESSURE = st.builds(
    PressureLeakEvidence,
    medium=st.sampled_from(list(Medium)),
    gas_name=st.none() | st.sampled_from(["helium", "methane", "phlogiston"]),
    pressure_gauge_pa=NUMBER,
    pressure_u_pa=NUMBER,
    temperature_k=NUMBER,
    temperature_u_k=NUMBER,
    diameter_m=NUMBER,
    diameter_u_m=NUMBER,
    edge=st.sampled_from(list(Edge)),
    **FLOWS,
)
VACUUM = st.builds(
    VacuumLeakEvidence,
    line_absolute_pa=NUMBER,
    pump_inlet_absolute_pa=NUMBER,
    temperature_k=NUMBER,
    diameter_m=NUMBER,
    diameter_u_m=NUMBER,
    edge=st.sampled_from(list(Edge)),
    **FLOWS,
)
HOLE = PressureLeakEvidence(
    medium=Medium.COMPRESSED_AIR, diameter_m=0.002, pressure_gauge_pa=6e5, edge=Edge.SHARP
)


def kept_inputs(evidence: object) -> dict:
    """Return inputs as the database gives them back."""
    return json.loads(json.dumps({"evidence": evidence_to_json(evidence)}))


class TestEvidenceAsJson:
    @given(PRESSURE)
    def test_of_a_pressure_leak_comes_back_whole(self, evidence):
        kept = json.loads(json.dumps(evidence_to_json(evidence)))

        assert evidence_from_json(Kind.PRESSURE_LEAK, kept) == evidence

    @given(VACUUM)
    def test_of_a_vacuum_leak_comes_back_whole(self, evidence):
        kept = json.loads(json.dumps(evidence_to_json(evidence)))

        assert evidence_from_json(Kind.VACUUM_LEAK, kept) == evidence

    def test_with_a_finished_measurement_comes_back_whole(self):
        bag = bag_flow(
            Uncertain(0.01), [10.0] * 3, 0.2, pressure_pa=Uncertain(1e5), temperature_k=Uncertain(293.15)
        )
        evidence = PressureLeakEvidence(medium=Medium.COMPRESSED_AIR, measured=bag)

        assert recompute(Kind.PRESSURE_LEAK, kept_inputs(evidence)).to_json() == bag.to_json()

    def test_without_a_field_added_since_takes_its_default(self):
        kept = evidence_to_json(HOLE)
        del kept["stated_state"]

        assert evidence_from_json(Kind.PRESSURE_LEAK, kept) == HOLE


class TestRecomputing:
    @given(st.floats(1e-4, 0.02), st.floats(1e4, 1e6), st.sampled_from(list(Edge)))
    def test_gives_the_same_result_again(self, diameter, pressure, edge):
        evidence = PressureLeakEvidence(
            medium=Medium.NITROGEN, diameter_m=diameter, pressure_gauge_pa=pressure, edge=edge
        )

        again = recompute(Kind.PRESSURE_LEAK, kept_inputs(evidence))

        assert again.to_json() == assess(Kind.PRESSURE_LEAK, evidence).to_json()

    def test_of_a_level_asks_its_own_evidence_and_model_anew(self):
        heard = LevelEvidence(
            level_db=62.0, distance_m=1.0, upstream_absolute_pa=8e5, absolute_scale=True, family="hole"
        )
        level = flow_from_level(heard, prior_model())
        wrongly_kept = Estimate.from_json({**level.to_json(), "value": level.value * 1.01})
        evidence = PressureLeakEvidence(medium=Medium.COMPRESSED_AIR, level=wrongly_kept)

        assert recompute(Kind.PRESSURE_LEAK, kept_inputs(evidence)).value == level.value

    def test_gives_steam_by_its_booked_volume(self):
        evidence = PressureLeakEvidence(medium=Medium.STEAM, diameter_m=0.002, pressure_gauge_pa=4e5)

        assert recompute(Kind.PRESSURE_LEAK, kept_inputs(evidence)).unit == "m3/s"

    def test_of_an_enclosure_stays_refused(self):
        again = recompute(Kind.ENCLOSURE_LEAK, kept_inputs(EnclosureLeakEvidence(level_db=40.0)))

        assert [reason.code for reason in again.reasons] == ["no_flow_from_tone"]

    @pytest.mark.parametrize(
        ("kind", "inputs", "code"),
        [
            (Kind.PRESSURE_LEAK, {"gas": "air", "diameter_m": 0.002}, "evidence_not_kept"),
            (Kind.PRESSURE_LEAK, {"evidence": {}}, "evidence_unreadable"),
            (Kind.PRESSURE_LEAK, {"evidence": {"medium": "moonlight"}}, "evidence_unreadable"),
            (Kind.PRESSURE_LEAK, {"evidence": {"medium": "oxygen", "phase": 3}}, "evidence_unreadable"),
            (Kind.VACUUM_LEAK, {"evidence": {"diameter_m": "wide"}}, "evidence_unreadable"),
            (Kind.VACUUM_LEAK, {"evidence": {"measured_state": 7}}, "evidence_unreadable"),
            (Kind.MECHANICAL_WEAR, {"evidence": {}}, "kind_not_computed"),
        ],
    )
    def test_of_what_was_not_kept_says_why(self, kind, inputs, code):
        assert [reason.code for reason in recompute(kind, inputs).reasons] == [code]

    @given(VACUUM | PRESSURE)
    def test_gives_a_value_or_reasons_whatever_was_kept(self, evidence):
        kind = Kind.VACUUM_LEAK if isinstance(evidence, VacuumLeakEvidence) else Kind.PRESSURE_LEAK

        again = recompute(kind, kept_inputs(evidence))

        assert again.value is not None or again.reasons


class TestComparison:
    def _today(self, **values: object) -> Estimate:
        estimate = assess(Kind.PRESSURE_LEAK, HOLE)
        return Estimate.from_json({**estimate.to_json(), **values})

    def _kept(self, factor: float = 1.0, **values: object) -> Kept:
        value = self._today().value
        given = {"value": value * factor, "method": "orifice", "method_version": VERSION}
        return Kept(**{**given, **values})

    def test_of_the_same_says_so(self):
        assert compare(self._kept(), self._today()).outcome is Outcome.SAME

    def test_of_a_difference_in_the_last_digit_is_the_same(self):
        assert compare(self._kept(1.0 + 1e-12), self._today()).outcome is Outcome.SAME

    def test_of_another_result_says_by_how_much(self):
        found = compare(self._kept(0.8), self._today())

        assert (found.outcome, found.change_percent) == (Outcome.CHANGED, pytest.approx(25.0))
        assert found.differences[-1].text == "Changed by +25 %."

    def test_names_the_versions(self):
        found = compare(self._kept(method_version="1"), self._today(method_version="2"))

        assert found.differences[0].text == "Method orifice: version 1 → 2."

    def test_names_the_methods(self):
        found = compare(self._kept(method="meter"), self._today())

        assert found.differences[0].text == "Method meter then, orifice today."

    def test_of_a_refusal_today_says_why(self):
        missing = PressureLeakEvidence(medium=Medium.COMPRESSED_AIR, pressure_gauge_pa=6e5)
        found = compare(self._kept(), assess(Kind.PRESSURE_LEAK, missing))

        assert found.outcome is Outcome.REFUSED_NOW
        assert "The hole's diameter isn't known." in found.differences[0].text

    def test_of_a_refusal_then_says_that_it_is_computed_now(self):
        assert compare(self._kept(value=None), self._today()).outcome is Outcome.COMPUTED_NOW

    def test_of_a_refusal_both_times_is_the_same(self):
        missing = assess(Kind.PRESSURE_LEAK, PressureLeakEvidence(medium=Medium.COMPRESSED_AIR))

        assert compare(Kept(None, "pressure_leak", "1"), missing).outcome is Outcome.SAME

    def test_of_what_was_not_kept_is_not_computable(self):
        found = compare(self._kept(), recompute(Kind.PRESSURE_LEAK, {}))

        assert found.outcome is Outcome.NOT_COMPUTABLE
        assert found.differences[0].code in recomputing.NOT_COMPUTABLE
