"""Supplies from a node, a battery or a vibrator: each judged once, with its own highest volts; B- has its row."""

import pytest

from pipeline.checks.check import check
from pipeline.output.report import as_dict
from pipeline.unit import UnitError, load

MAINS = 'name = "Invented"\nmains_v = 121\nmains_hz = 60\ndesign_mains_v = 117\n'
RECTIFIED = """
[[supply]]
rectifier = "D1"
circuit = "full-wave"
input = "capacitor"
secondary_v = 250
secondary_ohm = 100
{more}
[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_a = 0.05
"""
DIVIDED = """
[[supply]]
id = "D"
from = "B1"
[[supply.node]]
id = "D1N"
through = "R1"
capacitors = ["C2"]
"""
PARTS = "D1,1N4007,,,,\nC1,47 µF 450 V,reservoir,,,\n"


def checked(make_unit, catalogue, toml, parts):
    return check(load(make_unit(toml, parts), catalogue), catalogue)


def told(found, name, subject):
    return [f for f in found.findings if f.check == name and f.subject == subject]


def test_a_capacitor_on_a_supply_from_a_node_is_judged_once_and_no_pass_stands_beside_its_stop(make_unit, catalogue):
    """Ohm's law: 10 kohm and 100 kohm divide the node; unloaded, the 50 V part gets all but an eleventh of its crest."""
    found = checked(make_unit, catalogue, MAINS + RECTIFIED.format(more="") + DIVIDED,
                    PARTS + "C2,10 µF 50 V,smoothing,,,\nR1,10k 2W,dropping,,,\nR2,100k 1W,bleeder,D1N,,\n")
    assert [f.verdict for f in told(found, "capacitor-voltage", "C2")] == ["stop"]
    cold = found.point.get("D1N", "cold_start_v").value
    assert cold == pytest.approx(found.point.get("B1", "cold_start_v").value * 10 / 11, rel=0.01)
    assert told(found, "stored-energy", "D1N")[0].why.startswith(f"D1N holds up to {cold:.0f} V")
    node = next(n for n in as_dict(found, [])["nodes"] if n["id"] == "D1N")
    assert node["volts"] == pytest.approx(found.point.get("B1", "dc_v").value * 10 / 11, rel=1e-3)
    assert found.point.get("C2", "capacitor_v").value == found.point.get("D1N", "dc_v").value
    assert found.point.state_of("D1N") is found.state


@pytest.mark.parametrize("mains, given, fresh", [
    (MAINS, "high_v = 100\n", 100), ('name = "Invented"\n', "", 90 * 1.07), ('name = "Invented"\n', "high_v = 99\n", 99)])
def test_a_battery_follows_its_cells_and_not_the_line(make_unit, catalogue, mains, given, fresh):
    toml = f'{mains}[[supply]]\nid = "C"\nsource = "battery"\nvolts = 90\n{given}[[supply.node]]\nid = "N"\n' \
        'capacitors = ["C1"]\nload_a = 0.001\n'
    found = checked(make_unit, catalogue, toml, "C1,10 µF 95 V,reservoir,,,\n")
    volts = found.point.get("N", "dc_v")
    assert volts.value == pytest.approx(90, rel=1e-3) and volts.most == pytest.approx(fresh, rel=1e-3)
    assert found.point.get("C1", "capacitor_v").value == volts.value
    assert found.point.get("N", "cold_start_v").value == pytest.approx(fresh)
    assert found.point.get("N", "load_a").value == pytest.approx(0.001, rel=1e-3)
    assert [f.verdict for f in told(found, "capacitor-voltage", "C1")] == ["caution"]


@pytest.mark.parametrize(("given", "fresh"), [("", 90 * 1.07), ("high_v = 97\n", 97)])
def test_a_battery_beside_a_supply_from_the_mains_has_its_own_fresh_volts(make_unit, catalogue, given, fresh):
    """7 % above what dry cells are named for (practice), whatever the line does; and the finding names them, not the line."""
    cells = f'[[supply]]\nid = "C"\nsource = "battery"\nvolts = 90\n{given}[[supply.node]]\nid = "N"\ncapacitors = ["C9"]\nload_a = 0.001\n'
    found = checked(make_unit, catalogue, MAINS + RECTIFIED.format(more="") + cells, PARTS + "C9,10 µF 85 V,smoothing,,,\n")
    assert found.point.get("N", "dc_v").most == pytest.approx(fresh, rel=1e-3)
    finding, = told(found, "capacitor-voltage", "C9")
    assert finding.verdict == "stop" and f"{fresh:.3g} V of fresh batteries" in finding.why and "mains" not in finding.why
    assert ("fresh dry battery" in {f.subject for f in finding.rests_on}) == (not given)


