"""Safety sums against the standards' numbers and the worked examples (WE numbers: the reference list)."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import safety as s


def test_leakage_worked_example_31():
    # WE31: I = 2 pi f C V, derived; mA rms.
    got = 1e3 * s.leakage_current(np.array([4.7, 4.7, 4.7, 10, 47, 100]) * 1e-9,
                                  [240, 230, 120, 120, 120, 120], [60, 50, 60, 60, 60, 60])
    assert_allclose(got, [0.425, 0.340, 0.213, 0.452, 2.13, 4.52], rtol=0.01)
    # Limit 0.5 mA: IEC 62368-1 Table 4 (read in a national adoption).
    assert (got <= 1e3 * s.TOUCH_LIMIT_A).tolist() == [True, True, True, True, False, False]


def test_largest_line_to_chassis_capacitor():
    # Practice table E8 (numbers derived there): 5.5 nF, 6.9 nF, 11 nF for 0.5 mA.
    got = s.leakage_farad(s.TOUCH_LIMIT_A, [240, 230, 120], [60, 50, 60])
    assert_allclose(got, [5.5e-9, 6.9e-9, 11e-9], rtol=0.01)


def test_stored_energy_worked_example_7():
    # WE07: open course notes on the bridge rectifier: 1000 uF at 325 V, 53 J.
    assert_allclose(s.stored_energy(1000e-6, 325), 53, rtol=0.01)


@pytest.mark.parametrize("farad, volts, ohm, seconds", [
    (47e-6, 400, 220e3, 19.6),  # WE28: t = RC ln(V0/V), derived
    (470e-6, 385, 33e3, 28.8),  # WE29: problem on a power-supply calculator page, answer derived
])
def test_discharge_worked_examples(farad, volts, ohm, seconds):
    assert_allclose(s.discharge_time(farad, volts, 60, ohm), seconds, rtol=0.01)


def test_discharge_without_bleeder():
    assert s.discharge_time(47e-6, 400) == np.inf
    assert_allclose(s.discharge_time(47e-6, 400, 60, leakage_a=100e-6), 47e-6 * 340 / 100e-6)
    assert s.discharge_time(47e-6, 40, 60) == 0
    assert s.discharge_time(47e-6, 40, 60, 220e3) == 0


def test_discharge_with_bleeder_and_leakage_by_small_steps():
    # Independent: explicit integration of C dv/dt = -v/R - I.
    volts, steps, h = 400.0, 0, 1e-3
    while volts > 60:
        volts -= h * (volts / 220e3 + 5e-4) / 47e-6
        steps += 1
    assert_allclose(s.discharge_time(47e-6, 400, 60, 220e3, 5e-4), steps * h, rtol=2e-3)


def test_discharge_broadcasts():
    got = s.discharge_time(47e-6, [400, 400], [[60], [50]], [220e3, np.inf])
    assert got.shape == (2, 2) and np.isinf(got[:, 1]).all() and got[1, 0] > got[0, 0]


def test_bleeder_meets_its_own_time():
    part = s.bleeder(100e-6, 450, 30)
    assert_allclose(s.discharge_time(100e-6, 450, 60, part.ohms), 30)
    assert_allclose([part.watts, part.recommended_w], [450**2 / part.ohms, 2 * 450**2 / part.ohms])
    with pytest.raises(ValueError, match="to_v"):
        s.bleeder(100e-6, 50, 30)


def test_series_lamp_reproduces_practice():
    # Practice table E12: 40 to 60 W for 30 W, 100 W for 50 to 80 W, 150 to 200 W for large ones.
    lamps = s.series_lamp([30, 50, 65, 80, 120, 160, 250])
    assert lamps.tolist() == [40, 100, 100, 100, 150, 200, 400]
    # Electron, Feb 2022 (principle): 60 W at 120 V caps the fault at 0.5 A.
    assert s.series_lamp_fault_current(60, 120) == 0.5


def test_wall_power():
    assert_allclose(s.wall_power(25, 60, 10, 0.85), 110)
    assert_allclose(s.wall_current(110, 117, 1.0), 110 / 117)
    for bad in ({"efficiency": 1.2}, {"efficiency": 0}):
        with pytest.raises(ValueError, match="efficiency"):
            s.wall_power(1, 1, **bad)


def test_chosen_fuse_carries_the_load_by_its_own_standard():
    running = np.linspace(0.05, 4.5, 200)
    # IEC 60127-2 sheet 3 (recalled): 1.5 times the rating for an hour, opens within 2 min at 2.1 times; UL 248-14
    # (makers' guides, read): its rating for ever, opens within an hour at 1.35 times, within 2 min at twice.
    for system, carries, opens in (("iec", 1.5, 2.1), ("ul", 1.0, 1.35)):
        rating = s.choose_fuse(running, system)
        assert np.all(running <= carries * rating)
        assert np.all(5 * running >= opens * rating)
    assert s.choose_fuse([0.3, 0.5]).tolist() == [0.5, 0.8]
    assert s.choose_fuse([0.3, 0.5], "ul").tolist() == [0.75, 1.0]
    with pytest.raises(ValueError, match="running_a"):
        s.choose_fuse(20)
    with pytest.raises(ValueError, match="system"):
        s.choose_fuse(1, "din")


def test_iec_ladder_is_r10():
    # IEC 60127 uses R10 steps (read): ten a decade, each within 2 % of 10^(k/10).
    steps = s.IEC_FUSES_A
    assert steps.size == 26
    assert_allclose(np.log10(steps), np.round(10 * np.log10(steps)) / 10, atol=0.009)


def test_ladder_is_not_missed_by_rounding():
    assert s.smallest_at_least("x", 0.1 + 0.2, [0.2, 0.3, 0.4]) == 0.3
    assert s.smallest_at_least("x", 0, [0.4, 0.2]) == 0.2


@pytest.mark.parametrize("bad", [np.nan, np.inf, -1.0, "x", None, [1.0, -2.0]])
@pytest.mark.parametrize("call, name", [
    (lambda v: s.leakage_current(v, 120, 60), "farad"), (lambda v: s.stored_energy(v, 100), "farad"),
    (lambda v: s.discharge_time(1e-6, v), "from_v"),
    (lambda v: s.discharge_time(1e-6, 1, 1, 1, v), "leakage_a"),
    (lambda v: s.series_lamp(v), "set_w"), (lambda v: s.choose_fuse(v), "running_a"),
])
def test_bad_numbers_name_the_argument(call, name, bad):
    with pytest.raises(ValueError, match=name):
        call(bad)


def test_plain_numbers_in_plain_numbers_out():
    # What goes into JSON must be a float, not an array without dimensions.
    plain = [s.discharge_time(47e-6, 400, 60, 220e3), s.series_lamp(30), s.choose_fuse(0.3),
             s.leakage_current(1e-9, 120, 60), *s.bleeder(1e-4, 450, 30)]
    assert all(isinstance(value, float) for value in plain)


@pytest.mark.parametrize("bad", [0.0, -1.0, np.nan])
def test_bleeder_must_be_a_resistance(bad):
    with pytest.raises(ValueError, match="bleeder_ohm"):
        s.discharge_time(1e-6, 100, 60, bad)


def test_ladders_of_fuses_and_lamps():
    """IEC 60127: the R10 steps of ISO 3 from 32 mA to 10 A; what 3AG fuses and bulbs are sold as (recalled)."""
    r10 = (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
    steps = [round(step * d, 6) for d in (0.01, 0.1, 1.0, 10.0) for step in r10]
    assert list(s.IEC_FUSES_A) == [0.032, *(step for step in steps if 0.04 <= step <= 10)]
    assert list(s.UL_FUSES_A) == [1 / 16, 1 / 8, 1 / 4, 3 / 8, 1 / 2, 3 / 4, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5, 6, 7, 8, 10]
    assert list(s.SERIES_LAMPS_W) == [25, 40, 60, 100, 150, 200]


@pytest.mark.parametrize(("from_v", "refused"), [(59.0, True), (60.0, True), (61.0, False)])
def test_nothing_to_bleed_at_or_below_the_volts_that_may_stay(from_v, refused):
    if refused:
        with pytest.raises(ValueError):
            s.bleeder(40e-6, from_v, 60.0, 60.0)
    else:
        assert s.bleeder(40e-6, from_v, 60.0, 60.0).ohms == pytest.approx(60 / (40e-6 * np.log(61 / 60)))
