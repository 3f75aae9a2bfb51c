"""Readings: read forgivingly, refused with file and line, judged against their bands, causes in order."""

import contextlib
import csv
import io
import json
import re
import subprocess
import sys
from pathlib import Path

import pandas
import pytest
from bench_units import SELENIUM, TRANSFORMER, checked_unit

from pipeline.bench.bringup import LAMP, NEITHER, VARIABLE, bring_up
from pipeline.bench.compare import compare, measured
from pipeline.bench.expected import expected
from pipeline.checks.check import check
from pipeline.output.bench import print_bringup
from pipeline.point.what_if import aged_v
from pipeline.unit import UnitError, load, load_readings

ROOT = Path(__file__).resolve().parents[2]
PARTS = """V1,6V6GT,,H1,,
V5,EZ80,rectifier,H1,,
R1,1k 5W,dropping,B2,,
R2,250 ohm 1W 10%,cathode,V1,,
C1,32 uF 450 V,reservoir,B1,,
C2,32 uF 450 V,smoothing,B2,,
C3,0.1 uF 630 V,coupling,B2,,
"""
TUBES = TRANSFORMER.replace("load_a = 0.050", 'tubes = ["V1"]')


@pytest.fixture
def unit(make_unit, catalogue):
    return checked_unit(make_unit, catalogue, TUBES, PARTS)


def readings_of(text, unit, tmp_path, header="at,reading,value"):
    path = tmp_path / "readings.csv"
    path.write_text(f"{header}\n{text}\n", encoding="utf-8")
    return load_readings(path, unit.unit)


@pytest.mark.parametrize(
    ("line", "at", "reading", "value"),
    [
        ("B1,dc_v,262", "B1", "dc_v", 262),
        ("b1,,262 V", "B1", "dc_v", 262),
        ("B1,B+,0.262 kV", "B1", "dc_v", 262),
        ("B2,ripple,120 mV", "B2", "ripple_v", 0.12),
        ('B1,ripple rms,"2,5"', "B1", "ac_v", 2.5),
        ("H1,,6.5 V", "H1", "ac_v", 6.5),
        ("mains,,121 V", "mains", "ac_v", 121),
        ("V1,cathode,12.5 V", "V1", "cathode_v", 12.5),
        ("V1,,anode 248 V", "V1", "plate_v", 248),
        ("V1,g1,-0.2", "V1", "grid_v", -0.2),
        ("R2,ohms,270", "R2", "ohms", 270),
        ("R2,,0.27 k", "R2", "ohms", 270),
        ("R1,,9.5 V", "R1", "volts", 9.5),
        ("C1,,31 uF", "C1", "uf", 31),
        ('C3,leakage,"0,38 mA"', "C3", "leakage_a", 0.00038),
        ("C1,,4 ohm ESR", "C1", "esr_ohm", 4),
        ("supply,,48 mA", "supply", "dc_a", 0.048),
    ],
)
def test_readings_are_read_as_people_write_them(unit, tmp_path, line, at, reading, value):
    found = readings_of(line, unit, tmp_path)[0]
    assert (found.at, found.reading) == (at, reading) and found.value == pytest.approx(value)


def test_other_column_names_and_blank_lines(unit, tmp_path):
    found = readings_of("B1,dc_v,262\n,,\nV1,cathode,12 V", unit, tmp_path, "node,quantity,value")
    assert [r.line for r in found] == [2, 4]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("B9,dc_v,262", r"readings.csv:2: at: 'B9' is no node.*did you mean"),
        (",dc_v,262", "2: at: ''"),
        ("B1,colour,262", "2: reading: 'colour' is not known"),
        ("B1,dc_v,", "2: value: empty"),
        ("B1,,262", "2: value: .*no unit"),
        ("B1,dc_v,about three", "2: value"),
        ("B1,dc_v,nan", "2: value"),
        ("B1,dc_v,12 ohm", "cannot be dc_v"),
        ("B1,dc_v,262\nb1,,263 V", "3: B1 dc_v stands already on line 2"),
        ("C3,leakage,0,38 mA", "2: 4 cells under 3"),
        ('B1,dc_v,"=1+1"', "2: value"),
        ('B1,dc_v,"1 V, 2 V"', "value"),
    ],
)
def test_bad_readings_name_line_and_column(unit, tmp_path, text, said):
    with pytest.raises(UnitError, match=said):
        readings_of(text, unit, tmp_path)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "1: the file is empty"),
        (b"at,reading\nB1,2\n", "column value"),
        (b"at,reading,value,wat\n", "unknown column"),
        (b"at,node,value\n", "stands twice"),
        (b"\xff\xfea\0", "UTF-16"),
        (b"at,value\nB1,\xe9\n", "not UTF-8"),
        (b"at,value\n" + b'"' + b"x" * 200_000 + b'"\n', "CSV"),
    ],
)
def test_bad_files(unit, tmp_path, data, said):
    path = tmp_path / "readings.csv"
    path.write_bytes(data)
    with pytest.raises(UnitError, match=said):
        load_readings(path, unit.unit)
    with pytest.raises(UnitError, match="no such file"):
        load_readings(tmp_path / "none.csv", unit.unit)


