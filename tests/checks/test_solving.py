"""Supplies solved together: each has the volts it has alone, and one that fails costs no other."""

import numpy as np
import pytest

from pipeline.bench.folders import unit_folders
from pipeline.checks import solving
from pipeline.checks.mains import mains_of
from pipeline.checks.supply import drafted
from pipeline.unit import load
from tests.benchmarks.units import generate

TOLERANCE = 1e-5
"""Relative; the solver stops within it."""


@pytest.fixture(scope="module")
def units(tmp_path_factory, catalogue):
    root = tmp_path_factory.mktemp("units")
    generate(root, 24)
    return [load(folder, catalogue) for folder in unit_folders(root)]


def drafts(units, catalogue):
    return [drafted(unit, mains_of(unit, catalogue)) for unit in units]


def test_together_is_as_alone(units, catalogue):
    alone, together = drafts(units, catalogue), drafts(units, catalogue)
    for state in alone:
        solving.solve_together([state])
    solving.solve_together(together)
    for one, other in zip(alone, together, strict=True):
        for name in set(one.solved._fields) - {"waveforms"}:
            mine, theirs = getattr(one.solved, name), getattr(other.solved, name)
            assert mine.shape == theirs.shape
            assert theirs == pytest.approx(mine, rel=TOLERANCE, abs=1e-9), name


def test_only_supplies_of_one_topology_meet(units, catalogue, monkeypatch):
    calls = []
    real = solving.supply
    monkeypatch.setattr(solving, "supply", lambda *given, **named: calls.append(given) or real(*given, **named))
    states = drafts(units, catalogue)
    solving.solve_together(states)
    topologies = {(s.supply.circuit, len(s.nodes)) for s in states}
    assert 1 < len(calls) == len(topologies) < len(states)


def test_one_that_fails_costs_no_other(units, catalogue, monkeypatch):
    states = drafts(units, catalogue)
    bad = states[5]
    real = solving.supply

    def refuses(circuit, v_rms, *given, **named):
        if np.isclose(v_rms, bad.supply.secondary_v * bad.mains.today).any():
            raise ArithmeticError("made for the test")
        return real(circuit, v_rms, *given, **named)

    monkeypatch.setattr(solving, "supply", refuses)
    solving.solve_together(states)
    assert bad.solved is None and "made for the test" in bad.missing and bad.mend
    assert all(s.solved is not None and not s.missing for s in states if s is not bad)


def test_what_misses_something_is_left_alone(units, catalogue):
    state = drafts(units[:1], catalogue)[0]
    state.missing = "the winding's resistance is not given"
    solving.solve_together([state])
    assert state.solved is None and state.missing == "the winding's resistance is not given"
