"""The law of a tube from one published point."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics.stages import Law, electrode_amperes, law_of_point

TRIODE = law_of_point(250, -2, 1.2e-3, 1.6e-3, mu=100)
PENTODE = law_of_point(250, -7.3, 0.048, 11.3e-3, screen_v=250, screen_a=5.5e-3, mu_screen=19)


def cathode_a(*given):
    """What plate and screen take together."""
    found = electrode_amperes(*given)
    return found.plate_a + found.screen_a


def test_a_law_goes_through_its_point():
    assert_allclose(cathode_a(TRIODE, 250, None, -2), 1.2e-3)
    found = electrode_amperes(PENTODE, 250, 250, -7.3)
    assert_allclose([found.plate_a, found.screen_a, found.plate_by_grid], [0.048, 5.5e-3, 11.3e-3])
    free = law_of_point(250, -7.3, 0.048, 11.3e-3, screen_v=250, screen_a=5.5e-3)
    assert free.offset_v == 0.3
    assert_allclose(electrode_amperes(free, 250, 250, -7.3).plate_a, 0.048)


def test_a_law_goes_through_a_point_of_low_plate_volts():
    # A 12.6 V car tube and a beam tube whose plate stands far below its screen; figures invented.
    assert_allclose(cathode_a(law_of_point(12.6, -0.5, 1e-3, 1.5e-3, mu=20), 12.6, None, -0.5), 1e-3)
    low = law_of_point(60, -5, 0.1, 8e-3, screen_v=150, screen_a=0.02)
    found = electrode_amperes(low, 60, 150, -5)
    assert_allclose([found.plate_a, found.screen_a], [0.1, 0.02])


def test_a_12ax7_at_its_other_point():
    # RCA sheet, 100 V and -1 V: 0.5 mA (recalled).
    assert_allclose(cathode_a(TRIODE, 100, None, -1), 0.5e-3, rtol=0.01)


@pytest.mark.parametrize("law", [TRIODE, PENTODE, Law(1e-3, 30.0, 12.0, 0.2, 0.15)])
def test_slopes_are_the_derivatives(law):
    rng = np.random.default_rng(5)
    at = np.array([rng.uniform(2, 300, 200), rng.uniform(2, 300, 200), rng.uniform(-12, 1, 200)])
    found = electrode_amperes(law, *at)
    for k in range(3):
        step = np.zeros((3, 1))
        step[k] = 1e-4
        high, low = electrode_amperes(law, *(at + step)), electrode_amperes(law, *(at - step))
        assert_allclose(found[1 + k], (high.plate_a - low.plate_a) / 2e-4, rtol=1e-4, atol=1e-9)
        assert_allclose(found[5 + k], (high.screen_a - low.screen_a) / 2e-4, rtol=1e-4, atol=1e-9)


def test_what_the_plate_does_not_take_the_screen_takes():
    plate = np.array([250.0, 50.0, 10.0, 0.0])
    found = electrode_amperes(PENTODE, plate, 250.0, -7.3)
    assert_allclose(found.plate_a + found.screen_a, cathode_a(PENTODE, 250, 250, -7.3))
    assert np.all(np.diff(found.plate_a) < 0) and found.plate_a[-1] == 0.0
    assert_allclose(cathode_a(TRIODE, 0.0, None, 0.0), 0.0)


@pytest.mark.parametrize("change, name", [
    ({"mu": None}, "mu"), ({"gm_s": 0}, "gm_s"), ({"plate_a": -1}, "plate_a"), ({"grid_v": np.nan}, "grid_v"),
    ({"screen_a": 1e-3}, "screen_v"), ({"screen_v": 100}, "screen_a"), ({"plate_v": "x"}, "plate_v"),
    ({"screen_v": 100, "screen_a": 1e-3, "gm_s": 1.0, "grid_v": -0.2}, "gm_s"),
])  # fmt: skip
def test_bad_figures_are_named(change, name):
    figures = {"plate_v": 250, "grid_v": -2, "plate_a": 1.2e-3, "gm_s": 1.6e-3, "mu": 100} | change
    with pytest.raises(ValueError, match=f"^{name}"):
        law_of_point(**figures)
