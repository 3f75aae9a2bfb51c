"""Periodic steady state of a rectifier network, found directly instead of by running hundreds of cycles.

The unknowns are the states at every instant of one period, on a grid that is fine where the rectifier conducts.
Each Newton step linearises the network at all instants at once; every time step is then an affine map of the state
before it, and the maps are multiplied together in pairs, pairs of pairs and so on. The one product left gives the
state that repeats itself after a period, from which all others follow. Every operation runs over all time steps and
all circuits of a batch together.

Arrays here have the batch as their last axis. m states, J rectifier paths, S stages, N time steps, B circuits.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from .diode import path_current
from .linear import chain, eliminate

_MAX_NEWTON = 300
_MAX_PASSES = 8
_ROUGHLY, _EXACTLY = 1e-2, 1e-5  # last change of a Newton iteration; the next would be about its square
_COARSE_STEPS = 32  # of the even grid, per half cycle
# Steps of the fitted grid before, at turn-on, in conduction and after it, by half cycles to a window: powers of two.
_SPLITS = {1: (3, 11, 12, 6), 2: (4, 16, 26, 18)}
_DENSE = 512  # steps of the last resort; a power of two
_FADE = 1e-3  # share of the peak volts below which a constant current fades


class Network(NamedTuple):
    """A rectifier with what hangs on it, ready to be solved; angles in radians of the mains cycle.

    mass x' = linear x + source e + sum_j inject_j i_j - sum_p port_p load_p(port_p x), with e = peak cos(angle),
    i_j the current driven by sign_j e + sense_j x - threshold through path_ohm and path_drop.
    """

    mass: np.ndarray  # (m, B) omega C or omega L; zero for a node without capacitance
    linear: np.ndarray  # (m, m, B)
    source: np.ndarray  # (m, B)
    inject: np.ndarray  # (J, m)
    sense: np.ndarray  # (J, m)
    sign: np.ndarray  # (J,)
    peak: np.ndarray  # (B,)
    path_ohm: np.ndarray  # (B,)
    path_drop: np.ndarray  # (B,) see diode.drop_factor
    threshold: np.ndarray  # (B,)
    port: np.ndarray  # (P, m)
    load_a: np.ndarray  # (P, B)
    load_s: np.ndarray  # (P, B)
    load_k: np.ndarray  # (P, B)
    layer: np.ndarray  # (B,) angle in which the current rises at turn-on
    start: np.ndarray  # (m, B) a first guess at which some path conducts
    twist: np.ndarray  # (m,) state a at the end is state twist[a] at the start
    halves: int  # half cycles in the span that repeats
    density: int  # steps of the fitted grid, in multiples of the least; a power of two
    windows: tuple[int, ...]  # the path that conducts in each equal part of the span

    def only(self, chosen: np.ndarray) -> Network:
        """The same network for some of the circuits."""
        return self._replace(**{name: getattr(self, name)[..., chosen] for name in _PER_CIRCUIT})


_PER_CIRCUIT = (
    "mass", "linear", "source", "peak", "path_ohm", "path_drop", "threshold", "load_a", "load_s", "load_k", "layer",
    "start",
)  # fmt: skip


class Steady(NamedTuple):
    """Samples over one span (half a mains cycle, or a whole one), time running along axis 0."""

    angle: np.ndarray  # (T, B)
    weight: np.ndarray  # (T, B) quadrature weights, summing to the span
    states: np.ndarray  # (m, T, B)
    paths: np.ndarray  # (J, T, B) amperes
    loads: np.ndarray  # (P, T, B) amperes
    emf: np.ndarray  # (T, B)


ENDS = slice(1, None, 2)  # samples at the ends of steps: extremes are read there, where a stiff step is damped


class _Scheme(NamedTuple):
    """An implicit Runge-Kutta scheme whose last stage ends the step."""

    inverse: np.ndarray
    nodes: np.ndarray
    weights: np.ndarray


_EULER = _Scheme(np.array([[1.0]]), np.array([1.0]), np.array([1.0]))
# Radau IIA of order 3: Hairer & Wanner, Solving Ordinary Differential Equations II, Springer 1996, IV.5 (recalled).
_RADAU = _Scheme(np.array([[1.5, 0.5], [-4.5, 2.5]]), np.array([1 / 3, 1.0]), np.array([0.75, 0.25]))


def steady_states(network: Network) -> Iterator[tuple[np.ndarray, Steady]]:
    """Solve a network for the state that repeats itself.

    Parameters
    ----------
    network : Network
        m states, J paths, B circuits; every circuit must draw some load.

    Yields
    ------
    chosen : ndarray
        Numbers of some of the circuits; every circuit comes once.
    steady : Steady
        Theirs.

    Raises
    ------
    ArithmeticError
        Some circuit of the batch did not settle to a repeating state.

    Notes
    -----
    A backward-Euler pass on an even grid finds where the paths conduct; it converges from anywhere, because the
    rectifier law is convex and rising. Passes of order three follow, each on a grid fitted to the conduction
    interval that the one before it found, until that interval no longer moves.
    """
    batch, steps = network.peak.size, network.halves * _COARSE_STEPS
    grid = np.repeat(np.linspace(-np.pi / 2, np.pi * (network.halves - 0.5), steps + 1)[:, None], batch, axis=1)
    guess = np.broadcast_to(network.start[:, None, None], (len(network.start), 1, steps, batch))
    states = _newton(network, grid, _EULER, guess, _ROUGHLY)
    window = _conduction(network, grid, states)
    window += np.array([-0.5, 0.5])[:, None, None] * np.pi / _COARSE_STEPS
    fitted = _fitted_grid(network, window)
    yield from _refine(network, window, fitted, _resample(network, grid, states[:, 0], fitted))


def _refine(network: Network, window: np.ndarray, grid: np.ndarray, states: np.ndarray) -> Iterator:
    """Passes of order three on grids fitted to the conduction interval, until that no longer moves.

    Where the current rises within a small angle, the turn-on must be known to a part of that angle. Intervals that
    do not settle (they hardly exist: no reservoir to speak of, or no resistance) get a last pass on a dense grid.
    """
    busy = np.arange(network.peak.size)
    for count in range(_MAX_PASSES + 1):
        states = _newton(network, grid, _RADAU, states, _EXACTLY)
        found = _conduction(network, grid, states)
        width = np.maximum(found[1] - found[0], 1e-9)
        allowed = np.array([np.minimum(0.15 * width, np.maximum(0.25 * network.layer, 2e-6)), 0.08 * width])
        left = np.max(np.abs(found - window) / allowed, axis=(0, 1)) >= 1.0
        left &= count < _MAX_PASSES
        if not left.all():
            yield busy[~left], _sampled(network.only(~left), grid[:, ~left], states[..., ~left])
        if not left.any():
            return
        window = (found if count < 4 else 0.5 * (found + window))[..., left]
        network, busy, old = network.only(left), busy[left], grid[:, left]
        grid = _fitted_grid(network, window)
        if count == _MAX_PASSES - 1:
            grid = _dense(grid)
        states = _resample(network, old, states[:, -1][..., left], grid)


def _newton(network: Network, grid: np.ndarray, scheme: _Scheme, states: np.ndarray, tolerance: float):
    """States (m, S, N, B) that satisfy the scheme on `grid` (N + 1, B) and repeat after it."""
    result, busy = np.array(states), np.arange(network.peak.size)
    emf, step = network.peak * np.cos(_stage_angles(grid, scheme)), np.diff(grid, axis=0)
    last = np.full(busy.size, np.inf)
    for count in range(_MAX_NEWTON):
        new = _linear_solution(network, step, scheme, emf, states)
        moved, size = (np.max(np.abs(value[:, -1]), axis=1) for value in (new - states, new))
        worst = np.max(moved / (size + 1e-15 * network.peak), axis=0)
        if not np.all(np.isfinite(worst)):
            break
        # A kink can make the steps go round in a circle; steps of ever different length leave it.
        part = 1.0 if count < 30 else np.where(worst > 0.5 * last, 0.1 + 0.9 * (0.618 * count % 1.0), 1.0)
        states = states + part * (new - states)
        last, left = worst, worst >= tolerance
        if np.count_nonzero(left) <= 0.7 * left.size:
            result[..., busy] = states
            if not left.any():
                return result
            network, busy = network.only(left), busy[left]
            emf, step, states, last = emf[..., left], step[:, left], states[..., left], last[left]
    raise ArithmeticError("the rectifier's steady state was not found: Newton's method did not converge")


def _linear_solution(network: Network, step: np.ndarray, scheme: _Scheme, emf: np.ndarray, states: np.ndarray):
    """One Newton step: the periodic solution of the network linearised about `states`."""
    offset, slope, open_ = tangent(network, emf, states)
    m, stages, steps, batch = states.shape
    matrix = np.empty((m, stages, m, stages, steps, batch))
    right = np.empty((m, stages, m + 1, steps, batch))
    if m > 1:
        matrix[:] = 0.0
        right[:] = 0.0
    inverse, total = scheme.inverse, scheme.inverse.sum(axis=1)
    for s in range(stages):
        np.multiply(slope[:, :, s], -step, out=matrix[:, s, :, s])
        np.multiply(offset[:, s], step, out=right[:, s, m])
        for a in range(m):
            right[a, s, a] = total[s] * network.mass[a]
            for t in range(stages):
                if s == t:
                    matrix[a, s, a, s] += inverse[s, s] * network.mass[a]
                else:
                    matrix[a, s, a, t] = inverse[s, t] * network.mass[a]
    shape = (m * stages, m * stages, steps, batch)
    solved = eliminate(matrix.reshape(shape), right.reshape(m * stages, m + 1, steps, batch)).reshape(right.shape)
    begin = chain(solved[:, -1, :m], solved[:, -1, m], network.twist, open_)
    new = solved[:, :, m]
    for a in range(m):
        new = new + solved[:, :, a] * begin[a]
    return np.where(open_, 0.5 * states, new) if open_.any() else new


def tangent(network: Network, emf: np.ndarray, states: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The network's right-hand side near `states` (m, S, N, B), as offset + slope . states.

    Offset (m, S, N, B), slope (m, m, S, N, B), and the circuits (B,) in which no path conducts at any time: of those
    the slopes tell nothing.
    """
    slope = np.empty((len(states), *states.shape))
    slope[:] = network.linear[:, :, None, None]
    offset = np.zeros(states.shape)
    if network.source.any():
        offset += network.source[:, None, None] * emf
    open_ = np.ones(states.shape[-1], bool)
    for j in range(len(network.sign)):
        seen = project(network.sense[j], states)
        volts = network.sign[j] * emf + seen - network.threshold
        current, gain = path_current(volts, network.path_ohm, network.path_drop)
        open_ &= ~gain.any(axis=(0, 1))
        _add(offset, slope, network.inject[j], network.sense[j], current - gain * seen, gain)
    for p in range(len(network.port)):
        seen = project(network.port[p], states)
        current, gain = _load(network, seen, p)
        _add(offset, slope, -network.port[p], network.port[p], current - gain * seen, gain)
    return offset, slope, open_


