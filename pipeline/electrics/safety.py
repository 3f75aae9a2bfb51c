"""Pure sums that keep people and transformers alive: leakage, stored charge, fuses, lamps, mains.

SI units. Every number may be an array; arguments broadcast together; plain numbers give plain numbers.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import Array, at_least_zero, finite, positive

TOUCH_LIMIT_A = 0.0005  # ES1, AC up to 1 kHz, rms: IEC 62368-1 Table 4, read in a national adoption
SAFE_DC_V = 60.0  # ES1, DC: IEC 62368-1 Table 4, read in a national adoption

# R10 steps in amperes. The R10 ladder of IEC 60127 was read in a maker's guide; the list is recalled.
IEC_FUSES_A = np.array([0.032, 0.04, 0.05, 0.063, 0.08, 0.1, 0.125, 0.16, 0.2, 0.25, 0.315, 0.4, 0.5,
                        0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0])
# Commonly stocked 3AG slow-blow ratings: recalled, trade habit rather than a standard's list.
UL_FUSES_A = np.array([0.0625, 0.125, 0.25, 0.375, 0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0,
                       6.0, 7.0, 8.0, 10.0])

# Series-lamp bulbs by trade habit (no 75 W: practice goes from 60 W to 100 W for a 50 W set).
SERIES_LAMPS_W = np.array([25.0, 40.0, 60.0, 100.0, 150.0, 200.0])


class Bleeder(NamedTuple):
    """Ohms; watts it dissipates; watts to buy (twice that)."""

    ohms: Array
    watts: Array
    recommended_w: Array


def smallest_at_least(name: str, needed: ArrayLike, ladder: ArrayLike) -> Array:
    """Smallest step of a ladder that is not below what is needed.

    Parameters
    ----------
    name : str
        What the ValueError is to call `needed`.
    needed : array_like
        Any shape, in the ladder's unit.
    ladder : array_like
        One-dimensional; order does not matter.

    Raises
    ------
    ValueError
        If `needed` is not finite, negative, or above the ladder's largest step.
    """
    wanted = at_least_zero(name, needed)
    steps = np.sort(positive("ladder", ladder))
    # A computed need such as 0.1 * 3 must not miss the step 0.3 by one rounding error.
    index = np.searchsorted(steps, wanted * (1 - 1e-9))
    if np.any(index >= steps.size):
        raise ValueError(f"{name}: above the largest step, {steps[-1]:g}")
    return steps[index]


def leakage_current(farad: ArrayLike, volts_rms: ArrayLike, frequency_hz: ArrayLike) -> Array:
    """Current through a capacitor from the line to an accessible part, A rms: 2 pi f C V.

    Compare with `TOUCH_LIMIT_A`. Sine mains only: harmonics pass more. Insulation resistance is ignored.
    """
    return (2 * np.pi * at_least_zero("frequency_hz", frequency_hz) * at_least_zero("farad", farad)
            * at_least_zero("volts_rms", volts_rms))


def leakage_farad(limit_a: ArrayLike, volts_rms: ArrayLike, frequency_hz: ArrayLike) -> Array:
    """Largest capacitor whose `leakage_current` stays at `limit_a`, farads."""
    return at_least_zero("limit_a", limit_a) / (
        2 * np.pi * positive("frequency_hz", frequency_hz) * positive("volts_rms", volts_rms))


def stored_energy(farad: ArrayLike, volts: ArrayLike) -> Array:
    """Energy in a charged capacitor, joules: C V^2 / 2."""
    return 0.5 * at_least_zero("farad", farad) * finite("volts", volts) ** 2


def discharge_time(farad: ArrayLike, from_v: ArrayLike, to_v: ArrayLike = SAFE_DC_V,
                   bleeder_ohm: ArrayLike = np.inf, leakage_a: ArrayLike = 0.0) -> Array:
    """Seconds until a capacitor falls to a voltage, through a bleeder, its own leakage, or both.

    Parameters
    ----------
    farad, from_v, to_v : array_like
        Farads; volts at the start; volts to reach (above zero).
    bleeder_ohm : array_like
        Ohms; infinite (the default) where there is no bleeder.
    leakage_a : array_like
        Constant current in A taken as the capacitor's own leakage. Real leakage falls with the voltage,
        so the answer with leakage alone is the shortest time to hope for, never one to rely on.

    Returns
    -------
    ndarray
        Seconds; 0 where already below; infinite where nothing discharges it.

    Raises
    ------
    ValueError
        Naming the argument that is not finite, negative, or zero where it must not be.

    Notes
    -----
    From C dv/dt = -v/R - I: t = RC ln((V0 + IR)/(V + IR)); with I = 0 the usual RC ln(V0/V), without R
    the straight line C (V0 - V)/I. Derived. Dielectric absorption (a discharged can climbs again) is left
    out: short the capacitor after measuring.
    """
    c, start, end = positive("farad", farad), at_least_zero("from_v", from_v), positive("to_v", to_v)
    leak = at_least_zero("leakage_a", leakage_a)
    ohms = np.asarray(bleeder_ohm, dtype=float)
    if np.any(~(ohms > 0)):
        raise ValueError("bleeder_ohm: must be above zero")
    c, start, end, leak, ohms = np.broadcast_arrays(c, np.maximum(start, end), end, leak, ohms)
    bled = np.isfinite(ohms)
    r = np.where(bled, ohms, 1.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        straight = np.where(start > end, c * (start - end) / leak, 0.0)
    return np.where(bled, r * c * np.log((start + leak * r) / (end + leak * r)), straight)[()]


def bleeder(farad: ArrayLike, from_v: ArrayLike, seconds: ArrayLike, to_v: ArrayLike = SAFE_DC_V) -> Bleeder:
    """Largest bleeder that brings a capacitor from one voltage to another in a given time.

    Returns
    -------
    Bleeder
        Ohms t/(C ln(V0/V)); watts V0^2/R while the set runs; a rating of twice that (practice).

    Raises
    ------
    ValueError
        Also if `to_v` is not below `from_v`.
    """
    start, end = positive("from_v", from_v), positive("to_v", to_v)
    if np.any(end >= start):
        raise ValueError("to_v: must be below from_v")
    ohms = positive("seconds", seconds) / (positive("farad", farad) * np.log(start / end))
    watts = start**2 / ohms
    return Bleeder(ohms, watts, 2 * watts)


def wall_power(heater_w: ArrayLike, dc_w: ArrayLike, other_w: ArrayLike = 0.0,
               efficiency: ArrayLike = 0.85) -> Array:
    """Estimate of the power a set takes from the wall, watts.

    `dc_w` is the power leaving the rectifier plus what the rectifier itself burns; `other_w` is drawn
    straight from the line (a motor, a dropper). `efficiency` is the transformer's: 0.85 is recalled as
    usual for receivers, with no source; give 1 for a transformerless set. An estimate by rule, never a
    reading.
    """
    eta = positive("efficiency", efficiency)
    if np.any(eta > 1):
        raise ValueError("efficiency: must not be above 1")
    behind = at_least_zero("heater_w", heater_w) + at_least_zero("dc_w", dc_w)
    return behind / eta + at_least_zero("other_w", other_w)


def wall_current(power_w: ArrayLike, mains_v: ArrayLike, power_factor: ArrayLike = 0.9) -> Array:
    """Estimate of the line current, A rms. The power factor of 0.9 is recalled practice, no source."""
    factor = positive("power_factor", power_factor)
    if np.any(factor > 1):
        raise ValueError("power_factor: must not be above 1")
    return at_least_zero("power_w", power_w) / (positive("mains_v", mains_v) * factor)


def series_lamp(set_w: ArrayLike) -> Array:
    """Watts of incandescent lamp to put in series with a set for its first power-up.

    Notes
    -----
    Practice: one to two times the set's watts; 40 or 60 W for a 30 W set, 100 W for 50 to 80 W, 150 to
    200 W for large amplifiers. The rule here, the smallest of `SERIES_LAMPS_W` at 1.25 times or more,
    reproduces those; above 200 W several lamps in parallel, to the next 100 W. A lamp limits the current,
    it does not isolate.
    """
    wanted = 1.25 * positive("set_w", set_w)
    single = smallest_at_least("set_w", np.minimum(wanted, SERIES_LAMPS_W[-1]), SERIES_LAMPS_W)
    return np.where(wanted > SERIES_LAMPS_W[-1], 100 * np.ceil(wanted / 100), single)[()]


def series_lamp_fault_current(lamp_w: ArrayLike, lamp_v: ArrayLike) -> Array:
    """Current into a dead short behind a series lamp, A rms: the lamp's own watts over its volts."""
    return positive("lamp_w", lamp_w) / positive("lamp_v", lamp_v)


def choose_fuse(running_a: ArrayLike, system: str = "iec") -> Array:
    """Time-lag fuse rating for a running current, amperes.

    Parameters
    ----------
    running_a : array_like
        Line current of the warm set, A rms.
    system : str
        "iec" (IEC 60127 preferred ratings) or "ul" (UL 248-14 parts, by their habit).

    Notes
    -----
    Practice fits 1.5 to 2 times the running current. An IEC fuse must carry 1.5 times its rating for an
    hour and a UL one must open at 1.35 times, so the same load asks for 1.25 to 1.35 times the amperes in
    a UL part: 1.5 times for IEC, 2 times for UL, each to the next rating up. The maker's figure on the
    chassis comes first; the switch-on surge of a large transformer is not modelled.

    Raises
    ------
    ValueError
        If the rating needed is above the ladder, or `system` is neither.
    """
    if system not in ("iec", "ul"):
        raise ValueError("system: must be 'iec' or 'ul'")
    factor, ladder = (1.5, IEC_FUSES_A) if system == "iec" else (2.0, UL_FUSES_A)
    return smallest_at_least("running_a", factor * positive("running_a", running_a), ladder)
