"""Another tube in the stage: everything is run again with it, and what was read with the old one is forgotten."""

import pytest
from bench_units import WINDING, checked_unit

from pipeline.bench.swap import candidates, swap, with_tube
from pipeline.checks.check import check
from pipeline.unit import load

STAGE = WINDING + """
[[supply]]
source = "battery"
volts = 250
[[supply.node]]
id = "B1"
[[stage]]
tubes = ["V1"]
plate = "B1"
"""
PARTS = "V1,EL84,,H1,cathode 8 V,\nR1,{ohms} ohm 5W,cathode,V1,8 V,\n"


def before(make_unit, catalogue, ohms=150, parts=PARTS):
    return checked_unit(make_unit, catalogue, STAGE, parts.format(ohms=ohms))


def test_the_new_tube_stands_in_the_stage(make_unit, catalogue):
    """A 6V6GT on an EL84's 150 ohm: about 12 W is its limit (RCA, 6V6GT), and it burns more there."""
    checked = before(make_unit, catalogue)
    found = swap(checked, "V1", "6V6GT", catalogue)
    changes = {c.what: c for c in found.changes}
    assert found.verdict == "does not fit" and any("burns" in r for r in found.reasons)
    watts = changes["V1 plate dissipation"]
    assert watts.after > 12 and watts.before == pytest.approx(checked.point.get("V1", "plate_w").expected, rel=1e-3)
    assert changes["V1 cathode volts"].unit == "V" and changes["V1 cathode current"].unit == "A"


def test_the_same_tube_by_another_name_changes_nothing(make_unit, catalogue):
    found = swap(before(make_unit, catalogue), "V1", "6BQ5", catalogue)
    assert found.verdict == "fits" and not [c for c in found.changes if c.what.startswith("V1")]


def test_readings_with_the_old_tube_are_forgotten(make_unit, catalogue):
    folder = make_unit(STAGE, PARTS.format(ohms=150))
    (folder / "readings.csv").write_text("at,reading,value\nB1,,240 V\nV1,plate,235 V\nR1,volts,7.5 V\nH1,,6.3 V\n"
                                         "R1,ohms,151 ohm\n", encoding="utf-8")
    unit = with_tube(load(folder, catalogue), "V1", "6V6GT", catalogue)
    assert {(r.at, r.reading) for r in unit.readings} == {("H1", "ac_v"), ("R1", "ohms")}
    assert not unit.parts["V1"].measured and unit.parts["R1"].measured == {"ohms": 151}


def test_a_tube_without_the_section_is_refused_in_words(make_unit, catalogue):
    toml = STAGE.replace('["V1"]', '["V1A"]')
    checked = checked_unit(make_unit, catalogue, toml, "V1,ECC83,,H1,,\nR1,1.5k,cathode,V1A,,\nR2,100k,plate load,V1A,,")
    assert swap(checked, "V1", "EL84", catalogue).verdict == "does not fit"


def test_candidates_come_in_one_order(make_unit, catalogue):
    """What the table of substitutes names comes first and by name, in whatever order a database joins it."""
    before = check(load(make_unit(WINDING, "V3,6L6GC,,H1,,"), catalogue), catalogue)
    may = [r for r in catalogue.rows("substitutes") if r["relation"] in ("drop-in", "conditional")]
    named = {r["substitute"] for r in may if r["type"] == "6L6GC"} | {r["type"] for r in may if r["substitute"] == "6L6GC"}
    assert len(named) > 3 and candidates(before, "V3", catalogue)[:len(named)] == sorted(named)
