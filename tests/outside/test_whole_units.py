"""Whole random units, supplies and stages, in ngspice: every node and electrode where the operating point has it.

Outside source: ngspice (https://ngspice.sourceforge.io). It takes the same laws of tubes from the netlist, and solves
rectifiers, filters and stages by itself, in the time domain. 1 % or 20 mV, 200 units.
"""

from pathlib import Path

import pytest
from electrics.ngspice import needed
from random_stages import draw_whole
from random_units import Tables
from support import some
from whole_units import simulated

from pipeline.output.netlist import netlist, vectors
from pipeline.point.point import operating_point
from pipeline.unit import load

BUILT = Path(__file__).resolve().parents[2] / "data_built"
SEED = 1948


@pytest.fixture(scope="module")
def tables():
    return Tables(BUILT)


@needed()
@pytest.mark.parametrize("number", some(10, range(200)))
def test_every_point_stands_where_it_was_worked_out(tmp_path, catalogue, tables, number):
    drawn = draw_whole(SEED, number, tables)
    point = operating_point(load(drawn.write(tmp_path), catalogue), catalogue)
    assert point.volts is not None, [s.missing for s in point.states]
    found, row = simulated(netlist(point)).volts, point.circuit.row("today")
    assert found
    for name, index in vectors(point).items():
        assert found[name] == pytest.approx(float(point.volts[row, index]), rel=0.01, abs=0.02), (name, drawn.kind)
