"""Stage sums against the worked examples (WE numbers: the reference list)."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import bias as b


def test_cathode_bias_worked_example_20():
    # WE20: RCA 6L6 columns as quoted in an amplifier forum, 2015: 88 mA through 248 ohm, 21.8 V.
    assert_allclose(b.cathode_current(21.8, 248), 0.088, rtol=0.01)


def test_plate_current_and_dissipation():
    plate, screen = b.split_cathode_current(0.053, 0.049, 0.004)
    assert_allclose([plate, screen], [0.049, 0.004])
    assert_allclose(b.plate_current(0.053, 0.004), 0.049)
    assert_allclose(b.dissipation(257.5, 7.5, 0.049), 12.25)
    with pytest.raises(ValueError, match="screen_a"):
        b.plate_current(0.01, 0.02)
    with pytest.raises(ValueError, match="electrode_v"):
        b.dissipation(10, 20, 0.01)


def test_resistor_power():
    assert b.resistor_power([14.2, -14.2], 200) == (
        pytest.approx([14.2**2 / 200] * 2), pytest.approx([14.2**2 / 100] * 2))


def test_diode_slope_worked_example_16():
    # WE16: H. C. Verma, Concepts of Physics vol. 2: 10 mA at 60 V, 3/2 law: 4 kohm.
    assert_allclose(b.dynamic_resistance(60, 0.010), 4000)


def test_triode_shifts_worked_example_17():
    # WE17: Verma, same chapter, Q18 p. 353: rp 10 kohm, mu 20: -7.5 to -5.0 V gives +5 mA, 250 to 200 V
    # takes it away again.
    assert_allclose(b.small_change(10e3, 20, grid_change_v=2.5), 5e-3)
    assert_allclose(b.small_change(10e3, 20, plate_change_v=-50, grid_change_v=2.5), 0, atol=1e-12)


def test_triode_law_worked_example_18():
    # WE18: Verma, same chapter: Ip(uA) = 41 (Vp + 7 Vg)^1.41, 250 V, -20 V; answers derived.
    point = b.triode_point(41e-6, 250, -20, 7, 1.41)
    assert_allclose(point.plate_a, 31.0e-3, rtol=0.005)
    assert_allclose(point.plate_ohm, 2520, rtol=0.005)
    assert_allclose(point.siemens, 2.78e-3, rtol=0.005)
    with pytest.raises(ValueError, match="grid_v"):
        b.triode_point(41e-6, 250, -40, 7, 1.41)


def test_triode_slopes_are_the_derivatives():
    high, low = (b.triode_point(41e-6, 250 + d, -20, 7, 1.41).plate_a for d in (0.01, -0.01))
    assert_allclose(0.02 / (high - low), b.triode_point(41e-6, 250, -20, 7, 1.41).plate_ohm, rtol=1e-6)


def test_perveance_worked_example_19():
    # WE19: D. A. Steck, Analog and Digital Electronics, p. 169: 50 V at 125 mA (5Y3 class); rest derived.
    k = b.power_law_coefficient(50, 0.125)
    assert_allclose(k, 3.536e-4, rtol=1e-3)
    assert_allclose(b.drop_at(50, 0.125, [0.0625, 0.25, 0.4]), [31.5, 79.4, 108.6], rtol=1e-3)
    assert_allclose(b.space_charge_current(k, [31.498, -5]), [0.0625, 0], rtol=1e-3)


def test_scaling_worked_example_67():
    # WE67: RCA receiving tube manual conversion factors (rule recalled, arithmetic derived).
    factors = b.scale_operating_point([0.8, 0.9, 1.2])
    assert_allclose(factors.amps, [0.716, 0.854, 1.315], rtol=0.002)
    assert_allclose(factors.watts, [0.572, 0.768, 1.577], rtol=0.002)
    assert_allclose(factors.ohms, [1.118, 1.054, 0.913], rtol=0.002)
    assert_allclose(factors.siemens, [0.894, 0.949, 1.095], rtol=0.002)
    assert_allclose(factors.volts * factors.amps, factors.watts)


def test_gain_worked_example_66():
    # WE66: N. H. Crowhurst, Basic Audio vol. 2, problem 11: gain 54, rp 60 k, RL 120 k; then 200 k across.
    mu = b.mu_from_gain(54, 60e3, 120e3)
    assert_allclose(mu, 81)
    assert_allclose(b.stage_gain(mu, 60e3, b.parallel(120e3, 200e3)), 45)


def test_gain_by_the_nodal_equations():
    # Independent: solve the small-signal circuit of a triode with Rk as a 2 x 2 linear system.
    mu, rp, rl, rk = 100.0, 62.5e3, 100e3, 1.5e3
    # unknowns vp, vk; ip = (vp - vk + mu (1 - vk))/rp; vp = -ip rl; vk = ip rk
    matrix = np.array([[1 / rl + 1 / rp, -(1 + mu) / rp], [1 / rp, -(1 + mu) / rp - 1 / rk]])
    vp, vk = np.linalg.solve(matrix, [-mu / rp, -mu / rp])
    assert_allclose(b.stage_gain(mu, rp, rl, rk), -vp)
    # and the resistance looking into the cathode is what the source there sees
    current = np.linalg.solve(np.array([[1 / rl + 1 / rp]]), [(1 + mu) / rp])[0] / rl
    assert_allclose(b.tube_cathode_ohm(mu, rp, rl), 1 / current)


def test_bypass_worked_example_63():
    # WE63: parallel rule stated in an audio forum, value derived: 330 ohm, 3 mA/V, 25 uF.
    assert_allclose(b.parallel(330, 1 / 3e-3), 165.8, rtol=0.01)
    corner = b.bypass_corner(25e-6, 330, 1 / 3e-3)
    assert_allclose(corner.pole_hz, 38.4, rtol=0.01)
    assert_allclose(corner.zero_hz, 19.3, rtol=0.01)
    assert_allclose(corner.shelf, 1 + 330 * 3e-3)


def test_bypass_shelf_is_the_gain_ratio():
    mu, rp, rl, rk = 100.0, 62.5e3, 100e3, 1.5e3
    shelf = b.bypass_corner([25e-6, 50e-6], rk, b.tube_cathode_ohm(mu, rp, rl)).shelf
    assert shelf.shape == (2,)
    assert_allclose(shelf, b.stage_gain(mu, rp, rl) / b.stage_gain(mu, rp, rl, rk))


def test_coupling_worked_example_65():
    # WE65: f = 1/(2 pi R C), derived.
    got = b.coupling_corner(np.array([0.01, 0.022, 0.01, 0.02, 0.022]) * 1e-6,
                            [470e3, 470e3, 500e3, 500e3, 470e3], [0, 0, 0, 0, 38e3])
    assert_allclose(got, [33.9, 15.4, 31.8, 15.9, 14.2], rtol=0.01)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1.0, "x"])
@pytest.mark.parametrize("call, name", [
    (lambda v: b.cathode_current(v, 100), "cathode_v"), (lambda v: b.cathode_current(1, v), "cathode_ohm"),
    (lambda v: b.dissipation(100, 1, v), "electrode_a"), (lambda v: b.resistor_power(1, v), "ohms"),
    (lambda v: b.scale_operating_point(v), "voltage_ratio"),
    (lambda v: b.stage_gain(1, 1, 1, v), "cathode_ohm"),
    (lambda v: b.coupling_corner(v, 1), "farad"), (lambda v: b.bypass_corner(1, v, 1), "cathode_ohm"),
    (lambda v: b.parallel(1, v), "ohms"), (lambda v: b.drop_at(1, 1, v), "new_amps"),
])
def test_bad_numbers_name_the_argument(call, name, bad):
    with pytest.raises(ValueError, match=name):
        call(bad)


def test_zero_resistance_is_refused():
    with pytest.raises(ValueError, match="cathode_ohm"):
        b.cathode_current(1, 0)
    with pytest.raises(ValueError, match="ohms"):
        b.parallel()
