"""A supply's own figures: rows, ends, switch-on, other capacitors, lowered mains; by hand and by its own sums."""

import math

import numpy as np
import pytest

from pipeline.point.corners import ALWAYS
from pipeline.point.point import operating_point
from pipeline.point.settle import output_of
from pipeline.point.what_if import in_series, stepped
from pipeline.unit import load

MAINS = 'name = "Invented"\nmains_v = 115\nmains_high_v = 120\nmains_low_v = 110\nmains_hz = 60\ndesign_mains_v = 110\n'
SUPPLY = '[supply]\nrectifier = "{rectifier}"\ncircuit = "{circuit}"\nsecondary_v = 110\nsecondary_ohm = {ohms}\n[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\n{load}\n'
PARTS = "D1,1N4007,rectifier,,,\nV9,5U4GB,rectifier,,,\nC1,{uf} 450 V,reservoir,B1,,\n"


@pytest.fixture
def point(make_unit, catalogue):
    def point(circuit="half-wave", ohms=5, load_="load_a = 0.1", uf="10 µF", rectifier="D1", more="", parts="", mains=MAINS):
        toml = SUPPLY.format(rectifier=rectifier, circuit=circuit, ohms=ohms, load=load_)
        return operating_point(load(make_unit(mains + toml + more, PARTS.format(uf=uf) + parts), catalogue), catalogue)

    return point


def test_at_the_adverse_end_the_first_capacitor_counts_20_percent_more(point):
    """Makers' series (quoted): -20/+20 %. More microfarads give more volts and greater peaks."""
    state = point().main
    assert state.upper == pytest.approx(1.2)
    for row, ratio, uf in (("today", state.mains.today, 10.0), ("high", state.mains.high, 12.0), ("design", 1.0, 10.0)):
        alone = state.run(ratio, np.array([uf]), row=row)
        assert state.plate_peak_a(row) == pytest.approx(float(alone.plate_peak_a[0]), rel=1e-6), row
        assert state.node_v("B1", row) == pytest.approx(float(alone.dc_v[0, 0]), rel=1e-6)
    assert state.plate_peak_a("high") > 1.1 * float(state.run(state.mains.high, np.array([10.0]), row="high").plate_peak_a[0])


def test_the_rounds_between_tubes_and_supplies_see_it_too(point):
    """The volts at the adverse end are those of 12 µF in the circuit as well as in the waveforms."""
    found = point(load_="load_ohm = 1500")
    assert found.get("B1", "dc_v").most == pytest.approx(found.main.node_v("B1", "high"), rel=0.01)
    assert found.get("B1", "dc_v").design == pytest.approx(found.main.node_v("B1", "design"), rel=0.01)


def test_the_coarse_supply_of_the_rounds_has_20_percent_more_at_high_mains_only(point):
    """A half-wave supply of 10 µF at 0.2 A: what the rounds take it for is what the full sum gives, with 12 µF at high mains."""
    state = point(load_="load_a = 0.2").main
    amps, ratio = np.full((1, len(ALWAYS)), 0.2), np.array([[state.mains.high if c.adverse else 1.0 if c.mains == "design" else state.mains.today
                                                            for c in ALWAYS]])
    open_v, slope = output_of([state], ALWAYS, ratio, amps)
    for corner, volts in zip(ALWAYS, (open_v - slope * amps)[0], strict=True):
        at = {uf: float(state.run(float(ratio[0, ALWAYS.index(corner)]), np.array([uf]), row="today").dc_v[0, 0]) for uf in (10.0, 12.0)}
        assert volts == pytest.approx(at[12.0 if corner.adverse else 10.0], rel=5e-3), corner
        assert abs(at[12.0] - at[10.0]) > 0.05 * at[10.0], "so that the one is not taken for the other"


def test_a_good_tube_drops_less_at_the_adverse_end(point):
    """10 % of spread of the drop (practice): the perveance is 0.9^-1.5 times as large."""
    state = point("full-wave", 50, rectifier="V9").main
    assert state.device.least_drop_perveance == pytest.approx(state.device.perveance * 0.9**-1.5)
    high = state.run(state.mains.high, np.array([12.0]), row="high", least_drop=True)
    assert state.plate_peak_a("high") == pytest.approx(float(high.plate_peak_a[0]), rel=1e-6)


@pytest.mark.parametrize(("circuit", "volts"), [("half-wave", 1), ("full-wave", 1), ("bridge", 1), ("doubler", 2), ("half-wave doubler", 2)])
def test_without_load_the_crest(point, circuit, volts):
    """By hand: the crest less a diode's 0.8 V, in a bridge two of them; twice that in a doubler."""
    found = point(circuit, parts="C2,10 µF 450 V,reservoir,B1,,\n").main
    drop = 1.6 if circuit == "bridge" else 0.8
    for ratio in (found.mains.today, found.mains.high, 1.0):
        assert found.crest_v(ratio) == pytest.approx(volts * (math.sqrt(2) * 110 * ratio - drop), abs=1.1 * volts)
    assert found.no_load_v("B1") == pytest.approx(found.crest_v(found.mains.high), rel=0.01)


def test_a_bleeder_counts_where_nothing_else_draws(point):
    """200 ohm drain the reservoir so much that the node never sees the crest, whatever the tubes do."""
    found = point(ohms=100, load_="", parts="R5,2k 20W,bleeder,B1,,\n").main
    assert found.no_load_v("B1") < 0.97 * found.crest_v(found.mains.high)
    assert found.cold_start_v("B1") == found.no_load_v("B1")


