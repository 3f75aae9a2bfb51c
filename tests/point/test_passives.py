"""Volts and watts of resistors, chokes and capacitors, by hand."""

import pytest

from pipeline.point.point import operating_point
from pipeline.unit import load

MAINS = 'name = "Invented"\nmains_v = 120\nmains_hz = 60\ndesign_mains_v = 120\nmains_high_v = 120\n'
CHAIN = """[[supply]]
source = "battery"
volts = 250
high_v = 275
[[supply.node]]
id = "B1"
[[supply.node]]
id = "B2"
from = "B1"
through = "R1"
load_a = 0.02
capacitors = ["C1"]
"""


@pytest.fixture
def point(make_unit, catalogue):
    return lambda toml, parts: operating_point(load(make_unit(MAINS + toml, parts), catalogue), catalogue)


def test_a_filter_resistor(point):
    """20 mA through 1 kohm: 20 V, 0.4 W; 5 % less or more at the ends."""
    found = point(CHAIN, "R1,1k 2W 5%,,,,\nC1,20 µF 450 V,smoothing,B2,,")
    for name, value in (("resistor_v", 20), ("resistor_a", 0.02), ("resistor_w", 0.4)):
        quantity = found.get("R1", name)
        assert (quantity.value, quantity.origin) == (pytest.approx(value, rel=1e-3), "solved")
    assert found.get("R1", "resistor_w").most == pytest.approx(0.4 * 1.05, rel=0.01)
    assert found.get("B2", "dc_v").value == pytest.approx(230, rel=1e-3)


def test_a_reading_across_it_comes_first(point):
    found = point(CHAIN, "R1,1k 2W 5%,,,25 V,\nC1,20 µF 450 V,smoothing,B2,,")
    volts = found.get("R1", "resistor_v")
    assert (volts.value, volts.origin, volts.expected) == (25, "measured", pytest.approx(20, rel=1e-3))


@pytest.mark.parametrize(("part", "watts"), [("R5,1k 1W,,,-20 V,", 0.4), ("R5,1k 1W,,,\"20 V, 800 ohm\",", 0.5), ("R5,1 W,,,20 V,", None)])
def test_a_resistor_of_which_only_a_reading_is_known(point, part, watts):
    found = point("", part)
    assert found.get("R5", "resistor_v").value == 20 and found.get("R5", "resistor_v").evidence == "measured"
    burnt = found.get("R5", "resistor_w")
    assert burnt is None if watts is None else (burnt.value, burnt.most) == (pytest.approx(watts), pytest.approx(watts))


STAGES = """[[supply]]
source = "battery"
volts = 250
high_v = 275
[[supply.node]]
id = "B1"
[[stage]]
tubes = ["V1"]
plate = "B1"
[[stage]]
tubes = ["V2"]
plate = "B1"
grid = -5.0
"""
TUBES = "V1,EL84,,,,\nV2,EL84,,,,\nR1,135 ohm 2W 5%,cathode,V1,,\nR2,10k 5W 5%,screen,V1,,\n"


@pytest.mark.parametrize(("part", "of", "less"), [
    ("C3,25 µF 25 V,cathode bypass,V1,,", ("V1", "cathode_v"), 0), ("C3,0.1 400V,screen bypass,V1,,", ("V1", "screen_v"), 0),
    ("C3,0.01 400V,coupling,V1,,", ("V1", "plate_v"), 0), ("C3,0.01 400V,coupling,V1 V2,,", ("V1", "plate_v"), -5)])
def test_capacitors_between_electrodes(point, part, of, less):
    found = point(STAGES, TUBES + part)
    volts, base = found.get("C3", "capacitor_v"), found.get(*of)
    assert volts.value == pytest.approx(base.value - less) and volts.most >= base.most - less - 1e-9
    assert (volts.low, volts.high, volts.least, volts.design) == pytest.approx(tuple(v - less for v in (base.low, base.high, base.least, base.design)))
    assert volts.rests_on and set(base.rests_on) <= set(volts.rests_on)


@pytest.mark.parametrize(("part", "most"), [("C3,0.1 400V,screen bypass,V1,,", 275), ("C3,0.01 400V,coupling,V1,,", 275)])
def test_with_the_tube_cold_nothing_drops(point, part, most):
    """Behind a screen resistor or plate load the capacitor sees all of the supply's fresh 275 V at switch-on."""
    found = point(STAGES, TUBES + "R3,10k 5W 5%,plate load,V1,,\n" + part)
    assert found.get("C3", "capacitor_v").value < 245 and found.get("C3", "capacitor_v").most == pytest.approx(most, rel=1e-3)
    cathode = point(STAGES, TUBES + "C3,25 µF 25 V,cathode bypass,V1,,").get("C3", "capacitor_v")
    assert cathode.most < 15


def test_capacitors_nobody_can_place(point):
    found = point(STAGES, TUBES + "C3,0.01 400V,coupling,,,\nC4,0.01 400V,tone,R1,,")
    assert found.get("C3", "capacitor_v") is None and found.get("C4", "capacitor_v") is None


def test_a_choke_is_told_by_its_amperes(point):
    found = point(CHAIN.replace('"R1"', '"L1"'), "L1,5 H 200 ohm choke,,,,\nC1,20 µF 450 V,smoothing,B2,,")
    assert found.get("L1", "resistor_a").value == pytest.approx(0.02, rel=1e-3)
    assert found.get("L1", "resistor_v").value == pytest.approx(4, rel=1e-2)


BALANCE = "\nR8,100k 1W,balance,C1,,\nR9,300k 1W,balance,C2,,"


@pytest.mark.parametrize(("chain", "more", "shares"), [
    ('["C1"]', "", [1]), ('["C1+C2"]', "", [0.6, 0.6]), ('["C1+C3"]', "", [0.8, 0.4]), ('["C1+C2"]', BALANCE, [0.25, 0.75]),
    ('["C1+C2"]', BALANCE.split("\nR9")[0], [0.6, 0.6])])
def test_volts_on_a_nodes_capacitors(point, chain, more, shares):
    """In series by the inverse of the microfarads, -20/+20 % counted, so 3/2 at worst; by the balance resistors where each has one."""
    toml = 'design_mains_v = 120\n[supply]\nrectifier = "D1"\ncircuit = "half-wave"\nsecondary_v = 120\nsecondary_ohm = 5\nadded_ohm = 20\n[[supply.node]]\nid = "B1"\nload_a = 0.05\n'
    toml = toml.removeprefix("design_mains_v = 120\n") + f"capacitors = {chain}\n"
    found = point(toml, "D1,1N4007,rectifier,,,\nC1,20 µF 250 V,reservoir,B1,,\nC2,20 µF 250 V,reservoir,B1,,\nC3,40 µF 250 V,reservoir,B1,," + more)
    node = found.get("B1", "dc_v").value
    refs = [w for w in chain.strip('[]"').split("+")]
    for ref, share in zip(refs, shares, strict=True):
        quantity = found.get(ref, "capacitor_v")
        assert quantity.value == pytest.approx(node * share, rel=0.02) and quantity.most > quantity.value
        assert quantity.most == pytest.approx((node + found.get("B1", "ripple_v").value / 2) * share, rel=0.05)
