"""Newton's method for the state of a network that repeats itself, on a given grid of time steps.

Each step linearises the network at all instants at once; every time step is then an affine map of the state before
it, and the one state that comes back after all of them follows. Every operation runs over all time steps and all
circuits of a batch together.

Arrays have the batch as their last axis. m states, S stages, N time steps, B circuits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .laws import Network, damping, tangent
from .linear import applied, chain, eliminate, times

_CIRCLING = 30  # iterations after which Newton's method must be going round in a circle


class Scheme(NamedTuple):
    """An implicit Runge-Kutta scheme whose last stage ends the step."""

    inverse: np.ndarray
    nodes: np.ndarray
    weights: np.ndarray


EULER = Scheme(np.array([[1.0]]), np.array([1.0]), np.array([1.0]))
# Radau IIA of order 3: Hairer & Wanner, Solving Ordinary Differential Equations II, Springer 1996, IV.5 (recalled).
RADAU = Scheme(np.array([[1.5, 0.5], [-4.5, 2.5]]), np.array([1 / 3, 1.0]), np.array([0.75, 0.25]))


class Grid(NamedTuple):
    """Time steps, and what the stages of a scheme see at them; one grid for all circuits, or one for each."""

    scheme: Scheme
    nodes: np.ndarray  # (N + 1, B or 1) angles at which steps begin and end
    angle: np.ndarray  # (S, N, B or 1) of the stages
    emf: np.ndarray  # (S, N, B)

    def only(self, chosen: np.ndarray) -> Grid:
        """The grid of some of the circuits."""
        numbers = np.flatnonzero(chosen)
        nodes, angle = (v if v.shape[-1] == 1 else v.take(numbers, axis=-1) for v in (self.nodes, self.angle))
        return Grid(self.scheme, nodes, angle, self.emf.take(numbers, axis=-1))


def grid_of(network: Network, scheme: Scheme, nodes: np.ndarray) -> Grid:
    """The grid with these nodes."""
    angle = nodes[:-1] + scheme.nodes[:, None, None] * np.diff(nodes, axis=0)
    return Grid(scheme, nodes, angle, network.peak * np.cos(angle))


def periodic(
    network: Network, grid: Grid, states: np.ndarray, tolerance: float, limit: int = 300, few: float = 0.0
) -> tuple[np.ndarray, np.ndarray]:
    """States (m, S, N, B) that satisfy the scheme on the grid and repeat after it, and which circuits have them (B,).

    From the guess `states` until one iteration moves no state by more than `tolerance` of its greatest size; the next
    would move it by about the square of that. Ends after `limit` iterations, or with the share `few` still unsettled.
    """
    settled = np.zeros(network.peak.size, bool)
    result, busy, last = states, np.arange(settled.size), np.full(settled.size, np.inf)
    for count in range(limit):
        with np.errstate(all="ignore"):
            new = linear_solution(network, grid, states)
            moved, size = (np.max(np.abs(ends), axis=1) for ends in (new[:, -1] - states[:, -1], new[:, -1]))
            worst = np.max(moved / (size + 1e-15 * network.peak), axis=0)
        # A kink can make the steps go round in a circle; steps of ever different length leave it.
        if count >= _CIRCLING:
            new = states + np.where(worst > 0.5 * last, 0.1 + 0.9 * (0.618 * count % 1.0), 1.0) * (new - states)
        states, last, left = new, worst, worst >= tolerance  # where it is not finite, neither left nor settled
        rest = np.count_nonzero(left)
        stop = rest <= few * settled.size or count == limit - 1
        if rest > 0.7 * left.size and not stop:
            continue
        settled[busy[worst < tolerance]] = True
        if busy.size == settled.size:
            result = states
        else:
            result[..., busy] = states
        if stop:
            break
        network, grid, busy = network.only(left), grid.only(left), busy[left]
        states, last = states.compress(left, axis=-1), last[left]
    return result, settled


def linear_solution(network: Network, grid: Grid, states: np.ndarray) -> np.ndarray:
    """One Newton step: the periodic solution of the network linearised about `states`."""
    offset, slope, open_ = tangent(network, damping(network), grid.emf, states)
    step = np.diff(grid.nodes, axis=0)
    if grid.scheme is RADAU and network.mass.all() and _slow(network, step):
        new = _by_product(network, step, offset, slope)
    else:
        new = _by_stages(network, grid.scheme, step, offset, slope)
    return np.where(open_, 0.5 * states, new) if open_.any() else new


def _slow(network: Network, step: np.ndarray) -> bool:
    """Whether no choke and capacitor together swing so fast that a step turns them by a radian.

    Then the pivots of `_by_product` stay near those of a network without chokes, which cannot vanish.
    """
    swinging = network.linear * network.linear.swapaxes(0, 1)
    if not (swinging < 0).any():
        return True
    pace = np.minimum(swinging, 0.0) / network.mass[:, None] / network.mass[None]
    return bool(np.all(-pace.sum(axis=(0, 1)) / 2 * step.max(axis=0) ** 2 < 1.0))


def _by_stages(
    network: Network, scheme: Scheme, step: np.ndarray, offset: np.ndarray, slope: np.ndarray
) -> np.ndarray:
    """All stages (m, S, N, B) from their own equations, inverse (mass (x - begin)) = step (offset + slope x)."""
    m, stages, steps, batch = offset.shape
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
    begin = chain(solved[:, -1, :m], solved[:, -1, m], network.twist)
    new = solved[:, :, m]
    for a in range(m):
        new = new + solved[:, :, a] * begin[a]
    return new


def _by_product(network: Network, step: np.ndarray, offset: np.ndarray, slope: np.ndarray) -> np.ndarray:
    """The two stages (m, 2, N, B) of `RADAU`, where every state has a mass and no choke swings fast, see `_slow`.

    With P = 1.5 - step/mass slope at the first stage, Q = 2.5 - the same at the second, and f, g likewise of the
    offsets, the stages x and y satisfy P x + y / 2 = 2 begin + f and Q y - 4.5 x = g - 2 begin.
    """
    m = len(offset)
    pace = step / network.mass[:, None]
    first, second = (-pace[:, None] * slope[:, :, s] for s in (0, 1))
    add, late = (pace * offset[:, s] for s in (0, 1))
    right = np.empty((m, m + 1, *pace.shape[1:]))
    for a in range(m):
        first[a, a] += 1.5
        second[a, a] += 2.5
    np.multiply(first, -2.0, out=right[:, :m])
    right[:, m] = applied(first, late) + 4.5 * add
    matrix = times(first, second)
    for a in range(m):
        right[a, a] += 9.0
        matrix[a, a] += 2.25
    eliminate(matrix, right)
    begin = chain(right[:, :m], right[:, m], network.twist)
    new = np.empty(offset.shape)
    new[:, 1] = applied(right[:, :m], begin) + right[:, m]
    new[:, 0] = (applied(second, new[:, 1]) + 2.0 * begin - late) / 4.5
    return new