def _add(offset, slope, into, seen, current, gain) -> None:
    """Add a current flowing `into` the states, current + gain (`seen` . states)."""
    for a in np.flatnonzero(into):
        offset[a] += current if into[a] == 1 else into[a] * current
        for b in np.flatnonzero(seen):
            slope[a, b] += (into[a] * seen[b]) * gain


def project(vector: np.ndarray, states: np.ndarray) -> np.ndarray:
    """Sum of the states (m, ...) weighted by `vector` (m,), most of which is zero."""
    first, *others = np.flatnonzero(vector)
    total = vector[first] * states[first]
    for a in others:
        total = total + vector[a] * states[a]
    return total


def _path(network: Network, emf: np.ndarray, states: np.ndarray, j: int) -> tuple[np.ndarray, np.ndarray]:
    volts = network.sign[j] * emf + project(network.sense[j], states) - network.threshold
    return path_current(volts, network.path_ohm, network.path_drop)


def _load(network: Network, volts: np.ndarray, p: int) -> tuple[np.ndarray, np.ndarray]:
    """Load current and slope; a constant current turns into a resistance below a thousandth of the peak volts.

    Going on as a resistance below zero keeps the whole right-hand side convex, which Newton's method needs.
    """
    current, slope = network.load_s[p] * volts, np.broadcast_to(network.load_s[p], volts.shape)
    if network.load_a[p].any():
        ramp = network.load_a[p] / (_FADE * network.peak)
        current = current + np.minimum(ramp * volts, network.load_a[p])
        slope = slope + np.where(volts < _FADE * network.peak, ramp, 0.0)
    if network.load_k[p].any():
        root = np.sqrt(np.maximum(volts, 0.0))
        current = current + network.load_k[p] * root**3
        slope = slope + 1.5 * network.load_k[p] * root
    return current, slope


