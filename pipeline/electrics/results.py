"""Figures read off a steady state: mean, ripple, peaks, rms currents, inverse volts."""

from __future__ import annotations

import numpy as np

from .network import CIRCUITS, Drive
from .steady import ENDS, Network, Steady, project


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
    swing = greatest(steady.angle, ripple) + greatest(steady.angle, -ripple)
    return level, swing, np.sqrt(mean(ripple**2, steady.weight))


def greatest(angle: np.ndarray, samples: np.ndarray) -> np.ndarray:
    """Greatest value (..., B) of samples (..., T, B), read off a parabola through the largest and its neighbours."""
    value = samples[..., ENDS, :]
    middle = np.clip(np.argmax(value, axis=-2, keepdims=True), 1, value.shape[-2] - 2)
    place = np.broadcast_to(angle[ENDS], value.shape)
    left, peak, right = (np.take_along_axis(value, middle + k, axis=-2)[..., 0, :] for k in (-1, 0, 1))
    before, now, after = (np.take_along_axis(place, middle + k, axis=-2)[..., 0, :] for k in (-1, 0, 1))
    back, forth = now - before, after - now
    rise, fall = (peak - left) / back, (right - peak) / forth
    bend = (rise - fall) / (back + forth)
    slope = (rise * forth + fall * back) / (back + forth)
    inside = (peak >= left) & (peak >= right) & (bend > 0)
    return np.where(inside, peak + slope**2 / (4 * np.where(inside, bend, 1.0)), np.max(value, axis=-2))


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
        return greatest(steady.angle, volts - steady.emf)
    if circuit == "full-wave":
        return greatest(steady.angle, volts + np.abs(steady.emf))
    drop = drive.drop * np.cbrt(steady.paths**2) + drive.diode_ohm * steady.paths + drive.threshold
    return np.max(volts + np.max(np.where(steady.paths > 0, drop, 0.0), axis=0), axis=0)
