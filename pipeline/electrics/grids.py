"""Where the time steps of a rectifier's steady state are best laid, found from where its paths conduct.

Arrays have the batch as their last axis. m states, W windows, N time steps, B circuits.
"""

from __future__ import annotations

import numpy as np

from .laws import Network, path_volts
from .newton import RADAU, Grid

COARSE_STEP = np.pi / 32  # of the even grid
_IDLE_STEP = np.pi / 8  # of the same in the half cycle in which a half-wave rectifier blocks
# Steps of the fitted grid before, at turn-on, in conduction and after it, by half cycles to a window.
_SPLITS = {1: (3, 11, 12, 6), 2: (3, 12, 17, 12)}


def even_grid(network: Network) -> np.ndarray:
    """The grid (N + 1, 1) of the first pass, the same for all circuits."""
    both = network.halves == 2 and (len(network.windows) == 2 or np.isinf(network.layer).any())
    halves = 2 if both else 1
    fine = np.arange(0, halves * 32 + 1) * COARSE_STEP
    idle = np.arange(_IDLE_STEP, (network.halves - halves) * np.pi + 1e-9, _IDLE_STEP)
    return np.concatenate([fine, fine[-1] + idle])[:, None] - np.pi / 2


def conduction(network: Network, grid: Grid, states: np.ndarray) -> np.ndarray:
    """Angles (2, W, B) between which each path that has a window conducts around its greatest drive.

    Turn-on is read from the two samples before it, which the current that flows behind it does not bend; turn-off
    between the two samples around it.
    """
    span, angle = np.pi * network.halves, grid.angle[-1]
    drive = [path_volts(network, j, grid.emf[-1], states[:, -1]) for j in range(len(network.sign))]
    found = []
    for j in network.windows:
        other = drive[1 - j] if network.halves == 1 and len(drive) == 2 else drive[j]
        found.append(_window(angle, drive[j], other, span))
    window = np.array(found).transpose(1, 0, 2)
    return window - span * np.floor((window[0] - window[0, 0]) / span)


