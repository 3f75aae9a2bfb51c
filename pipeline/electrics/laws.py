"""A rectifier with what hangs on it, as equations: what flows where at given states, and how that changes with them.

Arrays have the batch as their last axis. m states, J rectifier paths, P ports, S stages, N time steps, B circuits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .diode import path_current

_FADE = 1e-3  # share of the peak volts below which a constant current fades
_LOW = 0.3


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
    density: int  # steps of the fitted grid, in multiples of the least
    windows: tuple[int, ...]  # the path that conducts in each equal part of the span

    def only(self, chosen: np.ndarray) -> Network:
        """The same network for some of the circuits, which `chosen` (B,) marks or numbers."""
        numbers = np.flatnonzero(chosen) if chosen.dtype == bool else chosen
        return self._replace(**{name: getattr(self, name).take(numbers, axis=-1) for name in _PER_CIRCUIT})


_PER_CIRCUIT = (
    "mass", "linear", "source", "peak", "path_ohm", "path_drop", "threshold", "load_a", "load_s", "load_k", "layer",
    "start",
)  # fmt: skip


def project(vector: np.ndarray, states: np.ndarray) -> np.ndarray:
    """Sum of the states (m, ...) weighted by `vector` (m,), most of which is zero."""
    first, *others = np.flatnonzero(vector)
    total = _scaled(vector[first], states[first])
    for a in others:
        total = total + _scaled(vector[a], states[a])
    return total


def _scaled(factor: float, values: np.ndarray) -> np.ndarray:
    return values if factor == 1 else factor * values


def path_volts(network: Network, j: int, emf: np.ndarray, states: np.ndarray) -> np.ndarray:
    """Volts (...) that drive path j."""
    volts = network.sign[j] * emf
    volts -= network.threshold
    for a in np.flatnonzero(network.sense[j]):
        if network.sense[j, a] == -1:
            volts -= states[a]
        else:
            volts += _scaled(network.sense[j, a], states[a])
    return volts


def path_amperes(network: Network, j: int, emf: np.ndarray, states: np.ndarray) -> np.ndarray:
    """Current (S, N, B) of path j."""
    volts = path_volts(network, j, emf, states)
    rows = _conducting(volts > 0)
    current = np.zeros(volts.shape)
    current[:, rows] = path_current(volts[:, rows], network.path_ohm, network.path_drop)[0]
    return current


def load_amperes(network: Network, p: int, states: np.ndarray) -> np.ndarray:
    """Current (...) drawn at port p."""
    volts = project(network.port[p], states)
    return network.load_s[p] * volts + _bent_load(network, p, volts)[0]


def runs_empty(network: Network, states: np.ndarray) -> np.ndarray:
    """The circuits (B,) with a node whose constant current fades at some of the `states` (m, N, B)."""
    faded = [
        (np.min(project(port, states), axis=0) < _LOW * network.peak) & (load > 0)
        for port, load in zip(network.port, network.load_a, strict=True)
    ]
    return np.any(faded, axis=0)


def _bent_load(network: Network, p: int, volts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Current and slope of what is not a resistance at port p.

    A constant current turns into a resistance below a thousandth of the peak volts. Going on as a resistance below
    zero keeps the whole right-hand side convex, which Newton's method needs.
    """
    current, slope = network.load_a[p], np.zeros(())
    if network.load_a[p].any() and (volts < _FADE * network.peak).any():
        ramp = network.load_a[p] / (_FADE * network.peak)
        current = np.minimum(ramp * volts, current)
        slope = np.where(volts < _FADE * network.peak, ramp, 0.0)
    if network.load_k[p].any():
        root = np.sqrt(np.maximum(volts, 0.0))
        current = current + network.load_k[p] * root**3
        slope = slope + 1.5 * network.load_k[p] * root
    return current, slope


def _conducting(positive: np.ndarray) -> slice:
    """The steps from the first to the last at which anything of `positive` (S, N, B) is true."""
    steps = np.flatnonzero(positive.any(axis=2).any(axis=0))
    return slice(steps[0], steps[-1] + 1) if steps.size else slice(0, 0)


def damping(network: Network) -> np.ndarray:
    """The slope (m, m, B) that does not change with the states."""
    total = network.linear
    for p, port in enumerate(network.port):
        total = total - np.outer(port, port)[:, :, None] * network.load_s[p]
    return total


def tangent(
    network: Network, fixed: np.ndarray, emf: np.ndarray, states: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The network's right-hand side near `states` (m, S, N, B), as offset + slope . states.

    Offset (m, S, N, B) and slope (m, m, S, N, B), with `fixed` that of `damping`; and the circuits (B,) in which no
    path conducts at any time: of those the slopes tell nothing.
    """
    offset, slope = np.empty(states.shape), np.empty((len(states), *states.shape))
    slope[:] = fixed[:, :, None, None]
    offset[:] = network.source[:, None, None] * emf if network.source.any() else 0.0
    for p, port in enumerate(network.port):
        if network.load_a[p].any() or network.load_k[p].any():
            seen = project(port, states)
            current, gain = _bent_load(network, p, seen)
            _add(offset, slope, -port, port, current - gain * seen if gain.ndim else current, gain)
    open_ = np.ones(states.shape[-1], bool)
    for j, sense in enumerate(network.sense):
        volts = path_volts(network, j, emf, states)
        positive = volts > 0
        rows = _conducting(positive)
        if rows.stop:
            open_ &= ~positive[:, rows].any(axis=(0, 1))
            current, gain = path_current(volts[:, rows], network.path_ohm, network.path_drop)
            current = current - gain * project(sense, states[:, :, rows])
            _add(offset[:, :, rows], slope[:, :, :, rows], network.inject[j], sense, current, gain)
    return offset, slope, open_


def _add(
    offset: np.ndarray, slope: np.ndarray, into: np.ndarray, seen: np.ndarray, current: np.ndarray, gain: np.ndarray
) -> None:
    """Add a current flowing `into` the states, current + gain (`seen` . states)."""
    for a in np.flatnonzero(into):
        offset[a] += _scaled(into[a], current)
        if gain.ndim:
            for b in np.flatnonzero(seen):
                slope[a, b] += _scaled(into[a] * seen[b], gain)
