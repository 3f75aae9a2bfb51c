"""Figures read off a steady state: mean, ripple, peaks, rms currents, inverse volts."""

from __future__ import annotations

import numpy as np

from .laws import Network, project
from .network import CIRCUITS, Drive
from .steady import Steady


def node_volts(network: Network, steady: Steady) -> np.ndarray:
    """Volts (n, T, B) of each node."""
    return np.array([project(port, steady.states) for port in network.port])


def mean(samples: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Mean (..., B) over the span of samples (..., T, B)."""
    return np.sum(samples * weight, axis=-2) / np.sum(weight, axis=0)


def dc_and_ripple(volts: np.ndarray, steady: Steady) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean, peak-to-peak and rms ripple (..., B) of volts (..., T, B)."""
    level = mean(volts, steady.weight)
    ripple = volts - level[..., None, :]
    swing = greatest(steady, ripple) + greatest(steady, -ripple)
    return level, swing, np.sqrt(mean(ripple**2, steady.weight))


def greatest(steady: Steady, samples: np.ndarray) -> np.ndarray:
    """Greatest value (..., B) of samples (..., T, B), read off a parabola through the largest and its neighbours."""
    value = samples[..., steady.ends, :]
    middle = np.clip(np.argmax(value, axis=-2, keepdims=True), 1, value.shape[-2] - 2)
    place = np.broadcast_to(steady.angle[steady.ends], value.shape)
    left, peak, right = (np.take_along_axis(value, middle + k, axis=-2)[..., 0, :] for k in (-1, 0, 1))
    before, now, after = (np.take_along_axis(place, middle + k, axis=-2)[..., 0, :] for k in (-1, 0, 1))
    back, forth = now - before, after - now
    rise, fall = (peak - left) / back, (right - peak) / forth
    bend = (rise - fall) / (back + forth)
    slope = (rise * forth + fall * back) / (back + forth)
    inside = (peak >= left) & (peak >= right) & (bend > 0)
    over = slope**2 / (4 * np.where(inside, bend, 1.0))
    smooth = 0.125 * np.maximum(peak - left, peak - right)  # a sharper one than a parabola's is a kink
    return np.where(inside, peak + np.minimum(over, smooth), np.max(value, axis=-2))


def plate_rms(circuit: str, steady: Steady) -> np.ndarray:
    """Rms current (B,) of one diode over the whole mains cycle."""
    square = mean(steady.paths**2, steady.weight)
    return np.sqrt(square.sum(axis=0) / 2 if CIRCUITS[circuit].halves == 1 else square.max(axis=0))


def winding_rms(circuit: str, steady: Steady) -> np.ndarray:
    """Rms current (B,) of the winding, or of each half of a centre-tapped one."""
    if circuit in ("half-wave", "full-wave"):
        return plate_rms(circuit, steady)
    net = steady.paths[0] - steady.paths[1] if len(steady.paths) == 2 else steady.paths[0]
    return np.sqrt(mean(net**2, steady.weight))


def inverse_peak(circuit: str, drive: Drive, volts: np.ndarray, steady: Steady) -> np.ndarray:
    """Greatest inverse volts (B,) across one diode, `volts` (T, B) standing at the rectifier's output.

    A diode of a bridge or doubler is held by its conducting neighbour: it sees the output and the neighbour's drop.
    """
    if circuit == "half-wave":
        return greatest(steady, volts - steady.emf)
    if circuit == "full-wave":
        return greatest(steady, volts + np.abs(steady.emf))
    drop = drive.diode_ohm * steady.paths + drive.threshold
    if drive.drop.any():
        drop += drive.drop * np.cbrt(steady.paths**2)
    return np.max(volts + np.max(np.where(steady.paths > 0, drop, 0.0), axis=0), axis=0)
