"""The equations of a supply: rectifier circuit, then sections of series resistance, choke, capacitor and load."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .arguments import one_of
from .diode import path_current
from .laws import Network

_FLOOR = 1e-6  # least resistance of a silicon path, as a share of the reservoir's (or choke's) reactance
_GUESSED = np.pi / 2 * np.linspace(0.02, 1.0, 25) ** 1.3  # half angles of conduction


class Circuit(NamedTuple):
    """What distinguishes one rectifier circuit from another."""

    halves: int  # half cycles after which the waveforms repeat
    in_series: int  # diodes the current passes one after the other
    stacked: int  # volts at the output without load, in peaks


CIRCUITS = {
    "half-wave": Circuit(2, 1, 1),
    "full-wave": Circuit(1, 1, 1),
    "bridge": Circuit(1, 2, 1),
    "doubler": Circuit(1, 1, 2),
    "half-wave doubler": Circuit(2, 1, 2),
}


def circuit_named(circuit: str) -> Circuit:
    """The circuit of that name, or ValueError with the names there are."""
    return CIRCUITS[one_of("circuit", circuit, CIRCUITS)]


class Drive(NamedTuple):
    """Source and diodes; every field (B,)."""

    peak: np.ndarray
    omega: np.ndarray
    source_ohm: np.ndarray
    diode_ohm: np.ndarray  # of one diode
    drop: np.ndarray  # of one diode, see diode.drop_factor
    threshold: np.ndarray  # of one diode

    def only(self, chosen: np.ndarray) -> Drive:
        """Those of some circuits."""
        return Drive(*(value[chosen] for value in self))


SECTION_FIGURES = ("series_ohm", "series_h", "capacitance_f", "load_a", "load_s", "load_k")


class Sections(NamedTuple):
    """Filter sections; every field (n, B) but `parent` (n,), the section each is fed from (-1: the rectifier)."""

    series_ohm: np.ndarray
    series_h: np.ndarray
    capacitance_f: np.ndarray
    load_a: np.ndarray
    load_s: np.ndarray
    load_k: np.ndarray
    parent: tuple[int, ...]

    def only(self, chosen: np.ndarray) -> Sections:
        """Those of some circuits."""
        return self._replace(**{name: getattr(self, name)[:, chosen] for name in SECTION_FIGURES})


class _Layout(NamedTuple):
    """Where each thing stands among the states: choke currents first, so that no pivot vanishes."""

    size: int
    chokes: dict[int, int]  # section -> state
    source: tuple[int, ...]  # rectifier output ahead of a choke, and the winding of a bridge there
    reservoir: tuple[int, ...]
    ports: np.ndarray  # (n, size) node volts out of states


def _layout(circuit: str, sections: Sections, choke_input: bool) -> _Layout:
    count = len(sections.parent)
    with_choke = [i for i in range(count) if sections.series_h[i].any()]
    chokes = {section: state for state, section in enumerate(with_choke)}
    at = len(chokes)
    ahead = (2 if circuit == "bridge" else 1) if choke_input else 0
    source = tuple(range(at, at + ahead))
    at += ahead
    reservoir = tuple(range(at, at + CIRCUITS[circuit].stacked))
    size = reservoir[-1] + count
    ports = np.zeros((count, size))
    ports[0, list(reservoir) if circuit == "doubler" else reservoir[-1]] = 1.0
    for i in range(1, count):
        ports[i, reservoir[-1] + i] = 1.0
    return _Layout(size, chokes, source, reservoir, ports)


def _paths(circuit: str, layout: _Layout) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Where each rectifier path puts its current (J, m), what it sees (J, m), and its sign towards the source."""
    unit = np.eye(layout.size)
    if layout.source:
        out = unit[layout.source[0]]
        if circuit == "bridge":
            winding = unit[layout.source[1]]
            inject, sense = [out - winding, out + winding], [(winding - out) / 2, (-winding - out) / 2]
            return np.array(inject), np.array(sense), np.zeros(2)
        paths = 3 - CIRCUITS[circuit].halves
        return np.array([out] * paths), np.array([-out] * paths), np.array([1.0, -1.0][:paths])
    first, last = unit[layout.reservoir[0]], unit[layout.reservoir[-1]]
    if circuit == "doubler":
        return np.array([first, last]), np.array([-first, -last]), np.array([1.0, -1.0])
    if circuit == "half-wave doubler":
        return np.array([last - first, first]), np.array([first - last, -first]), np.array([1.0, -1.0])
    return np.array([last]), np.array([-last]), np.ones(1)


