"""The program that puts faults into the code: what it makes is a fault, and only one."""

import ast

import pytest
from benchmarks.mutants import COPIED, STOREYS, held_by, modules
from benchmarks.mutating import chosen, mutants
from support import ROOT

TEXT = '''"""A module."""
def ripple(volts: float, hertz: float = 50.0) -> str:
    """Not "stop"."""
    if volts * 2 > 100 and not hertz:
        raise ValueError("low")
    return "stop" if min(volts, 3) < 7 else "µ pass"
'''


def test_every_fault_is_one_that_runs():
    found = mutants(TEXT)
    made = [(m.function, m.before, m.after) for m in found]
    assert ("ripple", "volts * 2 > 100", "(volts * 2 >= 100)") in made and ("ripple", "min(volts, 3)", "(max(volts, 3))") in made
    assert ("ripple", '"stop"', "('caution')") in made and not [m for m in made if m[1] in ('"low"', "float", '"µ pass"')]
    for mutant in found:
        text = mutant.of(TEXT)
        ast.parse(text)
        assert text != TEXT and text.count("\n") == TEXT.count("\n")
        other = [n for n, (a, b) in enumerate(zip(TEXT.split("\n"), text.split("\n"), strict=True), 1) if a != b]
        assert other == [mutant.line]


@pytest.mark.long
def test_the_same_seed_picks_the_same_faults_from_every_storey():
    found = modules(tuple(s for s in STOREYS if (ROOT / "pipeline" / s).is_dir()))
    first, again, other = chosen(found, 300, 1), chosen(found, 300, 1), chosen(found, 300, 2)
    assert first == again != other and len({(name, m) for name, m in first}) == 300
    assert {name.split("/")[1] for name, _ in first} == {name.split("/")[1] for name in found}


def test_the_tests_of_a_module_are_those_of_its_storey():
    assert held_by("pipeline/electrics/heaters.py") == ["tests/electrics/test_heaters.py", "tests/electrics"]
    assert all((ROOT / name).exists() for name in COPIED)
