"""Pure sums about parts: capacitor surge, loss, leakage, ripple heat, what to buy instead; lamp life.

SI units (farads, volts, amperes). Every number may be an array; arguments broadcast together.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import Array, at_least_zero, finite, positive

MOTOR_RUN_DRIFT = 0.10  # beyond the tolerance, counts as failed: same notes

OLD_LOW, OLD_HIGH = -0.10, 0.50  # tolerance of old electrolytics: -10/+50 %, a maker's data


class Balance(NamedTuple):
    """A series string of equal capacitors.

    `ohms` is the largest balancing resistor across each; `watts` what it burns at the volts its capacitor
    is allowed; `recommended_w` twice that; `farad` the whole string; `switch_on_v` the worst first share
    of one capacitor, before the resistors have had time.
    """

    ohms: Array
    watts: Array
    recommended_w: Array
    farad: Array
    switch_on_v: Array


def surge_voltage(rated_v: ArrayLike) -> Array:
    """Surge volts of an aluminium electrolytic.

    IEC 60384-4: 1.15 times the rated volts up to 315 V, 1.10 times above (quoted in an encyclopaedia).
    For 30 s at a time, 1000 times in its life: a cold start may reach it, running may not.
    """
    rated = positive("rated_v", rated_v)
    return np.where(rated <= 315, 1.15, 1.10) * rated


def esr(tan_delta: ArrayLike, farad: ArrayLike, frequency_hz: ArrayLike = 120.0) -> Array:
    """Equivalent series resistance from the loss factor, ohms: tan d/(2 pi f C).

    At the frequency the loss factor was measured at, 100 or 120 Hz. A sheet's loss factor is a maximum;
    typical parts have half.
    """
    return at_least_zero("tan_delta", tan_delta) / (
        2 * np.pi * positive("frequency_hz", frequency_hz) * positive("farad", farad))


def leakage_of_new(farad: ArrayLike, rated_v: ArrayLike) -> Array:
    """Largest leakage of a new general-purpose electrolytic above 100 V, A, after 5 min at rated volts.

    One maker's 105 C series (read): with CV in uF V, 0.03 CV + 15 uA up to 1000, 0.02 CV + 25 uA above.
    An allowance for new parts; an old one that passes it is good.
    """
    rated = positive("rated_v", rated_v)
    if np.any(rated <= 100):
        raise ValueError("rated_v: the rule is for parts above 100 V")
    cv = positive("farad", farad) * 1e6 * rated
    return np.where(cv <= 1000, 0.03 * cv + 15, 0.02 * cv + 25) * 1e-6


def nearest_stocked(old_f: ArrayLike, stocked_f: ArrayLike, low: ArrayLike = OLD_LOW,
                    high: ArrayLike = OLD_HIGH, cap_f: ArrayLike = np.inf) -> Array:
    """Nearest stocked value inside the old part's tolerance band and not above a cap.

    Parameters
    ----------
    old_f : array_like
        Marked value of the old part, any shape, farads.
    stocked_f : array_like
        Stocked values, one-dimensional, farads.
    low, high : array_like
        The band as fractions of `old_f`: -0.10 and +0.50 unless told otherwise (old electrolytics; film,
        mica and paper want -0.10, +0.10 or -0.20, +0.20).
    cap_f : array_like
        Never above this: the largest capacitor the rectifier bears. Infinite where nothing limits.

    Returns
    -------
    ndarray
        Farads; NaN where no stocked value serves. That is an answer: it must not be read as zero.

    Raises
    ------
    ValueError
        Naming the argument: values not above zero, a low end at or below -1 or above zero, a negative
        high end, a cap that is not above zero.

    Notes
    -----
    Nearest by ratio, the measure of a preferred-value ladder; of two equally near the smaller, the kinder
    to a rectifier. With the usual band and ladder this gives the trade's 8 to 10, 16 to 15, 20 to 22,
    30 to 33, 40 and 50 to 47, 60 to 68, 80 to 82 uF.
    """
    old, stocked = positive("old_f", old_f), np.sort(positive("stocked_f", stocked_f).ravel())
    low, high, cap = finite("low", low), at_least_zero("high", high), np.asarray(cap_f, dtype=float)
    if np.any(low <= -1) or np.any(low > 0):
        raise ValueError("low: must be above -1 and not above zero")
    if not np.all(cap > 0):
        raise ValueError("cap_f: must be above zero")
    old, low, high, cap = (a[..., None] for a in np.broadcast_arrays(old, low, high, cap))
    allowed = ((stocked >= old * (1 + low) * (1 - 1e-9)) & (stocked <= old * (1 + high) * (1 + 1e-9))
               & (stocked <= cap * (1 + 1e-9)))
    # Rounded so that a true tie is one, whatever the unit the values came in.
    distance = np.where(allowed, np.round(np.abs(np.log(stocked / old)), 9), np.inf)
    return np.where(allowed.any(axis=-1), stocked[distance.argmin(axis=-1)], np.nan)[()]


def series_balance(total_v: ArrayLike, each_f: ArrayLike, rated_v: ArrayLike, leakage_spread_a: ArrayLike,
                   tolerance: ArrayLike = 0.2, count: int = 2) -> Balance:
    """Balancing resistors for equal electrolytics in series.

    Parameters
    ----------
    total_v : array_like
        Volts across the string; use the worst, cold start at high mains.
    each_f, rated_v : array_like
        Farads and rated volts of each capacitor.
    leakage_spread_a : array_like
        Most by which two capacitors' leakage differs, A. Without readings take `leakage_of_new`, as if
        one leaked all it may and another nothing.
    tolerance : array_like
        Capacitance tolerance of each as a fraction (0.2 is today's M).
    count : int
        How many in series.

    Returns
    -------
    Balance

    Raises
    ------
    ValueError
        Naming the argument; `total_v` where the string as a whole is rated for no more than that.

    Notes
    -----
    Derived: the least leaky one takes V1 with V1/R + Imin = V2/R + Imax in the others, so
    V1 = (V + (n - 1) R dI)/n, which must not pass its rated volts: R <= (n Vr - V)/((n - 1) dI). The same
    form stands in capacitor makers' application guides (recalled). At switch-on capacitance decides: the
    smallest, (1 - t), against the others at (1 + t). Compare `switch_on_v` with `surge_voltage`.
    """
    if int(count) != count or count < 2:
        raise ValueError("count: a whole number, at least 2")
    total, rated = positive("total_v", total_v), positive("rated_v", rated_v)
    spread, t = positive("leakage_spread_a", leakage_spread_a), at_least_zero("tolerance", tolerance)
    if np.any(count * rated <= total):
        raise ValueError("total_v: at or above what the capacitors are rated for together")
    if np.any(t >= 1):
        raise ValueError("tolerance: must be below 1")
    ohms = (count * rated - total) / ((count - 1) * spread)
    watts = rated**2 / ohms
    first = total * (1 + t) / ((1 + t) + (count - 1) * (1 - t))
    return Balance(ohms, watts, 2 * watts, positive("each_f", each_f) / count, first)


def motor_run_fails_below(nominal_f: ArrayLike, tolerance: ArrayLike = 0.05) -> Array:
    """Farads below which a motor-run capacitor counts as failed.

    IEC 60252-1 (edition 2.1, section 3, quoted in public project notes): drift of 10 % beyond the
    tolerance, so 15 % low for a 5 % part.
    """
    return positive("nominal_f", nominal_f) * (1 - _tolerance(tolerance) - MOTOR_RUN_DRIFT)


def _tolerance(value: ArrayLike) -> Array:
    fraction = at_least_zero("tolerance", value)
    if np.any(fraction >= 1 - MOTOR_RUN_DRIFT):
        raise ValueError("tolerance: a fraction, 0.05 for 5 %")
    return fraction
