"""Volts and watts of resistors, chokes and capacitors, by hand."""

import math

import pytest

from pipeline.point.charge import bleeder_ohm, drain_s
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
    ('["C1"]', "", [1]), ('["C1+C2"]', "", [0.6, 0.6]), ('["C1+C3"]', "", [0.8, 0.4]), ('["C1+C2"]', BALANCE, [1.2 / 3.6, 3.6 / 4.4]),
    ('["C1+C2"]', BALANCE.replace("1W", "1W 5%"), [1.05 / 3.9, 3.15 / 4.1]),
    ('["C1+C2"]', BALANCE.split("\nR9")[0], [0.6, 0.6])])
def test_volts_on_a_nodes_capacitors(point, chain, more, shares):
    """In series by the inverse of the microfarads, -20/+20 % counted, so 3/2 at worst; by the balance resistors where each has one.

    These at worst one 20 % up and the other 20 % down, or what their marking says.
    """
    toml = 'design_mains_v = 120\n[supply]\nrectifier = "D1"\ncircuit = "half-wave"\nsecondary_v = 120\nsecondary_ohm = 5\nadded_ohm = 20\n[[supply.node]]\nid = "B1"\nload_a = 0.05\n'
    toml = toml.removeprefix("design_mains_v = 120\n") + f"capacitors = {chain}\n"
    found = point(toml, "D1,1N4007,rectifier,,,\nC1,20 µF 250 V,reservoir,B1,,\nC2,20 µF 250 V,reservoir,B1,,\nC3,40 µF 250 V,reservoir,B1,," + more)
    node = found.get("B1", "dc_v").value
    refs = [w for w in chain.strip('[]"').split("+")]
    for ref, share in zip(refs, shares, strict=True):
        quantity = found.get(ref, "capacitor_v")
        assert quantity.value == pytest.approx(node * share, rel=0.02) and quantity.most > quantity.value
        assert quantity.most == pytest.approx((node + found.get("B1", "ripple_v").value / 2) * share, rel=0.05)


STACK = '[supply]\nrectifier = "D1"\ncircuit = "half-wave"\nsecondary_v = 240\nsecondary_ohm = 5\nadded_ohm = 20\n[[supply.node]]\nid = "B1"\n' \
        'capacitors = ["C1+C2"]\nload_a = 0.05\n'
STACKED = "D1,1N4007,rectifier,,,\nC1,20 µF 250 V,reservoir,B1,,\nC2,20 µF 250 V,reservoir,B1,,"


def test_balance_resistors_have_volts_and_watts_and_load_their_node(point):
    """By hand: 20 k and 30 k in series carry the node's volts over 50 k, and each its share of the volts."""
    bare = point(STACK, STACKED)
    found = point(STACK, STACKED + "\nR8,20k 5W 1%,balance,C1,,\nR9,30k 2W 1%,balance,C2,,")
    node = found.get("B1", "dc_v").value
    assert found.get("R8", "resistor_a").value == pytest.approx(node / 50e3, rel=1e-3)
    for ref, ohms in (("R8", 20e3), ("R9", 30e3)):
        assert found.get(ref, "resistor_v").value == pytest.approx(node * ohms / 50e3, rel=1e-3)
        watts = found.get(ref, "resistor_w")
        assert watts.value == pytest.approx((node / 50e3) ** 2 * ohms, rel=1e-3) and watts.most > watts.value
    assert found.get("B1", "load_a").value == pytest.approx(0.05 + node / 50e3, rel=1e-3)
    assert node < bare.get("B1", "dc_v").value - 1
    high = found.get("B1", "dc_v").most
    assert found.get("B1", "load_a").most == pytest.approx(0.05 + high / 50e3, rel=0.03)


def test_balance_resistors_across_the_halves_of_a_doubler(point):
    toml = STACK.replace("half-wave", "doubler").replace("= 240", "= 120")
    found = point(toml, STACKED + "\nR8,22k 2W 1%,balance,C1,,\nR9,22k 2W 1%,balance,C2,,")
    node = found.get("B1", "dc_v").value
    assert node > 250 and found.get("B1", "load_a").value == pytest.approx(0.05 + node / 44e3, rel=1e-3)
    assert found.get("R9", "resistor_w").value == pytest.approx((node / 2) ** 2 / 22e3, rel=1e-3)


def test_a_resistor_across_one_of_two_capacitors_stands_at_its_volts(point):
    """Where the other has none, leakage decides: 0.6 of the volts at worst."""
    found = point(STACK, STACKED + "\nR8,100k 1W,balance,C1,,")
    volts = found.get("C1", "capacitor_v")
    assert found.get("R8", "resistor_v").value == volts.value == pytest.approx(0.6 * found.get("B1", "dc_v").value, rel=1e-6)
    assert found.get("R8", "resistor_w").most == pytest.approx(volts.most**2 / 100e3)


def test_balance_resistors_drain_their_node(point):
    """As a bleeder of the two in series does: 100 kohm in all, 10 µF in all, from the crest down to 60 V."""
    found = point(STACK, STACKED + "\nR8,47k 2W 1%,balance,C1,,\nR9,53k 2W 1%,balance,C2,,")
    assert bleeder_ohm(found.main, "B1") == pytest.approx(100e3)
    assert drain_s(found.main, "B1", 100e3) == pytest.approx(100e3 * 10e-6 * math.log(found.main.no_load_v("B1") / 60), rel=1e-3)
    assert bleeder_ohm(point(STACK, STACKED).main, "B1") is None
