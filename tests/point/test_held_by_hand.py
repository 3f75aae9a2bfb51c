"""Small sums of the operating point, each by hand: shared resistors, sections known from readings alone, ladders, taps."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from pipeline.catalogue import Figure
from pipeline.notation.reading import Reading
from pipeline.point.heaters import RatedHeater, heater_in_string, heater_on_winding, load_of
from pipeline.point.nodes import missing_nodes
from pipeline.point.point import operating_point
from pipeline.point.tapped import Tap, tap_of
from pipeline.point.tree import LADDER_UF, chain_shares, ladder_uf, node_uf, reservoir_uf, section_uf, series_of
from pipeline.unit import Part, Place, load

BATTERY = """name = "Invented"
mains_v = 120
mains_high_v = 126
mains_hz = 60
design_mains_v = 120
[[supply]]
source = "battery"
volts = 250
[[supply.node]]
id = "B1"
{node}
"""


@pytest.fixture
def worked(make_unit, catalogue):
    def worked(parts, stage="", node="load_a = 0.001", toml=BATTERY):
        text = toml.format(node=node) + (f"[[stage]]\n{stage}\n" if stage else "")
        return operating_point(load(make_unit(text, parts), catalogue), catalogue)

    return worked


# currents from readings -----------------------------------------------------------------------------------------------

@pytest.mark.parametrize(("tubes", "each"), [(1, 0.070), (2, 0.035), (3, 0.0233333)])
def test_tubes_share_what_their_cathode_resistor_carries(worked, tubes, each):
    """7 V across 100 ohm are 70 mA, of one tube, or a half or a third of each."""
    refs = [f"V{n}" for n in range(1, tubes + 1)]
    parts = "".join(f"{ref},EL84,,,,\n" for ref in refs) + "R1,100 2W,,,7 V,\nR2,470k,grid leak,V1,,"
    point = worked(parts, f'tubes = {refs}\nplate = "B1"\ncathode_through = "R1"'.replace("'", '"'))
    for ref in refs:
        found = point.get(ref, "cathode_a")
        assert (found.value, found.origin) == (pytest.approx(each, rel=1e-3), "measured")


def test_a_plate_load_tells_the_plates_share_only(worked):
    """EF86, 100 kohm and 100 V across it: 1 mA of plate; the screen's share of the cathode current comes on top."""
    point = worked("V1,EF86,,,,\nR1,100k,plate load,V1,100 V,\nR3,390k,screen,V1,,\nR2,1k,cathode,V1,,", 'tubes = ["V1"]\nplate = "B1"')
    plate, cathode, screen = (point.get("V1", name).value for name in ("plate_a", "cathode_a", "screen_a"))
    assert plate == pytest.approx(1e-3, rel=2e-3) and cathode == pytest.approx(plate + screen) and screen > 1e-4


@pytest.mark.parametrize(("ohms", "measured"), [("5k", True), ("4.9k", False)])
def test_a_small_plate_load_tells_nothing(worked, ohms, measured):
    volts = {"5k": 25.0, "4.9k": 24.5}[ohms]
    point = worked(f"V1,12AU7,,,,\nR1,{ohms},plate load,V1A,{volts} V,\nR2,1k,cathode,V1A,,", 'tubes = ["V1A"]\nplate = "B1"')
    found = point.get("V1", "cathode_a", "A")
    assert (found.origin == "measured") == measured
    assert not measured or found.value == pytest.approx(0.005, rel=1e-3)


@pytest.mark.parametrize(("r1", "ohms"), [("R1,120,cathode,V1,,", 120.0), ("R1,120,cathode,V1,100 ohm,", 100.0), ("R1,120,cathode,V1,150 ohm,", 150.0)])
def test_a_tube_in_no_circuit_is_told_by_its_readings(worked, r1, ohms):
    """The ohms that were measured count before those that are marked; a pentode's screen takes its published share."""
    found = worked(f"V1,EL84,,,\"plate 250 V, cathode 6 V, screen 250 V\",\n{r1}")
    amps = found.get("V1", "cathode_a")
    assert (amps.value, amps.least, amps.most, amps.design, amps.origin) == (*(pytest.approx(6 / ohms),) * 4, "measured")
    plate = found.get("V1", "plate_a").value
    assert 0.85 < plate / amps.value < 0.95, "EL84 (sheet, recalled): 48 of 53.5 mA"
    assert found.get("V1", "plate_w").value == pytest.approx(244 * plate)
    assert found.get("R1", "resistor_v").value == 6 and found.get("R1", "resistor_w").value == pytest.approx(36 / ohms)
    assert found.get("V1", "plate_v").value == 250 and found.get("V1", "plate_a").rests_on and not found.get("R1", "resistor_w").rests_on


