"""What a stage's readings say."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import bias as b


def test_plate_current_and_dissipation():
    plate, screen = b.split_cathode_current(0.053, 0.049, 0.004)
    assert_allclose([plate, screen], [0.049, 0.004])
    assert_allclose(b.dissipation(257.5, 7.5, 0.049), 12.25)
    with pytest.raises(ValueError, match="electrode_v"):
        b.dissipation(10, 20, 0.01)


def test_resistor_power():
    assert b.resistor_power([14.2, -14.2], 200) == (
        pytest.approx([14.2**2 / 200] * 2), pytest.approx([14.2**2 / 100] * 2))


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1.0, "x"])
@pytest.mark.parametrize("call, name", [
    (lambda v: b.dissipation(100, 1, v), "electrode_a"), (lambda v: b.resistor_power(1, v), "ohms"),
])
def test_bad_numbers_name_the_argument(call, name, bad):
    with pytest.raises(ValueError, match=name):
        call(bad)
