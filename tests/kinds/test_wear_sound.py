"""What a recording says of a bearing, from analyses of invented sounds and from lines written by hand."""

import io
import json

import pytest

from findings.kinds.wear_sound import Machine, recomputed, wear_by_sound
from findings.physics.defect_frequencies import Geometry
from findings.sound.hearing import hear
from findings.sound.synthetic import NOISE_RANGE_DB, Truth, synthetic, wav_bytes
from findings.sound.told import Told

# Drive end of a university's bearing rig: 9 elements of 7.94 mm on 39.04 mm at 1797 turns a minute; the outer
# ring's published factor is 3.5848 of the speed, 107.36 Hz (Smith and Randall 2015, from memory).
RIG = Machine(shaft_speed_hz=1797 / 60, geometry=Geometry(9, 0.00794, 0.03904))


def analysed(truth: Truth, seed: int, **values):
    sound = synthetic(truth, seed, seconds=8.0, **values)
    return hear(io.BytesIO(wav_bytes(sound)), Told(), title="a test").result


def written(*lines: tuple[float, float], character: str = "rhythmic"):
    """An analysis that holds these lines, each its frequency in Hz and its height in dB."""
    listed = [{"frequency_hz": hz, "above_floor_db": db} for hz, db in lines]
    return {"character": character, "lines": listed, "fundamental_hz": None}


@pytest.mark.parametrize("snr_db", NOISE_RANGE_DB)
def test_a_damaged_outer_ring_is_named_through_the_whole_range_of_noise(snr_db):
    found = wear_by_sound(analysed(Truth.BEARING, 41, snr_db=snr_db), RIG)

    assert (found.state, found.order_due, found.opens_finding) == ("part_heard", True, True)
    assert "outer ring" in found.reasons[0].text


def test_a_smooth_sound_clears_nothing():
    found = wear_by_sound(analysed(Truth.NOISE, 42), RIG)

    assert (found.state, found.severity, found.order_due) == ("smooth", None, None)
    assert "clears nothing" in found.reasons[0].text


def test_without_the_geometry_a_rhythm_is_given_to_nobody():
    found = wear_by_sound(analysed(Truth.BEARING, 43), Machine(shaft_speed_hz=1797 / 60))

    assert (found.state, found.severity, found.opens_finding) == ("rhythm_unexplained", 2, False)
    assert "geometry_unknown" in [reason.code for reason in found.reasons]


def test_without_the_speed_that_is_said_first():
    found = wear_by_sound(written((107.4, 20.0)), Machine(geometry=RIG.geometry))

    assert found.reasons[1].code == "speed_unknown"


def test_a_part_with_sidebands_is_graver_than_its_line_alone():
    inner = RIG.known_hz()["inner_ring"]
    alone = wear_by_sound(written((inner, 12.0)), RIG)
    beside = wear_by_sound(written((inner, 12.0), (inner - 1797 / 60, 8.0), (inner + 1797 / 60, 8.0)), RIG)

    assert (alone.severity, beside.severity) == (3, 4)


def test_the_shafts_own_beat_is_no_damage_and_no_all_clear():
    found = wear_by_sound(written((1797 / 60, 15.0)), RIG)

    assert (found.state, found.severity, found.order_due) == ("machine_rhythm", 2, None)
    assert "doesn't prove" in found.reasons[0].text


def test_a_line_that_fits_twice_the_mains_as_well_says_so():
    machine = Machine(
        shaft_speed_hz=100 / RIG.known_hz()["outer_ring"] * 1797 / 60, geometry=RIG.geometry, mains_hz=50
    )

    found = wear_by_sound(written((100.2, 14.0)), machine)

    assert "twice mains" in next(reason.text for reason in found.reasons if reason.code == "fits_as_well")


def test_irregular_impacts_are_a_finding_that_a_person_weighs():
    found = wear_by_sound(written(character="irregular impacts"), RIG)

    assert (found.state, found.severity, found.opens_finding, found.order_due) == (
        "irregular_impacts",
        3,
        True,
        None,
    )


def test_the_kept_inputs_give_the_same_once_more():
    found = wear_by_sound(analysed(Truth.BEARING, 44), RIG)

    assert recomputed(json.loads(json.dumps(found.inputs))) == found