def _window(angle: np.ndarray, volts: np.ndarray, other: np.ndarray, span: float) -> tuple[np.ndarray, np.ndarray]:
    """Angles (B,) around the greatest of `volts` (N, B) at which it rises and falls through zero.

    Before and after lies `other` (N, B), a span away.
    """
    steps, batch = volts.shape
    place = np.arange(steps, dtype=np.int16)[:, None]
    far = np.int16(3 * steps)
    crest = np.where(volts == volts.max(axis=0), place, far).min(axis=0)
    below, beyond = volts <= 0, other <= 0
    off = np.where(below & (place > crest), place, far).min(axis=0)
    next_off = np.where(beyond, place + np.int16(steps), far).min(axis=0)
    off = np.minimum(np.minimum(off, next_off), 2 * steps - 1)
    on = np.where(below & (place < crest), place, -far).max(axis=0)
    last_on = np.where(beyond, place - np.int16(steps), -far).max(axis=0)
    on = np.maximum(np.maximum(on, last_on), 1 - steps)

    def sample(at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        row, column = at % steps, np.arange(batch)
        own = (at >= 0) & (at < steps)
        times = angle[row, 0 if angle.shape[1] == 1 else column] + span * (at // steps)
        return times, np.where(own, volts[row, column], other[row, column])

    (t1, v1), (t2, v2), (t3, _) = sample(on), sample(on - 1), sample(on + 1)
    rising = np.clip(t1 - _share(v1, v2) * (t1 - t2), t1, t3)
    (t1, v1), (t2, v2) = sample(off - 1), sample(off)
    return rising, np.clip(t1 + _share(v1, v2) * (t2 - t1), t1, t2)


def _share(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """Where the line from `one` at 0 to `other` at 1 crosses zero; 0 where it hardly slopes."""
    return np.divide(one, one - other, out=np.zeros_like(one), where=one - other > 1e-9 * np.abs(one))


def fitted_grid(network: Network, window: np.ndarray) -> np.ndarray:
    """Grid (N + 1, B): even through each conduction interval, closing up towards its begin."""
    span, count = np.pi * network.halves, window.shape[1]
    on = window[0] - 1e-6 - 0.05 * np.minimum(network.layer, 0.01)
    on[1:] = np.clip(on[1:], on[0] + 0.1 * span, on[0] + 0.9 * span)
    off = np.minimum(window[1], on + 0.99 * span)
    if count == 1:  # conduction over the whole span: begin where the paths take turns
        on = np.where(window[1] - window[0] > 0.99 * span, (window[1] + window[0] - 0.99 * span) / 2, on)
        off = np.minimum(window[1], on + 0.99 * span)
    before = np.concatenate([off[-1:] - span, off[:-1]])
    begin = on - np.minimum(0.2 * np.maximum(on - before, 1e-3), 0.2)
    end = np.concatenate([begin[1:], begin[:1] + span])
    counts = (network.density * n for n in _SPLITS[network.halves // count])
    early, rising, flat, late = (np.arange(n)[:, None] / n for n in counts)
    pieces = []
    for w in range(count):
        stop = np.clip(off[w], on[w] + 1e-6 * span, end[w] - 1e-3 * span)
        rise = np.minimum((stop - on[w]) / 3, 15.0 * network.layer)
        pieces += [on[w] - (on[w] - begin[w]) * (1.0 - early) ** 3, on[w] + rise * rising**1.5]
        pieces += [on[w] + rise + (stop - on[w] - rise) * flat, stop + (end[w] - stop) * late**1.5]
    return np.concatenate([*pieces, end[-1:]])


def dense(grid: np.ndarray, more: int) -> np.ndarray:
    """The same grid (N + 1, B) with `more` nodes laid evenly over it."""
    if not more:
        return grid
    even = (np.arange(more)[:, None] + 0.5) / more
    return np.sort(np.concatenate([grid, grid[:1] + even * (grid[-1:] - grid[:1])]), axis=0)


def _place(nodes: np.ndarray, angle: np.ndarray) -> np.ndarray:
    """Number of the step, and share of it, at which each angle (S, N, B) lies among the nodes (M + 1, B or 1)."""
    steps, batch = len(nodes) - 1, angle.shape[-1]
    if nodes.shape[1] == 1:
        return np.interp(angle.ravel(), nodes[:, 0], np.arange(steps + 1.0)).reshape(angle.shape)
    shift = 100.0 * np.arange(batch)  # lays the circuits end to end, so that one call reads them all
    wanted = (angle + shift).T  # in order of time for each circuit: that is quickest
    place = np.interp(wanted.ravel(), (nodes + shift).T.ravel(), np.tile(np.arange(steps + 1.0), batch))
    return np.ascontiguousarray(place.reshape(wanted.shape).T)


def resample(network: Network, old: Grid, states: np.ndarray, new: Grid) -> np.ndarray:
    """A guess (m, 2, N, B) of the states at the stages of a grid, from the `states` (m, S, M, B) on an older one.

    Read off the parabola through begin, first stage and end of each step; off a line where there is no first stage.
    """
    span, (m, stages, steps, batch) = np.pi * network.halves, states.shape
    turns = np.floor((new.angle - old.nodes[0]) / span)
    place = _place(old.nodes, new.angle - turns * span)
    step = np.minimum(place.astype(np.intp), steps - 1)
    share = place - step
    at = step * batch + np.arange(batch)
    end = states[:, -1]
    begin = np.concatenate([np.empty_like(end[:, :1]), end[:, :-1]], axis=1)
    begin[network.twist, 0] = end[:, -1]
    found = np.empty((m, *place.shape))
    for a in range(m):
        low, high = (values[a].take(at) for values in (begin, end))
        found[a] = low + share * (high - low)
        if stages == 2:
            bend = states[a, 0].take(at) - low - RADAU.nodes[0] * (high - low)
            found[a] += bend * (share * (1.0 - share) / (RADAU.nodes[0] * (1.0 - RADAU.nodes[0])))
    return np.where(turns % 2 == 0, found, found[network.twist]) if network.halves == 1 and m > 1 else found
