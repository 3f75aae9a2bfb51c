"""The ingest of KiCad's libraries, and the open tables built from it: apart, under their own licence, compared."""

import csv
import json
import os
import shutil
import subprocess
from pathlib import Path

import pytest

from pipeline.build.catalogue import assemble
from pipeline.build.ingest import SYMBOLS, diode_ratings, electrode, ingest, main, parse, symbols, valve_pins
from pipeline.build.run import build
from schemas.tables import TABLES

ROOT = Path(__file__).resolve().parents[2]
VERSION = "6.0.10"


def pin(number, name):
    return f'(pin input line (at 0 0 0) (name "{name}" (effects (font (size 1 1)))) (number "{number}" (effects)))'


LIBRARY = f"""(kicad_symbol_lib (version 20211014) (generator kicad_symbol_editor)
  (symbol "ECC81" (property "ki_description" "double triode") (symbol "ECC81_0_1" (polyline))
    (symbol "ECC81_1_1" {pin(6, "A")} {pin(7, "G")} {pin(8, "K")})
    (symbol "ECC81_2_1" {pin(1, "A")} {pin(2, "G")} {pin(3, "K")})
    (symbol "ECC81_3_1" {pin(4, "F1")} {pin(5, "F1")} {pin(9, "F2")}))
  (symbol "ECC83" (extends "ECC81") (property "ki_description" "a \\"magic\\" one")))
"""
DIODES = """(kicad_symbol_lib (version 20211014)
  (symbol "1N4007" (property "Value" "1N4007") (property "ki_keywords" "diode")
    (property "ki_description" "1000V 1A General Purpose Rectifier Diode, DO-41"))
  (symbol "MMSD4148" (extends "1N4007") (property "ki_description" "100V 200mA Switching Diode, SOD-123"))
  (symbol "SB140" (extends "1N4007") (property "ki_description" "40V 1A Schottky Barrier Rectifier Diode, DO-41"))
  (symbol "B250C1500G" (property "ki_description" "Single-Phase Bridge Rectifier, 250V Vrms, 1.5A If, WOG package")
    (property "ki_keywords" "rectifier acdc diode bridge"))
  (symbol "BZX" (extends "1N4007") (property "ki_description" "12V, 500mW, 2%, Zener diode, MiniMELF"))
  (symbol "DB3" (extends "1N4007") (property "ki_description" "32V 2A Bidirectional trigger diode, DO-35"))
  (symbol "BAV70" (extends "1N4007") (property "ki_description" "Dual 100V 215mA high-speed switching diodes")))
"""


@pytest.fixture
def library(tmp_path):
    (tmp_path / "Valve.kicad_sym").write_text(LIBRARY, encoding="utf-8")
    (tmp_path / "Diode.kicad_sym").write_text(DIODES, encoding="utf-8")
    (tmp_path / "Diode_Bridge.kicad_sym").write_text("(kicad_symbol_lib (version 20211014))", encoding="utf-8")
    return tmp_path


def test_brackets_become_lists():
    assert parse('(a "b c" (d 1.5 "say \\"so\\"") "")') == [["a", "b c", ["d", "1.5", 'say "so"'], ""]]


@pytest.mark.parametrize("text", ["(a (b)", "(a))"])
def test_brackets_must_match(text):
    with pytest.raises(ValueError, match="bracket"):
        parse(text)


def test_what_is_no_library_is_refused(tmp_path):
    (tmp_path / "x.kicad_sym").write_text("(kicad_pcb)", encoding="utf-8")
    with pytest.raises(ValueError, match="not a KiCad symbol library"):
        symbols(tmp_path / "x.kicad_sym")


@pytest.mark.parametrize(("printed", "ours"), [
    ("A", "p"), ("A3", "p"), ("P", "p"), ("K", "k"), ("G", "g"), ("G2", "g2"), ("K_G3", "k+g3"), ("G2_G4", "g2+g4"),
    ("K/G5", "k+g5"), ("F1", "h"), ("F+,G3", "h+g3"), ("S", "is"), ("L", "target"), ("ST", "deflector"), ("X9", "x9")])
def test_pin_names_in_our_words(printed, ours):
    assert electrode(printed) == ours


def test_pins_of_a_symbol_and_of_its_alias(library):
    rows = list(valve_pins(library / "Valve.kicad_sym"))
    first = {(r["symbol_unit"], r["pin"]): r["electrode"] for r in rows if r["symbol"] == "ECC81"}
    second = {(r["symbol_unit"], r["pin"]): r["electrode"] for r in rows if r["symbol"] == "ECC83"}
    assert first == second == {("1", "6"): "p", ("1", "7"): "g", ("1", "8"): "k", ("2", "1"): "p", ("2", "2"): "g",
                               ("2", "3"): "k", ("3", "4"): "h", ("3", "5"): "h", ("3", "9"): "h"}
    assert {r["note"] for r in rows} == {"", "drawn as ECC81"}


def test_volts_and_amps_from_descriptions(library):
    rows = {r["symbol"]: r for r in diode_ratings(library / "Diode.kicad_sym")}
    read = {name: (r["kind"], r.get("piv_max_v"), r.get("ac_v"), r["forward_max_a"]) for name, r in rows.items()}
    assert read == {"1N4007": ("silicon", "1000", None, "1"), "MMSD4148": ("silicon", "100", None, "0.2"),
                    "SB140": ("schottky", "40", None, "1"), "B250C1500G": ("bridge", None, "250", "1.5")}


