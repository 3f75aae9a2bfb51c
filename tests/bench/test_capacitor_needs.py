"""What a new capacitor must bear: volts by its place and its old rating, ripple by the circuit, microfarads by who may touch it."""

import math

import pytest
from bench_units import checked_unit

from pipeline.bench.needs import need_of
from pipeline.point.supply import HIGH

MAINS = 'name = "Made up"\nmains_v = 115\nmains_high_v = 120\nmains_hz = 60\ndesign_mains_v = 110\n'
SUPPLY = MAINS + '[supply]\nrectifier = "D1"\ncircuit = "{circuit}"\nsecondary_v = 110\nsecondary_ohm = 50\n[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\nload_a = 0.05\n'


@pytest.fixture
def need(make_unit, catalogue):
    """(what the part C1 needs, its unit checked)."""

    def need(toml, parts):
        checked = checked_unit(make_unit, catalogue, toml, parts)
        part = checked.unit.parts["C1"]
        return need_of(part, 0, checked.roles[part.role], [checked]), checked

    return need


@pytest.mark.parametrize(("old", "volts"), [(450, 168.9), (338, 168.9), (337, 337), (200, 200), (150, 168.9)])
def test_the_old_rating_is_matched_unless_it_is_far_too_large(need, old, volts):
    """By hand: the crest at high mains is 168.9 V; more than twice that is no rating anybody chose for the volts there."""
    found, _ = need(SUPPLY.format(circuit="half-wave"), f"C1,40 uF {old} V,reservoir,B1,,\nD1,1N4007,rectifier,,,")
    assert found.volts == pytest.approx(volts, rel=0.003)


@pytest.mark.parametrize(("circuit", "share"), [("half-wave", 0.8), ("full-wave", 1.0), ("bridge", 1.0)])
def test_one_pulse_a_cycle_heats_more(need, circuit, share):
    """Ripple ratings are of 100 or 120 Hz; at mains frequency a part bears 0.8 of it (makers' series, recalled)."""
    found, checked = need(SUPPLY.format(circuit=circuit), "C1,40 uF 350 V,reservoir,B1,,\nD1,1N4007,rectifier,,,")
    assert found.ripple_a == pytest.approx(checked.state.capacitor_rms_a("B1", HIGH) / share, rel=1e-6)


def test_sections_share_the_ripple_by_their_microfarads(need):
    toml = SUPPLY.format(circuit="full-wave").replace('["C1"]', '["C1", "C2"]')
    found, checked = need(toml, "C1,10 uF 350 V,reservoir,B1,,\nC2,30 uF 350 V,reservoir,B1,,\nD1,1N4007,rectifier,,,")
    assert found.ripple_a == pytest.approx(checked.state.capacitor_rms_a("B1", HIGH) / 4, rel=1e-6)


def test_each_half_of_a_doubler_carries_its_own_ripple(need):
    toml = SUPPLY.format(circuit="doubler").replace('["C1"]', '["C1+C2"]')
    found, checked = need(toml, "C1,40 uF 350 V,reservoir,B1,,\nC2,40 uF 350 V,reservoir,B1,,\nD1,1N4007,rectifier,,,")
    assert found.ripple_a == pytest.approx(checked.state.capacitor_rms_a("B1", HIGH), rel=1e-6)


@pytest.mark.parametrize(("marking", "volts"), [(".05 400V", 400), (".05 600V", 600), (".05", None)])
def test_a_film_part_is_rated_as_the_old_one(need, marking, volts):
    assert need(MAINS, f"C1,{marking},coupling,,,")[0].volts == volts


def test_without_a_rating_or_a_place_it_is_taken_for_all_that_b_plus_can_reach(need):
    found, checked = need(SUPPLY.format(circuit="half-wave").replace('["C1"]', '["C9"]'), "C1,.05,coupling,,,\nC9,40 uF 350 V,reservoir,B1,,\nD1,1N4007,rectifier,,,")
    assert found.volts == pytest.approx(math.sqrt(2) * 120 - 0.8, rel=0.003)


@pytest.mark.parametrize(("cathode", "volts"), [("12 V", 25), ("30 V", 30), ("", 25)])
def test_a_bypass_at_a_cathode_that_stands_above_its_rating(need, cathode, volts):
    reading = f"cathode {cathode}" if cathode else ""
    assert need(MAINS, f"V1,6V6GT,,,{reading},\nC1,25 uF 25 V,cathode bypass,V1,,")[0].volts == volts


@pytest.mark.parametrize(("nf", "cautioned", "most"), [(11.0, False, math.inf), (11.1, True, math.inf), (110, True, math.inf), (111, True, 0.01105)])
def test_from_line_to_chassis(need, nf, cautioned, most):
    """IEC 62368-1 table 4: 0.5 mA (read) flow through 11.05 nF at 120 V 60 Hz, 5 mA (recalled) through ten times that."""
    found, _ = need(MAINS, f"C1,{nf}n Y2 250VAC,line to chassis,,,")
    assert found.volts == 120 and found.most_uf == pytest.approx(most, rel=1e-3)
    assert bool(found.caution or found.most_why != "the rectifier bears no more") == cautioned
    if most < 1:
        assert any(f.evidence == "recalled" for f in found.rests_on)


@pytest.mark.parametrize(("role", "marking", "volts"), [("motor run", "4 uF 330 VAC", 330), ("motor run", "4 uF 110 VAC", 144), ("line to line", ".1 X2 275VAC", 120)])
def test_on_the_line(need, role, marking, volts):
    """A motor's auxiliary winding adds a fifth to the mains here (see electrics.drive); an old rating above that is kept."""
    assert need(MAINS, f"C1,{marking},{role},,,")[0].volts == volts
