"""The record: readings of any number of days beside the parts; the latest count, the earlier are their course."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from bench_units import TRANSFORMER, checked_unit

from pipeline.bench.compare import compare, compare_record, latest_of, measured, without_record
from pipeline.point.point import operating_point
from pipeline.unit import UnitError, UnitReading, load, load_readings
from pipeline.unit.readings import with_added

ROOT = Path(__file__).resolve().parents[2]
TOML = TRANSFORMER.replace("load_a = 0.050", 'tubes = ["V1"]')
PARTS = """V1,6V6GT,,H1,,
V5,EZ80,rectifier,H1,,
R1,1k 5W,dropping,B2,,
R2,330 ohm 2W 10%,cathode,V1,,
C1,32 uF 450 V,reservoir,B1,,
C2,32 uF 450 V,smoothing,B2,,
C3,0.1 uF 630 V,coupling,B2,,
"""
BEFORE = "at,reading,value,date,by,condition,mains\nB1,,210 V,2026-10-03,AB,,120\nC3,leakage,0.4 mA,2026-10-03,AB,cold,\n"


@pytest.fixture
def folder(make_unit):
    return make_unit(TOML, PARTS)


def run(*words):
    return subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "compare", *map(str, words)],
                          cwd=ROOT, capture_output=True, text=True, check=False, env={**os.environ, "COLUMNS": "100"})


def test_the_latest_count_and_the_earlier_stay(folder, catalogue):
    text = BEFORE + "B1,,280 V,2026-11-20,AB,,120\nC3,leakage,1 µA,2026-11-20,AB,cold,\n"
    (folder / "readings.csv").write_text(text, encoding="utf-8")
    found = compare_record(load(folder, catalogue), catalogue)
    assert [(r.reading.at, r.reading.value, r.verdict) for r in found.rows] == [
        ("B1", 280, "within"), ("C3", pytest.approx(1e-6), "within")]
    assert [[(c.reading.date, c.verdict) for c in each] for each in found.course] == [
        [("2026-10-03", "low"), ("2026-11-20", "within")], [("2026-10-03", "high"), ("2026-11-20", "within")]]
    day = found.as_dict()["course"][0]["days"][0]
    assert found.as_dict()["course"][0]["at"] == "B1" and (day["date"], day["by"], day["value"]) == (
        "2026-10-03", "AB", 210)
    assert found.status == 0, "what was out of band before is no longer counted"


def test_another_days_mains_are_brought_to_todays(folder, catalogue):
    """270 V at 108 V are 300 V at 120 V: volts follow the mains."""
    checked = checked_unit(lambda *_: folder, catalogue, TOML, PARTS)
    volts = next(q.expected_high for q in checked.point.quantities.of("dc_v") if q.at == "B1")
    reading = UnitReading("B1", "dc_v", volts * 0.95, 2, mains=108.0)
    assert compare(checked, [reading], catalogue).rows[0].verdict == "high"
    assert compare(checked, [reading._replace(mains=None)], catalogue).rows[0].verdict == "within"


def test_a_small_number_as_a_spreadsheet_shows_it(folder, catalogue):
    (folder / "readings.csv").write_text("at,reading,value\nC3,leakage,4e-07\nB1,ripple,\"1,7E-05\"\n", encoding="utf-8")
    found = load(folder, catalogue).readings
    assert [r.value for r in found] == [pytest.approx(4e-7), pytest.approx(1.7e-5)]


def test_of_one_file_the_latest_day_counts():
    of = [UnitReading("B1", "dc_v", 1, 2, date="2026-11-02"), UnitReading("B1", "dc_v", 2, 3, date="2026-10-02"),
          UnitReading("B1", "dc_v", 3, 4), UnitReading("V1", "cathode_v", 4, 5, section="A"),
          UnitReading("V1", "cathode_v", 5, 6, section="B"), UnitReading("B1", "dc_v", 6, 7, condition="lamp")]
    latest, earlier = latest_of(of)
    assert [r.value for r in latest] == [1, 4, 5, 6] and [r.value for r in earlier] == [2, 3]


def test_a_sections_reading_is_judged_by_its_own(make_unit, catalogue, tmp_path):
    toml = TRANSFORMER + '[[stage]]\ntubes = ["V1A", "V1B"]\nplate = "B2"\n'
    parts = PARTS.replace("V1,6V6GT,,H1,,", "V1,ECC83,,H1,,").replace("R2,330 ohm 2W 10%,cathode,V1,,", "") + \
        "R3,100k,plate load,V1A,,\nR4,100k,plate load,V1B,,\nR5,1k5,cathode,V1A,,\nR6,2k7,cathode,V1B,,\n"
    checked = checked_unit(make_unit, catalogue, toml, parts)
    volts = [checked.point.get("V1", "cathode_v", s).expected for s in "AB"]
    path = tmp_path / "r.csv"
    path.write_text(f"at,reading,value\nV1A,cathode,{volts[0]:.3f} V\nV1B,cathode,{volts[1]:.3f} V\n"
                    f"V1,plate,200 V\n", encoding="utf-8")
    rows = compare(checked, load_readings(path, checked.unit), catalogue).rows
    assert [r.verdict for r in rows[:2]] == ["within", "within"] and volts[0] != pytest.approx(volts[1], rel=0.05)
    assert rows[0].as_dict()["at"] == "V1A" and rows[2].expected.at == "V1A"


def test_kept_readings_are_added_and_nothing_else_moves(folder, catalogue):
    path = folder / "readings.csv"
    path.write_bytes("\ufeffAt;Reading;Value;Note\r\nB1;;210,5 V;as found\r\n".encode())
    unit = load(folder, catalogue)
    added = [UnitReading("V1", "cathode_v", 12.25, 3, date="2026-11-20", by="AB", mains=121.0),
             UnitReading("C3", "leakage_a", 4e-7, 4, date="2026-11-20", condition="cold")]
    text = with_added(path, unit, added)
    assert text == ("At;Reading;Value;Note;date;by;condition;mains\r\nB1;;210,5 V;as found;;;;\r\n"
                    "V1;cathode_v;12,25;;2026-11-20;AB;;121\r\nC3;leakage_a;0,0000004;;2026-11-20;;cold;\r\n")
    with pytest.raises(UnitError, match="stands already"):
        with_added(path, unit, [*added, added[0]])


def test_command_without_a_file_uses_the_record(folder, tmp_path):
    none = run(folder)
    assert none.returncode == 2 and "no readings yet" in none.stderr and len(none.stderr.splitlines()) == 1
    given = tmp_path / "day.csv"
    given.write_text("at,reading,value\nB1,,210 V\nC3,,0.4 mA\n", encoding="utf-8")
    first = run(folder, given, "--keep", "--date", "2026-10-03", "--by", "AB")
    assert first.returncode == 1, first.stderr
    given.write_text("at,reading,value\nB1,,280 V\nC3,,1 µA\nmains,,120 V\n", encoding="utf-8")
    again = run(folder, given, "--keep", "--date", "2026-11-20", "--by", "AB")
    assert again.returncode == 0 and "BEFORE AND AFTER" in again.stdout
    assert "210 V low (2026-10-03, AB), then 280 V (2026-11-20, AB)" in " ".join(again.stdout.split())
    course = json.loads(run(folder, "--format", "json").stdout)["course"]
    assert [d["value"] for d in course[0]["days"]] == [210, 280]
    twice = run(folder, given, "--keep", "--date", "2026-11-20")
    assert twice.returncode == 2 and "stands already" in twice.stderr
    assert run(folder, given, "--keep", "--date", "20.11.26").returncode == 2
    assert (folder / "readings.csv").read_text(encoding="utf-8").count("B1") == 2


def test_what_the_record_says_of_a_part_is_its_own(folder, catalogue):
    """A leak of 0.4 mA in a coupling capacitor is judged by `check` too; the day after it was renewed no longer."""
    (folder / "readings.csv").write_text(BEFORE, encoding="utf-8")
    assert load(folder, catalogue).parts["C3"].measured == {"leakage_a": pytest.approx(4e-4)}
    (folder / "readings.csv").write_text(BEFORE + "C3,leakage,1 µA,2026-11-20,,cold,\n", encoding="utf-8")
    unit = load(folder, catalogue)
    assert unit.parts["C3"].measured == {"leakage_a": pytest.approx(1e-6)}
    assert not without_record(unit).parts["C3"].measured


def test_two_days_volts_of_a_tube_make_no_third(folder, catalogue):
    """An old plate reading beside a new cathode one would burn watts that the tube never burnt."""
    text = "at,reading,value,date\nV1,plate,150 V,2026-10-03\nV1,cathode,9 V,2026-10-03\nV1,cathode,14 V,2026-11-20\n"
    (folder / "readings.csv").write_text(text, encoding="utf-8")
    unit = load(folder, catalogue)
    point = operating_point(unit, catalogue)
    assert point.readings.of(("V1", None)) == {"cathode_v": 14}
    assert point.get("V1", "plate_v").origin == "solved"
    after = measured(without_record(unit), list(unit.readings))
    assert after.parts["V1"].measured == {"cathode_v": 14}
