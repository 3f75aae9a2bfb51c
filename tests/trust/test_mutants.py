"""The program that puts faults into the code: what it makes is a fault, and only one."""

import ast

import pytest
from benchmarks.mutants import COPIED, STOREYS, modules
from benchmarks.mutating import chosen, mutants
from benchmarks.noticing import Server, outermost
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


def test_what_is_copied_is_there():
    assert all((ROOT / name).exists() for name in COPIED)


def test_which_of_two_wordings_is_told_is_no_fault():
    found = mutants('def f(x):\n    return "far" if x > 3 else f"near {x}"\n')
    assert found == [] and mutants('def f(x):\n    return "stop" if x > 3 else f"near {x}"\n')


def test_a_fault_over_several_lines_moves_no_line():
    text = "def f(x):\n    return min(x,\n               3)\n\n\ndef g(x):\n    return x\n"
    changed = [m for m in mutants(text) if m.after == "(max(x, 3))"][0].of(text)
    assert changed.index("def g") - text.index("def g") == len(changed) - len(text) and changed.count("\n") == text.count("\n")


@pytest.mark.parametrize(("old", "new", "exchanged"), [
    ("def f(x):\n    return x + 1\n", "def f(x):\n    return x - 1\n", ["f"]),
    ("class A:\n    def f(self):\n        return [x + 1 for x in self]\n", "class A:\n    def f(self):\n        return [x - 1 for x in self]\n", ["A.f"]),
    ("N = 1\n\ndef f(x):\n    return x\n", "N = 2\n\ndef f(x):\n    return x\n", None),
    ("def f(x=1):\n    return x\n", "def f(x=2):\n    return x\n", None),
    ("N = [x + 1 for x in (1, 2)]\n", "N = [x - 1 for x in (1, 2)]\n", None)])
def test_only_a_fault_in_a_body_is_put_into_the_function_at_hand(tmp_path, old, new, exchanged):
    path = tmp_path / "one.py"
    path.write_text(new)
    found = Server(None, None).changed(path, old.encode())
    assert found is None if exchanged is None else [code.co_qualname for code in found] == exchanged
    if exchanged:
        functions, _ = outermost(compile(old, str(path), "exec"))
        assert set(found) == set(functions.values())
