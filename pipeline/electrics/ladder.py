"""The largest first capacitor of a ladder of values, found from a few of them instead of all."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import positive
from .sections import Section, read_sections
from .supply import supply

_FEW = 5  # of bounds this near all places between are asked for
_FIELDS = tuple(name for name in Section._fields if name != "parent")


class LargestFirst(NamedTuple):
    """The largest value of a ladder within a peak rating, and the peaks around it; arrays of the batch's shape."""

    place: np.ndarray  # of the value in the ladder; -1: not even the least is within the rating
    farads: np.ndarray  # nan where there is none
    plate_peak_a: np.ndarray  # at that value
    next_peak_a: np.ndarray  # at the next larger value; nan where there is none


def largest_within(
    peaks: Callable[[np.ndarray, np.ndarray], np.ndarray],
    known_a: np.ndarray,
    rating_a: np.ndarray,
) -> np.ndarray:
    """Where each row's peak, rising along its ladder, last is within its rating; -1 where it never is.

    Parameters
    ----------
    peaks : callable
        Peak amperes (k,) of rows (k,) at places (k,) of their ladders; nan counts as above the rating.
    known_a : ndarray (R, L)
        Peaks that are known already, nan where not; what is found is written into it.
    rating_a : ndarray (R,)

    Notes
    -----
    Each round asks for all rows together, for a call of the solver costs as much as some hundred rows of it: for the
    end of the ladder beyond which nothing is known, else for three places between the bounds, or all of few.
    """
    rows, size = known_a.shape
    low, high = np.full(rows, -1), np.full(rows, size)
    while True:
        _close_in(known_a, rating_a, low, high)
        open_ = np.flatnonzero(high - low > 1)
        if not open_.size:
            return low
        asked = [(row, place) for row in open_ for place in _tried(int(low[row]), int(high[row]), size)]
        who, at = np.array(asked).T
        found = peaks(who, at)
        known_a[who, at] = np.where(np.isnan(found), np.inf, found)


def _close_in(known: np.ndarray, rating: np.ndarray, low: np.ndarray, high: np.ndarray) -> None:
    """Move the bounds to the greatest known place within the rating and the least above it."""
    size = known.shape[1]
    place = np.arange(size)
    with np.errstate(invalid="ignore"):
        above = known > rating[:, None]
        high[:] = np.where(above.any(axis=1), above.argmax(axis=1), size)
        within = (known <= rating[:, None]) & (place < high[:, None])
    low[:] = np.where(within.any(axis=1), size - 1 - within[:, ::-1].argmax(axis=1), -1)


def _tried(low: int, high: int, size: int) -> Sequence[int]:
    """The places to ask for, strictly between the bounds."""
    if (low < 0) != (high >= size):
        return (0,) if low < 0 else (size - 1,)
    if high - low <= _FEW:
        return range(low + 1, high)
    return [low + (high - low) * k // 4 for k in (1, 2, 3)]


def largest_first_capacitor(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    sections: Sequence[Section | Mapping[str, Any]],
    ladder_f: ArrayLike,
    rating_a: ArrayLike,
    *,
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
    tolerance: ArrayLike = 1.0,
    known_a: ArrayLike | None = None,
) -> LargestFirst:
    """The largest first capacitor of a ladder for which the steady peak plate current stays within a rating.

    Every number may be an array; all broadcast together, `ladder_f` and `known_a` without their last axis.

    Parameters
    ----------
    circuit, v_rms, frequency_hz, source_ohm, sections, perveance, threshold_v
        As for `supply`, with a capacitor input; the first section's capacitance is what is sought.
    ladder_f : array_like (..., L)
        Values to choose from, ascending; equal neighbours are allowed.
    rating_a : array_like
        Steady-state peak plate current the maker allows.
    tolerance : array_like
        Factor on the value by which the part may be larger than it says.
    known_a : array_like (..., L), optional
        Peaks that are known already, nan where not.

    Returns
    -------
    LargestFirst
        A value for which no steady state is found counts as too large.

    Raises
    ------
    ValueError
        As `supply`; a ladder without values or not ascending.

    Notes
    -----
    The peak is taken to rise along the ladder. In some supplies it falls again, by less than a thousandth, beyond
    the value from which on the ripple hardly changes.
    """
    ladder, rating = positive("ladder_f", ladder_f), positive("rating_a", rating_a)
    if not ladder.ndim or not ladder.shape[-1] or np.any(np.diff(ladder) < 0):
        raise ValueError("ladder_f: must be values in ascending order")
    parts = read_sections(sections)
    figures = [v_rms, frequency_hz, source_ohm, 1.0 if perveance is None else perveance, threshold_v, tolerance, rating]
    figures += [np.nan if value is None else value for part in parts for value in part[: len(_FIELDS)]]
    size = ladder.shape[-1]
    shape = np.broadcast_shapes(ladder.shape[:-1], *(np.shape(figure) for figure in figures))
    flat = [np.broadcast_to(np.asarray(figure, float), shape).reshape(-1) for figure in figures]
    ladder = np.broadcast_to(ladder, (*shape, size)).reshape(-1, size)
    known = np.full(ladder.shape, np.nan)
    if known_a is not None:
        known[:] = np.broadcast_to(np.asarray(known_a, float), (*shape, size)).reshape(-1, size)

    def peaks(rows: np.ndarray, at: np.ndarray) -> np.ndarray:
        volts, hertz, ohm, k, threshold, larger, _, *numbers = (value[rows] for value in flat)
        given = []
        for i, part in enumerate(parts):
            own = dict(zip(_FIELDS, numbers[i * len(_FIELDS) :], strict=False))
            if part.load_ohm is None:
                own["load_ohm"] = None
            given.append(part._replace(**own))
        given[0] = given[0]._replace(capacitance_f=ladder[rows, at] * larger)
        return supply(circuit, volts, hertz, ohm, given, perveance=None if perveance is None else k,
                      threshold_v=threshold, unsettled="nan").plate_peak_a  # fmt: skip

    index = largest_within(peaks, known, flat[6])
    row, above = np.arange(len(index)), np.minimum(index + 1, size - 1)
    known[~np.isfinite(known)] = np.nan
    some = index >= 0
    results = (index, np.where(some, ladder[row, index], np.nan), np.where(some, known[row, index], np.nan),
               np.where(index + 1 < size, known[row, above], np.nan))  # fmt: skip
    return LargestFirst(*(result.reshape(shape)[()] for result in results))
