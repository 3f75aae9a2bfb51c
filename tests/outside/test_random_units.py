"""Random units through all that is done with findings: whatever the circuit, advice is given or refused in words."""

from pathlib import Path

import pytest
from random_units import Tables, draw
from support import some

from pipeline.bench.bringup import LAMP, bring_up
from pipeline.bench.replacements import advise
from pipeline.checks.check import check
from pipeline.checks.findings import VERDICTS
from pipeline.output.sheet import sheet
from pipeline.unit import load

BUILT = Path(__file__).resolve().parents[2] / "data_built"


@pytest.fixture(scope="module")
def tables():
    return Tables(BUILT)


@pytest.mark.long
@pytest.mark.parametrize("number", some(8, range(40)))
def test_a_random_unit_is_advised(tmp_path, catalogue, tables, number):
    checked = check(load(draw(1935, number, tables).write(tmp_path), catalogue), catalogue)
    lines = advise(checked, catalogue).buy
    assert all(x.verdict in VERDICTS and x.why and (x.value is None or x.value > 0) for x in lines)
    assert bring_up(checked, catalogue, LAMP).steps and checked.unit.name in sheet(checked, catalogue)
