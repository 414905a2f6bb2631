"""What a machine's part load and a system's storage can be."""

import pytest

from findings.supply.rules import SupplyRefused, check_part_load, check_storage

NOTHING = {"unloaded_share": None, "least_share": None, "load_order": None, "part_load_points": []}


def refusal(control="load_unload", **given):
    """Return (member, code) of the refusal, or None."""
    try:
        check_part_load(control, **{**NOTHING, **given})
    except SupplyRefused as refused:
        return refused.member, refused.code
    return None


class TestPartLoad:
    def test_may_be_unknown(self):
        assert refusal() is None

    def test_takes_what_was_measured(self):
        points = [[0.0, 0.28], [0.5, 0.66], [1.0, 1.0]]

        assert refusal(unloaded_share=0.28, load_order=1, part_load_points=points) is None

    @pytest.mark.parametrize("share", [-0.01, 1.01, float("nan")])
    def test_refuses_what_is_no_share(self, share):
        assert refusal(unloaded_share=share) == ("unloaded_share", "out_of_range")

    @pytest.mark.parametrize("control", ["load_unload", "start_stop"])
    def test_has_a_least_share_only_where_it_regulates(self, control):
        assert refusal(control, least_share=0.3) == ("least_share", "least_share_needless")

    def test_regulates_below_full_load(self):
        assert refusal("variable_speed", least_share=1.0) == ("least_share", "out_of_range")

    @pytest.mark.parametrize("order", [0, 101])
    def test_stands_in_an_order_from_one(self, order):
        assert refusal(load_order=order) == ("load_order", "out_of_range")

    @pytest.mark.parametrize(
        ("points", "code"),
        [
            ([[1.0, 1.0]], "too_few_or_many"),
            ([[0.0, 0.3], [0.5, 0.6, 0.7], [1.0, 1.0]], "not_a_point"),
            ([[0.0, 0.3], [1.2, 1.2]], "not_a_point"),
            ([[0.5, 0.6], [0.5, 0.7], [1.0, 1.0]], "capacity_not_rising"),
            ([[0.0, 0.5], [0.5, 0.4], [1.0, 1.0]], "power_falls"),
            ([[0.0, 0.3], [0.9, 0.95]], "full_load_missing"),
        ],
    )
    def test_refuses_points_that_are_no_rising_line_to_full_load(self, points, code):
        assert refusal(part_load_points=points) == ("part_load_points", code)


class TestStorage:
    @pytest.mark.parametrize("volume", [0.0, -1.0, 1e6, float("nan")])
    def test_is_a_volume(self, volume):
        with pytest.raises(SupplyRefused):
            check_storage(volume)
