"""What a rectifier's output gives at a load, and how much less at a little more: DC volts without the waveforms.

For rounds between stages and supply, which need volts and slope many times and the waveforms once; `supply` has those.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, common_shape, positive
from .diode import drop_factor
from .network import Circuit, Drive, Sections, build, circuit_named
from .newton import RADAU, Grid, grid_of, linear_solution, periodic
from .sections import choke_ahead

_STEPS = 12  # to a half cycle
_ROUGHLY = 1e-2  # last change of Newton's method; two more steps follow
_LEAST = 1e-6  # siemens at the peak volts that every supply is taken to feed: without any load there is no slope
_MORE = 1e-3  # share of the load by which it is raised to find the slope


class Output(NamedTuple):
    """DC volts at the first capacitor, and the ohms by which they fall with the current; nan where none is found."""

    dc_v: np.ndarray
    slope_ohm: np.ndarray


class SquareOutput(NamedTuple):
    """The same behind a square wave, with the current of one diode and the inverse volts across it."""

    dc_v: np.ndarray
    slope_ohm: np.ndarray
    plate_peak_a: np.ndarray
    plate_rms_a: np.ndarray
    inverse_peak_v: np.ndarray


def rectified_output(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    reservoir_f: ArrayLike,
    load_a: ArrayLike,
    *,
    input: str = "capacitor",
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
    choke_h: ArrayLike = 0.0,
    choke_ohm: ArrayLike = 0.0,
) -> Output:
    """DC volts of a rectifier's first capacitor at a constant load, and their slope.

    Parameters
    ----------
    circuit, v_rms, frequency_hz, source_ohm, reservoir_f, perveance, threshold_v
        As for `capacitor_input`.
    load_a : array_like
        All amperes the supply gives, beyond the first capacitor too.
    input : {'capacitor', 'choke'}
    choke_h, choke_ohm : array_like
        The input choke; `choke_h` above zero for a choke input.

    Returns
    -------
    Output
        At no load the volts of the least load taken, a microsiemens.

    Raises
    ------
    ValueError
        As `capacitor_input`; a choke input without `choke_h`, or of a doubler.

    Notes
    -----
    The network of `supply` with its first capacitor alone, on an even grid of twelve steps to a half cycle. Beside the
    full solver the volts err by 0.1 % in the median and by less than 0.4 % for nine in ten of random supplies
    (tests/electrics/test_regulation.py). The slope is the exact one of the coarse grid: one step of Newton's method
    more, with a load that is a little greater.
    """
    choke = choke_ahead(input, circuit)
    kind = circuit_named(circuit)
    zero = np.zeros(())
    given = {
        "v_rms": positive("v_rms", v_rms), "frequency_hz": positive("frequency_hz", frequency_hz),
        "source_ohm": at_least_zero("source_ohm", source_ohm), "reservoir_f": positive("reservoir_f", reservoir_f),
        "load_a": at_least_zero("load_a", load_a), "threshold_v": at_least_zero("threshold_v", threshold_v),
        "drop": zero if perveance is None else drop_factor(positive("perveance", perveance)),
        "choke_h": positive("choke_h", choke_h) if choke else zero,
        "choke_ohm": at_least_zero("choke_ohm", choke_ohm) if choke else zero,
    }  # fmt: skip
    shape = common_shape(given)
    flat = {name: np.broadcast_to(value, shape).reshape(-1) for name, value in given.items()}
    level, slope = _solved(circuit, kind, flat, choke)
    return Output(level.reshape(shape)[()], slope.reshape(shape)[()])


def _solved(circuit: str, kind: Circuit, given: dict[str, np.ndarray], choke: bool) -> tuple[np.ndarray, np.ndarray]:
    """DC volts and slope (B,)."""
    peak, zero = np.sqrt(2) * given["v_rms"], np.zeros((1, given["v_rms"].size))
    drive = Drive(
        peak, 2 * np.pi * given["frequency_hz"], given["source_ohm"], zero[0], given["drop"], given["threshold_v"]
    )
    load = np.maximum(given["load_a"], _LEAST * peak)
    sections = Sections(given["choke_ohm"][None], given["choke_h"][None], given["reservoir_f"][None],
                        load[None], zero, zero, (-1,))  # fmt: skip
    network = build(circuit, drive, sections, choke)
    nodes = np.linspace(0.0, np.pi * kind.halves, _STEPS * kind.halves + 1)[:, None] - np.pi / 2
    grid = grid_of(network, RADAU, nodes)
    guess = np.broadcast_to(network.start[:, None, None], (len(network.start), *grid.emf.shape))
    with np.errstate(all="ignore"):
        states, settled = periodic(network, grid, guess, _ROUGHLY)
        more = network._replace(load_a=network.load_a * (1.0 + _MORE))
        level = _mean(network.port[0], grid, linear_solution(network, grid, states))
        less = _mean(network.port[0], grid, linear_solution(more, grid, states))
    slope = (level - less) / (_MORE * load)
    level[~settled] = slope[~settled] = np.nan
    return level, slope


def _mean(port: np.ndarray, grid: Grid, states: np.ndarray) -> np.ndarray:
    """Mean over the span (B,) of the volts at a port."""
    weight = grid.scheme.weights[:, None, None] * np.diff(grid.nodes, axis=0)
    volts = sum(part * states[a] for a, part in enumerate(port) if part)
    return (volts * weight).sum(axis=(0, 1)) / (grid.nodes[-1] - grid.nodes[0])


def square_wave_output(
    circuit: str,
    peak_v: ArrayLike,
    source_ohm: ArrayLike,
    load_a: ArrayLike,
    *,
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
) -> SquareOutput:
    """DC volts of a rectifier fed by a square wave (a vibrator), and their slope.

    Parameters
    ----------
    circuit, source_ohm, perveance, threshold_v
        As for `capacitor_input`. For a synchronous vibrator leave out perveance and threshold.
    peak_v : array_like
        Volts of the square wave: each half of a centre-tapped winding, else the whole.
    load_a : array_like
        Amperes drawn.

    Returns
    -------
    SquareOutput
        Never below zero volts.

    Raises
    ------
    ValueError
        As `capacitor_input`.

    Notes
    -----
    Full-wave and bridge: some diode always conducts and carries the load, so that the output stands at the peak less
    drop and resistance, with next to no ripple. Half-wave and doublers: each diode charges for half of the time, with
    twice the load. The capacitor is taken as large, the contacts' dead time and the transformer's leakage are left out.
    """
    kind = circuit_named(circuit)
    peak, ohm = positive("peak_v", peak_v), at_least_zero("source_ohm", source_ohm)
    load, threshold = at_least_zero("load_a", load_a), at_least_zero("threshold_v", threshold_v)
    factor = np.zeros(()) if perveance is None else drop_factor(positive("perveance", perveance), kind.in_series)
    pulse = load * (1.0 if kind.halves == 1 and kind.stacked == 1 else 2.0)
    each = peak - kind.in_series * threshold - ohm * pulse - factor * np.cbrt(pulse) ** 2
    dc = np.maximum(kind.stacked * each, 0.0)
    slope = kind.stacked * (pulse / np.maximum(load, 1e-12)) * (
        ohm + 2.0 / 3.0 * factor / np.cbrt(np.maximum(pulse, 1e-6)))
    inverse = dc + peak if circuit in ("half-wave", "full-wave") else dc
    dc, slope, pulse, inverse = np.broadcast_arrays(dc, slope, pulse, inverse)
    return SquareOutput(dc[()], slope[()], pulse[()], (pulse / np.sqrt(2.0))[()], inverse[()])
