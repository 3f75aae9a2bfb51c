"""The operating point of stages on a supply: published conditions come out as published, and what cooks is seen."""

import pytest

from pipeline.point.point import operating_point
from pipeline.unit import load

MAINS = """
name = "Invented"
mains_v = 230
mains_high_v = 230
mains_hz = 50
design_mains_v = 230
"""
STIFF = """
[[supply]]
source = "battery"
volts = {volts}
ohms = 0
[[supply.node]]
id = "B1"
"""


def point_of(make_unit, catalogue, toml, parts, mains=MAINS):
    return operating_point(load(make_unit(mains + toml, parts), catalogue), catalogue)


def test_el84_with_82_ohm_at_300_volts_burns_far_more_than_its_12_watts(make_unit, catalogue):
    """EL84 (Philips, 3.3.1955, page 6): 12 W; the stage law of the theory notes puts it near twice that."""
    toml = STIFF.format(volts=300) + '[[stage]]\ntubes = ["V1"]\nplate = "B1"\ncathode_through = "R1"\n'
    point = point_of(make_unit, catalogue, toml, "V1,EL84,,,,\nR1,82 ohm 1W,cathode,V1,,")
    assert point.get("V1", "plate_w").value > 19
    assert point.get("V1", "cathode_v").value == pytest.approx(6.5, rel=0.15)


def test_el84_pair_on_130_ohm_stands_at_its_published_cathode_volts(make_unit, catalogue):
    """EL84 push-pull, 300 V, common 130 ohm: cathode near 10.4 V (Philips, recalled; theory notes C, 10.7 V)."""
    toml = STIFF.format(volts=310.4) + '[[stage]]\ntubes = ["V1", "V2"]\nplate = "B1"\ncathode_through = "R1"\n'
    point = point_of(make_unit, catalogue, toml, "V1,EL84,,,,\nV2,EL84,,,,\nR1,130 ohm 5W,cathode,V1 V2,,")
    assert point.get("V1", "cathode_v").value == pytest.approx(10.4, rel=0.08)
    assert point.get("V1", "plate_a").value == pytest.approx(0.036, rel=0.08)


def test_triode_with_plate_load_and_cathode_resistor(make_unit, catalogue):
    """12AX7 at 300 V, 100 kohm, 1500 ohm: about 1.2 mA and 180 V on the plate (resistance-coupled tables, recalled)."""
    toml = STIFF.format(volts=300) + '[[stage]]\ntubes = ["V1A"]\nplate = "B1"\n'
    point = point_of(make_unit, catalogue, toml,
                     "V1,ECC83,,,,\nR1,100k,plate load,V1,,\nR2,1.5k,cathode,V1,,")
    assert point.get("V1", "plate_v", "A").value == pytest.approx(185, rel=0.12)
    assert point.get("R2", "resistor_v").value == pytest.approx(point.get("V1", "cathode_v", "A").value, rel=1e-6)


def test_a_reading_fixes_the_current_and_the_rest_follows(make_unit, catalogue):
    toml = STIFF.format(volts=250) + '[[stage]]\ntubes = ["V1"]\nplate = "B1"\n'
    point = point_of(make_unit, catalogue, toml, "V1,EL84,,,cathode 10 V,\nR1,135 ohm,cathode,V1,,")
    cathode = point.get("V1", "cathode_a")
    assert cathode.value == pytest.approx(10 / 135, rel=1e-3)
    assert cathode.origin == "measured"
    assert point.get("V1", "cathode_v").value == 10
    assert point.get("V1", "cathode_v").expected == pytest.approx(7.3, rel=0.08)


def test_fixed_bias_and_what_it_burns_without(make_unit, catalogue):
    toml = STIFF.format(volts=250) + '[[stage]]\ntubes = ["V1"]\nplate = "B1"\ngrid = -7.3\n'
    point = point_of(make_unit, catalogue, toml, "V1,EL84,,,,")
    watts = point.get("V1", "plate_w")
    assert watts.value == pytest.approx(12, rel=0.05)
    assert watts.lost > 30


def test_an_incomplete_stage_is_unknown_and_says_what_to_measure(make_unit, catalogue):
    toml = STIFF.format(volts=250) + '[[stage]]\ntubes = ["V1"]\nplate = "B1"\nplate_through = "T1"\n'
    point = point_of(make_unit, catalogue, toml, "V1,EL84,,,,\nT1,output transformer,,,,\nR1,135 ohm,cathode,V1,,")
    quantity = point.get("V1", "plate_w")
    assert quantity.value is None and quantity.origin is None
    assert "T1" in quantity.mend


@pytest.mark.parametrize(("fresh", "most"), [("", 45 * 1.07), ("high_v = 50", 50)])
def test_a_battery_knows_nothing_of_the_mains_and_its_fresh_volts_are_the_adverse_end(make_unit, catalogue, fresh, most):
    """Fresh dry cells stand 7 % above what they are named for (practice)."""
    toml = STIFF.format(volts=45).replace("ohms = 0", f"ohms = 0\n{fresh}") + "load_a = 0.01\n"
    mains = MAINS.replace("mains_high_v = 230", "mains_high_v = 250").replace("design_mains_v = 230", "design_mains_v = 220")
    point = point_of(make_unit, catalogue, toml, "R1,1k 1W,,,,", mains)
    volts = point.get("B1", "dc_v")
    assert (volts.value, volts.design) == (pytest.approx(45, abs=0.01),) * 2
    assert volts.most == pytest.approx(most, abs=0.01)
    assert point.state_of("B1").no_load_v("B1") == pytest.approx(most)