def test_switched_on_at_the_crest(point):
    amps = point(ohms=50).main.switch_on_a()
    for row, volts in (("today", 115), ("high", 120), ("design", 110)):
        assert amps[row] == pytest.approx((math.sqrt(2) * volts - 0.8) / 50, rel=0.005), row


def test_at_lowered_mains_loads_follow_their_volts(point):
    """A load of tubes goes as the volts to the 1.5; at full mains it is today's."""
    state = point(uf="100 µF").main
    volts, amps = stepped(state, [state.mains.today, 0.5])
    assert volts[0, 0] == pytest.approx(state.today_v("B1"), rel=5e-3) and amps[0] == pytest.approx(0.1, rel=5e-3)
    assert amps[1] == pytest.approx(0.1 * (volts[1, 0] / volts[0, 0]) ** 1.5, rel=5e-3) and volts[1, 0] < 0.6 * volts[0, 0]


def test_ohms_in_series_bring_the_volts_down(point):
    state = point().main
    volts = in_series(state, [0, 50, 200], state.device.threshold_v).dc_v[:, 0]
    assert volts[0] == pytest.approx(state.today_v("B1"), rel=1e-3) and volts[0] > volts[1] > volts[2]


def test_about_the_volts_before_anything_is_solved(point):
    state = point().main
    assert state.about_v == pytest.approx(0.9 * state.crest_v(1.0))


def test_a_reading_of_a_supply_that_cannot_be_worked_out_stands(make_unit, catalogue):
    toml = MAINS + SUPPLY.format(rectifier="D1", circuit="half-wave", ohms=5, load="load_a = 0.1").replace("secondary_ohm = 5\n", "")
    folder = make_unit(toml, PARTS.format(uf="10 µF"))
    (folder / "readings.csv").write_text("at,reading,value\nB1,DC,140 V\n", encoding="utf-8")
    found = operating_point(load(folder, catalogue), catalogue)
    volts, ripple = found.get("B1", "dc_v"), found.get("B1", "ripple_v")
    assert (volts.value, volts.low, volts.high, volts.origin, volts.missing) == (140, 140, 140, "measured", "")
    assert ripple.value is None and "resistance is not given" in ripple.missing and ripple.mend
    assert found.get("B1", "load_a").value is None


def test_measured_microfarads_come_first(point, make_unit, catalogue):
    toml = MAINS + SUPPLY.format(rectifier="D1", circuit="half-wave", ohms=5, load="load_a = 0.1")
    parts = PARTS.format(uf="10 µF").replace("reservoir,B1,,", "reservoir,B1,31 uF,")
    assert operating_point(load(make_unit(toml, parts), catalogue), catalogue).main.reservoir_uf == 31


@pytest.mark.parametrize(("reading", "amps"), [("1 kohm", 0.01), ("", 0.02)])
def test_a_tube_of_which_only_readings_are_known(make_unit, catalogue, reading, amps):
    """10 V over the resistor: 20 mA by its marked 500 ohm, 10 mA by its measured 1 kohm."""
    parts = f'V1,12AX7,,,"plate 150 V, cathode 10 V",\nR1,500 ohm,cathode,V1A,{reading},'
    found = operating_point(load(make_unit(MAINS, parts.replace("V1A", "V1")), catalogue), catalogue)
    both = [q for q in found.quantities.of("cathode_a") if q.at == "V1"]
    assert both and sum(q.value for q in both) == pytest.approx(amps / (2 if len(both) == 1 else 1)) and all(q.origin == "measured" for q in both)
    assert found.get("R1", "resistor_w").value == pytest.approx(10**2 / (1000 if reading else 500))


def test_a_common_cathode_resistors_reading_is_shared(make_unit, catalogue):
    """10 V over 100 ohm are 100 mA of two tubes, 50 mA each."""
    toml = 'name = "x"\nmains_v = 120\nmains_hz = 60\n[[supply]]\nsource = "battery"\nvolts = 250\n[[supply.node]]\nid = "B1"\n[[stage]]\ntubes = ["V1", "V2"]\nplate = "B1"\n'
    found = operating_point(load(make_unit(toml, "V1,EL84,,,,\nV2,EL84,,,,\nR1,100 ohm 5W,cathode,V1 V2,10 V,"), catalogue), catalogue)
    assert [found.get(ref, "cathode_a").value for ref in ("V1", "V2")] == pytest.approx([0.05, 0.05], rel=1e-3)
    assert found.get("V1", "cathode_a").origin == "measured"


@pytest.mark.parametrize(("dropper", "amps"), [("", 0.15 * (115 / 75.2) ** (0.7 / 1.3)), ("R1,265 ohm 20W,dropper,,,", 0.15)])
def test_a_string_and_its_dropper(make_unit, catalogue, dropper, amps):
    """75.2 V of heaters on 115 V; behind 265 ohm, which take 39.8 V at 0.15 A, they get what they ask."""
    toml = MAINS + '[[string]]\nid = "S1"\namps = 0.15\norder = ["V3", "V2", "V1"]\n' + ('dropper = "R1"\n' if dropper else "")
    parts = "V1,12BE6,,S1,,\nV2,50C5,,S1,,\nV3,12BA6,,S1,,\n" + dropper
    found = operating_point(load(make_unit(toml, parts), catalogue), catalogue).strings["S1"]
    assert float(found.amps[0]) == pytest.approx(amps, rel=2e-3)
    assert set(found.ohms) == {265 if dropper else 0} and found.held is None
