"""Circuits that a sum of stages easily gets wrong: right figures by hand, or an unknown that says what to measure."""

import json

import pytest

from pipeline.checks.check import check
from pipeline.output.netlist import netlist
from pipeline.unit import UnitError, load
from tests.point.test_netlist import means

MAINS = 'name = "Made"\nmains_v = 230\nmains_high_v = 253\nmains_hz = 50\ndesign_mains_v = 230\n'
RECTIFIED = """
[[supply]]
id = "HT"
rectifier = "V9"
circuit = "full-wave"
secondary_v = 260
secondary_ohm = 215
{more}
[[supply.node]]
id = "B1"
capacitors = ["C9"]
"""
RECTIFIER = "\nV9,EZ80,rectifier,,,\nC9,32 µF 450 V,reservoir,,,"


def battery(volts, node="B1", polarity="positive"):
    return (f'[[supply]]\nid = "of {node}"\nsource = "battery"\nvolts = {volts}\npolarity = "{polarity}"\n'
            f'[[supply.node]]\nid = "{node}"\n')


def stage(*tubes, **given):
    lines = [f"{key} = {json.dumps(value)}" for key, value in given.items()]
    return f"[[stage]]\ntubes = {json.dumps(tubes)}\n" + "\n".join(lines) + "\n"


@pytest.fixture
def checked(make_unit, catalogue):
    def run(toml, parts, mains=MAINS):
        return check(load(make_unit(mains + toml, parts), catalogue), catalogue)
    return run


def value(found, at, quantity, section=None):
    return found.point.get(at, quantity, section).value


def verdicts(found, check_name):
    return {f.subject: f.verdict for f in found.findings if f.check == check_name}


def simulated(found, tmp_path):
    """Where ngspice (https://ngspice.sourceforge.io) has every point."""
    return means(netlist(found.point), tmp_path)


def test_a_resistor_shared_by_unlike_stages_carries_the_sum(checked):
    found = checked(battery(250) + stage("V1A", plate="B1", plate_through="R1", cathode_through="R3")
                    + stage("V2", plate="B1", screen="B1", cathode_through="R3"),
                    "V1,12AU7,,,,\nV2,EL84,,,,\nR1,47k 1W,,,,\nR3,270 ohm 3W,,,,")
    total = value(found, "V1", "cathode_a", "A") + value(found, "V2", "cathode_a")
    assert value(found, "R3", "resistor_v") == pytest.approx(270 * total, rel=1e-4)
    assert value(found, "V1", "cathode_v", "A") == value(found, "V2", "cathode_v")


def test_a_cathode_follower_stands_a_little_above_the_plate_that_drives_it(checked, tmp_path):
    found = checked(battery(300) + stage("V1A", plate="B1", plate_through="R1", cathode_through="R2")
                    + stage("V1B", plate="B1", grid="V1A plate", cathode_through="R3"),
                    "V1,12AX7,,,,\nR1,100k 1W,,,,\nR2,1.5k 1W,,,,\nR3,100k 1W,,,,")
    drives, follows = value(found, "V1", "plate_v", "A"), value(found, "V1", "cathode_v", "B")
    assert drives < follows < drives + 2
    assert simulated(found, tmp_path)["r3_1"] == pytest.approx(follows, rel=0.01)


def test_a_tail_to_a_negative_node_sets_the_current_of_the_pair(checked):
    """Grids on chassis: the cathodes stand near it, so that the tail has about 100 V and 100 / 47 k flow."""
    found = checked(battery(300) + battery(100, "N1", "negative")
                    + stage("V1A", "V1B", plate="B1", plate_through=["R1", "R2"], cathode_through="R3", cathode_to="N1"),
                    "V1,12AX7,,,,\nR1,100k 1W,,,,\nR2,100k 1W,,,,\nR3,47k 1W,,,,")
    each, cathode = value(found, "V1", "cathode_a", "A"), value(found, "V1", "cathode_v", "A")
    assert 0.5 < cathode < 3 and 2 * each == pytest.approx((100 + cathode) / 47_000, rel=1e-3)
    assert verdicts(found, "resistor-power")["R3"] == "pass"


