"""Units worked out together: each has the volts it has alone, and one that fails costs no other."""

import numpy as np
import pytest

from pipeline.bench.folders import unit_folders
from pipeline.point import waves
from pipeline.point.point import operating_point, operating_points
from pipeline.unit import load
from tests.benchmarks.units import ROOT, generate

TOLERANCE = 1e-4
"""Relative; the rounds between tubes and supplies stop within it."""


@pytest.fixture(scope="module")
def units(tmp_path_factory, catalogue):
    root = tmp_path_factory.mktemp("units")
    generate(root, 12)
    return [load(folder, catalogue) for folder in unit_folders(root)]


def test_together_is_as_alone(units, catalogue):
    for unit, together in zip(units, operating_points(units, catalogue), strict=True):
        alone = operating_point(unit, catalogue)
        assert len(alone.quantities) == len(together.quantities)
        for mine in alone.quantities:
            theirs = together.get(mine.at, mine.quantity, mine.section)
            for name in ("value", "low", "high", "least", "most", "design"):
                one, other = getattr(mine, name), getattr(theirs, name)
                assert other == (one if one is None else pytest.approx(one, rel=TOLERANCE, abs=1e-6)), (mine.at, name)


def test_only_supplies_of_one_topology_meet(units, catalogue, monkeypatch):
    calls = []
    real = waves.supply
    monkeypatch.setattr(waves, "supply", lambda *given, **named: calls.append(given) or real(*given, **named))
    points = operating_points(units, catalogue)
    topologies = {(s.supply.circuit, len(s.nodes), s.device.kind, *(b.henries > 0 for b in s.tree), *(s.ohmic > 0))
                  for p in points for s in p.states if s.rectified}
    assert 1 < len(calls) == len(topologies) < len(units)


def test_one_that_fails_costs_no_other(units, catalogue, monkeypatch):
    at = next(i for i, unit in enumerate(units) if unit.supply is not None and i >= 5)
    real, bad = waves.supply, operating_point(units[at], catalogue).main

    def refuses(circuit, v_rms, *given, **named):
        if np.isclose(v_rms, bad.winding_v * bad.mains.today).any():
            raise ArithmeticError("made for the test")
        return real(circuit, v_rms, *given, **named)

    monkeypatch.setattr(waves, "supply", refuses)
    points = operating_points(units, catalogue)
    assert points[at].main.solved is None and "made for the test" in points[at].main.missing and points[at].main.mend
    assert all(p.main.solved is not None and not p.main.missing for i, p in enumerate(points) if i != at and p.main)


def test_a_bias_supply_keeps_its_tolerance_at_the_adverse_end(catalogue):
    """The waveforms that mend a coarse supply know nothing of the tolerance of its volts: it must not go with them.

    By the tolerance's own meaning (allowances): at high mains, with the bias low, the volts of the waveform less it.
    """
    point = operating_point(load(ROOT / "data_raw" / "units" / "fixed-bias-amplifier", catalogue), catalogue)
    bias = next(s for s in point.states if s.sign < 0)
    shares = {"high": ("high", -1), "light": ("high", 1), "today": ("today", 0), "weak": ("today", 1)}
    for corner, (row, side) in shares.items():
        volts = -float(point.volts[point.circuit.row(corner), point.circuit.numbers[bias.nodes[0].id]])
        factor = 1 + side * catalogue.allowances["bias supply tolerance"].value / 100
        assert volts == pytest.approx(factor * float(bias.solved.dc_v[bias.rows[row], 0]), rel=2e-3), corner
