"""What can be worked out and what falls out: the reason is told, and nothing that hangs on it is made up."""

import pytest

from pipeline.point.point import operating_point
from pipeline.unit import load

MAINS = 'name = "Invented"\nmains_v = 120\nmains_hz = 60\ndesign_mains_v = 120\n'
BATTERY = '[[supply]]\nsource = "battery"\nvolts = 250\n[[supply.node]]\nid = "B1"\n'
STAGE = '[[stage]]\ntubes = ["V1"]\nplate = "{plate}"\n'
OWN = "V1,EL84,,,,\nR1,{ohms},cathode,V1,,"


@pytest.fixture
def point(make_unit, catalogue):
    return lambda toml, parts, mains=MAINS: operating_point(load(make_unit(mains + toml, parts), catalogue), catalogue)


def test_all_is_known(point):
    found = point(BATTERY + STAGE.format(plate="B1"), OWN.format(ohms="135 ohm"))
    assert found.main is None and not found.states[0].missing
    assert found.get("V1", "plate_w").value > 5 and found.get("B1", "dc_v").value == pytest.approx(250, abs=0.1)


def test_a_lead_without_ohms_takes_its_tube_and_the_supply_with_it(point):
    found = point(BATTERY + STAGE.format(plate="B1"), "V1,EL84,,,,\nR1,?,cathode,V1,,")
    tube, node = found.get("V1", "plate_w"), found.get("B1", "dc_v")
    assert tube.value is None and "ohms of R1" in tube.missing and "Measure R1" in tube.mend
    assert node.value is None and "what V1 draws is not known" in node.missing and "ohms of R1" in node.missing
    assert {q.quantity for q in found.quantities.at("V1")} == {"plate_v", "cathode_v", "grid_v", "plate_a", "cathode_a", "plate_w", "screen_v", "screen_a", "screen_w"}
    assert all(q.value is None and q.missing and q.mend for q in found.quantities)


def test_a_grid_leak_that_cannot_be_read_costs_nothing(point):
    found = point(BATTERY + STAGE.format(plate="B1"), OWN.format(ohms="135 ohm") + "\nR2,?,grid leak,V1,,")
    assert found.get("V1", "plate_w").value > 5


def test_a_grid_on_a_plate_of_which_nothing_is_known(make_unit, catalogue):
    """It fell over before; now the tube that hangs there says what is not known of the one before it."""
    toml = 'name = "Invented"\n[[supply]]\nsource = "battery"\nvolts = 250\n[[supply.node]]\nid = "B1"\n'
    for stage, said in (("", "Describe the stage of V1A"), ('[[stage]]\ntubes = ["V1A"]\nplate = "B1"\nplate_through = "T1"\n', "Measure T1")):
        unit = make_unit(toml + stage + '[[stage]]\ntubes = ["V2A"]\nplate = "B1"\ngrid = "V1A plate"\n',
                         "V1,12AX7,,,,\nV2,6SN7GT,,,,\nT1,output transformer,,,,\nR4,10k,cathode,V2A,,")
        watts = operating_point(load(unit, catalogue), catalogue).get("V2", "plate_w", "A")
        assert watts.value is None and "V1A's plate" in watts.missing and said in watts.mend


def test_another_supply_stays_known(point):
    bias = '[[supply]]\nid = "C"\nsource = "battery"\nvolts = 9\npolarity = "negative"\n[[supply.node]]\nid = "C1"\n'
    found = point(BATTERY + bias + STAGE.format(plate="B1"), "V1,EL84,,,,\nR1,?,cathode,V1,,")
    assert found.get("B1", "dc_v").value is None and found.get("C1", "dc_v").value == pytest.approx(-9, abs=0.01)


def test_a_supply_that_falls_out_takes_the_tubes_it_biases(point):
    """The bias hangs on a rectifier nobody knows: the tube has no grid volts, and so nothing of it is known."""
    bias = '[[supply]]\nid = "C"\npolarity = "negative"\nrectifier = "D1"\ncircuit = "half-wave"\nsecondary_v = 20\n[[supply.node]]\nid = "C1"\ncapacitors = ["C9"]\n'
    found = point(BATTERY + bias + STAGE.format(plate="B1") + 'grid = "C1"\n', "V1,EL84,,,,\nD1,1N4007,rectifier,,,\nC9,100 µF 50 V,bias filter,C1,,")
    tube = found.get("V1", "plate_w")
    assert tube.value is None and "volts at C1 are not known: the winding's resistance is not given" in tube.missing
    assert "secondary_ohm" in tube.mend
    assert found.get("B1", "dc_v").missing == f"what V1 draws is not known: {tube.missing}"


@pytest.mark.parametrize(("parts", "known"), [
    ("V1,6QQ77,,,,\nR1,135 ohm,cathode,V1,,", False), ("V1,6H6,,,,\nR1,135 ohm,cathode,V1,,", False), ("V1,EL84,,,,\nR1,135 ohm,cathode,V1,,", True)])
def test_a_tube_nobody_rates(point, parts, known):
    found = point(BATTERY + STAGE.format(plate="B1"), parts)
    assert (found.get("B1", "dc_v").value is not None) == known
    if not known:
        assert found.get("V1", "plate_w").missing and found.get("B1", "dc_v").mend


def test_what_a_node_feeds_must_be_said(point):
    found = point(BATTERY, "R1,1k,,,,")
    assert found.get("B1", "dc_v").missing == "no node says what it feeds" and found.get("B1", "dc_v").mend
    for more, parts in (("load_a = 0.01\n", "R1,1k,,,,"), ("load_ohm = 5000\n", "R1,1k,,,,"), ("", "R1,10k,bleeder,B1,,"), ('tubes = ["V1"]\n', "V1,EL84,,,,")):
        assert point(BATTERY + more, parts).get("B1", "dc_v").value is not None, more
    assert "what V1 draws is not known" in point(BATTERY + 'tubes = ["V1"]\n', "V1,6QQ77,,,,").get("B1", "dc_v").missing


def test_an_estimate_widens_the_band(point):
    """20 % where a current is taken from typical operation, 10 % where it is given (practice)."""
    given, typical = (point(BATTERY + more, "V1,EL84,,,,").get("B1", "dc_v") for more in ("load_a = 0.05\n", 'tubes = ["V1"]\n'))
    assert (given.low, given.high) == pytest.approx((225, 275), rel=1e-3)
    assert typical.low < 225 and {f.quantity for f in typical.rests_on} >= {"plate_a"}


def test_a_node_taken_from_one_that_is_not_known(point):
    chain = BATTERY.replace("volts = 250", "volts = 250") + 'tubes = ["V1"]\n[[supply]]\nid = "P"\nfrom = "B1"\n[[supply.node]]\nid = "P1"\nthrough = "R5"\nload_a = 0.001\n'
    found = point(chain, "V1,6QQ77,,,,\nR5,10k,,,,")
    assert "volts at B1 are not known" in found.get("P1", "dc_v").missing
    assert point(chain, "V1,EL84,,,,\nR5,10k,,,,").get("P1", "dc_v").value == pytest.approx(240, rel=1e-3)


def test_the_minus_leads_resistor_must_be_known(point):
    minus = BATTERY.replace('volts = 250\n', 'volts = 250\nminus_through = "R7"\n') + "load_a = 0.05\n"
    assert "ohms of R7" in point(minus, "R7,?,,,,").get("B1", "dc_v").missing
    assert point(minus, "R7,100 ohm,,,,").get("R7", "resistor_v").value == pytest.approx(5, rel=1e-3)
