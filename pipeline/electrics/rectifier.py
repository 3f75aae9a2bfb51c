"""Capacitor-input rectifiers in the steady state."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .diode import drop_factor
from .network import CIRCUITS, Circuit, Drive, Sections, build
from .steady import ENDS, Network, Steady, project, steady_state

_CHUNK = 512


class CapacitorInput(NamedTuple):
    """What a capacitor-input rectifier does in the steady state; arrays of the broadcast shape of the arguments."""

    dc_v: np.ndarray
    ripple_pp_v: np.ndarray
    ripple_rms_v: np.ndarray
    plate_peak_a: np.ndarray
    plate_rms_a: np.ndarray
    capacitor_rms_a: np.ndarray
    inverse_peak_v: np.ndarray


def number(name: str, value: ArrayLike, zero: bool = False) -> np.ndarray:
    """`value` as a float array, refused by `name` if not finite, negative, or zero where `zero` is not allowed."""
    try:
        array = np.asarray(value, float)
    except (TypeError, ValueError):
        raise ValueError(f"{name}: not a number: {value!r}") from None
    if not np.all(np.isfinite(array)):
        raise ValueError(f"{name}: must be finite")
    if np.any(array < 0):
        raise ValueError(f"{name}: must not be negative")
    if not zero and np.any(array == 0):
        raise ValueError(f"{name}: must be above zero")
    return array


def capacitor_input(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    reservoir_f: ArrayLike,
    *,
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
    load_ohm: ArrayLike | None = None,
    load_a: ArrayLike | None = None,
    load_k: ArrayLike | None = None,
) -> CapacitorInput:
    """Steady state of a rectifier feeding a reservoir capacitor and a load.

    Every number may be an array; all broadcast together.

    Parameters
    ----------
    circuit : {'half-wave', 'full-wave', 'bridge', 'doubler', 'half-wave doubler'}
        'full-wave' has a centre-tapped winding; 'doubler' is the full-wave (symmetrical) one.
    v_rms : array_like
        Open-circuit volts of the winding, rms: each half of a centre-tapped one, else the whole.
    frequency_hz : array_like
        Mains frequency.
    source_ohm : array_like
        Resistance of one conducting path (per plate of a centre-tapped winding). Zero is allowed.
    reservoir_f : array_like
        Farads; of each of the two capacitors of a doubler.
    perveance : array_like, optional
        K of one vacuum diode, A/V^1.5 (see `perveance`). None: silicon.
    threshold_v : array_like
        Volts one diode takes before it conducts; beyond it the diode is ideal.
    load_ohm, load_a : array_like, optional
        Resistance, or constant current; one of them, or neither for no such load.
    load_k : array_like, optional
        Tubes that draw load_k v^1.5; adds to the other load.

    Returns
    -------
    CapacitorInput
        `dc_v` and ripple across the load (both capacitors of a doubler), `plate_*` of one diode, `capacitor_rms_a`
        of one reservoir capacitor (the output one of a half-wave doubler), `inverse_peak_v` across one diode.

    Raises
    ------
    ValueError
        Unknown circuit; an argument that is not finite, negative, zero where that has no meaning; both `load_ohm`
        and `load_a`; shapes that do not broadcast. The message begins with the argument's name.
    ArithmeticError
        The steady state was not found (no case is known).

    Notes
    -----
    The bridge conducts through two diodes in series; so it takes two thresholds and two tube drops. Without load
    the output stands at the peak less the thresholds. A constant current cannot be drawn from an empty capacitor:
    below a thousandth of the peak volts it fades to nothing, so the output never falls below zero. A silicon path
    without resistance is given a millionth of the reservoir's reactance, which leaves the current that charges the
    capacitor along the sine. Transformer leakage inductance and capacitor series resistance are left out.

    References
    ----------
    The problem is that of O. H. Schade, "Analysis of Rectifier Operation", Proc. IRE 31(7), July 1943, pp. 341-361
    (recalled); the method is our own, see `steady`.
    """
    kind = circuit_named(circuit)
    if load_ohm is not None and load_a is not None:
        raise ValueError("load_ohm, load_a: give one of them, not both")
    given = {
        "v_rms": number("v_rms", v_rms, zero=True),
        "frequency_hz": number("frequency_hz", frequency_hz),
        "source_ohm": number("source_ohm", source_ohm, zero=True),
        "reservoir_f": number("reservoir_f", reservoir_f),
        "perveance": np.ones(()) if perveance is None else number("perveance", perveance),
        "threshold_v": number("threshold_v", threshold_v, zero=True),
        "load_s": np.zeros(()) if load_ohm is None else 1.0 / number("load_ohm", load_ohm),
        "load_a": np.zeros(()) if load_a is None else number("load_a", load_a, zero=True),
        "load_k": np.zeros(()) if load_k is None else number("load_k", load_k, zero=True),
    }
    shape = common_shape(given)
    flat = {name: np.broadcast_to(value, shape).reshape(-1) for name, value in given.items()}
    flat["drop"] = np.zeros(flat["v_rms"].shape) if perveance is None else drop_factor(flat.pop("perveance"))
    result = _idle(circuit, kind, flat)
    loaded = (flat["load_s"] > 0) | (flat["load_a"] > 0) | (flat["load_k"] > 0)
    busy = np.flatnonzero(loaded & (np.sqrt(2) * flat["v_rms"] > kind.in_series * flat["threshold_v"]))
    for begin in range(0, busy.size, _CHUNK):
        chosen = busy[begin : begin + _CHUNK]
        result[:, chosen] = _loaded(circuit, {name: value[chosen] for name, value in flat.items()})
    return CapacitorInput(*(row.reshape(shape)[()] for row in result))


def circuit_named(circuit: str) -> Circuit:
    """The circuit of that name, or ValueError with the names there are."""
    if circuit not in CIRCUITS:
        raise ValueError(f"circuit: {circuit!r} is none of {', '.join(CIRCUITS)}")
    return CIRCUITS[circuit]


def common_shape(given: dict[str, np.ndarray]) -> tuple[int, ...]:
    """The shape all arguments broadcast to, or ValueError naming the first that does not fit those before it."""
    shape: tuple[int, ...] = ()
    for name, value in given.items():
        try:
            shape = np.broadcast_shapes(shape, value.shape)
        except ValueError:
            raise ValueError(f"{name}: shape {value.shape} does not broadcast with {shape}") from None
    return shape


def _idle(circuit: str, kind: Circuit, given: dict[str, np.ndarray]) -> np.ndarray:
    """Results (7, B) of circuits without load: the capacitor stands at the peak."""
    peak = np.sqrt(2) * given["v_rms"]
    loaded = (given["load_s"] > 0) | (given["load_a"] > 0) | (given["load_k"] > 0)
    each = np.maximum(peak - kind.in_series * given["threshold_v"], 0.0)
    out = kind.stacked * each
    result = np.zeros((7, peak.size))
    result[0] = np.where(loaded, 0.0, out)
    if circuit in ("half-wave", "full-wave"):
        result[6] = result[0] + peak
    else:
        result[6] = np.minimum(result[0] + given["threshold_v"], kind.stacked * peak)
    return result


def _loaded(circuit: str, given: dict[str, np.ndarray]) -> np.ndarray:
    """Results (7, B) of circuits with load."""
    zero = np.zeros_like(given["v_rms"])
    drive = Drive(
        np.sqrt(2) * given["v_rms"], 2 * np.pi * given["frequency_hz"], given["source_ohm"], zero, given["drop"],
        given["threshold_v"],
    )
    each = (zero, zero, given["reservoir_f"], given["load_a"], given["load_s"], given["load_k"])
    network = build(circuit, drive, Sections(*(value[None] for value in each), (-1,)))
    steady = steady_state(network)
    volts = node_volts(network, steady)[0]
    return np.array([
        *dc_and_ripple(volts, steady),
        greatest(steady.angle, steady.paths).max(axis=0),
        plate_rms(circuit, steady),
        reservoir_rms(circuit, steady, steady.loads[0]),
        inverse_peak(circuit, drive, volts, steady),
    ])


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
    value, at = samples[..., ENDS, :], angle[ENDS]
    middle = np.clip(np.argmax(value, axis=-2, keepdims=True), 1, value.shape[-2] - 2)
    left, peak, right = (np.take_along_axis(value, middle + k, axis=-2)[..., 0, :] for k in (-1, 0, 1))
    before, now, after = (np.take_along_axis(np.broadcast_to(at, value.shape), middle + k, axis=-2)[..., 0, :] for k in (-1, 0, 1))
    back, forth = now - before, after - now
    rise, fall = (peak - left) / back, (right - peak) / forth
    bend = (rise - fall) / (back + forth)
    slope = (rise * forth + fall * back) / (back + forth)
    top = peak + np.where(bend > 0, slope**2 / (4 * np.where(bend > 0, bend, 1.0)), 0.0)
    inside = (peak >= left) & (peak >= right)
    return np.where(inside, top, np.max(value, axis=-2))


def plate_rms(circuit: str, steady: Steady) -> np.ndarray:
    """Rms current (B,) of one diode over the whole mains cycle."""
    square = mean(steady.paths**2, steady.weight)
    return np.sqrt(square.sum(axis=0) / 2 if CIRCUITS[circuit].halves == 1 else square.max(axis=0))


def reservoir_rms(circuit: str, steady: Steady, drawn: np.ndarray) -> np.ndarray:
    """Rms current (B,) of one reservoir capacitor, from which the current `drawn` (T, B) is taken."""
    into = steady.paths[:2] - drawn if circuit == "doubler" else steady.paths[:1] - drawn
    return np.sqrt(mean(np.mean(into**2, axis=0), steady.weight))


def inverse_peak(circuit: str, drive: Drive, volts: np.ndarray, steady: Steady) -> np.ndarray:
    """Greatest inverse volts (B,) across one diode, `volts` (T, B) standing at the rectifier's output.

    A diode of a bridge or doubler is held by its conducting neighbour: it sees the output and the neighbour's drop.
    """
    if circuit == "half-wave":
        return greatest(steady.angle, volts - steady.emf)
    if circuit == "full-wave":
        return greatest(steady.angle, volts + np.abs(steady.emf))
    drop = drive.drop * np.cbrt(steady.paths**2) + drive.diode_ohm * steady.paths
    return np.max(volts + np.max(np.where(steady.paths > 0, drop + drive.threshold, 0.0), axis=0), axis=0)
