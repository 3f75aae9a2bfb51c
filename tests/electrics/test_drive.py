"""Belts, pulleys and speeds against geometry done another way and against figures of the trade."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics import drive


def test_belt_over_equal_pulleys_is_a_rounded_oblong():
    # two half circles and two straight runs, by hand
    assert_allclose(drive.belt_path(20, 20, 100), np.pi * 20 + 200)


def test_belt_path_against_the_convex_hull_of_two_circles():
    """Outside check: perimeter of the hull of many points on both circles (scipy.spatial)."""
    from scipy.spatial import ConvexHull

    turn = np.linspace(0, 2 * np.pi, 20_001)
    for large, small, centres in ((60, 8, 90), (100, 99, 101), (38, 6, 23)):
        points = np.concatenate([
            np.column_stack([large / 2 * np.cos(turn), large / 2 * np.sin(turn)]),
            np.column_stack([centres + small / 2 * np.cos(turn), small / 2 * np.sin(turn)])])
        hull = ConvexHull(points)
        around = points[hull.vertices]
        length = np.linalg.norm(around - np.roll(around, 1, axis=0), axis=1).sum()
        assert_allclose(drive.belt_path(large, small, centres), length, rtol=1e-5)
        assert_allclose(drive.belt_path(small, large, centres), length, rtol=1e-5)


def test_a_pulley_within_the_other_is_refused():
    with pytest.raises(ValueError, match="centres"):
        drive.belt_path(100, 10, 40)


def test_new_belt_is_three_to_six_percent_shorter():
    # the trade's practice: theory notes, section D
    low, high = drive.belt_to_order([200.0, 300.0])
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


def test_capstan_of_a_known_machine():
    # 19.05 cm/s on a capstan turning at 600 rpm asks for 6.064 mm: 190.5 * 60 / (pi * 600), by hand
    assert_allclose(drive.tape_speed(6.0638, 600), 190.5, rtol=1e-4)


def test_flux_of_a_sixty_hertz_motor_on_fifty():
    assert_allclose(drive.flux_ratio(117, 60, 117, 50), 1.2)
    assert_allclose(drive.flux_ratio(220, 50, 240, 50), 240 / 220)


def test_motor_capacitor_stands_above_the_line():
    low, high = drive.motor_capacitor_volts(230)
    assert_allclose([low, high], [276, 368])
    with pytest.raises(ValueError, match="line_v"):
        drive.motor_capacitor_volts(-230)