def test_ohms_nobody_knows_leave_its_watts_unknown(worked):
    found = worked('V1,EL84,,,"plate 250 V, cathode 6 V",\nR1,?,cathode,V1,,').get("V1", "plate_w")
    assert found is None or (found.value is None and found.missing and found.mend)


def test_nodes_of_a_supply_nobody_can_work_out_keep_their_readings():
    state = SimpleNamespace(nodes=[SimpleNamespace(id="B1"), SimpleNamespace(id="B2")], held={"B1": 240.0}, missing="why", mend="how")
    found = {(q.at, q.quantity): q for q in missing_nodes(state)}
    assert set(found) == {(at, name) for at in ("B1", "B2") for name in ("dc_v", "ripple_v", "cold_start_v", "load_a")}
    read = found.pop(("B1", "dc_v"))
    assert (read.value, read.low, read.high, read.origin, read.missing, read.mend) == (240, 240, 240, "measured", "", "")
    assert all((q.value, q.missing, q.mend) == (None, "why", "how") for q in found.values())


# the filter as a tree -------------------------------------------------------------------------------------------------

def test_first_capacitors_to_try_are_the_ladder_and_the_one_fitted():
    assert list(ladder_uf(None)) == [] and list(ladder_uf(0.0)) == []
    assert list(ladder_uf(22.0)) == sorted(LADDER_UF) and list(ladder_uf(30.0)) == sorted([*LADDER_UF, 30.0])
    assert LADDER_UF == (4.7, 8, 10, 16, 20, 22, 33, 40, 47, 50, 68, 100, 150, 220), "E6 of IEC 60063 and the old trade values between"


@pytest.fixture
def parted(make_unit, catalogue):
    return lambda parts, node="": load(make_unit(BATTERY.format(node=node), parts), catalogue)


def test_microfarads_of_a_place(parted):
    unit = parted("C1,16+8 uF 450 V,,B1,,\nC2,10 uF 450 V,,B1,12 uF,\nC3,?,,B1,,\nR1,1k,,,,\nC4,4 uF 450 V,,B1,,")
    assert [section_uf(Place("C1", s), unit) for s in ("A", "B", None)] == [16, 8, 16] and section_uf(Place("C2"), unit) == 12
    assert [section_uf(Place(ref), unit) for ref in ("C3", "R1", "C9")] == [None] * 3
    node = lambda *chains: SimpleNamespace(capacitors=[tuple(map(Place, c.split("+"))) for c in chains])  # noqa: E731
    assert node_uf(node("C2", "C4"), unit) == 16 and node_uf(node("C2+C4"), unit) == pytest.approx(3) and node_uf(node(), unit) is None
    assert node_uf(node("C2", "C3"), unit) is None and node_uf(node("C2+C4", "C4"), unit) == pytest.approx(7)


@pytest.mark.parametrize(("circuit", "chains", "uf"), [
    ("doubler", ["C1", "C2"], 30.0), ("doubler", ["C1+C2"], 30.0), ("doubler", ["C1", "C3"], None), ("doubler", [], None),
    ("half-wave doubler", ["C1", "C2"], 60.0), ("full-wave", ["C1", "C2"], 60.0), ("full-wave", ["C1", "C3"], None)])
def test_first_capacitor_of_a_doubler_is_one_half(parted, circuit, chains, uf):
    unit = parted("C1,20 uF 450 V,,,,\nC2,40 uF 450 V,,,,\nC3,?,reservoir,,,")
    node = SimpleNamespace(capacitors=[tuple(map(Place, c.split("+"))) for c in chains])
    assert reservoir_uf(SimpleNamespace(nodes=[node], circuit=circuit), unit) == uf


@pytest.mark.parametrize(("parts", "shares"), [
    ("C1,20 uF 300 V,,,,\nC2,20 uF 300 V,,,,", [0.6, 0.6]), ("C1,20 uF 300 V,,,,\nC2,60 uF 300 V,,,,", [0.9, 0.3]),
    ("C1,10 uF 300 V,,,,\nC2,90 uF 300 V,,,,", [1.0, 0.12]),
    ("C1,20 uF 300 V,,,,\nC2,20 uF 300 V,,,,\nR1,100k 1W 5%,balance,C1,,\nR2,300k 1W 5%,balance,C2,,", [105 / 390, 315 / 410]),
    ("C1,20 uF 300 V,,,,\nC2,20 uF 300 V,,,,\nR1,100k 1W 5%,balance,C1,,", [0.6, 0.6]),
    ("C1,20 uF 300 V,,,,\nC2,20 uF 300 V,,,,\nR1,100k 1W,balance,C1,100k,\nR2,300k 1W,balance,C2,300k,", [0.25, 0.75])])
