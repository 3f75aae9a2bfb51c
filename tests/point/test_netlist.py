"""The netlist of a unit run in ngspice (https://ngspice.sourceforge.io): every point stands where it was worked out."""

import re
import subprocess

import pytest
from support import ROOT, outside_tool

from pipeline.output.netlist import NetlistError, netlist, vectors
from pipeline.point.point import operating_point
from pipeline.unit import load


def means(text, tmp_path):
    """Mean volts by name, as ngspice measures them over the last cycles."""
    deck = tmp_path / "unit.cir"
    deck.write_text(text, encoding="utf-8")
    done = subprocess.run([outside_tool("ngspice"), "-b", str(deck)], capture_output=True, text=True, timeout=120)
    return {name: float(value) for name, value in re.findall(r"mean_(\w+)\s*=\s*([-+0-9.eE]+)", done.stdout)}


@pytest.mark.parametrize("name", sorted(p.name for p in (ROOT / "data_raw/units").iterdir()))
def test_ngspice_finds_the_demo_units_where_they_were_worked_out(name, catalogue, tmp_path):
    point = operating_point(load(ROOT / "data_raw/units" / name, catalogue), catalogue)
    found = means(netlist(point), tmp_path)
    for vector, number in vectors(point).items():
        volts = float(point.volts[point.circuit.row("today"), number])
        assert found[vector] == pytest.approx(volts, rel=0.01, abs=0.02), vector


def test_a_comment_for_every_part(catalogue):
    unit = load(ROOT / "data_raw/units/record-player", catalogue)
    lines = netlist(operating_point(unit, catalogue)).splitlines()
    for part in unit.parts.values():
        assert any(line.startswith(f"* {part.ref} ") for line in lines), part.ref


def test_what_is_not_known_is_said(make_unit, catalogue):
    unit = load(make_unit('name = "x"\nmains_v = 120\nmains_hz = 60\n', "V1,12AX7,,,,"), catalogue)
    with pytest.raises(NetlistError, match="nothing is worked out"):
        netlist(operating_point(unit, catalogue))
    radio = operating_point(load(ROOT / "data_raw/units/table-radio", catalogue), catalogue)
    with pytest.raises(NetlistError, match="no such corner"):
        netlist(radio, "noon")
