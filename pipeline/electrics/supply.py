"""A whole supply in the steady state: rectifier, reservoir or input choke, and a tree of filter sections."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, flattened, one_of, positive
from .diode import drop_factor
from .laws import Network
from .network import CIRCUITS, Drive, Sections, build, circuit_named
from .results import dc_and_ripple, greatest, inverse_peak, mean, node_volts, plate_rms, winding_rms
from .sections import Section, choke_ahead, read_sections, section_numbers, section_table
from .steady import Steady, all_settled, steady_states

_DRAWN = 401  # samples of a waveform, over two cycles
_PER_NODE = ("dc_v", "ripple_pp_v", "ripple_rms_v", "capacitor_rms_a", "load_a", "peak_v", "capacitor_peak_v")
_WHOLE = ("plate_peak_a", "plate_rms_a", "winding_rms_a", "inverse_peak_v")


class Waveforms(NamedTuple):
    """Two mains cycles, for drawing, beginning where the winding's volts rise through zero; W samples."""

    time_s: np.ndarray  # (..., W)
    node_v: np.ndarray  # (..., n, W)
    plate_a: np.ndarray  # (..., W) of the first diode


class Supply(NamedTuple):
    """A supply in the steady state; ... is the shape the arguments broadcast to, n the number of sections."""

    dc_v: np.ndarray  # (..., n)
    ripple_pp_v: np.ndarray  # (..., n)
    ripple_rms_v: np.ndarray  # (..., n)
    capacitor_rms_a: np.ndarray  # (..., n) of one reservoir capacitor in a doubler
    load_a: np.ndarray  # (..., n) mean current drawn at each node
    peak_v: np.ndarray  # (..., n) greatest volts of each node within the cycle
    capacitor_peak_v: np.ndarray  # (..., n) the same across each of its capacitors: one of two in a doubler
    plate_peak_a: np.ndarray  # (...)
    plate_rms_a: np.ndarray  # (...)
    winding_rms_a: np.ndarray  # (...) of each half of a centre-tapped winding
    inverse_peak_v: np.ndarray  # (...)
    ripple_hz: np.ndarray  # (...)
    waveforms: Waveforms | None


def supply(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    sections: Sequence[Section | Mapping[str, Any]],
    *,
    input: str = "capacitor",
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
    diode_ohm: ArrayLike = 0.0,
    waveforms: bool = False,
    unsettled: str = "raise",
) -> Supply:
    """Steady state of a whole supply.

    Every number, those of the sections too, may be an array; all broadcast together.

    Parameters
    ----------
    circuit : {'half-wave', 'full-wave', 'bridge', 'doubler', 'half-wave doubler'}
        As for `capacitor_input`.
    v_rms, frequency_hz, source_ohm, perveance, threshold_v : array_like
        As for `capacitor_input`.
    sections : sequence of Section, or of mappings with its fields
        The first is the reservoir (`capacitance_f` of each capacitor of a doubler), or the input choke with the
        first capacitor. The loads of a section add: `load_a` amperes, `load_ohm`, and `load_k` v^1.5 (tubes).
    input : {'capacitor', 'choke'}
        A choke is not possible with a doubler.
    diode_ohm : array_like
        Resistance of one diode beyond its threshold (silicon, selenium); in series with `source_ohm`.
    waveforms : bool
        Give two cycles of every node's volts and of one diode's current as well.
    unsettled : {'raise', 'nan'}
        As for `capacitor_input`.

    Returns
    -------
    Supply
        Without any load all nodes stand at the peak, less the thresholds.

    Raises
    ------
    ValueError
        As `capacitor_input`; a section's field is named as in ``sections[2].series_ohm``.
    ArithmeticError
        The steady state of some circuit was not found, and `unsettled` is not 'nan'.

    Notes
    -----
    Chokes are linear: no fall of inductance with current. With an input choke the supply is followed below the
    critical inductance into interrupted current, where the output climbs towards the peak. The winding's resistance
    is constant, leakage inductance nil. Constant currents fade below a thousandth of the peak volts, see
    `capacitor_input`.

    References
    ----------
    Our own method, see `steady`.
    """
    kind, choke_input = circuit_named(circuit), choke_ahead(input, circuit)
    one_of("unsettled", unsettled, ("raise", "nan"))
    parts = read_sections(sections)
    shape, flat = flattened({
        "v_rms": at_least_zero("v_rms", v_rms),
        "frequency_hz": positive("frequency_hz", frequency_hz),
        "source_ohm": at_least_zero("source_ohm", source_ohm),
        "perveance": np.ones(()) if perveance is None else positive("perveance", perveance),
        "threshold_v": at_least_zero("threshold_v", threshold_v),
        "diode_ohm": at_least_zero("diode_ohm", diode_ohm),
        **section_numbers(parts, choke_input),
    })  # fmt: skip
    drop = np.zeros(flat["v_rms"].shape) if perveance is None else drop_factor(flat["perveance"])
    drive = Drive(
        np.sqrt(2) * flat["v_rms"], 2 * np.pi * flat["frequency_hz"], flat["source_ohm"], flat["diode_ohm"], drop,
        flat["threshold_v"],
    )  # fmt: skip
    solved = _solve(circuit, drive, section_table(parts, flat), choke_input, waveforms)
    all_settled(solved["plate_peak_a"], unsettled)
    figures = {name: np.moveaxis(solved[name], 0, -1).reshape(*shape, len(parts)) for name in _PER_NODE}
    figures |= {name: solved[name].reshape(shape)[()] for name in _WHOLE}
    figures["ripple_hz"] = (flat["frequency_hz"] * (2 / kind.halves)).reshape(shape)[()]
    return Supply(**figures, waveforms=_shaped(solved, shape) if waveforms else None)


