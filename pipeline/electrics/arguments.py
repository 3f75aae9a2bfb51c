"""Checks of the numbers a caller gives, with messages that name the argument."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from math import inf

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]


def finite(name: str, value: ArrayLike) -> Array:
    """`value` as a float array; ValueError naming the argument where it is not a finite number."""
    try:
        array = np.asarray(value, float)
    except (TypeError, ValueError):
        raise ValueError(f"{name}: not a number: {value!r}") from None
    if not np.isfinite(array).all():
        raise ValueError(f"{name}: must be finite")
    return array


def at_least_zero(name: str, value: ArrayLike) -> Array:
    """The same where it is also not negative."""
    if type(value) is float and 0 <= value < inf:  # as most single figures of a unit are; the rest takes far longer
        return np.array(value)
    array = finite(name, value)
    if (array < 0).any():
        raise ValueError(f"{name}: must not be negative")
    return array


def positive(name: str, value: ArrayLike) -> Array:
    """The same where it is also above zero."""
    if type(value) is float and 0 < value < inf:
        return np.array(value)
    array = at_least_zero(name, value)
    if (array == 0).any():
        raise ValueError(f"{name}: must be above zero")
    return array


def one_of(name: str, value: str, names: Iterable[str]) -> str:
    """`value` if it is one of `names`, else ValueError with what there is."""
    if value not in (known := list(names)):
        raise ValueError(f"{name}: {value!r} is none of {', '.join(known)}")
    return value


def common_shape(given: Mapping[str, np.ndarray]) -> tuple[int, ...]:
    """The shape all arguments broadcast to, or ValueError naming the first that does not fit those before it."""
    shape: tuple[int, ...] = ()
    for name, value in given.items():
        try:
            shape = np.broadcast_shapes(shape, value.shape)
        except ValueError:
            raise ValueError(f"{name}: shape {value.shape} does not broadcast with {shape}") from None
    return shape


def flattened(given: Mapping[str, np.ndarray]) -> tuple[tuple[int, ...], dict[str, np.ndarray]]:
    """The common shape, and every argument broadcast to it and laid out flat."""
    shape = common_shape(given)
    return shape, {name: np.broadcast_to(value, shape).reshape(-1) for name, value in given.items()}