@pytest.mark.parametrize(("circuit", "stacked", "pulse"), [("full-wave", 1, 1), ("half-wave", 1, 2), ("doubler", 2, 2)])
def test_a_vibrator_by_the_circuit_of_its_rectifier(make_unit, catalogue, circuit, stacked, pulse):
    """By hand: half the time off, a diode passes twice the load; a doubler stacks two. Silicon drops 0.8 V or what its type says."""
    toml = f'name = "Invented"\n[[supply]]\nsource = "vibrator"\nvolts = 120\nhertz = 115\nsecondary_ohm = 300\nrectifier = "D5"\ncircuit = "{circuit}"\n' \
        '[[supply.node]]\nid = "B1"\ncapacitors = ["C1", "C2"]\nload_a = 0.02\n'
    point = checked(make_unit, catalogue, toml, "D5,1N4007,rectifier,,,\nC1,10 µF 350 V,reservoir,,,\nC2,10 µF 350 V,reservoir,,,\n").point
    each = 120 - point.states[0].device.threshold_v - 300 * 0.02 * pulse
    assert point.get("B1", "dc_v").value == pytest.approx(stacked * each, rel=2e-3)


def test_the_ripple_behind_a_vibrator_is_not_known(make_unit, catalogue):
    toml = 'name = "Invented"\n[[supply]]\nsource = "vibrator"\nvolts = 250\nhertz = 115\nsecondary_ohm = 200\nrectifier = "V5"\n' \
        '[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\nload_a = 0.02\n'
    found = checked(make_unit, catalogue, toml, "V5,6X5GT,,,,\nC1,10 µF 800 V,reservoir,,,\n").point.get("B1", "ripple_v")
    assert (found.value, found.low, found.high, found.origin) == (None,) * 4 and "contact" in found.missing and found.mend


@pytest.mark.parametrize("volts, verdict", [(250, "pass"), (640, "stop")])
def test_a_rectifier_behind_a_vibrator_is_judged(make_unit, catalogue, volts, verdict):
    """6X5GT bears 1,250 V inverse (RCA receiving tube manual, recalled); a square wave puts twice its volts there."""
    toml = f'name = "Invented"\n[[winding]]\nid = "H"\nvolts = 6.3\n[[supply]]\nsource = "vibrator"\nvolts = {volts}\n' \
        'hertz = 115\nsecondary_ohm = 200\nrectifier = "V5"\n[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\n' \
        "load_a = 0.02\n"
    found = checked(make_unit, catalogue, toml, "V5,6X5GT,,H,,\nC1,10 µF 800 V,reservoir,,,\n")
    finding, = told(found, "rectifier-inverse", "V5")
    assert (finding.verdict, finding.limit) == (verdict, 1250)
    assert f"{2 * volts} V today" in finding.why
    assert told(found, "rectifier-output", "V5")


def test_the_minus_lead_has_its_row_and_its_capacitor(make_unit, catalogue):
    """Ohm's law: the 50 mA of the whole set through 250 ohm."""
    found = checked(make_unit, catalogue, MAINS + RECTIFIED.format(more='minus_through = "R40"'),
                    PARTS + "R40,250 ohm 5W,,,,\nC7,25 µF 10 V,bias filter,B-,,\n")
    assert found.point.get("B-", "dc_v").value == pytest.approx(-12.5, rel=0.01)
    assert found.point.get("C7", "capacitor_v").value == pytest.approx(12.5, rel=0.01)
    assert [f.verdict for f in told(found, "capacitor-voltage", "C7")] == ["stop"]


def test_a_supply_from_a_negative_node_is_negative_and_none_turns_round(make_unit, catalogue):
    """Ohm's law: half of what the bias supply gives, by two alike resistors."""
    bias = RECTIFIED.replace("[[supply]]\n", '[[supply]]\nid = "N"\npolarity = "negative"\n').format(more="")
    half = '[[supply]]\nid = "H"\nfrom = "B1"\n{more}[[supply.node]]\nid = "N2"\nthrough = "R1"\n'
    parts = PARTS + "R1,100k 1W,dropping,,,\nR2,100k 1W,bleeder,N2,,\n"
    found = checked(make_unit, catalogue, MAINS + bias + half.format(more=""), parts)
    assert found.point.get("N2", "dc_v").value == pytest.approx(found.point.get("B1", "dc_v").value / 2, rel=1e-3)
    assert found.point.get("N2", "dc_v").value < -100
    with pytest.raises(UnitError, match="polarity: is positive, but B1 is negative"):
        checked(make_unit, catalogue, MAINS + bias + half.format(more='polarity = "positive"\n'), parts)