def _solve(circuit: str, drive: Drive, table: Sections, choke_input: bool, draw: bool) -> dict[str, np.ndarray]:
    """Results by name, the batch on the last axis."""
    solved = _idle(circuit, drive, table, draw)
    drawing = (table.load_a > 0) | (table.load_s > 0) | (table.load_k > 0)
    busy = np.flatnonzero(drawing.any(axis=0) & (drive.peak > CIRCUITS[circuit].in_series * drive.threshold))
    if busy.size:
        for name, value in _loaded(circuit, drive.only(busy), table.only(busy), choke_input, draw).items():
            solved[name][..., busy] = value
    return solved


def _idle(circuit: str, drive: Drive, table: Sections, draw: bool) -> dict[str, np.ndarray]:
    """Results of supplies nothing is drawn from: all nodes at the peak, or at zero if the thresholds take it all."""
    kind, count, batch = CIRCUITS[circuit], len(table.parent), drive.peak.size
    solved = {name: np.zeros((count, batch)) for name in _PER_NODE} | {name: np.zeros(batch) for name in _WHOLE}
    level = kind.stacked * np.maximum(drive.peak - kind.in_series * drive.threshold, 0.0)
    for name in ("dc_v", "peak_v", "capacitor_peak_v"):
        solved[name] += level
    if circuit == "doubler":
        solved["capacitor_peak_v"][0] /= 2
    single = circuit in ("half-wave", "full-wave")
    solved["inverse_peak_v"] += level + drive.peak if single else np.minimum(
        level + drive.threshold, kind.stacked * drive.peak
    )
    if draw:
        solved["time_s"] = np.linspace(0.0, 2.0, _DRAWN)[:, None] * 2 * np.pi / drive.omega
        solved["node_v"] = np.tile(level, (count, _DRAWN, 1))
        solved["plate_a"] = np.zeros((_DRAWN, batch))
    return solved


