"""A whole supply in the steady state: rectifier, reservoir or input choke, and a tree of filter sections."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .diode import drop_factor
from .network import CIRCUITS, Drive, Sections, build
from .rectifier import circuit_named, common_shape, dc_and_ripple, greatest, inverse_peak, mean, node_volts, number, plate_rms
from .steady import Network, Steady, project, rates, steady_state

_CHUNK = 64
_DRAWN = 400  # samples over two cycles of a waveform that is asked for


class Section(NamedTuple):
    """One filter section: a series part from an earlier node, a capacitor to ground, and what draws there.

    Every field but `parent` may be an array. `parent` is the index of the section it is fed from; None: the one
    before. The first section of a capacitor input has no series part; that of a choke input has the choke.
    """

    series_ohm: ArrayLike = 0.0
    series_h: ArrayLike = 0.0
    capacitance_f: ArrayLike = 0.0
    load_a: ArrayLike = 0.0
    load_ohm: ArrayLike | None = None
    load_k: ArrayLike = 0.0
    parent: int | None = None


class Waveforms(NamedTuple):
    """Two mains cycles, for drawing; W samples on the last axis."""

    time_s: np.ndarray  # (..., W)
    node_v: np.ndarray  # (..., n, W)
    plate_a: np.ndarray  # (..., W) of the first diode


class Supply(NamedTuple):
    """A supply in the steady state; ... is the shape the arguments broadcast to, n the number of sections."""

    dc_v: np.ndarray  # (..., n)
    ripple_pp_v: np.ndarray  # (..., n)
    ripple_rms_v: np.ndarray  # (..., n)
    capacitor_rms_a: np.ndarray  # (..., n) of one reservoir capacitor in a doubler
    load_a: np.ndarray  # (..., n) direct current drawn at each node
    plate_peak_a: np.ndarray  # (...)
    plate_rms_a: np.ndarray  # (...)
    winding_rms_a: np.ndarray  # (...) each half of a centre-tapped winding
    inverse_peak_v: np.ndarray  # (...)
    ripple_hz: np.ndarray  # (...)
    waveforms: Waveforms | None


def supply(
    circuit: str,
    v_rms: ArrayLike,
    frequency_hz: ArrayLike,
    source_ohm: ArrayLike,
    sections: Sequence[Section | Mapping[str, object]],
    *,
    input: str = "capacitor",
    perveance: ArrayLike | None = None,
    threshold_v: ArrayLike = 0.0,
    diode_ohm: ArrayLike = 0.0,
    waveforms: bool = False,
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

    Returns
    -------
    Supply
        A section without load anywhere in the supply stands at the peak, less the thresholds.

    Raises
    ------
    ValueError
        As `capacitor_input`; a section's field is named as in ``sections[2].series_ohm``.
    ArithmeticError
        The steady state was not found.

    Notes
    -----
    Chokes are linear: no fall of inductance with current. With an input choke a supply below the critical
    inductance is followed into interrupted current, where the output climbs towards the peak. The winding's
    resistance is taken as constant and leakage inductance as nil. Constant currents fade below a thousandth of the
    peak volts, see `capacitor_input`.

    References
    ----------
    Our own method, see `steady`.
    """
    kind = circuit_named(circuit)
    choke_input = _choke_input(input, circuit)
    parts = [part if isinstance(part, Section) else Section(**part) for part in sections]
    given = {
        "v_rms": number("v_rms", v_rms, zero=True),
        "frequency_hz": number("frequency_hz", frequency_hz),
        "source_ohm": number("source_ohm", source_ohm, zero=True),
        "perveance": np.ones(()) if perveance is None else number("perveance", perveance),
        "threshold_v": number("threshold_v", threshold_v, zero=True),
        "diode_ohm": number("diode_ohm", diode_ohm, zero=True),
        **_section_numbers(parts, choke_input),
    }
    shape = common_shape(given)
    flat = {name: np.broadcast_to(value, shape).reshape(-1) for name, value in given.items()}
    drop = np.zeros(flat["v_rms"].shape) if perveance is None else drop_factor(flat["perveance"])
    drive = Drive(
        np.sqrt(2) * flat["v_rms"], 2 * np.pi * flat["frequency_hz"], flat["source_ohm"], flat["diode_ohm"], drop,
        flat["threshold_v"],
    )  # fmt: skip
    table = _section_table(parts, flat)
    table = table._replace(parent=_parents(parts))
    solved = _solve(circuit, drive, table, choke_input, waveforms)
    names = ("dc_v", "ripple_pp_v", "ripple_rms_v", "capacitor_rms_a", "load_a")
    per_node = [np.moveaxis(solved[name], 0, -1).reshape(*shape, len(parts)) for name in names]
    whole = [solved[name].reshape(shape)[()] for name in ("plate_peak_a", "plate_rms_a", "winding_rms_a", "inverse_peak_v")]
    ripple_hz = (given["frequency_hz"] * 2 / kind.halves)[()]
    return Supply(*per_node, *whole, ripple_hz, None)


def _choke_input(input: str, circuit: str) -> bool:
    if input not in ("capacitor", "choke"):
        raise ValueError(f"input: {input!r} is neither 'capacitor' nor 'choke'")
    if input == "choke" and circuit.endswith("doubler"):
        raise ValueError("input: a doubler has no choke input")
    return input == "choke"
