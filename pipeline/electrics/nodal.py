"""One Newton step of a network of nodes, for many circuits of one wiring at once.

The wiring is laid out once and kept; the step is then two products of matrices and an elimination. Node 0 is the
chassis.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np

_FEW = 64  # circuits up to which LAPACK is quicker than an elimination over the whole batch


class Branch(NamedTuple):
    """Current from node `a` to node `b`, and the pairs of nodes on whose volts it depends."""

    a: int
    b: int
    pairs: tuple[tuple[int, int], ...]


class Pivot(NamedTuple):
    """One step of the elimination: places of the pivot, of its row, its column, and of what they change."""

    node: int
    place: int
    columns: np.ndarray  # nodes left in the pivot's row
    row: np.ndarray  # their places
    rows: np.ndarray  # nodes left in the pivot's column
    column: np.ndarray  # their places
    target: np.ndarray  # places (rows, columns)


_Sums = tuple[tuple[tuple[int, ...], tuple[int, ...]], ...]  # of each row what is added, and what is taken off


class Layout(NamedTuple):
    """A wiring: what each branch adds to each node, what each slope adds to each place of the matrix."""

    size: int  # nodes without the chassis
    incidence: np.ndarray  # (size, branches)
    places: np.ndarray  # (filled,) row * size + column, places that only elimination fills after the others
    stamp: np.ndarray  # (filled at the start, terms)
    sums: tuple[_Sums, _Sums]  # the same two, row by row
    pivots: tuple[Pivot, ...]


@lru_cache(maxsize=256)
def layout(nodes: int, branches: tuple[Branch, ...]) -> Layout:
    """The layout of these branches; ValueError where one ends at a node that is not there."""
    size = nodes - 1
    incidence = np.zeros((size, len(branches)))
    stamps: dict[tuple[int, int], dict[int, float]] = {(i, i): {} for i in range(size)}
    term = 0
    for number, branch in enumerate(branches):
        for end, sign in ((branch.a, 1.0), (branch.b, -1.0)):
            if not 0 <= end < nodes:
                raise ValueError(f"nodes: {end} is not among 0 to {nodes - 1}")
            if end:
                incidence[end - 1, number] += sign
        for k, pair in enumerate(branch.pairs):
            for end, sign in ((branch.a, 1.0), (branch.b, -1.0)):
                for by, side in zip(pair, (1.0, -1.0), strict=True):
                    if end and by:
                        slot = stamps.setdefault((end - 1, by - 1), {})
                        slot[term + k] = slot.get(term + k, 0.0) + sign * side
        term += len(branch.pairs)
    order = list(stamps)
    pivots = _pivots(size, order)
    stamp = np.zeros((len(stamps), term))
    for row, slot in enumerate(stamps.values()):
        for k, value in slot.items():
            stamp[row, k] = value
    places = np.array([i * size + j for i, j in order], int)
    return Layout(size, incidence, places, stamp, (_sums(incidence), _sums(stamp)), pivots)


def _sums(matrix: np.ndarray) -> _Sums:
    """Columns of +1 and of -1 in each row; a 2 (a resistor from a node to itself) comes to nothing and is none."""
    return tuple((tuple(np.flatnonzero(row > 0)), tuple(np.flatnonzero(row < 0))) for row in matrix)


def _pivots(size: int, order: list[tuple[int, int]]) -> tuple[Pivot, ...]:
    """The elimination in an order that fills little; places it fills are added to `order`."""
    place = {pair: number for number, pair in enumerate(order)}
    right: list[set[int]] = [{j for i, j in order if i == node and j != node} for node in range(size)]
    down: list[set[int]] = [{i for i, j in order if j == node and i != node} for node in range(size)]
    left, pivots = set(range(size)), []
    while left:
        node = min(left, key=lambda n: (len(right[n] & left) * len(down[n] & left), n))
        left.remove(node)
        columns, rows = sorted(right[node] & left), sorted(down[node] & left)
        for i in rows:
            for j in columns:
                if (i, j) not in place:
                    place[i, j] = len(order)
                    order.append((i, j))
                    right[i].add(j)
                    down[j].add(i)
        target = np.array([[place[i, j] for j in columns] for i in rows], int).reshape(len(rows), len(columns))
        pivots.append(Pivot(
            node, place[node, node], np.array(columns, int), np.array([place[node, j] for j in columns], int),
            np.array(rows, int), np.array([place[i, node] for i in rows], int), target,
        ))  # fmt: skip
    return tuple(pivots)


def solve(wiring: Layout, flow: np.ndarray, slopes: np.ndarray) -> np.ndarray:
    """The change of volts (size, B) that brings all currents at all nodes to nothing, to first order.

    From the currents (branches, B) and slopes (terms, B) of all branches.
    """
    if flow.shape[1] <= _FEW:
        return _dense(wiring, wiring.stamp @ slopes, wiring.incidence @ flow)
    matrix, right = np.zeros((len(wiring.places), flow.shape[1])), np.empty((wiring.size, flow.shape[1]))
    _summed(wiring.sums[0], flow, right)
    _summed(wiring.sums[1], slopes, matrix)
    return _eliminated(wiring, matrix, right)


def _summed(sums: _Sums, rows: np.ndarray, out: np.ndarray) -> None:
    """Sums (n, B) of rows (k, B), as the product with the matrix gives them; most of that is nothing."""
    for (plus, minus), total in zip(sums, out, strict=False):
        if plus:
            total[:] = rows[plus[0]]
        else:
            total[:] = 0.0
        for k in plus[1:]:
            total += rows[k]
        for k in minus:
            total -= rows[k]


def _dense(wiring: Layout, filled: np.ndarray, right: np.ndarray) -> np.ndarray:
    matrix = np.zeros((right.shape[1], wiring.size * wiring.size))
    matrix[:, wiring.places[: len(filled)]] = filled.T
    try:
        return np.linalg.solve(matrix.reshape(-1, wiring.size, wiring.size), right.T[:, :, None])[:, :, 0].T
    except np.linalg.LinAlgError:
        return np.full(right.shape, np.nan)


def _eliminated(wiring: Layout, matrix: np.ndarray, right: np.ndarray) -> np.ndarray:
    """Elimination along the diagonal, over the whole batch and in place; only what is not zero is touched."""
    for pivot in wiring.pivots:
        scale = 1.0 / matrix[pivot.place]
        right[pivot.node] *= scale
        for spot in pivot.row:
            matrix[spot] *= scale
        for i, spot, target in zip(pivot.rows, pivot.column, pivot.target, strict=True):
            factor = matrix[spot]
            right[i] -= factor * right[pivot.node]
            for across, goal in zip(pivot.row, target, strict=True):
                matrix[goal] -= factor * matrix[across]
    for pivot in reversed(wiring.pivots):
        for j, spot in zip(pivot.columns, pivot.row, strict=True):
            right[pivot.node] -= matrix[spot] * right[j]
    return right