def test_bands_and_causes(unit, catalogue, tmp_path):
    """A node 30 % low is out, one at its value is in; a tube rectifier's wear is a cause, selenium's is not."""
    today = unit.state.today_v("B1")
    found = compare(
        unit,
        readings_of(f"B1,dc_v,{today * 0.7:.1f}\nB2,dc_v,{unit.state.today_v('B2'):.1f}", unit, tmp_path),
        catalogue,
    )
    assert [r.verdict for r in found.rows] == ["low", "within"] and found.status == 1
    causes = [c.cause for c in found.rows[0].causes]
    assert "rectifier tube worn" in causes and not any("selenium" in c for c in causes)
    assert all(c.evidence == "practice" and c.measure_next for c in found.rows[0].causes)
    assert not found.rows[1].causes


def test_aged_selenium_comes_first(make_unit, catalogue, tmp_path):
    unit = checked_unit(
        make_unit, catalogue, SELENIUM, "SR1,selenium 65 mA,rectifier,,,\nC1,40 uF 150 V,reservoir,B1,,"
    )
    found = compare(unit, readings_of("B1,,90 V", unit, tmp_path), catalogue)
    assert found.rows[0].causes[0].cause == "selenium rectifier aged"


def test_what_an_aged_selenium_stack_gives_is_told(make_unit, catalogue):
    """Five cells of 26 V (Sams, Metallic Rectifiers, 1957) drop about 1 V each new and 3 V aged (trade rule, recalled)."""
    checked = checked_unit(
        make_unit, catalogue, SELENIUM, "SR1,selenium 65 mA,rectifier,,,\nC1,40 uF 150 V,reservoir,B1,,"
    )
    new, aged = checked.state.today_v("B1"), aged_v(checked.state)["B1"]
    assert new - aged == pytest.approx(5 * (3 - 1), rel=0.2)
    node = next(x for x in expected(checked) if (x.at, x.reading) == ("B1", "dc_v"))
    assert f"aged selenium rectifier gives about {aged:.0f} V" in node.why
    assert "selenium cell aged drop" in {f.subject for f in node.rests_on}


def test_high_cathode_points_at_the_coupling_capacitor(unit, catalogue, tmp_path):
    volts = next(x.value for x in expected(unit) if (x.at, x.reading) == ("V1", "cathode_v"))
    found = compare(unit, readings_of(f"V1,cathode,{volts * 1.5:.1f} V", unit, tmp_path), catalogue)
    assert found.rows[0].verdict == "high" and "coupling capacitor" in found.rows[0].causes[0].cause


def test_readings_become_measured_and_the_findings_follow(unit, catalogue, tmp_path):
    """25 V on 250 ohm is 100 mA: far above a 6V6's dissipation, and 2.5 W in a 1 W resistor (Ohm's law)."""
    readings = readings_of("V1,cathode,25 V\nV1,plate,250 V", unit, tmp_path)
    after = measured(unit.unit, readings)
    assert after.parts["V1"].measured == {"cathode_v": 25, "plate_v": 250}
    found = compare(unit, readings, catalogue)
    judged = check(after, catalogue)
    stops = {f.check for f in judged.findings if f.verdict == "stop"}
    assert {"dissipation", "resistor-power"} <= stops and found.status == 1
    assert "resistor-power" in {f.check for f in found.findings if f.verdict == "stop"}
    loaded = judged.state
    assert not loaded.estimated and loaded.load_a("today") == pytest.approx(0.110, rel=0.01)


def test_a_reading_of_nothing_expected_is_unknown(unit, catalogue, tmp_path):
    found = compare(unit, readings_of("C1,ac_v,3 V", unit, tmp_path), catalogue)
    assert found.rows[0].verdict == "unknown" and found.status == 3