def build(circuit: str, drive: Drive, sections: Sections, choke_input: bool = False, density: int = 1) -> Network:
    """Network of a supply.

    Parameters
    ----------
    circuit : str
        A key of `CIRCUITS`.
    drive : Drive
    sections : Sections
        The first is the reservoir; with `choke_input` its series part is the input choke.
    choke_input : bool
        A choke stands between rectifier and first capacitor. Not for doublers.
    density : int
        Time steps, in multiples of the least that serves a reservoir alone.

    Returns
    -------
    Network
        Its ports are the nodes, in the order of `sections`.
    """
    layout = _layout(circuit, sections, choke_input)
    batch, kind = drive.peak.size, CIRCUITS[circuit]
    mass = np.zeros((layout.size, batch))
    linear = np.zeros((layout.size, layout.size, batch))
    source = np.zeros((layout.size, batch))
    for i, parent in enumerate(sections.parent):
        states = layout.reservoir if i == 0 else (layout.reservoir[-1] + i,)
        mass[list(states)] = drive.omega * sections.capacitance_f[i]
        if i > 0 or choke_input:
            feed = layout.ports[parent] if i > 0 else np.eye(layout.size)[layout.source[0]]
            _couple(linear, feed - layout.ports[i], sections.series_ohm[i], layout.chokes.get(i))
    for section, state in layout.chokes.items():
        mass[state] = drive.omega * sections.series_h[section]
    floor = _FLOOR * np.where(mass[0] > 0, mass[0], 1.0) if choke_input else _FLOOR / mass[layout.reservoir[0]]
    in_series = 1 if choke_input else kind.in_series
    path_ohm = in_series * drive.diode_ohm
    if choke_input and circuit == "bridge":
        winding, ohm = layout.source[1], np.maximum(drive.source_ohm, floor)
        linear[winding, winding] -= 1.0 / ohm
        source[winding] = 1.0 / ohm
    else:
        path_ohm = path_ohm + drive.source_ohm
    path_ohm = np.where(drive.drop > 0, path_ohm, np.maximum(path_ohm, floor))
    inject, sense, sign = _paths(circuit, layout)
    twist = np.arange(layout.size)
    if circuit == "doubler":
        twist[list(layout.reservoir)] = layout.reservoir[::-1]
    layer = np.full(batch, np.inf)
    if not choke_input:
        charging = mass[layout.reservoir[0]] * drive.peak
        layer = mass[layout.reservoir[0]] * (path_ohm + in_series * drive.drop / np.cbrt(charging))
    return Network(
        mass, linear, source, inject, sense, sign, drive.peak, path_ohm, in_series * drive.drop,
        in_series * drive.threshold, layout.ports, sections.load_a, sections.load_s, sections.load_k, layer,
        _start(circuit, layout, drive, sections, path_ohm), twist, kind.halves, density,
        (0, 1) if circuit == "half-wave doubler" else (0,),
    )  # fmt: skip


def _start(circuit: str, layout: _Layout, drive: Drive, sections: Sections, path_ohm: np.ndarray) -> np.ndarray:
    """A first guess (m, B) of all states, near what they are but such that some path conducts."""
    kind = CIRCUITS[circuit]
    start = np.zeros((layout.size, drive.peak.size))
    level = 0.5 * drive.peak if layout.source else _level(kind, drive, sections, path_ohm)
    start[layout.reservoir[0] :] = kind.stacked * level
    start[layout.reservoir[0]] = level
    start[list(layout.source[1:])] = level  # the winding of a bridge
    if circuit == "doubler":
        start[layout.reservoir[-1]] = level
    return start


def _level(kind: Circuit, drive: Drive, sections: Sections, path_ohm: np.ndarray) -> np.ndarray:
    """Volts (B,) of each first capacitor if it were large and all loads hung on it.

    Conduction over an angle 2 p around the crest carries peak (sin p - p cos p) / (pi ohm), with cos p the volts over
    the peak. Of several p the least that carries the load is taken.
    """
    p = _GUESSED[:, None]
    each = np.maximum(drive.peak * np.cos(p) - kind.in_series * drive.threshold, 0.0)
    volts, ohm = kind.stacked * each, path_ohm
    if drive.drop.any():
        crest = drive.peak * (1 - np.cos(p))
        ohm = crest / path_current(crest, path_ohm, kind.in_series * drive.drop)[0]
    pulses = 2 if kind.halves == 1 and kind.stacked == 1 else 1
    carried = pulses * drive.peak * (np.sin(p) - p * np.cos(p)) / (np.pi * ohm)
    drawn = sections.load_a.sum(axis=0) + sections.load_s.sum(axis=0) * volts
    drawn = drawn + sections.load_k.sum(axis=0) * volts**1.5
    least = np.argmax(np.concatenate([(carried >= drawn)[:-1], np.ones_like(carried[:1], bool)]), axis=0)
    return np.take_along_axis(each, least[None], axis=0)[0]


def _couple(linear: np.ndarray, across: np.ndarray, ohm: np.ndarray, choke: int | None) -> None:
    """Add a branch driven by `across` . states: a resistor, or a choke with its resistance."""
    if choke is None:
        linear -= np.outer(across, across)[:, :, None] / ohm
        return
    linear[choke] += across[:, None]
    linear[:, choke] -= across[:, None]
    linear[choke, choke] -= ohm
