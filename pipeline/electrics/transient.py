"""What decides the first capacitor and the resistance before it: source impedance, hot switching, peak current."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypedDict, Unpack, cast

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, positive
from .diode import diode_drop, drop_factor, path_current
from .network import Circuit, circuit_named
from .rectifier import CapacitorInput, capacitor_input

_PROBES = 17  # values tried at once when a resistance is sought


class Others(TypedDict, total=False):
    """Diodes and load, as `capacitor_input` takes them."""

    perveance: ArrayLike | None
    threshold_v: ArrayLike
    load_ohm: ArrayLike | None
    load_a: ArrayLike | None
    load_k: ArrayLike | None


class AddedOhm(NamedTuple):
    """Resistance to add in series with each plate, and what then stands and flows."""

    ohm: np.ndarray
    dc_v: np.ndarray
    plate_peak_a: np.ndarray


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


def added_ohm_for_peak(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    reservoir_f: ArrayLike,
    rating_a: ArrayLike,
    **others: Unpack[Others],
) -> AddedOhm:
    """Least resistance to add per plate so that the steady peak plate current stays within a rating.

    Parameters
    ----------
    circuit, v_rms, frequency_hz, source_ohm, reservoir_f, **others
        As for `capacitor_input`.
    rating_a : array_like
        Steady-state peak plate current the maker allows.

    Returns
    -------
    AddedOhm
        `ohm` to three figures, never below what is needed; zero where none is needed.

    Raises
    ------
    ValueError
        As `capacitor_input`.
    """
    circuit_named(circuit)
    rating = positive("rating_a", rating_a)
    limit = np.sqrt(2) * at_least_zero("v_rms", v_rms) / rating * 1.01
    given = (circuit, v_rms, frequency_hz, source_ohm, reservoir_f)
    ohm, result = _with_added(*given, others, "plate_peak_a", limit, rating)
    return AddedOhm(ohm, result.dc_v, result.plate_peak_a)


def _with_added(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    reservoir_f: ArrayLike,
    others: Others,
    figure: str,
    limit: np.ndarray,
    target: np.ndarray,
) -> tuple[np.ndarray, CapacitorInput]:
    """Least resistance, up to `limit`, that brings a figure of `capacitor_input` down to `target`; and all of them."""
    (volts, hertz, source, farad), more = _last_axis((v_rms, frequency_hz, source_ohm, reservoir_f), others)

    def found(ohm: np.ndarray) -> np.ndarray:
        return getattr(capacitor_input(circuit, volts, hertz, source + ohm, farad, **more), figure)

    ohm = _least(found, limit, target)
    return ohm, capacitor_input(
        circuit, v_rms, frequency_hz, np.asarray(source_ohm, float) + ohm, reservoir_f, **others
    )


def _last_axis(values: tuple[ArrayLike, ...], others: Others) -> tuple[list[np.ndarray], Others]:
    """The same arguments with one more axis at the end, for values tried side by side."""
    more = {name: None if value is None else np.asarray(value, float)[..., None] for name, value in others.items()}
    return [np.asarray(value, float)[..., None] for value in values], cast(Others, more)


def _least(figure: Callable[[np.ndarray], np.ndarray], limit: np.ndarray, target: np.ndarray) -> np.ndarray:
    """Least x (...) between 0 and `limit` at which figure(x), falling with x, is not above `target`.

    `figure` takes x (..., k) and gives the same shape, with the circuits' shape ... broadcast in.
    """
    low, high = np.zeros(np.shape(limit)), np.asarray(limit, float)
    share = np.linspace(0.0, 1.0, _PROBES)
    for _ in range(4):
        tried = low[..., None] + (high - low)[..., None] * share
        found = figure(tried)
        tried = np.broadcast_to(tried, found.shape)
        within = found <= np.asarray(target, float)[..., None]
        first = np.where(within.any(axis=-1), np.argmax(within, axis=-1), _PROBES - 1)[..., None]
        high = np.take_along_axis(tried, first, axis=-1)[..., 0]
        low = np.take_along_axis(tried, np.maximum(first - 1, 0), axis=-1)[..., 0]
    return high[()]
