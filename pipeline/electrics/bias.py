"""Pure sums about a stage: bias and dissipation from readings, the 3/2 law, gain, corners.

SI units. Every number may be an array; arguments broadcast together.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from pipeline.electrics.safety import Array, at_least_zero, finite, positive


class Power(NamedTuple):
    """Watts a resistor dissipates; watts to buy (twice that)."""

    watts: Array
    recommended_w: Array


class Scale(NamedTuple):
    """Factors on voltages, currents, powers, resistances (load and plate) and transconductance."""

    volts: Array
    amps: Array
    watts: Array
    ohms: Array
    siemens: Array


class TriodePoint(NamedTuple):
    """Plate current A, plate resistance ohms, transconductance A/V."""

    plate_a: Array
    plate_ohm: Array
    siemens: Array


class BypassCorner(NamedTuple):
    """Zero and pole of the bypass shelf in hertz, and its height (gain above over gain below)."""

    zero_hz: Array
    pole_hz: Array
    shelf: Array


def cathode_current(cathode_v: ArrayLike, cathode_ohm: ArrayLike) -> Array:
    """Current through a cathode resistor from the volts across it, A.

    All tubes sharing the resistor together; divide by their number only if they match. An old resistor
    is rarely its marked value: measure it, or judge at both ends of its tolerance.
    """
    return at_least_zero("cathode_v", cathode_v) / positive("cathode_ohm", cathode_ohm)


def plate_current(cathode_a: ArrayLike, screen_a: ArrayLike) -> Array:
    """Plate current, A: cathode current less screen current (grid current ignored)."""
    total, screen = at_least_zero("cathode_a", cathode_a), at_least_zero("screen_a", screen_a)
    if np.any(screen > total):
        raise ValueError("screen_a: more than the cathode current")
    return total - screen


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


def power_law_coefficient(volts: ArrayLike, amps: ArrayLike, exponent: ArrayLike = 1.5) -> Array:
    """Coefficient k of i = k v^exponent from one published point, A V^-exponent; a diode's perveance.

    Child-Langmuir law (theory notes B1). It holds below saturation and for the drop at the stated tube
    current, not at the supply's average. Real tubes agree within 10 to 15 %.
    """
    return positive("amps", amps) / positive("volts", volts) ** positive("exponent", exponent)


def space_charge_current(coefficient: ArrayLike, drive_v: ArrayLike, exponent: ArrayLike = 1.5) -> Array:
    """Current i = k v^exponent, A; nothing flows at or below zero drive volts."""
    drive = np.maximum(finite("drive_v", drive_v), 0.0)
    return positive("coefficient", coefficient) * drive ** positive("exponent", exponent)


def drop_at(volts: ArrayLike, amps: ArrayLike, new_amps: ArrayLike, exponent: ArrayLike = 1.5) -> Array:
    """Tube drop at another current from one published point, V: V (I2/I1)^(1/exponent)."""
    ratio = at_least_zero("new_amps", new_amps) / positive("amps", amps)
    return positive("volts", volts) * ratio ** (1 / positive("exponent", exponent))


def dynamic_resistance(volts: ArrayLike, amps: ArrayLike, exponent: ArrayLike = 1.5) -> Array:
    """Slope resistance dv/di of i = k v^exponent at a point, ohms: V/(exponent I); 2V/3I for a diode."""
    return positive("volts", volts) / (positive("exponent", exponent) * positive("amps", amps))


def triode_point(coefficient: ArrayLike, plate_v: ArrayLike, grid_v: ArrayLike, mu: ArrayLike,
                 exponent: ArrayLike = 1.5) -> TriodePoint:
    """Triode by a power law, i = k (Vp + mu Vg)^exponent, with its slopes.

    Parameters
    ----------
    coefficient : array_like
        k in A V^-exponent, fitted to plate volts (not to grid volts).
    plate_v, grid_v : array_like
        Volts from the cathode.
    mu, exponent : array_like
        Amplification factor; 1.5 in theory, 1.41 and the like when fitted (theory notes B1).

    Raises
    ------
    ValueError
        If the tube is cut off (Vp + mu Vg not above zero), for there it has no slopes.
    """
    factor, power = positive("mu", mu), positive("exponent", exponent)
    drive = finite("plate_v", plate_v) + factor * finite("grid_v", grid_v)
    if np.any(drive <= 0):
        raise ValueError("grid_v: cuts the tube off")
    amps = space_charge_current(coefficient, drive, power)
    ohms = drive / (power * amps)
    return TriodePoint(amps, ohms, factor / ohms)


def small_change(plate_ohm: ArrayLike, mu: ArrayLike, plate_change_v: ArrayLike = 0.0,
                 grid_change_v: ArrayLike = 0.0) -> Array:
    """Change of plate current for small changes of volts, A: (dVp + mu dVg)/rp."""
    drive = finite("plate_change_v", plate_change_v) + positive("mu", mu) * finite(
        "grid_change_v", grid_change_v)
    return drive / positive("plate_ohm", plate_ohm)


def scale_operating_point(voltage_ratio: ArrayLike) -> Scale:
    """Factors that move a published operating point to other supply volts.

    Notes
    -----
    All electrode voltages times r: currents r^1.5, power r^2.5, load and plate resistance r^-0.5,
    transconductance r^0.5. RCA receiving tube manual, conversion factors (recalled), from the 3/2 law.
    Advised for r of 0.7 to 1.5, with screen and plate scaled together; larger steps are not refused, so
    say so where you use them.
    """
    r = positive("voltage_ratio", voltage_ratio)
    return Scale(r, r**1.5, r**2.5, r**-0.5, r**0.5)


def parallel(*ohms: ArrayLike) -> Array:
    """Resistances in parallel, ohms."""
    if not ohms:
        raise ValueError("ohms: at least one")
    return 1 / sum((1 / positive("ohms", each) for each in ohms), start=np.zeros(()))


def stage_gain(mu: ArrayLike, plate_ohm: ArrayLike, load_ohm: ArrayLike,
               cathode_ohm: ArrayLike = 0.0) -> Array:
    """Voltage gain of a triode stage (size, not sign): mu RL/(RL + rp + (mu + 1) Rk).

    `load_ohm` is all that the plate feeds, the next grid resistor included; `cathode_ohm` is 0 where the
    cathode is bypassed. Theory notes B3; mid-band, no capacitances.
    """
    factor, load = positive("mu", mu), positive("load_ohm", load_ohm)
    below = (factor + 1) * at_least_zero("cathode_ohm", cathode_ohm)
    return factor * load / (load + positive("plate_ohm", plate_ohm) + below)


def mu_from_gain(gain: ArrayLike, plate_ohm: ArrayLike, load_ohm: ArrayLike) -> Array:
    """Amplification factor from a bypassed stage's gain: A (rp + RL)/RL."""
    load = positive("load_ohm", load_ohm)
    return positive("gain", gain) * (positive("plate_ohm", plate_ohm) + load) / load


