"""Flow of a component by name."""

import pytest

from findings.kinds.calculations import calculate


class TestComponentFlow:
    def test_when_choked_is_conductance_times_density_times_pressure(self):
        # ISO 6358-1: 1e-8 m3/(s Pa) x 1.185 kg/m3 x 8e5 Pa is 9.48 g/s; 1.1884 kg/m3 at 1 bar, 20 °C.
        result = calculate(
            "component-flow",
            {
                "conductance_m3_per_s_pa": 1e-8,
                "critical_ratio": 0.3,
                "pressure_gauge_pa": 7e5,
                "atmosphere_absolute_pa": 1e5,
            },
        )

        assert (result["flow_m3_per_s"], result["regime"]) == (
            pytest.approx(9.48e-3 / 1.1884, rel=1e-4),
            "choked",
        )
