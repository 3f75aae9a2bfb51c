"""What to expect is the operating point's own; a fault is no target; fed back it says nothing new."""

import sys
from decimal import Decimal
from pathlib import Path

import pytest
from bench_units import LINE, WINDING, checked_unit
from support import some

from pipeline.bench.compare import compare
from pipeline.bench.expected import expected
from pipeline.checks.check import check
from pipeline.unit import load, load_readings

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/outside"))
STAGES = WINDING + """
[[supply]]
source = "battery"
volts = 300
[[supply.node]]
id = "B1"
[[stage]]
tubes = ["V1A"]
plate = "B1"
[[stage]]
tubes = ["V2"]
plate = "B1"
"""
PARTS = """V1,ECC83,,H1,,
V2,EL84,,H1,,
R1,100k,plate load,V1A,,
R2,1.5k,cathode,V1A,,
R3,{ohms} ohm 5W,cathode,V2,,
"""


def by_place(checked):
    return {(x.at, x.reading): x for x in expected(checked)}


def test_electrodes_are_those_of_the_point_by_section(make_unit, catalogue):
    checked = checked_unit(make_unit, catalogue, STAGES, PARTS.format(ohms=270))
    found = by_place(checked)
    for name in ("plate_v", "cathode_v"):
        own, known = checked.point.get("V1", name, "A"), found["V1A", name]
        assert (known.value, known.low, known.high) == (own.expected, own.expected_low, own.expected_high)
        assert known.low < known.value < known.high and known.rests_on
    assert "V1A" in {x.at for x in found.values()} and ("V1", "plate_v") not in found
    assert found["R3", "volts"].value == pytest.approx(found["V2", "cathode_v"].value)
    assert found["V1A", "grid_v"].value is None and found["V1A", "grid_v"].high == 0.3, "a grid at chassis"
    assert "mA through R2" in found["V1A", "cathode_v"].why


def test_what_is_read_does_not_move_what_is_expected(make_unit, catalogue):
    plain = by_place(checked_unit(make_unit, catalogue, STAGES, PARTS.format(ohms=270)))
    worn = PARTS.format(ohms=270).replace("V2,EL84,,H1,,", 'V2,EL84,,H1,cathode 5 V,')
    again = by_place(checked_unit(make_unit, catalogue, STAGES, worn))
    assert again["V2", "cathode_v"].value == pytest.approx(plain["V2", "cathode_v"].value, rel=1e-6)


def test_a_finding_stands_beside_what_it_stops(make_unit, catalogue):
    """EL84: 12 W (Philips, 3.3.1955, page 6); on 82 ohm at 300 V it burns far more."""
    found = by_place(checked_unit(make_unit, catalogue, STAGES, PARTS.format(ohms=82)))
    assert "burns" in found["V2", "cathode_v"].beside and not found["V1A", "cathode_v"].beside
    sound = by_place(checked_unit(make_unit, catalogue, STAGES, PARTS.format(ohms=270)))
    assert not any(x.beside for x in sound.values())


def test_a_wrong_string_gives_no_heater_volts_to_aim_at(catalogue):
    """The demo radio's V2 takes 0.3 A in a 0.15 A string: what that leaves it, or the others, is a fault."""
    radio = check(load(ROOT / "data_raw/units/table-radio", catalogue), catalogue)
    assert "V2" in {f.subject for f in radio.findings if f.check == "heater-string" and f.verdict == "stop"}
    found = by_place(radio)
    assert not any(reading == "heater_v" for _, reading in found)
    assert not any(at == "V2" and reading != "heater_v" for at, reading in found)
    amplifier = check(load(ROOT / "data_raw/units/hall-amplifier", catalogue), catalogue)
    assert ("V1", "heater_v") in by_place(amplifier)


def test_a_winding_that_is_fed_with_dc_is_read_with_dc(make_unit, catalogue):
    toml = LINE.replace("mains_v = 120\nmains_high_v = 126\nmains_hz = 60\ndesign_mains_v = 117\n", "") + """
[[winding]]
id = "H1"
volts = 1.4
[[supply]]
source = "battery"
volts = 1.5
heats = "H1"
[[supply.node]]
id = "A1"
"""
    found = by_place(checked_unit(make_unit, catalogue, toml, "V1,1T4,,H1,,"))
    assert found["H1", "dc_v"].value == pytest.approx(1.5, rel=0.01) and ("mains", "ac_v") not in found


def fed_back(checked, catalogue, folder):
    """The comparison of the very values to expect."""
    lines = {(x.at, x.reading): f"{x.at},{x.reading},{Decimal(f'{x.value:.6g}'):f}" for x in expected(checked) if x.value is not None}
    path = folder / "fed.csv"
    path.write_text("at,reading,value\n" + "\n".join(lines.values()) + "\n", encoding="utf-8")
    return compare(checked, load_readings(path, checked.unit), catalogue)


def says_nothing_new(checked, catalogue, folder):
    known = {(f.check, f.subject) for f in checked.findings if f.verdict == "stop"}
    found = fed_back(checked, catalogue, folder)
    new = [f for f in found.findings if f.verdict == "stop" and (f.check, f.subject) not in known]
    assert not new, new
    assert {r.verdict for r in found.rows} <= {"within"}, [r for r in found.rows if r.verdict != "within"]


@pytest.mark.parametrize("folder", sorted(p.name for p in (ROOT / "data_raw/units").iterdir()))
def test_expected_values_fed_back_give_no_stop_that_check_did_not(folder, catalogue, tmp_path):
    checked = check(load(ROOT / "data_raw/units" / folder, catalogue), catalogue)
    if checked.point.readings.any:
        pytest.skip("its own readings stand against the sum")
    says_nothing_new(checked, catalogue, tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("number", some(6, range(40)))
def test_expected_values_of_random_units_fed_back(number, catalogue, tmp_path):
    from random_units import Tables, draw

    from pipeline.records import replace

    unit = load(draw(77, number, Tables(ROOT / "data_built")).write(tmp_path), catalogue)
    parts = {ref: replace(part, measured={}) for ref, part in unit.parts.items()}
    says_nothing_new(check(replace(unit, parts=parts), catalogue), catalogue, tmp_path)
