"""Current through one conducting path: winding resistance, a threshold and a vacuum diode in series."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

_TINY = 1e-300


def perveance(drop_v: ArrayLike, drop_at_a: ArrayLike) -> np.ndarray:
    """Perveance K of a vacuum diode from the one drop figure its maker prints.

    Parameters
    ----------
    drop_v, drop_at_a : array_like
        Volts across one plate while `drop_at_a` amperes (of that plate) flow. Broadcast together.

    Returns
    -------
    ndarray or float
        K in A/V^1.5, for i = K v^1.5.

    Raises
    ------
    ValueError
        Either figure is not finite or not above zero.

    References
    ----------
    C. D. Child, "Discharge from Hot CaO", Physical Review 32, 1911, p. 492, and I. Langmuir, Physical Review 2,
    1913, p. 450 (recalled): the three-halves-power law.
    """
    drop, amps = np.asarray(drop_v, float), np.asarray(drop_at_a, float)
    for name, value in (("drop_v", drop), ("drop_at_a", amps)):
        if not np.all(np.isfinite(value) & (value > 0)):
            raise ValueError(f"{name}: must be finite and above zero")
    return (amps / drop**1.5)[()]


def diode_drop(current_a: ArrayLike, perveance: ArrayLike) -> np.ndarray:
    """Volts across a vacuum diode, (i/K)^(2/3).

    Parameters
    ----------
    current_a : array_like
        Amperes; at or below zero gives no drop.
    perveance : array_like
        K in A/V^1.5, above zero. Broadcasts with `current_a`.

    Returns
    -------
    ndarray or float
        Volts.

    References
    ----------
    Child-Langmuir law, see `perveance`.
    """
    ratio = np.maximum(np.asarray(current_a, float), 0.0) / np.asarray(perveance, float)
    return np.cbrt(ratio * ratio)[()]


def drop_factor(perveance: ArrayLike | None, in_series: int = 1) -> np.ndarray:
    """Factor a of the drop a i^(2/3) of `in_series` equal diodes; zero for silicon (`perveance` None)."""
    if perveance is None:
        return np.zeros(())
    return in_series * np.asarray(perveance, float) ** (-2.0 / 3.0)


def path_current(volts: np.ndarray, ohm: np.ndarray, factor: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Current and slope of a path in which `volts` drive `ohm` and a vacuum diode in series.

    Solves volts = ohm i + factor i^(2/3) for i >= 0, with zero current for volts below zero.

    Parameters
    ----------
    volts : ndarray
        Volts beyond any threshold.
    ohm : ndarray
        Series resistance; may be zero where `factor` is not.
    factor : ndarray
        `drop_factor` of the diodes in the path; zero for silicon. All zero or all above zero.

    Returns
    -------
    current, slope : ndarray
        Amperes and siemens (di/dv).

    Notes
    -----
    With s = i^(1/3) the equation is the cubic ohm s^3 + factor s^2 = volts. Newton's method from a start within
    6 % of the root, on its convex side, leaves an error below 1e-9 after three steps, whatever the ratio.
    """
    drive = np.maximum(volts, 0.0)
    if not np.any(factor):
        return drive / ohm, np.where(volts > 0.0, 1.0 / ohm, 0.0)
    root = np.sqrt(drive / factor)
    root = root / np.cbrt(1.0 + root * (ohm / factor))
    for _ in range(3):
        part = ohm * root
        root = ((2.0 * part + factor) * root * root + drive) / (root * (3.0 * part + 2.0 * factor) + _TINY)
    return root * root * root, root / (ohm * root + factor * (2.0 / 3.0))
