"""Linear algebra on many small systems at once: matrices on the first two axes, time steps and circuits behind."""

from __future__ import annotations

import numpy as np


def times(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Product of matrices (n, k, ...) and (k, c, ...)."""
    total = left[:, 0, None] * right[None, 0]
    for k in range(1, left.shape[1]):
        total += left[:, k, None] * right[None, k]
    return total


def applied(matrix: np.ndarray, states: np.ndarray) -> np.ndarray:
    """Matrices (n, k, ...) times states (k, ...)."""
    return times(matrix, states[:, None])[:, 0]


def eliminate(matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Solve matrix (n, n, ...) x = right (n, c, ...) in place, without pivoting.

    The networks are passive and their states stand currents first, so that no pivot is zero.
    """
    size = matrix.shape[0]
    for p in range(size):
        scale = 1.0 / matrix[p, p]
        matrix[p, p + 1 :] *= scale
        right[p] *= scale
        for row in range(p + 1, size):
            factor = matrix[row, p]
            matrix[row, p + 1 :] -= factor * matrix[p, p + 1 :]
            right[row] -= factor * right[p]
    for p in range(size - 1, 0, -1):
        for row in range(p):
            right[row] -= matrix[row, p] * right[p]
    return right


def chain(gain: np.ndarray, offset: np.ndarray, twist: np.ndarray) -> np.ndarray:
    """States (m, N, B) at the begin of each step of the cyclic chain x' = gain x + offset.

    Gain (m, m, N, B), offset (m, N, B), N any number; state a after the last step is state twist[a] before the first.
    Steps are multiplied together in pairs, pairs of pairs and so on; an odd one at the end waits for the next round.
    """
    rounds = []
    while (steps := offset.shape[1]) > 1:
        even = steps // 2 * 2
        first, add, second = gain[:, :, 0:even:2], offset[:, 0:even:2], gain[:, :, 1:even:2]
        rounds.append((first, add, steps))
        joined, added = times(second, first), applied(second, add) + offset[:, 1:even:2]
        if steps > even:
            joined = np.concatenate([joined, gain[:, :, even:]], axis=2)
            added = np.concatenate([added, offset[:, even:]], axis=1)
        gain, offset = joined, added
    begin = _repeating(gain[:, :, 0], offset[:, 0], twist)[:, None]
    for first, add, steps in reversed(rounds):
        both = np.empty((len(begin), steps, begin.shape[2]))
        both[:, 0::2] = begin
        both[:, 1::2] = applied(first, begin[:, : steps // 2]) + add
        begin = both
    return begin


def _repeating(gain: np.ndarray, offset: np.ndarray, twist: np.ndarray) -> np.ndarray:
    """The states (m, B) that gain (m, m, B), offset (m, B) and the twist bring back."""
    matrix, right = np.empty_like(gain), np.empty_like(offset)
    matrix[twist], right[twist] = -gain, offset
    for a in range(len(twist)):
        matrix[a, a] += 1.0
    return eliminate(matrix, right[:, None])[:, 0]
