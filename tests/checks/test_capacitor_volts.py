"""Capacitors' kinds and volts: at work, at switch-on, with tubes out; silicon feeds at once, a slow tube when all is warm."""

import math

import pytest

from tests.checks.laid_out import LaidOut

MAINS = 'name = "Made up for a test"\nmains_v = 115\nmains_high_v = 120\nmains_low_v = 110\nmains_hz = 60\ndesign_mains_v = 110\n'
WINDING = '[[winding]]\nid = "H1"\nvolts = 6.3\namps = 3\n'
SUPPLY = '[supply]\nrectifier = "{rectifier}"\ncircuit = "{circuit}"\nsecondary_v = {volts}\nsecondary_ohm = {ohms}\n' \
         '[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\nload_a = {load_a}\n'
SILICON = MAINS + SUPPLY.format(rectifier="D1", circuit="half-wave", volts=110, ohms=100, load_a=0.15)
CREST_TODAY, CREST_HIGH = math.sqrt(2) * 115 - 0.8, math.sqrt(2) * 120 - 0.8


@pytest.fixture
def lay(catalogue, tmp_path):
    return lambda toml, parts: LaidOut(catalogue, tmp_path / "unit", toml, parts)


@pytest.mark.parametrize(("rated", "verdict", "figure", "limit", "said"), [
    (139, "stop", CREST_HIGH, 139 * 1.15, "before the tubes draw"), (143, "caution", CREST_HIGH, 143 * 1.15, "before the tubes draw"),
    (150, "caution", CREST_HIGH, 150, "within its surge rating"), (168, "caution", CREST_HIGH, 168, "within its surge rating"),
    (170, "pass", CREST_HIGH, 170, "never sees more")])
def test_silicon_charges_the_reservoir_to_the_crest(lay, rated, verdict, figure, limit, said):
    """IEC 60384-4 (quoted): a surge of 1.15 times the rating; the crest is 161.8 V today, 168.9 V at high mains."""
    found = lay(SILICON, f"D1,1N4007,rectifier,,,\nC1,40 µF {rated} V,reservoir,B1,,").one("capacitor-voltage", "C1")
    assert (found.verdict, found.limit) == (verdict, pytest.approx(limit)) and said in found.why, found.why
    assert found.figure == pytest.approx(figure, rel=0.003)
    assert found.evidence == "quoted", "the surge rating is"


@pytest.mark.parametrize(("rated", "verdict", "limit"), [(320, "stop", 352), (325, "caution", 357.5), (340, "caution", 340), (370, "pass", 370)])
def test_above_315_volts_the_surge_is_a_tenth(lay, rated, verdict, limit):
    """By hand: the crest is 353.8 V today, 369.2 V at high mains."""
    toml = MAINS + SUPPLY.format(rectifier="D1", circuit="half-wave", volts=240, ohms=600, load_a=0.1)
    found = lay(toml, f"D1,1N4007,rectifier,,,\nC1,40 µF {rated} V,reservoir,B1,,").one("capacitor-voltage", "C1")
    assert (found.verdict, found.limit) == (verdict, pytest.approx(limit)), found.why
    assert found.figure == pytest.approx(math.sqrt(2) * 240 * 120 / 110 - 1, rel=0.003)


SLOW = MAINS + WINDING + SUPPLY
SLOW_PARTS = "V9,6X4,rectifier,H1,,\nV1,EL84,,H1,,\nC1,20 µF {} V,reservoir,B1,,"


@pytest.mark.parametrize(("ohms", "load_a", "rated", "verdict", "figure", "limit"), [
    (100, 0.02, 1 / 1.02, "stop", "high", 1), (100, 0.02, 1.02, "caution", "start", 1), (100, 0.02, 1.08, "caution", "start", 1), (100, 0.02, 1.1, "pass", "start", 1),
    (300, 0.06, 1.24, "caution", "crest", 1.15), (300, 0.06, 1.31, "pass", "start", 1)])
def test_a_slow_rectifier_meets_a_load_that_is_warm_too(lay, ohms, load_a, rated, verdict, figure, limit):
    """Shares of the volts at work today. Half the load at switch-on at worst (practice); with the output tube out the crest comes."""
    toml = SLOW.format(rectifier="V9", circuit="full-wave", volts=200, ohms=ohms, load_a=load_a)
    state = lay(toml, SLOW_PARTS.format(450)).point.main
    volts = {"today": state.capacitor_v("B1", "today"), "high": state.capacitor_v("B1", "high"), "start": state.capacitor_start_v("B1"), "crest": state.no_load_v("B1")}
    assert volts["today"] < volts["high"] < volts["start"] < volts["crest"] == pytest.approx(math.sqrt(2) * 200 * 120 / 110, rel=0.01)
    found = lay(toml, SLOW_PARTS.format(f"{volts['today'] * rated:.2f}")).one("capacitor-voltage", "C1")
    assert found.verdict == verdict, found.why
    assert (found.figure, found.limit) == (pytest.approx(volts[figure], rel=1e-3), pytest.approx(volts["today"] * rated * limit, rel=1e-3)), found.why
    assert found.evidence == "measured" and found.rests_on, "all figures of the load are"


