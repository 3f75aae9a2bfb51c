"""Belts, pulleys and the speed of mains motors.

Sizes in any one unit of length (millimetres at the bench), hertz, revolutions a minute.  Kinematics only: slip,
creep of the belt and the load's own drag are left out; an induction motor slips a few percent at either frequency.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from pipeline.electrics.arguments import at_least_zero, positive

Array = np.ndarray
MOTOR_CAPACITOR_OVER_LINE = (1.2, 1.6)
"""Volts across a motor-run capacitor over line volts: the auxiliary winding adds to it (common practice, no source)."""


def belt_to_order(path: ArrayLike, least: ArrayLike, most: ArrayLike) -> tuple[Array, Array]:
    """Shortest and longest inside length of a new belt for a path over the pulleys: shares `least` to `most` below it.

    Same unit and shape as `path`.  Raises ValueError for a path that is not above zero.
    """
    length = positive("path", path)
    return length * (1 - at_least_zero("most", most)), length * (1 - at_least_zero("least", least))


def speed_ratio(built_hz: ArrayLike, mains_hz: ArrayLike) -> Array:
    """Speed on these mains over the speed the machine was built for: mains hertz over built hertz.

    Holds for synchronous motors, and within their slip for induction motors; not for motors with brushes, nor for DC.
    A machine for 50 Hz runs 1.2 times as fast on 60 Hz.  Raises ValueError for what is not above zero.
    """
    return positive("mains_hz", mains_hz) / positive("built_hz", built_hz)


def pulley_for(old: ArrayLike, built_hz: ArrayLike, mains_hz: ArrayLike, belt: ArrayLike = 0.0) -> Array:
    """Diameter of the motor pulley that gives the right speed again.

    Parameters
    ----------
    old : array_like
        Diameter of the motor's pulley.
    built_hz, mains_hz : array_like
        Hertz the machine was built for, and those of the mains.
    belt : array_like
        Thickness of the belt, same unit: it runs on its middle, half a thickness outside the pulley.

    Returns
    -------
    ndarray
        Broadcast shape: (old + belt) built / mains - belt.

    Raises
    ------
    ValueError
        Not above zero (belt: below zero), or a belt thicker than the pulley that is left.
    """
    thick = at_least_zero("belt", belt)
    new = (positive("old", old) + thick) / speed_ratio(built_hz, mains_hz) - thick
    if np.any(new <= 0):
        raise ValueError("belt: too thick for so small a pulley")
    return new


def flux_ratio(built_v: ArrayLike, built_hz: ArrayLike, mains_v: ArrayLike, mains_hz: ArrayLike) -> Array:
    """Magnetic flux of a motor or transformer over that it was built for: volts per hertz against each other.

    Above 1 the iron saturates and the windings heat: a 60 Hz motor of 117 V on 117 V 50 Hz has 1.2 times its flux.
    Faraday's law; leakage and resistance are left out.  Raises ValueError for what is not above zero.
    """
    built = positive("built_v", built_v) / positive("built_hz", built_hz)
    return positive("mains_v", mains_v) / positive("mains_hz", mains_hz) / built


def motor_capacitor_volts(line_v: ArrayLike) -> tuple[Array, Array]:
    """Least and most volts rms usual across a motor-run capacitor on that line: 1.2 and 1.6 times (practice)."""
    volts = positive("line_v", line_v)
    low, high = MOTOR_CAPACITOR_OVER_LINE
    return volts * low, volts * high