def test_back_bias_is_the_whole_current_through_the_resistor_in_the_minus_lead(checked, tmp_path):
    found = checked(RECTIFIED.format(more='minus_through = "R40"') + "load_a = 0.02\n" + stage("V1", plate="B1", grid="B-"),
                    "V1,EL84,,,,\nR40,120 ohm 2W,,,," + RECTIFIER)
    assert value(found, "V1", "grid_v") == pytest.approx(-120 * (0.02 + value(found, "V1", "cathode_a")), rel=1e-3)
    for name, volts in simulated(found, tmp_path).items():
        if name in ("b1", "b"):
            assert volts == pytest.approx(value(found, "B1", "dc_v") if name == "b1" else value(found, "V1", "grid_v"),
                                          rel=0.01)


def test_a_minus_lead_of_unknown_ohms_is_asked_for(checked):
    found = checked(RECTIFIED.format(more='minus_through = "R40"') + stage("V1", plate="B1", grid="B-"),
                    "V1,EL84,,,,\nR40,?,bias feed,,," + RECTIFIER)
    quantity = found.point.get("V1", "plate_w")
    assert quantity.value is None and "R40" in quantity.mend
    assert verdicts(found, "dissipation")["V1"] == "unknown" and verdicts(found, "bias")["V1"] == "unknown"


def test_a_bias_tap_of_the_same_winding(checked):
    """Half-wave from 40 V: without load near the crest of 56 V, less the diode's drop."""
    more = 'winding = "S1"'
    found = checked(RECTIFIED.format(more=more) + '[[supply]]\nid = "bias"\npolarity = "negative"\nwinding = "S1"\n'
                    'rectifier = "D1"\ncircuit = "half-wave"\nsecondary_v = 40\nsecondary_ohm = 20\n'
                    '[[supply.node]]\nid = "C-"\ncapacitors = ["C2"]\n' + stage("V1", plate="B1", grid="C-"),
                    "V1,6L6GC,,,,\nC2,50 µF 100 V,bias filter,,,\nD1,1N4007,,,," + RECTIFIER)
    assert -56.6 < value(found, "V1", "grid_v") < -53
    assert verdicts(found, "bias") == {"V1": "pass"} and found.point.get("V1", "plate_w").lost > 30


def test_dc_heaters_stand_below_the_crest_of_their_winding(checked):
    """A bridge on 6.3 V, two silicon drops below the crest of 8.9 V: no more than 7.3 V."""
    found = checked('[[winding]]\nid = "H1"\nvolts = 6.3\namps = 3\n[[winding]]\nid = "H2"\nvolts = 6.3\namps = 1\n'
                    '[[supply]]\nid = "DC"\nwinding = "H1"\nrectifier = "D1"\ncircuit = "bridge"\nsecondary_ohm = 0.1\n'
                    'heats = "H2"\n[[supply.node]]\nid = "F1"\ncapacitors = ["C1"]\n',
                    "V1,12AX7,,H2,,\nV2,EL84,,H1,,\nD1,1N5400,,,,\nC1,4700 µF 16 V,,,,")
    assert 5.5 < value(found, "F1", "dc_v") < 7.3
    assert value(found, "V1", "heater_v") == pytest.approx(value(found, "F1", "dc_v"), rel=1e-3)


def test_a_standby_switch_leaves_the_capacitors_at_the_crest(checked):
    """With the load off and the rectifier hot the reservoir charges to the winding's crest at high mains."""
    found = checked(RECTIFIED.format(more="") + 'standby = "S1"\n' + stage("V1", plate="B1", cathode_through="R1"),
                    "V1,EL84,,,,\nR1,180 ohm 2W,,,,\nS1,switch,,,," + RECTIFIER)
    assert found.state.cold_start_v("B1") == pytest.approx(260 * 2**0.5 * 1.1, rel=0.02)


def test_a_vibrators_rectifier_drops_its_volts_and_is_judged(checked, tmp_path):
    """0Z4: a drop of some 24 V (its sheet, recalled)."""
    found = checked('[[supply]]\nid = "B"\nsource = "vibrator"\nvolts = 250\nhertz = 115\nrectifier = "V9"\n'
                    '[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\n' + stage("V1", plate="B1", cathode_through="R1"),
                    "V1,6V6GT,,,,\nV9,0Z4,,,,\nC1,16 µF 350 V,,,,\nR1,270 ohm 2W,,,,", mains='name = "Made"\n')
    assert 220 < value(found, "B1", "dc_v") < 240
    assert "V9" in verdicts(found, "rectifier-output")
    assert simulated(found, tmp_path)["b1"] == pytest.approx(value(found, "B1", "dc_v"), rel=0.01)