def test_what_is_not_known_is_unknown(lay):
    found = lay(SILICON, "D1,1N4007,rectifier,,,\nC1,40 µF,reservoir,B1,,").one("capacitor-voltage", "C1")
    assert (found.verdict, found.figure, found.limit) == ("unknown", pytest.approx(CREST_HIGH, rel=0.003), None) and "169 V or more" in found.do


@pytest.mark.parametrize(("part", "verdict", "limit"), [
    ("C8,100n 119 VAC,line to line,,,", "stop", 119), ("C8,100n 121 VAC,line to line,,,", "pass", 121), ("C8,2 µF 119 VAC,motor run,,,", "stop", 119),
    ("C8,100n 119 VAC,coupling,,,", None, None), ("C8,0.1+0.1 µF 300/160 V,line to line,,,", "stop", 160), ("C8,0.1+0.1 µF 300/180 V,line to line,,,", None, None)])
def test_on_the_line(lay, part, verdict, limit):
    """The least of its sections' ratings against the crest of the highest mains, 169.7 V; an AC rating against its volts."""
    found = lay(MAINS, part).find("capacitor-voltage", "C8")
    assert [(f.verdict, f.limit) for f in found] == ([(verdict, limit)] if verdict else [])


@pytest.mark.parametrize(("rated", "verdict"), [(6, "stop"), (9, "pass")])
def test_a_bypass_at_its_tubes_cathode(lay, rated, verdict):
    toml = MAINS + '[[supply]]\nsource = "battery"\nvolts = 250\n[[supply.node]]\nid = "B1"\n[[stage]]\ntubes = ["V1"]\nplate = "B1"\n'
    laid = lay(toml, f"V1,EL84,,,,\nR1,135 ohm 2W,cathode,V1,,\nC3,25 µF {rated} V,cathode bypass,V1,,")
    found, volts = laid.one("capacitor-voltage", "C3"), laid.point.get("C3", "capacitor_v")
    assert (found.verdict, found.figure) == (verdict, pytest.approx(volts.most)) and 6.2 < volts.value <= volts.most < 9


@pytest.mark.parametrize(("marking", "role", "verdict"), [
    ("0.9 µF", "coupling", "pass"), ("1 µF", "coupling", "unknown"), ("1 µF 400 V", "coupling", "stop"), ("1 µF 400 V film", "coupling", "pass"), ("1 µF 400 V electrolytic", "coupling", "stop"),
    ("2 µF", "motor run", "unknown"), ("2 µF 400 VAC", "motor run", "pass"), ("4n7 Y2", "line to line", "pass"), ("4n7 X2 275VAC", "line to chassis", "stop")])
def test_kind_by_role(lay, marking, role, verdict):
    found = lay(MAINS, f"C3,{marking},{role},,,").one("capacitor-kind", "C3")
    assert found.verdict == verdict, found.why


# what a rectifier takes from a heater winding -------------------------------------------------------------------------

BIAS = '[[supply]]\nid = "C"\npolarity = "negative"\nwinding = "H1"\nrectifier = "D1"\ncircuit = "half-wave"\n{ohms}[[supply.node]]\nid = "C1N"\ncapacitors = ["C1"]\nload_a = 0.02\n'


def test_a_supply_on_a_heater_winding_counts_with_its_rms_amperes(lay):
    parts = "V1,EL84,,H1,,\nD1,1N4007,rectifier,,,\nC1,100 µF 50 V,bias filter,C1N,,"
    laid = lay(MAINS + WINDING + BIAS.format(ohms="secondary_ohm = 1\n"), parts)
    rms = laid.point.supply("C").winding_rms_a("today"), laid.point.supply("C").winding_rms_a("high")
    assert 0.03 < rms[0] <= rms[1]
    for amps, verdict in ((0.76 + rms[0] * 0.9, "stop"), (0.76 + rms[1] * 1.05, "pass")):
        laid = lay(MAINS + WINDING.replace("amps = 3", f"amps = {amps:.4f}") + BIAS.format(ohms="secondary_ohm = 1\n"), parts)
        found = laid.one("heater-load", "H1")
        assert found.verdict == verdict, found.why
        assert found.figure == pytest.approx(0.76 + rms[0 if verdict == "stop" else 1], rel=1e-3)
    unknown = lay(MAINS + WINDING + BIAS.format(ohms=""), parts).one("heater-load", "H1")
    assert unknown.verdict == "unknown" and unknown.figure == pytest.approx(0.76)
