"""Linear algebra on many small systems at once: matrices on the first two axes, time steps and circuits behind."""

from __future__ import annotations

import numpy as np


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


def chain(gain: np.ndarray, offset: np.ndarray, twist: np.ndarray, open_: np.ndarray) -> np.ndarray:
    """States (m, N, B) at the begin of each step of the cyclic chain x' = gain x + offset.

    N is a power of two; state a after the last step is state twist[a] before the first. Circuits marked `open_`
    have no such states; theirs are of no meaning.
    """
    pairs = []
    while gain.shape[2] > 1:
        first, second = gain[:, :, 0::2], gain[:, :, 1::2]
        pairs.append((first, offset[:, 0::2]))
        offset = _times(second, offset[:, None, 0::2])[:, 0] + offset[:, 1::2]
        gain = _times(second, first)
    unit = np.eye(len(twist))
    shift = unit[twist][:, :, None] - np.where(open_, -unit[:, :, None], gain[:, :, 0])
    begin = _small(shift, offset[:, 0])[:, None]
    for first, add in reversed(pairs):
        both = np.empty((begin.shape[0], 2 * begin.shape[1], begin.shape[2]))
        both[:, 0::2] = begin
        both[:, 1::2] = _times(first, begin[:, None])[:, 0] + add
        begin = both
    return begin


def _times(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Matrix product over the first two axes."""
    total = left[:, 0, None] * right[None, 0]
    for k in range(1, left.shape[1]):
        total += left[:, k, None] * right[None, k]
    return total


def _small(matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Solve matrix (m, m, B) x = right (m, B), with pivoting."""
    if len(right) == 1:
        return right / matrix[0]
    try:
        turned = np.linalg.solve(matrix.transpose(2, 0, 1), right.T[:, :, None])
    except np.linalg.LinAlgError:
        return np.full_like(right, np.nan)
    return turned[:, :, 0].T
