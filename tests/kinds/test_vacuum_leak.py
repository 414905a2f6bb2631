"""What a vacuum leak lets in."""

import pytest

from findings.kinds.vacuum_leak import VacuumLeakEvidence, assess, pump_inlet_flow_m3_per_s
from findings.physics.leak_flow import Edge

# Computed, 1 mm, coefficient 1, 20 °C: kPa absolute in the line, l/min at 1 bar 20 °C, l/min at the pump.
TABLE = [
    (95, 4.728, 4.976),
    (80, 7.909, 9.887),
    (60, 9.399, 15.664),
    (50, 9.484, 18.969),
    (40, 9.484, 23.711),
]


class TestAssess:
    @pytest.mark.parametrize(("kilopascal", "free", "pump"), TABLE)
    def test_gives_the_air_that_comes_in(self, kilopascal, free, pump):
        evidence = VacuumLeakEvidence(line_absolute_pa=kilopascal * 1000.0, diameter_m=0.001, edge=Edge.SHARP)

        assert assess(evidence).value * 60000 == pytest.approx(0.61 * free, abs=6e-4)

    @pytest.mark.parametrize(
        ("evidence", "codes"),
        [
            (VacuumLeakEvidence(), ["diameter_missing", "pressure_missing"]),
            (VacuumLeakEvidence(diameter_m=0.001, line_absolute_pa=2e5), ["no_pressure_difference"]),
        ],
    )
    def test_is_refused(self, evidence, codes):
        assert [reason.code for reason in assess(evidence).reasons] == codes


class TestOrderOfMethods:
    HOLE = {"line_absolute_pa": 4e4, "diameter_m": 0.001}

    def test_puts_a_measured_inflow_before_a_stated_one_and_before_the_hole(self):
        evidence = VacuumLeakEvidence(**self.HOLE, measured_flow_m3_per_s=0.001, stated_flow_m3_per_s=0.002)

        assert (assess(evidence).value, assess(evidence).status) == (0.001, "measured")

    def test_puts_a_stated_inflow_before_the_hole(self):
        estimate = assess(VacuumLeakEvidence(**self.HOLE, stated_flow_m3_per_s=0.002))

        assert (estimate.value, estimate.status) == (0.002, "stated")

    def test_says_why_a_better_method_failed(self):
        estimate = assess(
            VacuumLeakEvidence(**self.HOLE, measured_flow_m3_per_s=0.001, measured_state="moon")
        )

        codes = {reason.code for reason in estimate.reasons}
        assert (estimate.status, "reference_state_unknown" in codes) == ("estimated", True)


class TestPump:
    def test_stands_at_its_own_pressure(self):
        evidence = VacuumLeakEvidence(
            line_absolute_pa=8e4, pump_inlet_absolute_pa=4e4, measured_flow_m3_per_s=0.001
        )

        assert assess(evidence).inputs["pump_inlet_flow_m3_per_s"] == pytest.approx(0.0025)

    def test_of_unknown_pressure_is_said_to_be_unknown(self):
        estimate = assess(VacuumLeakEvidence(measured_flow_m3_per_s=0.001))

        assert "pump_inlet_unknown" in {reason.code for reason in estimate.reasons}

    @pytest.mark.parametrize(("kilopascal", "free", "pump"), TABLE)
    def test_takes_more_volume_the_deeper_the_vacuum(self, kilopascal, free, pump):
        assert pump_inlet_flow_m3_per_s(free, kilopascal * 1000.0) == pytest.approx(pump, abs=2e-3)
