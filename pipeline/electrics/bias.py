"""Pure sums about a stage from readings: how its current divides, and what it burns.

SI units. Every number may be an array; arguments broadcast together.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import Array, at_least_zero, finite, positive


class Power(NamedTuple):
    """Watts a resistor dissipates; watts to buy (twice that)."""

    watts: Array
    recommended_w: Array


def split_cathode_current(cathode_a: ArrayLike, plate_published_a: ArrayLike,
                          screen_published_a: ArrayLike) -> tuple[Array, Array]:
    """Plate and screen current of an unmeasured split, A, in the ratio of a published operating point.

    An estimate: the ratio holds while plate and screen volts stand in about the published proportion
    and the plate is above the knee. Taking all of it as plate current errs towards safety.
    """
    plate, screen = positive("plate_published_a", plate_published_a), at_least_zero(
        "screen_published_a", screen_published_a)
    total = at_least_zero("cathode_a", cathode_a)
    return total * plate / (plate + screen), total * screen / (plate + screen)


def dissipation(electrode_v: ArrayLike, cathode_v: ArrayLike, electrode_a: ArrayLike) -> Array:
    """Power in a plate or screen, W; both voltages as a meter reads them, from the chassis.

    At rest, no signal. The ratings count from the cathode, so the bias is taken off.
    """
    across = finite("electrode_v", electrode_v) - finite("cathode_v", cathode_v)
    if np.any(across < 0):
        raise ValueError("electrode_v: below the cathode")
    return across * at_least_zero("electrode_a", electrode_a)


def resistor_power(volts: ArrayLike, ohms: ArrayLike) -> Power:
    """Watts in a resistor, V^2/R, and the rating to buy: twice that (practice)."""
    watts = finite("volts", volts) ** 2 / positive("ohms", ohms)
    return Power(watts, 2 * watts)