def test_regulators_in_a_stack_hold_the_sum_of_their_volts(checked):
    """0A2 and 0B2: 151 and 108 V (RCA, recalled); what the resistor passes is theirs and the load's."""
    found = checked(battery(350) + '[[supply]]\nid = "R"\nfrom = "B1"\n[[supply.node]]\nid = "B2"\nthrough = "R1"\n'
                    'regulator = "V7+V8"\nload_a = 0.005\n', "V7,0A2,,,,\nV8,0B2,,,,\nR1,5k 5W,,,,")
    assert value(found, "B2", "dc_v") == pytest.approx(259, abs=3)
    assert set(verdicts(found, "regulator-current")) == {"V7", "V8"}
    assert set(verdicts(found, "regulator-current").values()) == {"pass"}


def test_a_regulator_that_starves_is_seen(checked):
    found = checked(battery(250) + '[[supply]]\nid = "R"\nfrom = "B1"\n[[supply.node]]\nid = "B2"\nthrough = "R1"\n'
                    'regulator = "V7"\nload_a = 0.02\n', "V7,0A2,,,,\nR1,10k 5W,,,,")
    assert value(found, "B2", "dc_v") == pytest.approx(50, abs=1)
    assert verdicts(found, "regulator-current")["V7"] == "caution"


def test_ultralinear_screens_stand_at_the_supply(checked):
    found = checked(battery(350) + stage("V1", "V2", plate="B1", plate_through="T1", screen="plate 43 %",
                                         cathode_through=["R1", "R2"]),
                    "V1,EL34,,,,\nV2,EL34,,,,\nT1,output transformer 100 ohm,,,,\nR1,470 ohm 5W,,,,\nR2,470 ohm 5W,,,,")
    assert value(found, "V1", "screen_v") == pytest.approx(350, rel=0.001)
    assert value(found, "V1", "plate_v") == pytest.approx(350 - 100 * value(found, "V1", "plate_a"), rel=0.001)


def test_a_supply_from_a_node_with_a_divider(checked):
    """300 V over 22 k and 100 k: 246 V before the stage draws."""
    toml = battery(300) + '[[supply]]\nid = "D"\nfrom = "B1"\n[[supply.node]]\nid = "D1"\nthrough = "R7"\n'
    found = checked(toml + stage("V1A", plate="D1", plate_through="R1", cathode_through="R2"),
                    "V1,12AX7,,,,\nR1,100k,,,,\nR2,1.5k,,,,\nR7,22k 1W,,,,\nR8,100k 1W,bleeder,D1,,")
    volts, amps = value(found, "D1", "dc_v"), value(found, "V1", "plate_a", "A")
    assert volts == pytest.approx(300 - 22e3 * (amps + volts / 100e3), rel=1e-3) and volts < 246


def test_readings_against_the_sum_are_findings_and_win(checked):
    found = checked(battery(250) + stage("V1", plate="B1", cathode_through="R1"),
                    'V1,EL84,,,"plate 120 V, cathode 25 V",\nR1,135 ohm 1W,,,,')
    assert verdicts(found, "reading") == {"V1": "caution"}
    assert value(found, "V1", "cathode_a") == pytest.approx(25 / 135) and verdicts(found, "dissipation")["V1"] == "stop"


def test_a_reading_of_one_of_a_pair_leaves_the_other_to_the_sum(checked):
    parts = "V1,EL84,,,cathode 14 V,\nV2,EL84,,,,\nR1,270 ohm 2W,,,,\nR2,270 ohm 2W,,,,"
    found = checked(battery(310) + stage("V1", "V2", plate="B1", cathode_through=["R1", "R2"]), parts)
    assert found.point.get("V1", "cathode_v").origin == "measured" and value(found, "V1", "cathode_v") == 14
    other = found.point.get("V2", "cathode_v")
    assert other.origin == "solved" and other.value == pytest.approx(found.point.get("V1", "cathode_v").expected, rel=0.01)


