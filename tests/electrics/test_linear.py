"""Elimination and cyclic chains of many small systems against numpy's solver and plain stepping."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from pipeline.electrics.linear import applied, chain, eliminate, times


def damped(rng, shape):
    """Matrices (n, n, ...) whose part that is symmetric is above zero, as those of passive networks."""
    matrix = rng.normal(size=shape)
    return matrix + 4.0 * np.eye(shape[0]).reshape(shape[:2] + (1,) * (len(shape) - 2))


@pytest.mark.parametrize("size", [1, 2, 5])
def test_elimination_is_numpys(size):
    rng = np.random.default_rng(size)
    matrix, right = damped(rng, (size, size, 3, 4)), rng.normal(size=(size, 2, 3, 4))
    wanted = np.linalg.solve(matrix.transpose(2, 3, 0, 1), right.transpose(2, 3, 0, 1)).transpose(2, 3, 0, 1)
    assert_allclose(eliminate(matrix, right), wanted, rtol=1e-9)


@pytest.mark.parametrize("size", [1, 2, 3])
@pytest.mark.parametrize("steps", [1, 2, 7, 44])
def test_a_chain_comes_back(size, steps):
    rng = np.random.default_rng(10 * size + steps)
    gain = rng.uniform(-0.5, 0.5, (size, size, steps, 5))
    offset, twist = rng.normal(size=(size, steps, 5)), np.roll(np.arange(size), 1)
    begin = chain(gain, offset, twist)
    after = applied(gain, begin) + offset
    assert_allclose(after[:, :-1], begin[:, 1:], atol=1e-12)
    assert_allclose(begin[twist, 0], after[:, -1], atol=1e-12)


def test_times_is_the_matrix_product():
    rng = np.random.default_rng(3)
    left, right = rng.normal(size=(3, 4, 6)), rng.normal(size=(4, 2, 6))
    assert_allclose(times(left, right), np.einsum("nkt,kct->nct", left, right))