def _stage_angles(grid: np.ndarray, scheme: _Scheme) -> np.ndarray:
    """Angles (S, N, B) of the stages of every step."""
    return grid[:-1] + scheme.nodes[:, None, None] * np.diff(grid, axis=0)


def _in_time(stages: np.ndarray) -> np.ndarray:
    """Samples (..., S, N, B) in order of time, (..., N S, B)."""
    turned = np.moveaxis(stages, -3, -2)
    return turned.reshape(*turned.shape[:-3], -1, turned.shape[-1])


def _conduction(network: Network, grid: np.ndarray, states: np.ndarray) -> np.ndarray:
    """Angles (2, W, B) between which each path that has a window conducts around its greatest drive."""
    angle, states = grid[1:], states[:, -1]
    emf, span = network.peak * np.cos(angle), np.pi * network.halves
    drive = [
        network.sign[j] * emf + project(network.sense[j], states) - network.threshold
        for j in range(len(network.sign))
    ]
    angles = np.concatenate([angle - span, angle, angle + span])
    found = []
    for j in network.windows:
        other = drive[1 - j] if network.halves == 1 and len(drive) == 2 else drive[j]
        volts = np.concatenate([other, drive[j], other])
        crest = len(angle) + np.argmax(drive[j], axis=0)
        on = -_crossing(-angles[::-1], volts[::-1], len(volts) - 1 - crest, outside=True)
        found.append((on, _crossing(angles, volts, crest, outside=False)))
    window = np.array(found).transpose(1, 0, 2)
    return window - span * np.floor((window[0] - window[0, 0]) / span)