def test_shares_of_capacitors_in_series(parted, catalogue, parts, shares):
    """In the inverse ratio of their microfarads, a fifth more at the ends of the tolerances (IEC 60384-4, recalled).

    With a resistor across each: one at the high end of its tolerance, the other at the low one.
    """
    assert chain_shares((Place("C1"), Place("C2")), parted(parts), catalogue.allowances) == pytest.approx(shares)
    assert chain_shares((Place("C1"),), parted(parts), catalogue.allowances) == [1.0]


@pytest.mark.parametrize(("through", "found"), [
    (None, (0.0, 0.0)), ("X9", None), ("R1", (1000.0, 0.0)), ("R2", (900.0, 0.0)), ("L1", (100.0, 5.0)), ("L2", (0.0, 8.0)), ("R3", None)])
def test_what_feeds_a_node(parted, through, found):
    unit = parted("R1,1k,,,,\nR2,1k,,,900 ohm,\nR3,?,dropping,,,\nL1,5 H 100 ohm choke,,,,\nL2,8 H choke,,,,")
    assert series_of(SimpleNamespace(through=through), unit) == found


# heaters --------------------------------------------------------------------------------------------------------------

def test_the_arrangement_of_a_heater_nearest_to_what_feeds_it(parted):
    """12AX7 (sheet, recalled): 12.6 V 0.15 A, or 6.3 V 0.3 A; nearest in volts on a winding, in amperes in a string."""
    unit = parted("V1,12AX7,,,,\nV2,35W4,,,,\nLA1,#47,,,,\nLA2,6.3 V 0.3 A lamp,,,,\nLA3,?,lamp,,,")
    tube = unit.parts["V1"]
    assert [heater_on_winding(tube, v).volts.value for v in (5.0, 6.3, 9.4, 9.5, 12.6, 20.0)] == [6.3, 6.3, 6.3, 12.6, 12.6, 12.6]
    assert [heater_in_string(tube, a).volts.value for a in (0.1, 0.15, 0.22, 0.23, 0.3, 0.45)] == [12.6, 12.6, 12.6, 6.3, 6.3, 6.3]
    assert heater_in_string(unit.parts["V2"], 0.15).volts.value == 35, "never the lamp's tap"
    assert [load_of(unit.parts[ref], 6.3).most.value for ref in ("V1", "LA1", "LA2")] == pytest.approx([0.3, 0.15, 0.3])
    assert load_of(unit.parts["LA3"], 6.3) is None and load_of(tube, 6.3).said == "V1 0.3"


def heater(ref, volts, amps):
    return RatedHeater(Part(ref, "lamp", reading=Reading(kind="lamp")), Figure(ref, "lamp_v", volts, "V", "measured", ""), Figure(ref, "lamp_a", amps, "A", "measured", ""))


def test_lamps_across_a_tap_draw_as_their_law_says():
    """A lamp's amperes go with the 0.55th power of its volts (IES handbook, recalled): 0.15 A at 6.3 V are 0.162 A at 7.2 V."""
    rated = Figure("V1", "heater_v", 7.5, "V", "published", ""), Figure("V1", "heater_a", 0.15, "A", "published", "")
    alone = Tap(Part("V1", "35W4"), *rated, (heater("LA1", 6.3, 0.15),), math.inf)
    assert (alone.lamp_v, alone.lamp_a) == (6.3, 0.15) and len(alone.rests_on) == 4
    two = alone._replace(lamps=(heater("LA1", 7.2, 0.1), heater("LA2", 6.3, 0.15)))
    assert two.lamp_a == pytest.approx(0.1 + 0.15 * (7.2 / 6.3) ** 0.55, rel=0.01) and len(two.rests_on) == 6


@pytest.mark.parametrize(("more", "ohms"), [
    ("", math.inf), ("R1,100,,V1,,shunt across the lamp", 100.0), ("R1,100,,V1,120 ohm,Shunt", 120.0), ("R1,100,,V1,,plate", math.inf),
    ("R1,100,,V1,,shunt\nR2,100,,V1,,shunt", 50.0), ("R1,100,,V2,,shunt", math.inf)])
def test_a_shunt_is_a_resistor_at_the_tube_that_says_so(parted, more, ohms):
    unit = parted(f"V1,35W4,,,,\nV2,50C5,,,,\nLA1,#47,,V1,,\n{more}")
    assert tap_of(unit.parts["V1"], unit).shunt_ohm == pytest.approx(ohms) and tap_of(unit.parts["V2"], unit) is None


def test_a_tap_needs_lamps_that_can_be_read(parted):
    assert tap_of((unit := parted("V1,35W4,,,,")).parts["V1"], unit) is None
    assert tap_of((unit := parted("V1,35W4,,,,\nLA1,#47,,V1,,\nLA2,?,lamp,V1,,")).parts["V1"], unit) is None
    assert np.isinf(tap_of((unit := parted("V1,35W4,,,,\nLA1,#47,,V1,,\nLA2,#40,,V1,,")).parts["V1"], unit).shunt_ohm)
