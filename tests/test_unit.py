"""Bad unit folders: a clear message for each fault, with file and line, exit status 2 and no traceback."""

import subprocess
import sys
from pathlib import Path

import pytest

from pipeline.unit import UnitError, load

TOML = """name = "Made up for a test"
mains_v = 121
mains_hz = 60
design_mains_v = 117

[[winding]]
id = "H1"
volts = 6.3
amps = 2.0
"""
PARTS = "V1,12AX7,,H1,,\n"

BAD_TOML = {
    "broken": ("mains_v = = 3", "unit.toml:1:", "not valid TOML"),
    "no mains": ('mains_hz = 60', "unit.toml:1:", "mains_v: is missing"),
    "absurd": (TOML.replace("121", "12100"), "unit.toml:2:", "cannot be right"),
    "negative": (TOML.replace("amps = 2.0", "amps = -2.0"), "unit.toml:9:", "cannot be right"),
    "text for a number": (TOML.replace("121", '"121 V"'), "unit.toml:2:", "without quotation marks"),
    "not a number": (TOML.replace("121", "nan"), "unit.toml:2:", "no number"),
    "unknown key": (TOML.replace("mains_hz", "mains_herz"), "unit.toml:3:", "did you mean mains_hz?"),
    "winding twice": (TOML + '[[winding]]\nid = "H1"\nvolts = 5\n', "unit.toml:11:", "stands twice"),
    "winding as table": ('mains_v = 121\nmains_hz = 60\n[winding]\nid = "H1"\n', "unit.toml:3:", "double brackets"),
    "unknown circuit": (TOML + '[supply]\nrectifier = "V1"\ncircuit = "fullwave3"\nsecondary_v = 300\n',
                        "unit.toml:12:", "one of half-wave"),
    "no such rectifier": (TOML + '[supply]\nrectifier = "V7"\n', "unit.toml:11:", "did you mean V1?"),
    "node from nowhere": (TOML + '[supply]\nrectifier = "V1"\ncircuit = "full-wave"\nsecondary_v = 300\n'
                          '[[supply.node]]\nid = "B1"\n[[supply.node]]\nid = "B2"\nfrom = "B9"\n',
                          "unit.toml:18:", "no node above"),
    "empty": ("", "unit.toml:1:", "empty"),
}
BAD_PARTS = {
    "missing column": ("ref,role\nV1,\n", "parts.csv:1:", "column marking is missing"),
    "unknown column": ("ref,marking,rolle\nV1,12AX7,\n", "parts.csv:1:", "did you mean role?"),
    "ref twice": ("ref,marking\nV1,12AX7\nV1,12AU7\n", "parts.csv:3:", "line 2"),
    "no marking": ("ref,marking\nV1,\n", "parts.csv:2:", "marking: empty"),
    "winding nobody defined": ("ref,marking,role,at\nV1,12AX7,,H7\n", "parts.csv:2:", "did you mean H1?"),
    "role unknown": ("ref,marking,role,at\nC1,16 by 450,resavoir brake,\n", "parts.csv:2:", "role:"),
    "no unit": ("ref,marking,role,at,measured\nV1,12AX7,,H1,plate 248\n", "parts.csv:2:", "measured:"),
    "too many cells": ("ref,marking\nV1,12AX7,x,y\n", "parts.csv:2:", "4 cells under 2 columns"),
    "empty": ("", "parts.csv:1:", "empty"),
}


@pytest.mark.parametrize("case", BAD_TOML)
def test_bad_toml(case, make_unit, catalogue):
    toml, where, what = BAD_TOML[case]
    with pytest.raises(UnitError) as error:
        load(make_unit(toml, PARTS), catalogue)
    assert where in str(error.value) and what in str(error.value), str(error.value)
    assert all(message.isprintable() for message in error.value.messages)


@pytest.mark.parametrize("case", BAD_PARTS)
def test_bad_parts(case, make_unit, catalogue):
    parts, where, what = BAD_PARTS[case]
    folder = make_unit(TOML, PARTS)
    (folder / "parts.csv").write_text(parts, encoding="utf-8")
    with pytest.raises(UnitError) as error:
        load(folder, catalogue)
    assert where in str(error.value) and what in str(error.value), str(error.value)


@pytest.mark.parametrize(("data", "what"), [
    ("ref,marking\nC1,16 µF\n".encode("cp1252"), "not UTF-8"),
    (b"PK\x03\x04\0\0", "not a text file"),
])
def test_bad_encoding(data, what, make_unit, catalogue):
    folder = make_unit(TOML, PARTS)
    (folder / "parts.csv").write_bytes(data)
    with pytest.raises(UnitError, match=what):
        load(folder, catalogue)


def test_no_folder(tmp_path, catalogue):
    with pytest.raises(UnitError, match="no such unit folder"):
        load(tmp_path / "nowhere", catalogue)


def test_command_gives_one_line_and_status_two(tmp_path):
    done = subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "check", str(tmp_path)],
                          cwd=Path(__file__).parents[1], capture_output=True, text=True, check=False)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1 and "unit.toml" in done.stderr and "Traceback" not in done.stderr


def test_a_good_unit_loads(make_unit, catalogue):
    unit = load(make_unit(TOML, PARTS), catalogue)
    assert unit.windings["H1"].amps == 2.0
    assert unit.parts["V1"].line == 2


def test_the_column_kind_says_what_a_marking_does_not(catalogue, make_unit):
    header = "ref,marking,role,at,measured,note,kind"
    folder = make_unit("mains_v = 120\nmains_hz = 60\n", "X1,Hammond 270FX,,,,,trafo\nX2,470k,,,,,pot\nT1,5 k,,,,,resistor", header)
    parts = load(folder, catalogue).parts
    assert [part.kind for part in parts.values()] == ["transformer", "potentiometer", "resistor"]


def test_a_kind_that_is_none_is_told_with_its_line(catalogue, make_unit):
    folder = make_unit("mains_v = 120\nmains_hz = 60\n", "X1,foo,,,,,gizmo", "ref,marking,role,at,measured,note,kind")
    with pytest.raises(UnitError, match=r"parts.csv:2: kind: unknown kind 'gizmo'"):
        load(folder, catalogue)