def test_every_place_of_the_causes_table_can_be_met(unit, catalogue, make_unit):
    """Each row of `causes` is of a place and reading that `expected` gives, so none is dead."""
    selenium = checked_unit(
        make_unit, catalogue, SELENIUM, "SR1,selenium 65 mA,rectifier,,,\nC1,40 uF 150 V,reservoir,B1,,"
    )
    radio = check(load(ROOT / "data_raw/units/hall-amplifier", catalogue), catalogue)
    met = {(x.place, x.reading) for u in (unit, selenium, radio) for x in expected(u)}
    for row in catalogue.rows("causes"):
        assert (row["place"].split(",")[0], row["reading"]) in met, row


@pytest.mark.long
def test_command(tmp_path):
    path = tmp_path / "readings.csv"
    words = [
        sys.executable,
        "-c",
        "from pipeline.cli import main; main()",
        "compare",
        "data_raw/units/record-player",
        path,
    ]

    def run(text, *more):
        path.write_text("at,reading,value\n" + text, encoding="utf-8")
        return subprocess.run([*words, *more], cwd=ROOT, capture_output=True, text=True)

    good = run("B1,dc_v,268\n", "--format", "json")
    assert good.returncode == 0 and json.loads(good.stdout)["readings"][0]["verdict"] == "within"
    low = run("B1,dc_v,180\n", "--format", "csv")
    assert low.returncode == 1
    (tmp_path / "out.csv").write_text(low.stdout, encoding="utf-8")
    frame = pandas.read_csv(tmp_path / "out.csv")
    assert frame.loc[0, "verdict"] == "low" and frame.loc[0, "low"] > 180
    bad = run("B7,dc_v,180\n")
    assert bad.returncode == 2 and f"{path}:2: at:" in bad.stderr and len(bad.stderr.splitlines()) == 1


def written(unit, catalogue, way, tmp_path, **read):
    """The file that `bringup --format csv` writes, its column `read` filled in by step, place and reading."""
    made = bring_up(unit, catalogue, way)
    path = tmp_path / "bringup.csv"
    with contextlib.redirect_stdout(io.StringIO()) as out:
        print_bringup(made, "csv")
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    for row in rows:
        usual = row["value"] or row["low"] or str(float(row["high"] or 0) / 2)
        row["read"] = read.get(f"{row['at']}_{row['reading']}_{row['step']}", usual) if row["at"] else ""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0])
        writer.writeheader()
        writer.writerows(rows)
    return path, rows


@pytest.mark.parametrize("way", [LAMP, VARIABLE, NEITHER])
def test_what_bringup_writes_is_read_back(unit, catalogue, tmp_path, way):
    path, rows = written(unit, catalogue, way, tmp_path)
    found = compare(unit, load_readings(path, unit.unit), catalogue)
    filled = [r for r in rows if r["read"]]
    assert [(r.reading.at, r.reading.reading) for r in found.rows] == [(r["at"], r["reading"]) for r in filled]
    assert {r.verdict for r in found.rows} == {"within"}, "the very values to expect are out of no band"


def test_a_reading_on_the_lamp_is_judged_by_its_step_and_never_enters_the_unit(unit, catalogue, tmp_path):
    # 12 V at B1 on the lamp is low there; at full mains nobody read B1
    path, rows = written(unit, catalogue, LAMP, tmp_path, B1_dc_v_4="12", B1_dc_v_6="", V1_cathode_v_6="40 V")
    readings = load_readings(path, unit.unit)
    found = {(r.reading.at, r.reading.reading, r.reading.condition): r for r in compare(unit, readings, catalogue).rows}
    low = found["B1", "dc_v", "lamp"]
    assert low.verdict == "low" and low.expected.why.startswith("On the lamp: ")
    assert found["B1", "dc_v", "warming"].verdict == "within" and ("B1", "dc_v", "full") not in found
    assert measured(unit.unit, readings).parts["V1"].measured["cathode_v"] == 40
    assert found["V1", "cathode_v", "full"].verdict == "high"
    (plain,) = readings_of("B1,dc_v,12,lamp", unit, tmp_path, "at,reading,value,condition")
    assert compare(unit, [plain], catalogue).rows[0].expected == low.expected


@pytest.mark.parametrize(("change", "said"), [
    (lambda text: text, "nothing is filled in"),
    (lambda text: re.sub(r"(?m)^(6,.*),B1,(dc_v,.*),$", r"\1,B9,\2,5", text), "'B9' is no node")])
def test_a_spoiled_bringup_file_says_where(unit, catalogue, tmp_path, change, said):
    path = tmp_path / "bringup.csv"
    with contextlib.redirect_stdout(io.StringIO()) as out:
        print_bringup(bring_up(unit, catalogue, LAMP), "csv")
    path.write_text(change(out.getvalue()), encoding="utf-8")
    with pytest.raises(UnitError, match=said):
        load_readings(path, unit.unit)
