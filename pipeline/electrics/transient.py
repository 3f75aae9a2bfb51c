"""What decides the first capacitor and the resistance before it: source impedance, hot switching, peak current."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple, TypedDict, Unpack, cast

import numpy as np
from numpy.typing import ArrayLike

from .arguments import number
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


class LargestCapacitor(NamedTuple):
    """The largest reservoir within a peak rating, and the curve it was read from; c candidates, ascending."""

    largest_f: np.ndarray  # (...) nan where none is within the rating
    candidates_f: np.ndarray  # (c,)
    dc_v: np.ndarray  # (..., c)
    ripple_pp_v: np.ndarray  # (..., c)
    plate_peak_a: np.ndarray  # (..., c)


class AddedOhm(NamedTuple):
    """Resistance to add in series with each plate, and what then stands and flows."""

    ohm: np.ndarray
    dc_v: np.ndarray
    plate_peak_a: np.ndarray


class SeriesResistor(NamedTuple):
    """A resistor between rectifier and reservoir (in a doubler: at the winding) that brings the dc volts down."""

    ohm: np.ndarray
    rms_a: np.ndarray
    watts: np.ndarray
    dc_v: np.ndarray


def supply_impedance(
    secondary_ohm: ArrayLike,
    primary_ohm: ArrayLike = 0.0,
    secondary_v: ArrayLike = 1.0,
    primary_v: ArrayLike = 1.0,
    added_ohm: ArrayLike = 0.0,
) -> np.ndarray:
    """Resistance of one conducting path (plate-supply impedance): the winding, the primary seen through it, the rest.

    Parameters
    ----------
    secondary_ohm, primary_ohm : array_like
        Winding resistances; of each half of a centre-tapped secondary.
    secondary_v, primary_v : array_like
        Open-circuit volts of the same windings; only their ratio matters.
    added_ohm : array_like
        Added in series with each plate.

    Returns
    -------
    ndarray or float
        Ohms. Leakage reactance is left out, as makers of tubes do.

    Raises
    ------
    ValueError
        An argument is not finite, or negative, or a voltage is zero.

    References
    ----------
    A tube maker's plate-supply impedance; rule as in a general calculator page (read), worked example derived.
    """
    ratio = number("secondary_v", secondary_v) / number("primary_v", primary_v)
    own = number("secondary_ohm", secondary_ohm, zero=True) + number("added_ohm", added_ohm, zero=True)
    return (own + number("primary_ohm", primary_ohm, zero=True) * ratio**2)[()]


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
    ohm = number("source_ohm", source_ohm, zero=perveance is not None)
    factor = np.zeros(()) if perveance is None else drop_factor(number("perveance", perveance), kind.in_series)
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
    rating = number("rating_a", rating_a)
    if perveance is not None:
        volts = volts - kind.in_series * diode_drop(rating, number("perveance", perveance))
    return np.maximum(volts / rating - number("source_ohm", source_ohm, zero=True), 0.0)[()]


def _crest(circuit: str, v_rms: ArrayLike, threshold_v: ArrayLike) -> tuple[Circuit, np.ndarray]:
    """The circuit, and the peak volts that are left to it after the thresholds of its diodes in series."""
    kind = circuit_named(circuit)
    volts = np.sqrt(2) * number("v_rms", v_rms, zero=True)
    return kind, volts - kind.in_series * number("threshold_v", threshold_v, zero=True)


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
    rating = number("rating_a", rating_a)
    limit = np.sqrt(2) * number("v_rms", v_rms, zero=True) / rating * 1.01
    given = (circuit, v_rms, frequency_hz, source_ohm, reservoir_f)
    ohm, result = _with_added(*given, others, "plate_peak_a", limit, rating)
    return AddedOhm(ohm, result.dc_v, result.plate_peak_a)


def series_ohm_for_dc(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    reservoir_f: ArrayLike,
    target_dc_v: ArrayLike,
    **others: Unpack[Others],
) -> SeriesResistor:
    """Resistor that brings the dc volts of a replacement rectifier down to those of the old one.

    Parameters
    ----------
    circuit, v_rms, frequency_hz, source_ohm, reservoir_f, **others
        As for `capacitor_input`, with the new (silicon) diodes. One of the loads must be given.
    target_dc_v : array_like
        Direct volts wanted: those `capacitor_input` gives with the old tube, or those read in the set.

    Returns
    -------
    SeriesResistor
        One resistor between the diodes and the reservoir, which all pulses pass (at the winding of a doubler). Its
        watts are those of the rms current, several times dc squared times ohms; choose a part rated for twice that.
        Zero ohms where the new rectifier gives no more than wanted anyway.

    Raises
    ------
    ValueError
        As `capacitor_input`; no load given.
    """
    circuit_named(circuit)
    if all(others.get(name) is None for name in ("load_ohm", "load_a", "load_k")):
        raise ValueError("load_a: a series resistor drops nothing without a load")
    target = number("target_dc_v", target_dc_v)
    limit = np.sqrt(2) * number("v_rms", v_rms, zero=True) / _drawn(target, others)
    given = (circuit, v_rms, frequency_hz, source_ohm, reservoir_f)
    ohm, result = _with_added(*given, others, "dc_v", limit, target)
    rms = result.plate_rms_a * (1.0 if circuit == "half-wave" else np.sqrt(2.0))  # all paths pass the resistor
    return SeriesResistor(ohm, rms, ohm * rms**2, result.dc_v)


def _drawn(volts: np.ndarray, others: Others) -> np.ndarray:
    """Load current at given volts, at least a little."""
    total = np.zeros(())
    ohm, amperes, k = others.get("load_ohm"), others.get("load_a"), others.get("load_k")
    if ohm is not None:
        total = total + volts / number("load_ohm", ohm)
    if amperes is not None:
        total = total + number("load_a", amperes, zero=True)
    if k is not None:
        total = total + number("load_k", k, zero=True) * volts**1.5
    return np.maximum(total, 1e-12)


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


def largest_capacitor(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    candidates_f: ArrayLike,
    rating_a: ArrayLike,
    **others: Unpack[Others],
) -> LargestCapacitor:
    """The largest of the given reservoirs for which the steady peak plate current stays within a rating.

    Parameters
    ----------
    circuit, v_rms, frequency_hz, source_ohm, **others
        As for `capacitor_input`.
    candidates_f : array_like
        One axis of capacitances, for instance preferred values.
    rating_a : array_like
        Steady-state peak plate current the maker allows.

    Returns
    -------
    LargestCapacitor
        With the curve: dc volts, ripple and peak current at every candidate.

    Raises
    ------
    ValueError
        As `capacitor_input`; `candidates_f` not one axis.
    """
    candidates = number("candidates_f", candidates_f)
    if candidates.ndim != 1 or not candidates.size:
        raise ValueError("candidates_f: must be one axis of capacitances")
    candidates = np.sort(candidates)
    rating = number("rating_a", rating_a)
    (volts, hertz, source), more = _last_axis((v_rms, frequency_hz, source_ohm), others)
    result = capacitor_input(circuit, volts, hertz, source, candidates, **more)
    within = result.plate_peak_a <= rating[..., None]
    largest = np.max(np.where(within, candidates, -np.inf), axis=-1)
    return LargestCapacitor(
        np.where(np.isfinite(largest), largest, np.nan)[()], candidates, result.dc_v, result.ripple_pp_v,
        result.plate_peak_a,
    )  # fmt: skip