def _crossing(angles: np.ndarray, volts: np.ndarray, crest: np.ndarray, outside: bool) -> np.ndarray:
    """First angle (B,) after sample `crest` at which volts (T, B) fall through zero.

    Read between the two samples around it; or, `outside`, from the two samples beyond it, which the current that
    flows on the near side does not bend.
    """
    below = (volts <= 0) & (np.arange(len(volts))[:, None] > crest)
    after = np.where(below.any(axis=0), np.argmax(below, axis=0), len(volts) - 1)[None]
    ends = (after, np.minimum(after + 1, len(volts) - 1)) if outside else (after - 1, after)
    high, low = (np.take_along_axis(volts, k, axis=0)[0] for k in ends)
    early, late = (np.take_along_axis(angles, k, axis=0)[0] for k in ends)
    share = np.divide(high, high - low, out=np.zeros_like(high), where=high - low > 1e-9 * np.abs(high))
    inner = np.take_along_axis(angles, after - 1, axis=0)[0]
    outer = np.take_along_axis(angles, after, axis=0)[0]
    return np.clip(early + share * (late - early), inner, outer)


def _fitted_grid(network: Network, window: np.ndarray) -> np.ndarray:
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


def _dense(grid: np.ndarray) -> np.ndarray:
    """The same grid (N + 1, B) with even steps laid over it; `_DENSE` steps in all."""
    more = _DENSE + 1 - len(grid)
    even = (np.arange(more)[:, None] + 0.5) / more
    return np.sort(np.concatenate([grid, grid[:1] + even * (grid[-1:] - grid[:1])]), axis=0)


def _resample(network: Network, old: np.ndarray, ends: np.ndarray, grid: np.ndarray) -> np.ndarray:
    """A guess (m, 2, N, B) for another `grid`, from the states (m, M, B) at the ends of the steps of the `old`."""
    span, m, batch = np.pi * network.halves, *ends.shape[::2]
    first = np.empty_like(ends[:, :1])
    first[network.twist] = ends[:, -1:]
    nodes = np.concatenate([first, ends], axis=1)
    turns = np.floor((grid - old[0]) / span)
    shift = 10.0 * span * np.arange(batch)  # lays the circuits end to end, so that one call reads them all
    known, wanted = (old + shift).T.ravel(), (grid - turns * span + shift).T.ravel()
    read = [np.interp(wanted, known, nodes[a].T.ravel()).reshape(batch, -1).T for a in range(m)]
    found = np.ascontiguousarray(np.array(read))
    found = np.where(turns % 2 == 0, found, found[network.twist])
    begin, end = found[:, :-1], found[:, 1:]
    return np.stack([begin + _RADAU.nodes[0] * (end - begin), end], axis=1)


def _sampled(network: Network, grid: np.ndarray, states: np.ndarray) -> Steady:
    """Everything a result is made of, at the stages of the last pass."""
    angle = _in_time(_stage_angles(grid, _RADAU))
    weight = _in_time(_RADAU.weights[:, None, None] * np.diff(grid, axis=0))
    emf, states = network.peak * np.cos(angle), _in_time(states)
    paths = np.array([_path(network, emf, states, j)[0] for j in range(len(network.sign))])
    loads = np.array([_load(network, project(port, states), p)[0] for p, port in enumerate(network.port)])
    return Steady(angle, weight, states, paths, loads, emf)
