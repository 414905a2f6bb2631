"""The ideal formulas against independent judges: real gases (CoolProp) and relief-valve sizing (fluids)."""

import math

import CoolProp
import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar

from findings.physics import orifice, steam
from findings.physics.gases import GASES

ATMOSPHERE_PA = 101325.0
BARS = (1.2, 2.0, 4.0, 7.0, 10.0, 16.0, 25.0, 40.0)
NAMES = {
    "air": "Air",
    "nitrogen": "Nitrogen",
    "oxygen": "Oxygen",
    "argon": "Argon",
    "carbon_dioxide": "CO2",
    "hydrogen": "Hydrogen",
    "helium": "Helium",
    "methane": "Methane",
    "propane": "n-Propane",
}
GAS = st.sampled_from(list(GASES.values()))


def ideal_flux(gas, upstream_pa, temperature_k=293.15, downstream_pa=ATMOSPHERE_PA):
    return orifice.mass_flow_kg_per_s(
        area_m2=1.0,
        upstream_pa=upstream_pa,
        downstream_pa=downstream_pa,
        temperature_k=temperature_k,
        molar_mass_kg_per_mol=gas.molar_mass_kg_per_mol,
        k=gas.k,
    )


def largest_flux(fluid, inputs, first, second):
    """Return the most that passes a hole of 1 m2 along the isentrope of a fluid down to the atmosphere."""
    state = CoolProp.AbstractState("HEOS", fluid)
    state.update(inputs, first, second)
    enthalpy, entropy, upstream = state.hmass(), state.smass(), state.p()

    def flux(pressure):
        state.update(CoolProp.PSmass_INPUTS, pressure, entropy)
        return state.rhomass() * math.sqrt(max(2.0 * (enthalpy - state.hmass()), 0.0))

    lowest = max(ATMOSPHERE_PA, 0.45 * upstream)
    found = minimize_scalar(
        lambda pressure: -flux(pressure),
        bounds=(lowest, 0.999 * upstream),
        method="bounded",
        options={"xatol": 1e-6 * upstream},
    )
    return max(-found.fun, flux(lowest))


def is_gas(gas, pressure, temperature_k):
    return gas.saturation is None or pressure < 0.98 * gas.saturation.pressure_pa(temperature_k)


def departures(gas, temperature_k):
    for pressure in (bar * 1e5 for bar in BARS):
        if is_gas(gas, pressure, temperature_k):
            real = largest_flux(NAMES[gas.key], CoolProp.PT_INPUTS, pressure, temperature_k)
            departure = abs(ideal_flux(gas, pressure, temperature_k) / real - 1.0)
            yield departure, gas.model_error(pressure, temperature_k)


class TestModelError:
    @pytest.mark.parametrize("gas", GASES.values(), ids=lambda gas: gas.key)
    def test_is_the_departure_from_the_real_gas(self, gas):
        # Measured at 20 °C, 1.2 to 40 bar: too small by 0.47 % of the flow at most (carbon dioxide at 40 bar:
        # 12.07 % against 11.60 %), too large by 0.88 % (methane at 40 bar: 4.32 % against 5.20 %).
        for departure, stated in departures(gas, 293.15):
            assert departure == pytest.approx(stated, rel=0.22, abs=2e-3)
            assert departure <= 1.05 * stated + 2e-3

    @pytest.mark.parametrize("celsius", [-20.0, 0.0, 40.0, 60.0])
    @pytest.mark.parametrize(
        "gas", [gas for gas in GASES.values() if not gas.saturation], ids=lambda gas: gas.key
    )
    def test_holds_in_the_cold_and_in_the_heat(self, gas, celsius):
        for departure, stated in departures(gas, celsius + 273.15):
            assert departure <= 1.05 * stated + 4.5e-3

    @pytest.mark.parametrize(
        ("key", "celsius"), [("carbon_dioxide", 0.0), ("propane", -20.0), ("propane", 40.0)]
    )
    def test_holds_close_to_the_liquid(self, key, celsius):
        for departure, stated in departures(GASES[key], celsius + 273.15):
            assert departure <= 1.1 * stated + 5e-3


def sized_area(gas, pressure, temperature_k):
    """Return the area in m2 that the relief-valve rule wants for the flow of 1 m2."""
    return fluids.API520_A_g(
        m=ideal_flux(gas, pressure, temperature_k),
        T=temperature_k,
        Z=1.0,
        MW=gas.molar_mass_kg_per_mol * 1000,
        k=gas.k,
        P1=pressure,
        P2=ATMOSPHERE_PA,
        Kd=1.0,
    )


class TestReliefValveSizing:
    # API 520 rounds its constants: measured within 1.9e-5 when choked and 5.7e-4 below it.
    @given(GAS, st.floats(min_value=2.2e5, max_value=4e6), st.floats(min_value=250.0, max_value=400.0))
    def test_agrees_when_choked(self, gas, pressure, temperature):
        assert sized_area(gas, pressure, temperature) == pytest.approx(1.0, rel=3e-5)

    @given(GAS, st.floats(min_value=0.62, max_value=0.95), st.floats(min_value=250.0, max_value=400.0))
    def test_agrees_below_choking(self, gas, ratio, temperature):
        assert sized_area(gas, ATMOSPHERE_PA / ratio, temperature) == pytest.approx(1.0, rel=8e-4)


class TestSteam:
    @pytest.mark.parametrize("gauge_bar", [1.0, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0])
    def test_stays_within_its_stated_model_error(self, gauge_bar):
        # Homogeneous equilibrium flow of saturated steam: measured -3.6 % at 1 bar gauge to +2.5 % at 20.
        upstream = gauge_bar * 1e5 + ATMOSPHERE_PA
        equilibrium = largest_flux("Water", CoolProp.PQ_INPUTS, upstream, 1.0)

        departure = steam.napier_mass_flow_kg_per_s(1.0, upstream) / equilibrium - 1.0

        assert abs(departure) <= 2.0 * steam.MODEL_RELATIVE_U