def test_a_reading_at_a_shared_resistor_is_both_tubes(checked):
    parts = "V1,EL84,,,cathode 14 V,\nV2,EL84,,,,\nR1,130 ohm 2W,,,,"
    found = checked(battery(310) + stage("V1", "V2", plate="B1", cathode_through="R1"), parts)
    for ref in ("V1", "V2"):
        assert value(found, ref, "cathode_v") == 14
        assert value(found, ref, "cathode_a") == pytest.approx(14 / 130 / 2)


@pytest.mark.parametrize(("parts", "said"), [
    ("V1,EL84,,,,\nT1,output transformer,,,,\nR1,150 ohm,,,,", "T1"),
    ("V1,EL84,,,,\nT1,output transformer 200 ohm,,,,\nR1,?,cathode,,,", "R1"),
    ("V1,XYZ99,,,,\nT1,output transformer 200 ohm,,,,\nR1,150 ohm,,,,", "tubewright add"),
    ("V1,EM84,,,,\nT1,output transformer 200 ohm,,,,\nR1,150 ohm,,,,", "cathode resistor"),
])
def test_a_stage_of_which_too_little_is_known_asks(checked, parts, said):
    found = checked(battery(250) + stage("V1", plate="B1", plate_through="T1", cathode_through="R1"), parts)
    quantity = found.point.get("V1", "plate_w")
    assert quantity.value is None and quantity.missing and said in quantity.mend
    assert found.status == 3 and "V1" not in {f.subject for f in found.findings if f.verdict == "pass"}


@pytest.mark.parametrize("toml", [
    battery(250) + battery(200), battery(250) + stage("V1", plate="B1") + stage("V1", plate="B1"),
    battery(250) + stage("V2", plate="B1") + stage("V2A", plate="B1"), battery(250) + stage("V1", plate="B1", grid="N2"),
])
def test_names_that_clash_or_are_not_there_are_faults_in_words(make_unit, catalogue, toml):
    with pytest.raises(UnitError) as error:
        load(make_unit(MAINS + toml, "V1,EL84,,,,\nV2,12AX7,,,,"), catalogue)
    assert "unit.toml:" in str(error.value)


def test_a_grid_that_comes_out_above_its_cathode_is_no_silent_pass(checked):
    """A 12AU7's plate at some 250 V on the next grid, whose cathode cannot follow: grid current, which no sum has."""
    found = checked(battery(300) + stage("V1A", plate="B1", plate_through="R1", cathode_through="R2")
                    + stage("V1B", plate="B1", plate_through="R4", grid="V1A plate", cathode_through="R3"),
                    "V1,12AU7,,,,\nR1,22k 1W,,,,\nR2,5k 1W,,,,\nR3,10k 1W,,,,\nR4,100k 1W,,,,")
    assert verdicts(found, "bias") == {"V1B": "unknown"}


@pytest.mark.parametrize("given", [{"plate": "N1", "cathode_through": "R1"},
                                   {"plate": "B1", "cathode_through": "R1", "cathode_to": "B1"}])
def test_a_tube_that_cannot_conduct_as_described_is_asked_about(checked, given):
    found = checked(battery(300) + battery(100, "N1", "negative") + stage("V1A", **given), "V1,12AX7,,,,\nR1,1k 1W,,,,")
    assert verdicts(found, "bias") == {"V1A": "unknown"}


def test_no_bias_at_all_is_a_stop(checked):
    found = checked(battery(250) + stage("V1", plate="B1"), "V1,EL84,,,,")
    assert verdicts(found, "bias") == {"V1": "stop"} and verdicts(found, "dissipation") == {"V1": "stop"}


def test_fixed_bias_with_a_resistor_to_measure_by_is_fixed_bias(checked):
    """Ten ohms in the cathode hold nothing: without its negative volts the tube burns all the same."""
    found = checked(battery(400) + battery(36, "N1", "negative")
                    + stage("V1", plate="B1", screen="B1", cathode_through="R1", grid="N1", grid_through="R2"),
                    "V1,6L6GC,,,,\nR1,10 ohm 2W,,,,\nR2,220k,,,,")
    assert verdicts(found, "bias") == {"V1": "pass"} and found.point.get("V1", "plate_w").lost > 60
    assert verdicts(found, "grid-circuit") == {"V1": "caution"}  # 0.1 Mohm with fixed bias (Tung-Sol 6L6GC, 1960)
