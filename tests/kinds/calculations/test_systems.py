"""Leak flow of whole systems by name."""

import pytest

from findings.kinds.calculations import calculate

PSI, CFM = 6894.757, 4.719474e-4


class TestLoadUnloadMachines:
    MACHINES = [
        {"load_s": [600.0], "unload_s": [0.0], "capacity_m3_per_s": 0.1},
        {"load_s": [30.0], "unload_s": [10.0], "capacity_m3_per_s": 0.08},
    ]

    def test_adds_what_each_delivers(self):
        # Open textbook fluid-power-systems, chapter 6, example 5: 30 s on, 10 s off is 75 %.
        result = calculate("load-unload-machines", {"machines": self.MACHINES})

        assert result["flow_m3_per_s"] == pytest.approx(0.1 + 0.06)

    @pytest.mark.parametrize("control", ["modulating", "variable_speed"])
    def test_is_refused_for_a_machine_without_cycles(self, control):
        machines = [self.MACHINES[0], self.MACHINES[1] | {"control": control}]

        result = calculate("load-unload-machines", {"machines": machines})

        assert (result["flow_m3_per_s"], result["reasons"][0]["code"]) == (None, "control_not_timed")


class TestPressureDecayLine:
    def test_gives_the_published_loss_at_working_pressure(self):
        # NAVFAC MO-209: 47 scfm at 96 psig; 629 ft3 inferred from its tables.
        steps = [
            {"start_gauge_pa": start * PSI, "end_gauge_pa": end * PSI, "duration_s": minutes * 60}
            for start, end, minutes in ((90, 80, 10.70), (70, 60, 15.29), (40, 30, 47.55))
        ]

        result = calculate(
            "pressure-decay-line",
            {
                "volume_m3": 17.8113,
                "steps": steps,
                "working_gauge_pa": 96 * PSI,
                "atmosphere_absolute_pa": 101352.93,
                "reference_state": "us_68f",
            },
        )

        assert result["flow_m3_per_s"] / CFM == pytest.approx(47, rel=0.01)


class TestPressureDecay:
    def test_takes_a_drift_of_the_temperature_into_account(self):
        steady = {"volume_m3": 4.0, "start_gauge_pa": 7e5, "end_gauge_pa": 6e5, "duration_s": 300}

        result = calculate(
            "pressure-decay", steady | {"temperature_rise_k": -2.0, "temperature_rise_u_k": 1.0}
        )

        # Cooling by 2 K alone takes 0.7 % off 7 bar: part of the fall wasn't a leak.
        flow = calculate("pressure-decay", steady)["flow_m3_per_s"]
        assert result["flow_m3_per_s"] == pytest.approx(0.948 * flow, rel=2e-3)