def test_the_files_are_raw_tables_in_their_one_form(library, tmp_path):
    from pipeline.build.tidy import tidied

    for path, name in zip(ingest(library, tmp_path / "raw"), ("open_pins", "open_diodes"), strict=True):
        assert path == tmp_path / "raw/open/kicad" / name / "symbols.csv"
        assert tidied(path.read_bytes(), TABLES[name]) == path.read_bytes()


def test_missing_libraries_are_told_in_one_line(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["ingest", "--symbols", str(tmp_path), "--raw", str(tmp_path / "raw")])
    assert main() == 2
    said = capsys.readouterr()
    assert said.out == "" and said.err.count("\n") == 1 and "Valve.kicad_sym" in said.err or "Diode" in said.err


def test_the_committed_files_are_what_the_libraries_give(tmp_path):
    """Only with the library release the files were made from: another release may draw other symbols."""
    query = shutil.which("dpkg-query")
    shown = subprocess.run([query, "-W", "-f", "${Version}", "kicad-symbols"], capture_output=True, text=True,
                           check=False).stdout if query else ""
    if not shown.startswith(VERSION) or not SYMBOLS.is_dir():
        if os.environ.get("CI") == "true" and not SYMBOLS.is_dir():
            pytest.fail("kicad-symbols is not installed, and in CI it must be")
        pytest.skip(f"kicad-symbols {VERSION} is not installed here (found {shown or 'none'})")
    for path in ingest(SYMBOLS, tmp_path):
        assert path.read_bytes() == (ROOT / "data_raw" / path.relative_to(tmp_path)).read_bytes()


SOURCES = ("source_id,title,publisher,year,edition,kind,licence,found_at\nbook,A Book,,1950,,handbook,,\n"
           "kicad-symbols,KiCad symbol libraries,,,,open dataset,CC-BY-SA 4.0,\n")


def raw_table(folder, name, **cells):
    table = TABLES[name]
    path = folder / table.family / name / "a.csv"
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, table.columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerow({"source_id": "book", "locator": "page 1", "evidence": "published"} | cells)


@pytest.fixture
def raw(library, tmp_path):
    """A catalogue of one tube and one diode beside the open tables of the tiny library."""
    folder = tmp_path / "raw"
    (folder / "sources").mkdir(parents=True)
    (folder / "sources/a.csv").write_text(SOURCES, encoding="utf-8")
    raw_table(folder, "tubes", type="12AX7", function="twin triode", base="noval", basing="9A", heating="heater",
              heater_v="12.6", heater_a="0.15")
    raw_table(folder, "designations", designation="ECC83", type="12AX7", system="maker", nearness="same")
    raw_table(folder, "basings", basing="9A", base="noval",
              pins="1:t2_p 2:t2_g 3:t2_k 4:h 5:h 6:t1_p 7:t1_g 8:t1_k 9:h_ct")
    raw_table(folder, "diodes", type="1N4007", kind="silicon", piv_max_v="1000", forward_max_a="1")
    ingest(library, folder)
    return folder


def differing(raw):
    return [(d["table"], d["subject"], d["quantity"], d["chosen_value"], d["other_value"])
            for d in assemble(raw)["open_disagreements"].to_pylist() if d["other_source"] == "kicad-symbols"]


def test_open_tables_stand_apart(raw, tmp_path):
    build(raw, tmp_path / "out")
    package = json.loads((tmp_path / "out/datapackage.json").read_text(encoding="utf-8"))
    licences = {r["name"]: [each["name"] for each in r.get("licenses", package["licenses"])]
                for r in package["resources"]}
    assert licences["open_pins"] == licences["open_diodes"] == ["CC-BY-SA-4.0"]
    assert {name for name, each in licences.items() if each != ["CC0-1.0"]} == {"open_pins", "open_diodes", "open_disagreements"}
    tables = assemble(raw)
    assert "kicad-symbols" not in tables["figures"].column("source_id").to_pylist()
    assert set(zip(tables["open_pins"].column("symbol").to_pylist(), tables["open_pins"].column("type").to_pylist(),
                   strict=True)) == {("ECC81", None), ("ECC83", "12AX7")}


def test_agreement_leaves_no_trace(raw):
    assert differing(raw) == []


@pytest.mark.parametrize(("pins", "found"), [
    ("1:t2_g 2:t2_p 3:t2_k 4:h 5:h 6:t1_p 7:t1_g 8:t1_k 9:h_ct", [
        ("pins", "12AX7/1", "electrode", "t2_g", "p"), ("pins", "12AX7/2", "electrode", "t2_p", "g")]),
    ("1:t1_p 2:t2_g 3:t2_k 4:h 5:h 6:t2_p 7:t1_g 8:t1_k 9:h_ct", [
        ("pins", "12AX7/7", "section", "t1", "t2, part 1"), ("pins", "12AX7/2", "section", "t2", "t1, part 2")]),
    ("1:t2_p 2:t2_g 3:t2_k 4:h 5:h 6:t1_p 7:t1_g 8:t1_k", [("pins", "12AX7/9", "electrode", "not named", "h")]),
])
def test_a_pin_that_differs_stands_in_disagreements(raw, pins, found):
    raw_table(raw, "basings", basing="9A", base="noval", pins=pins)
    assert differing(raw) == found


def test_a_diode_that_differs_stands_in_disagreements(raw):
    raw_table(raw, "diodes", type="1N4007", kind="silicon", piv_max_v="100", forward_max_a="1")
    assert differing(raw) == [("diodes", "1N4007", "piv_max_v", "100", "1000")]
