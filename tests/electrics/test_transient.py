"""Hot switching against ngspice, added resistance against it."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from support import some

from pipeline.electrics import (
    added_ohm_for_switching,
    hot_switching,
    perveance,
)
from tests.electrics import ngspice

KINDS = ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")
TUBE = perveance(50, 0.125)


@ngspice.needed()
@pytest.mark.parametrize("circuit", some(2, KINDS))
@pytest.mark.parametrize("options", [{"perveance": 3.5e-4}, {"threshold_v": 0.8}])
def test_hot_switching_agrees_with_ngspice(circuit, options):
    given, phases = (circuit, 350.0, 60.0, 75.0, 20e-6), (0, 50, 80, 90, 100, 270)
    found = [ngspice.hot_switching(*given, **options, phase_deg=phase) for phase in phases]
    assert_allclose(hot_switching(circuit, 350, 75, **options), max(found), rtol=0.02)


def test_hot_switching_tends_to_peak_over_resistance():
    assert_allclose(hot_switching("bridge", 100, [10.0, 20.0]), np.sqrt(2) * np.array([10.0, 5.0]))
    with pytest.raises(ValueError, match="^source_ohm: "):
        hot_switching("bridge", 100, 0)
    assert np.isfinite(hot_switching("bridge", 100, 0, perveance=TUBE))


@pytest.mark.parametrize("circuit", KINDS)
@pytest.mark.parametrize("options", [{"perveance": TUBE}, {"threshold_v": 0.8}])
def test_added_ohm_for_switching_meets_the_rating(circuit, options):
    rating = 0.9
    added = added_ohm_for_switching(circuit, 350, [5.0, 1000.0], rating, **options)
    assert added[0] > 0 and added[1] == 0
    assert_allclose(hot_switching(circuit, 350, 5.0 + added[0], **options), rating)
