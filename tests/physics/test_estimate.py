"""The common result keeps its promises."""

import dataclasses
import json
import math

import pytest

from findings.physics.estimate import Estimate, Reason, Status, refused


def estimate(**changes):
    fields = {
        "value": 1.0,
        "u": 0.1,
        "low": 0.8,
        "high": 1.2,
        "unit": "m3/s",
        "method": "orifice",
        "method_version": "1",
        "status": Status.ESTIMATED,
        "reasons": (Reason("edge_unknown", "The edge is unknown."),),
        "inputs": {"diameter_m": 0.001},
    }
    return Estimate(**(fields | changes))


class TestEstimate:
    def test_survives_json(self):
        original = estimate()

        assert Estimate.from_json(json.loads(json.dumps(original.to_json()))) == original

    def test_refused_survives_json(self):
        original = refused(unit="m3/s", method="x", version="1", reasons=(Reason("a", "b"),), inputs={})

        assert Estimate.from_json(original.to_json()) == original

    def test_cannot_be_changed(self):
        with pytest.raises(dataclasses.FrozenInstanceError):
            estimate().value = 2.0

    def test_keeps_its_inputs_closed(self):
        with pytest.raises(TypeError):
            estimate().inputs["diameter_m"] = 0.002

    @pytest.mark.parametrize(
        "changes",
        [
            {"value": None},
            {"value": math.nan},
            {"u": -0.1},
            {"low": 1.1},
            {"high": 0.9},
            {"high": math.inf},
            {"status": Status.REFUSED},
            {"status": Status.REFUSED, "value": None, "u": None, "low": None, "high": None, "reasons": ()},
        ],
    )
    def test_refuses_to_contradict_itself(self, changes):
        with pytest.raises(ValueError, match=r"estimate|value"):
            estimate(**changes)