def _loaded(circuit: str, drive: Drive, table: Sections, choke_input: bool, draw: bool) -> dict[str, np.ndarray]:
    """Results of supplies with load."""
    density = 2 if choke_input or len(table.parent) > 1 else 1
    if choke_input and CIRCUITS[circuit].halves == 2:  # conduction goes on far into the idle half cycle
        density = 3
    network = build(circuit, drive, table, choke_input, density)
    solved = _idle(circuit, drive, table, draw)
    for name, value in solved.items():
        if name != "time_s":
            value.fill(np.nan)
    for chosen, steady in steady_states(network):
        some = drive.only(chosen)
        for name, value in _figures(circuit, some, network.only(chosen), steady, draw).items():
            solved[name][..., chosen] = value
    return solved


def _figures(circuit: str, drive: Drive, network: Network, steady: Steady, draw: bool) -> dict[str, np.ndarray]:
    volts = node_volts(network, steady)
    level, swing, ripple = dc_and_ripple(volts, steady)
    output = volts[0]
    if np.isinf(network.layer).any():  # ahead of the choke; floating at the node's volts while nothing conducts
        output = np.where(steady.paths.any(axis=0), steady.states[int(np.argmax(network.inject[0] > 0))], output)
    solved = {
        "dc_v": level,
        "ripple_pp_v": swing,
        "ripple_rms_v": ripple,
        "capacitor_rms_a": _capacitor_rms(network, steady),
        "load_a": mean(steady.loads, steady.weight),
        "peak_v": greatest(steady, volts),
        "capacitor_peak_v": _capacitor_peak(network, steady),
        "plate_peak_a": greatest(steady, steady.paths).max(axis=0),
        "plate_rms_a": plate_rms(circuit, steady),
        "winding_rms_a": winding_rms(circuit, steady),
        "inverse_peak_v": inverse_peak(circuit, drive, output, steady),
    }
    return solved | (_drawn(network, steady, volts) if draw else {})


def _capacitor_rms(network: Network, steady: Steady) -> np.ndarray:
    """Rms current (n, B) of each node's capacitor; of one of two in a doubler's reservoir."""
    into = np.einsum("abk,btk->atk", network.linear, steady.states) + network.source[:, None] * steady.emf
    into += np.einsum("ja,jtk->atk", network.inject, steady.paths)
    into -= np.einsum("pa,ptk->atk", network.port, steady.loads)
    square = mean(into**2, steady.weight)
    return np.sqrt([square[np.flatnonzero(port)].mean(axis=0) for port in network.port])


def _capacitor_peak(network: Network, steady: Steady) -> np.ndarray:
    """Greatest volts (n, B) across each node's capacitor, the higher of the two in a doubler's reservoir."""
    peaks = greatest(steady, steady.states)
    return np.array([(peaks * port[:, None])[np.flatnonzero(port)].max(axis=0) for port in network.port])


def _drawn(network: Network, steady: Steady, volts: np.ndarray) -> dict[str, np.ndarray]:
    """Two cycles, evenly sampled, from the zero of the winding's volts."""
    turn = np.linspace(0.0, 4 * np.pi, _DRAWN)
    angle, span = turn - np.pi / 2, np.pi * network.halves
    nodes, plate = np.empty((len(volts), _DRAWN, network.peak.size)), np.empty((_DRAWN, network.peak.size))
    other = steady.paths[1] if network.halves == 1 and len(steady.paths) == 2 else np.zeros_like(steady.paths[0])
    for b in range(network.peak.size):
        order = np.argsort(steady.angle[:, b])
        known = steady.angle[order, b]
        for i in range(len(volts)):
            nodes[i, :, b] = np.interp(angle, known, volts[i, order, b], period=span)
        both = np.concatenate([steady.paths[0, order, b], other[order, b] if network.halves == 1 else []])
        times = np.concatenate([known, known + span])[: both.size]
        plate[:, b] = np.interp(angle, times, both, period=2 * np.pi)
    return {"node_v": nodes, "plate_a": plate}


def _shaped(solved: dict[str, np.ndarray], shape: tuple[int, ...]) -> Waveforms:
    time, nodes, plate = (np.moveaxis(solved[name], -1, 0) for name in ("time_s", "node_v", "plate_a"))
    return Waveforms(*(value.reshape(*shape, *value.shape[1:]) for value in (time, nodes, plate)))
