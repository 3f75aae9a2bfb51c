"""Volts of heaters, and between heater and cathode, on windings and in strings; by hand."""

import math

import pytest

from pipeline.point.heating import fed_with_dc
from pipeline.point.point import operating_point
from pipeline.unit import load

MAINS = 'name = "Invented"\nmains_v = 115\nmains_high_v = 120\nmains_low_v = 110\nmains_hz = 60\ndesign_mains_v = 110\n'
WINDING = '[[winding]]\nid = "H1"\nvolts = 6.3\namps = 2\n'
BATTERY = '[[supply]]\nsource = "battery"\nvolts = 250\n[[supply.node]]\nid = "B1"\n[[stage]]\ntubes = ["V1"]\nplate = "B1"\n'
CREST = math.sqrt(2)


@pytest.fixture
def point(make_unit, catalogue):
    return lambda toml, parts: operating_point(load(make_unit(MAINS + toml, parts), catalogue), catalogue)


def test_a_winding_goes_with_the_mains(point):
    found = point(WINDING, "V1,EL84,,H1,,\nPL1,#47,lamp,H1,,")
    for at in ("H1", "V1"):
        volts = found.get(at, "heater_v")
        assert (volts.value, volts.least, volts.most) == pytest.approx((6.3 * 115 / 110, 6.3 * 115 / 110, 6.3 * 120 / 110))
        assert (volts.low, volts.high) == pytest.approx((volts.value * 0.9, volts.value * 1.1)) and volts.evidence == "practice"
    assert found.get("PL1", "heater_v") is None


def test_heater_and_cathode_on_a_winding(point):
    """One side on chassis: the heater's crest above it, and the cathode's volts on top the other way."""
    found = point(WINDING + BATTERY, "V1,EL84,,H1,,\nR1,135 ohm 2W,cathode,V1,,")
    (one,) = found.insulated
    cathode = found.get("V1", "cathode_v")
    crest = [CREST * 6.3 * v / 110 for v in (115, 120)]
    assert one.negative_v == pytest.approx((crest[0] + cathode.value, crest[1] + cathode.most))
    assert one.positive_v == pytest.approx((crest[0] - cathode.value, max(crest[1] - cathode.most, 0)), abs=1e-9)
    assert one.loaded and found.get("V1", "heater_cathode_v").most == pytest.approx(max(one.negative_v[1], one.positive_v[1]))
    assert found.get("V1", "heater_cathode_v").value == pytest.approx(one.negative_v[0])


def test_between_heater_and_cathode_a_band(point):
    """The heater's volts within 10 % (practice), the cathode's within its own band."""
    found = point(WINDING + BATTERY, "V1,EL84,,H1,,\nR1,135 ohm 2W,cathode,V1,,")
    both, cathode = found.get("V1", "heater_cathode_v"), found.get("V1", "cathode_v")
    crest = CREST * 6.3 * 115 / 110
    assert (both.low, both.high) == pytest.approx((0.9 * crest + cathode.low, 1.1 * crest + cathode.high))
    assert both.low < both.value < both.high and both.evidence == "recalled"


@pytest.mark.parametrize(("parts", "told"), [
    ("V1,6V6GT,,H1,,", True), ("V1,5Y3GT,,H1,,", False), ("V1,6QQ77,,H1,,", False)])
def test_only_a_cathode_of_its_own(point, parts, told):
    assert bool(point(WINDING, parts).insulated) == told


RECTIFIER = WINDING + '[supply]\nrectifier = "V9"\ncircuit = "full-wave"\nsecondary_v = 200\nsecondary_ohm = 150\n[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\nload_a = 0.04\n'


def test_a_rectifiers_cathode_stands_at_its_first_node(point):
    parts = "V9,6X4,rectifier,H1,,\nC1,20 µF 450 V,reservoir,B1,,\n"
    assert point(RECTIFIER, parts).insulated == (), "alone on its winding, which then stands at B+ with it"
    found = point(RECTIFIER, parts + "V1,EL84,,H1,,")
    one = next(i for i in found.insulated if i.part.ref == "V9")
    state = found.main
    crest = state.start_crest_v("B1")
    assert one.loaded and one.negative_v[1] == pytest.approx(CREST * 6.3 * 120 / 110 + max(crest, state.high_v("B1")))
    assert one.negative_v[0] == pytest.approx(CREST * 6.3 * 115 / 110 + max(crest * 115 / 120, state.today_v("B1")))
    assert one.positive_v == (0.0, 0.0)
    found = point(RECTIFIER.replace("secondary_ohm = 150\n", ""), parts + "V1,EL84,,H1,,")
    one = next(i for i in found.insulated if i.part.ref == "V9")
    assert not one.loaded and one.negative_v[1] == pytest.approx(CREST * (6.3 + 200) * 120 / 110, rel=0.01)


STRING = '[[string]]\nid = "S1"\namps = 0.15\norder = ["V3", "V2", "V1"]\n'


def test_in_a_string_the_order_gives_the_ends(point):
    """12.6 V, 50 V and 12.6 V in series on 115 V: all get the same share; the last stands nearest the chassis."""
    found = point(STRING, "V1,12BE6,,S1,,\nV2,50C5,,S1,,\nV3,12BA6,,S1,,")
    share = 115 / 75.2
    assert [found.get(ref, "heater_v").value for ref in ("V1", "V2", "V3")] == pytest.approx([12.6 * share, 50 * share, 12.6 * share], rel=1e-3)
    ends = {i.part.ref: i.negative_v for i in found.insulated}
    assert {ref: v[0] for ref, v in ends.items()} == pytest.approx({"V1": CREST * 12.6 * share, "V2": CREST * 62.6 * share, "V3": CREST * 115}, rel=1e-3)
    assert ends["V3"][1] == pytest.approx(CREST * 120, rel=1e-3)
    assert found.get("V2", "heater_v").most == pytest.approx(50 * 120 / 75.2, rel=1e-3)
    assert point(STRING.replace('order = ["V3", "V2", "V1"]\n', ""), "V1,12BE6,,S1,,\nV2,50C5,,S1,,\nV3,12BA6,,S1,,").insulated == ()


def test_a_winding_fed_with_dc(point):
    toml = WINDING + '[[supply]]\nid = "A"\nsource = "battery"\nvolts = 6\nheats = "H1"\n[[supply.node]]\nid = "A1"\n'
    found = point(toml, "V1,EL84,,H1,,")
    assert fed_with_dc("H1", found.states).id == "A" and fed_with_dc("H2", found.states) is None
    assert found.get("H1", "heater_v").value == pytest.approx(6, rel=0.02)