def tube_cathode_ohm(mu: ArrayLike, plate_ohm: ArrayLike, load_ohm: ArrayLike) -> Array:
    """Resistance looking into a triode's cathode, ohms: (rp + RL)/(mu + 1). Pentodes: about 1/gm."""
    return (positive("plate_ohm", plate_ohm) + at_least_zero("load_ohm", load_ohm)) / (positive("mu", mu) + 1)


def bypass_corner(farad: ArrayLike, cathode_ohm: ArrayLike, tube_ohm: ArrayLike) -> BypassCorner:
    """Corners of a cathode bypass capacitor: a shelf, not a roll-off.

    Parameters
    ----------
    farad, cathode_ohm : array_like
        The capacitor and the resistor it bypasses.
    tube_ohm : array_like
        What the tube shows at its cathode: `tube_cathode_ohm`, or 1/gm for a pentode.

    Notes
    -----
    Zero at 1/(2 pi C Rk), pole at 1/(2 pi C (Rk parallel tube_ohm)); height 1 + Rk/tube_ohm. The pole is
    the corner usually meant. Theory notes B3.
    """
    rk, tube = positive("cathode_ohm", cathode_ohm), positive("tube_ohm", tube_ohm)
    c, rk, tube = np.broadcast_arrays(positive("farad", farad), rk, tube)
    zero, shelf = 1 / (2 * np.pi * c * rk), 1 + rk / tube
    return BypassCorner(zero, zero * shelf, shelf)


def coupling_corner(farad: ArrayLike, grid_ohm: ArrayLike, source_ohm: ArrayLike = 0.0) -> Array:
    """Lower corner of a coupling capacitor, Hz: 1/(2 pi C (Rg + Rsource)); source is rp parallel RL."""
    total = positive("grid_ohm", grid_ohm) + at_least_zero("source_ohm", source_ohm)
    return 1 / (2 * np.pi * positive("farad", farad) * total)
