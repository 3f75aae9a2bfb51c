"""Hand formulas of the smoothing filter: quick estimates and checks beside the solver."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .arguments import number


def critical_inductance(load_ohm: ArrayLike, frequency_hz: ArrayLike) -> np.ndarray:
    """Least inductance of an input choke for which its current never stops, full-wave.

    Parameters
    ----------
    load_ohm : array_like
        All that is drawn, as a resistance.
    frequency_hz : array_like
        Mains frequency.

    Returns
    -------
    ndarray or float
        Henries, R / (6 pi f): R/1131 at 60 Hz, R/942 at 50 Hz.

    Raises
    ------
    ValueError
        An argument is not finite and above zero.

    References
    ----------
    Article "Ripple (electrical)" of an encyclopaedia (read): the second harmonic of the rectified sine, 2/3 of the
    mean, just reaches zero current in 2 w L.
    """
    return (number("load_ohm", load_ohm) / (6 * np.pi * number("frequency_hz", frequency_hz)))[()]


def choke_input_dc(v_rms: ArrayLike) -> np.ndarray:
    """Mean of a full-wave rectified sine, volts: what an ideal choke input gives above critical inductance.

    Parameters
    ----------
    v_rms : array_like
        Winding volts, rms (each half).

    Returns
    -------
    ndarray or float
        2 sqrt(2) / pi times `v_rms`.

    Raises
    ------
    ValueError
        Not finite, or negative.
    """
    return (number("v_rms", v_rms, zero=True) * (2 * np.sqrt(2) / np.pi))[()]


def choke_input_ripple(
    dc_v: ArrayLike, inductance_h: ArrayLike, capacitance_f: ArrayLike, frequency_hz: ArrayLike
) -> np.ndarray:
    """Ripple after the first choke and capacitor of a full-wave choke input, V rms.

    Parameters
    ----------
    dc_v : array_like
        Direct volts.
    inductance_h, capacitance_f : array_like
        Choke and capacitor; the product well above resonance at twice the mains.
    frequency_hz : array_like
        Mains frequency.

    Returns
    -------
    ndarray or float
        dc sqrt(2) / 3 / (4 w^2 L C), w of the mains.

    Raises
    ------
    ValueError
        An argument is not finite and above zero.

    References
    ----------
    Article "Ripple (electrical)" of an encyclopaedia (read).
    """
    omega = 2 * np.pi * number("frequency_hz", frequency_hz)
    product = number("inductance_h", inductance_h) * number("capacitance_f", capacitance_f)
    return (number("dc_v", dc_v) * np.sqrt(2) / 3 / (4 * omega**2 * product))[()]


def reservoir_ripple(load_a: ArrayLike, capacitance_f: ArrayLike, ripple_hz: ArrayLike) -> np.ndarray:
    """Upper bound of the peak-to-peak ripple on a reservoir, I / (f C).

    Parameters
    ----------
    load_a : array_like
        Direct current drawn.
    capacitance_f : array_like
        Reservoir.
    ripple_hz : array_like
        Charging pulses a second: twice the mains for full-wave circuits.

    Returns
    -------
    ndarray or float
        Volts peak to peak; the rms of that sawtooth is smaller by 2 sqrt(3).

    Raises
    ------
    ValueError
        An argument is not finite, or negative, or (but for the current) zero.

    References
    ----------
    Article "Ripple (electrical)" of an encyclopaedia (read). The solver gives less: the capacitor is not discharging
    while it is charged.
    """
    drawn = number("load_a", load_a, zero=True)
    return (drawn / (number("ripple_hz", ripple_hz) * number("capacitance_f", capacitance_f)))[()]


def rc_attenuation(
    series_ohm: ArrayLike, capacitance_f: ArrayLike, ripple_hz: ArrayLike, load_ohm: ArrayLike | None = None
) -> np.ndarray:
    """Ripple behind a resistor and capacitor as a share of that before them.

    Parameters
    ----------
    series_ohm, capacitance_f : array_like
        The section.
    ripple_hz : array_like
        Frequency of the ripple, twice the mains for full-wave circuits.
    load_ohm : array_like, optional
        Load across the capacitor; none if not given.

    Returns
    -------
    ndarray or float
        \\|Z / (R + Z)\\|, Z the capacitor with its load.

    Raises
    ------
    ValueError
        An argument is not finite and above zero.
    """
    return _divider(number("series_ohm", series_ohm) + 0j, capacitance_f, ripple_hz, load_ohm)


def lc_attenuation(
    inductance_h: ArrayLike,
    capacitance_f: ArrayLike,
    ripple_hz: ArrayLike,
    load_ohm: ArrayLike | None = None,
    choke_ohm: ArrayLike = 0.0,
) -> np.ndarray:
    """Ripple behind a choke and capacitor as a share of that before them.

    Parameters
    ----------
    inductance_h, capacitance_f : array_like
        The section. Below resonance at `ripple_hz` the figure is above one: the section makes ripple worse.
    ripple_hz : array_like
        Frequency of the ripple.
    load_ohm : array_like, optional
        Load across the capacitor; none if not given.
    choke_ohm : array_like
        Resistance of the choke.

    Returns
    -------
    ndarray or float
        \\|Z / (R + j w L + Z)\\|; about 1 / (w^2 L C - 1).

    Raises
    ------
    ValueError
        An argument is not finite, or negative, or (but for `choke_ohm`) zero.
    """
    omega = 2 * np.pi * number("ripple_hz", ripple_hz)
    series = number("choke_ohm", choke_ohm, zero=True) + 1j * omega * number("inductance_h", inductance_h)
    return _divider(series, capacitance_f, ripple_hz, load_ohm)


def _divider(series: np.ndarray, capacitance_f: ArrayLike, ripple_hz: ArrayLike, load_ohm: ArrayLike | None):
    admittance = 2j * np.pi * number("ripple_hz", ripple_hz) * number("capacitance_f", capacitance_f)
    if load_ohm is not None:
        admittance = admittance + 1.0 / number("load_ohm", load_ohm)
    return np.abs(1.0 / (1.0 + series * admittance))[()]
