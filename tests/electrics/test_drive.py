"""Belts, pulleys and speeds against geometry done another way and against figures of the trade."""

import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import drive


def test_new_belt_is_three_to_six_percent_shorter():
    # the trade's practice: theory notes, section D
    low, high = drive.belt_to_order([200.0, 300.0], 0.03, 0.06)
    assert_allclose(low, [188, 282])
    assert_allclose(high, [194, 291])


def test_fifty_hertz_machine_runs_a_fifth_fast_on_sixty():
    # theory notes, section D: machines built for 50 Hz run 20 % fast on 60 Hz
    assert_allclose(drive.speed_ratio(50, 60), 1.2)
    assert_allclose(drive.speed_ratio(60, 50), 5 / 6)


def test_new_pulley_gives_the_tape_its_speed_back():
    """9.5 cm/s and its kin (IEC 60094, recalled): the wheel behind the belt turns as before."""
    for belt in (0.0, 0.6):
        new = drive.pulley_for(9.6, 50, 60, belt)
        before, after = (9.6 + belt) * 1500, (new + belt) * 1800
        assert_allclose(after, before)
    with pytest.raises(ValueError, match="belt"):
        drive.pulley_for(1.0, 50, 60, 6.0)


def test_flux_of_a_sixty_hertz_motor_on_fifty():
    assert_allclose(drive.flux_ratio(117, 60, 117, 50), 1.2)
    assert_allclose(drive.flux_ratio(220, 50, 240, 50), 240 / 220)


def test_motor_capacitor_stands_above_the_line():
    low, high = drive.motor_capacitor_volts(230)
    assert_allclose([low, high], [276, 368])
    with pytest.raises(ValueError, match="line_v"):
        drive.motor_capacitor_volts(-230)
