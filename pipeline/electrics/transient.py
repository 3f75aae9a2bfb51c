"""What flows when a supply is switched on hot, and the resistance that keeps it within a rating."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, positive
from .diode import diode_drop, drop_factor, path_current
from .network import Circuit, circuit_named


def hot_switching(
    circuit: str,
    v_rms: ArrayLike,
    source_ohm: ArrayLike,
    *,
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
) -> np.ndarray:
    """Greatest plate current when a supply with an empty reservoir and a hot cathode is switched on.

    Parameters
    ----------
    circuit, v_rms, source_ohm, perveance, threshold_v
        As for `capacitor_input`. Silicon needs some `source_ohm`.

    Returns
    -------
    ndarray or float
        Amperes through one diode at the worst instant.

    Raises
    ------
    ValueError
        As `capacitor_input`; `source_ohm` zero with silicon, where nothing limits the current.

    Notes
    -----
    The worst instant is the crest: the empty capacitor then takes the whole peak at once, whatever its size; an
    earlier instant finds it partly charged when the crest comes. The same holds for the second diode of a doubler,
    whose capacitor begins to charge well before its crest. The load, small beside that current, is left out, and so
    are the transformer's leakage inductance, which softens the real transient, and the core's own inrush.

    References
    ----------
    Derived; agrees with ngspice at every instant of switching tried.
    """
    kind, volts = _crest(circuit, v_rms, threshold_v)
    ohm = (positive if perveance is None else at_least_zero)("source_ohm", source_ohm)
    factor = np.zeros(()) if perveance is None else drop_factor(positive("perveance", perveance), kind.in_series)
    return path_current(volts, ohm, factor)[0][()]


def added_ohm_for_switching(
    circuit: str,
    v_rms: ArrayLike,
    source_ohm: ArrayLike,
    rating_a: ArrayLike,
    *,
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
) -> np.ndarray:
    """Least resistance to add per plate so that hot switching stays within a transient rating.

    Parameters
    ----------
    circuit, v_rms, source_ohm, perveance, threshold_v
        As for `hot_switching`.
    rating_a : array_like
        Transient (hot-switching) plate current the maker allows.

    Returns
    -------
    ndarray or float
        Ohms; zero where none is needed.

    Raises
    ------
    ValueError
        As `hot_switching`.
    """
    kind, volts = _crest(circuit, v_rms, threshold_v)
    rating = positive("rating_a", rating_a)
    if perveance is not None:
        volts = volts - kind.in_series * diode_drop(rating, positive("perveance", perveance))
    return np.maximum(volts / rating - at_least_zero("source_ohm", source_ohm), 0.0)[()]


def _crest(circuit: str, v_rms: ArrayLike, threshold_v: ArrayLike) -> tuple[Circuit, np.ndarray]:
    """The circuit, and the peak volts that are left to it after the thresholds of its diodes in series."""
    kind = circuit_named(circuit)
    volts = np.sqrt(2) * at_least_zero("v_rms", v_rms)
    return kind, volts - kind.in_series * at_least_zero("threshold_v", threshold_v)
