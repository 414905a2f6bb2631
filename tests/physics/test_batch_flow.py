"""Many leaks at once are each what one leak is."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from findings.physics.batch_flow import CODES, EDGES, GAS_KEYS, Leaks, batch_flow, codes_of
from findings.physics.gases import GASES
from findings.physics.leak_flow import Conditions, Opening, leak_flow
from findings.physics.reference_states import DEFAULT_STATE, STATES
from findings.physics.uncertainty import Uncertain

ANY = st.floats(allow_nan=True, allow_infinity=True)
FIELDS = (
    "gas",
    "diameter_m",
    "diameter_u_m",
    "edge",
    "coefficient",
    "coefficient_u",
    "upstream_pa",
    "upstream_u_pa",
    "downstream_pa",
    "temperature_k",
    "temperature_u_k",
)
ONE = dict(zip(FIELDS, (0, 0.001, 1e-4, 2, math.nan, 0.0, 8e5, 1e4, 101325.0, 293.15, 3.0), strict=True))


def one_by_one(columns, row, state=DEFAULT_STATE):
    cell = {name: column[row] for name, column in columns.items()}
    own = None
    if not math.isnan(cell["coefficient"]):
        own = Uncertain(float(cell["coefficient"]), float(cell["coefficient_u"]))
    diameter, upstream, temperature = (
        Uncertain(float(cell[value]), float(cell[u]))
        for value, u in (
            ("diameter_m", "diameter_u_m"),
            ("upstream_pa", "upstream_u_pa"),
            ("temperature_k", "temperature_u_k"),
        )
    )
    return leak_flow(
        Opening(diameter, EDGES[cell["edge"]], own),
        Conditions(upstream, float(cell["downstream_pa"]), temperature),
        GASES[GAS_KEYS[cell["gas"]]],
        state=state,
    )


def agrees(flows, row, estimate):
    codes = tuple(reason.code for reason in estimate.reasons)
    assert (codes_of(int(flows.codes[row])), bool(flows.refused[row])) == (codes, estimate.is_refused)
    if estimate.is_refused:
        assert np.isnan([flows.value[row], flows.u[row], flows.low[row], flows.high[row]]).all()
        return
    assert ("choked" if flows.choked[row] else "subsonic") == estimate.inputs["regime"]
    expected = (estimate.value, estimate.u, estimate.low, estimate.high)
    assert (flows.value[row], flows.u[row], flows.low[row], flows.high[row]) == pytest.approx(
        expected, rel=1e-12, abs=1e-12 * estimate.value
    )


def random_columns(rows, seed):
    """Return leaks of every gas, most of them sound, about a third wrong in one place or another."""
    source = np.random.default_rng(seed)
    columns = {
        "gas": source.integers(0, len(GAS_KEYS), rows),
        "diameter_m": 10 ** source.uniform(-4.0, -1.6, rows),
        "edge": source.integers(0, len(EDGES), rows),
        "coefficient": np.where(source.random(rows) < 0.5, np.nan, source.uniform(0.5, 1.0, rows)),
        "upstream_pa": 101325.0 + 10 ** source.uniform(1.0, 7.6, rows),
        "downstream_pa": np.where(
            source.random(rows) < 0.8, 101325.0, source.uniform(0.0, 1.0, rows) * 101325.0
        ),
        "temperature_k": source.uniform(205.0, 595.0, rows),
    }
    for value, u in (
        ("diameter_m", "diameter_u_m"),
        ("upstream_pa", "upstream_u_pa"),
        ("temperature_k", "temperature_u_k"),
    ):
        columns[u] = columns[value] * source.uniform(0.0, 0.2, rows) * (source.random(rows) < 0.9)
    columns["coefficient_u"] = np.where(source.random(rows) < 0.5, 0.0, 0.1)
    wrong = (math.nan, math.inf, -math.inf, -1.0, 0.0, 1e-300, 1.5, 150.0, 650.0, 5e7, 101325.0, 1e300)
    for name in FIELDS:
        if name not in {"gas", "edge"}:
            spoiled = source.random(rows) < 0.04
            columns[name] = np.where(spoiled, source.choice(wrong, rows), columns[name])
    return columns


class TestBatchFlow:
    @pytest.mark.parametrize("key", STATES)
    def test_is_the_single_leaks_flow_in_each_of_thousands_of_rows(self, key):
        columns, state = random_columns(1500, len(key)), STATES[key]

        flows = batch_flow(Leaks(**columns), state=state)

        for row in range(1500):
            agrees(flows, row, one_by_one(columns, row, state))

    @given(
        st.lists(
            st.tuples(
                st.integers(0, len(GAS_KEYS) - 1), ANY, ANY, st.integers(0, 2), *([ANY] * (len(FIELDS) - 4))
            ),
            min_size=1,
            max_size=5,
        )
    )
    def test_of_any_numbers_is_the_single_leaks_answer(self, rows):
        columns = dict(zip(FIELDS, map(np.array, zip(*rows, strict=True)), strict=True))

        flows = batch_flow(Leaks(**columns))

        for row in range(len(rows)):
            agrees(flows, row, one_by_one(columns, row))

    @given(st.floats(min_value=1e-9, max_value=1e-2), st.sampled_from(range(len(GAS_KEYS))))
    def test_agrees_where_hardly_any_pressure_drives_it(self, excess, gas):
        columns = {name: np.array([cell]) for name, cell in ONE.items()}
        columns |= {"gas": np.array([gas]), "upstream_pa": np.array([101325.0 * (1.0 + excess)])}

        agrees(batch_flow(Leaks(**columns)), 0, one_by_one(columns, 0))

    def test_meets_every_reason_in_the_rows_it_is_tried_on(self):
        codes = batch_flow(Leaks(**random_columns(1500, 0))).codes

        assert codes_of(int(np.bitwise_or.reduce(codes))) == CODES

    def test_takes_one_value_for_all_rows(self):
        flows = batch_flow(Leaks(**(ONE | {"diameter_m": [0.001, 0.002, 0.003]})))

        assert flows.value / flows.value[0] == pytest.approx([1.0, 4.0, 9.0])

    def test_of_one_leak_is_one_row(self):
        assert batch_flow(Leaks(**ONE)).value.shape == (1,)

    def test_refuses_columns_of_different_lengths(self):
        with pytest.raises(ValueError, match="broadcast"):
            batch_flow(Leaks(**(ONE | {"diameter_m": [0.001, 0.002], "upstream_pa": [8e5, 7e5, 6e5]})))
