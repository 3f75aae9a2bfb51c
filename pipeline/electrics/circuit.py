"""The DC operating point of a whole unit: resistors, tubes, sources and regulators between nodes, many units at once.

Node 0 is the chassis. Nodes are whole numbers, one wiring for a batch; every other figure may be an array, and all
broadcast together to the shape of the batch (written `...`). SI units; volts are counted from the chassis.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .nodal import Branch, layout, solve
from .stages import ElectrodeAmperes, Law, Weights, flows, reciprocal

LEAST_OHM = 1e-3  # of any resistance or source; less counts as this much
_LEAK_S = 1e-12  # from every node to the chassis, so that none floats
_FADE_V = 1.0  # volts below which a constant current fades
_CLOSE_V = 1e-4  # greatest move of a node in the last step of Newton's method; the next would be about its square
_CHUNK = 512  # circuits settled together: what they need then stays near the processor
_WHOLE, _EARLY, _LIMIT = 10, 14, 400  # steps of Newton's method taken whole, with all circuits, and at most


class Resistor(NamedTuple):
    """A resistance from `a` to `b`; np.inf is an open one."""

    a: int
    b: int
    ohms: ArrayLike


class Tube(NamedTuple):
    """`count` alike tubes in parallel on these nodes, each by `law` with its perveance times `strength`.

    `screen` None: the plate's node (triodes, and the triode connection). `fixed_a` is the cathode current of each where
    it is known, nan where the law gives it. `grid_perveance` (A V^-1.5) lets a positive grid take current as a diode
    does; 0: it takes none.
    """

    plate: int
    screen: int | None
    grid: int
    cathode: int
    law: Law
    count: ArrayLike = 1  # type: ignore[assignment]  # hides tuple's own count, which nothing needs
    strength: ArrayLike = 1.0
    fixed_a: ArrayLike = np.nan
    grid_perveance: ArrayLike = 0.0


class Draw(NamedTuple):
    """What a node feeds to the chassis: constant amperes, k v^1.5, and a resistance.

    Constant amperes fade below 1 V of their own sign. At a negative node `amps` and `k` are negative.
    """

    node: int
    amps: ArrayLike = 0.0
    k: ArrayLike = 0.0
    ohms: ArrayLike = np.inf


class Source(NamedTuple):
    """Volts behind ohms from the chassis to a node; `one_way`: it never takes current back (a rectifier)."""

    node: int
    volts: ArrayLike
    ohms: ArrayLike = 0.0
    one_way: bool = False


class Regulator(NamedTuple):
    """A glow tube or zener from `a` to `b`: conducts only above its volts, and then through its ohms."""

    a: int
    b: int
    volts: ArrayLike
    ohms: ArrayLike = 0.0


class OperatingPoint(NamedTuple):
    """The settled unit; the last axis counts nodes or elements, the others are the batch.

    `plate_a` and `screen_a` are of one of a `Tube`'s alike tubes, `source_a` flows out of the source, `resistor_a` and
    `regulator_a` from a to b. Where `settled` is False the other figures are nan.
    """

    volts: np.ndarray
    plate_a: np.ndarray
    screen_a: np.ndarray
    source_a: np.ndarray
    resistor_a: np.ndarray
    regulator_a: np.ndarray
    draw_a: np.ndarray
    settled: np.ndarray


def operating_point(
    nodes: int,
    *,
    resistors: Sequence[Resistor] = (),
    tubes: Sequence[Tube] = (),
    draws: Sequence[Draw] = (),
    sources: Sequence[Source] = (),
    regulators: Sequence[Regulator] = (),
    start: ArrayLike | None = None,
) -> OperatingPoint:
    """DC volts and currents of a circuit, by Newton's method on its nodes.

    Parameters
    ----------
    nodes : int
        Number of nodes, the chassis (node 0) among them.
    resistors, tubes, draws, sources, regulators : sequences
        The elements; their nodes are below `nodes`.
    start : array_like (..., nodes), optional
        Volts from which to begin, as a point solved before; the circuit without tubes if not given.

    Raises
    ------
    ValueError
        A node that is not among `nodes`, or figures that do not broadcast.

    Notes
    -----
    Modified nodal analysis with sources as conductances. Capacitors are open, chokes and windings are resistors.
    A plate that would have to deliver current (its volts below its cathode's) takes none.
    """
    elements = _Elements(nodes, resistors, tubes, draws, sources, regulators)
    return elements.point(start)


class _Tubes(NamedTuple):
    """Tubes as a table; fields of law and figures (T, B)."""

    law: Weights
    fixed: np.ndarray | None
    grid_perveance: np.ndarray | None
    alike: np.ndarray


class _Elements:
    """A circuit laid out as tables, one row an element, with its batch flat on the last axis."""

    def __init__(
        self, nodes: int, resistors: Sequence[Resistor], tubes: Sequence[Tube], draws: Sequence[Draw],
        sources: Sequence[Source], regulators: Sequence[Regulator],
    ) -> None:  # fmt: skip
        self.nodes = nodes
        tubes = [tube._replace(screen=tube.plate) if tube.screen is None else tube for tube in tubes]
        figures = {
            "ohms": [r.ohms for r in resistors], "draws": [f for d in draws for f in d[1:]],
            "sources": [f for s in sources for f in s[1:3]], "regulators": [f for r in regulators for f in r[2:]],
            "tubes": [f for t in tubes for f in (*t.law, *t[5:])],
        }  # fmt: skip
        self.shape = _common([figure for row in figures.values() for figure in row])
        table = {name: _table(row, self.shape) for name, row in figures.items()}
        self.siemens = 1.0 / np.maximum(table["ohms"], LEAST_OHM)
        self.draw_a, self.draw_k, self.draw_s = table["draws"][0::3], table["draws"][1::3], table["draws"][2::3]
        self.draw_s = 1.0 / np.maximum(self.draw_s, LEAST_OHM)
        self.source_v, self.source_s = table["sources"][0::2], 1.0 / np.maximum(table["sources"][1::2], LEAST_OHM)
        self.one_way = np.array([s.one_way for s in sources], bool)
        self.glow_v, self.glow_s = table["regulators"][0::2], 1.0 / np.maximum(table["regulators"][1::2], LEAST_OHM)
        self.tubes = _tube_table(table["tubes"])
        self.pins = np.array([t[:4] for t in tubes], int).reshape(-1, 4)
        self.resistor_ends = _ends([(r.a, r.b) for r in resistors])
        self.glow_ends = _ends([(r.a, r.b) for r in regulators])
        self.draw_node, self.source_node = _ends([(d.node,) for d in draws])[0], _ends([(s.node,) for s in sources])[0]
        self.layout = layout(nodes, self._branches())
        self.batch = self.siemens.shape[1]

    def _branches(self) -> tuple[Branch, ...]:
        """Every branch of current with the volts its slopes belong to, in the order of `flow` and `slopes`."""
        found = [Branch(int(a), int(b), ((int(a), int(b)),)) for a, b in self.resistor_ends.T]
        found += [Branch(n, 0, ((n, 0),)) for n in range(1, self.nodes)]
        found += [Branch(int(n), 0, ((int(n), 0),)) for n in (*self.source_node, *self.draw_node)]
        found += [Branch(int(a), int(b), ((int(a), int(b)),)) for a, b in self.glow_ends.T]
        across = [((int(p), int(k)), (int(s), int(k)), (int(g), int(k))) for p, s, g, k in self.pins]
        found += [Branch(pair[0][0], pair[0][1], pair) for pair in across]
        found += [Branch(pair[1][0], pair[1][1], pair) for pair in across]
        if self.tubes.grid_perveance is not None:
            found += [Branch(*pair[2], (pair[2],)) for pair in across]
        return tuple(found)

    def only(self, chosen: np.ndarray) -> _Elements:
        """The same circuit for some of the batch."""
        other = object.__new__(_Elements)
        other.__dict__.update(self.__dict__)
        for name in ("siemens", "draw_a", "draw_k", "draw_s", "source_v", "source_s", "glow_v", "glow_s"):
            setattr(other, name, getattr(self, name)[:, chosen])
        law, fixed, grid, count = self.tubes
        fixed, grid = (None if v is None else v[:, chosen] for v in (fixed, grid))
        other.tubes = _Tubes(Weights(*(field[:, chosen] for field in law)), fixed, grid, count[:, chosen])
        other.batch = other.siemens.shape[1]
        return other

    def electrodes(self, volts: np.ndarray) -> tuple[ElectrodeAmperes, np.ndarray]:
        """Currents and slopes (T, B) of one tube each, and the grids' volts from their cathodes."""
        plate, screen, grid, cathode = (volts[self.pins[:, i]] for i in range(4))
        above = grid - cathode
        return flows(self.tubes.law, plate - cathode, screen - cathode, above, self.tubes.fixed), above

    def flow_and_slopes(self, volts: np.ndarray, blocked: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
        """Current (branches, B) and slopes (terms, B) of all branches at volts (nodes, B)."""
        ohmic = self.siemens * (volts[self.resistor_ends[0]] - volts[self.resistor_ends[1]])
        leak = _LEAK_S * volts[1:]
        given, given_s = self._given(volts)
        drawn, drawn_s = self._drawn(volts)
        over = volts[self.glow_ends[0]] - volts[self.glow_ends[1]] - self.glow_v
        glow_s = np.where(over > 0, self.glow_s, 0.0)
        tube, above = self.electrodes(volts)
        if blocked is not None:
            tube = _plate_off(tube, blocked, self.tubes.law.by_screen > 0)
        count = self.tubes.alike
        flow = [ohmic, leak, given, drawn, glow_s * over, count * tube.plate_a, count * tube.screen_a]
        by = np.array([tube[1:4], tube[5:8]]) * count  # (electrode, slope, T, B)
        terms = by.swapaxes(1, 2).reshape(-1, volts.shape[1])
        slopes = [self.siemens, np.full(leak.shape, _LEAK_S), given_s, drawn_s, glow_s, terms]
        if self.tubes.grid_perveance is not None:
            root = np.sqrt(np.maximum(above, 0.0))
            slope = count * self.tubes.grid_perveance * root
            flow.append(slope * root * root)
            slopes.append(1.5 * slope)
        return np.concatenate(flow), np.concatenate(slopes)

    def _given(self, volts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current into each source, and its slope."""
        below = volts[self.source_node] - self.source_v
        slope = self.source_s
        if self.one_way.any():
            back = self.one_way[:, None] & (below * np.sign(self.source_v) > 0)
            slope = np.where(back, 0.0, slope)
        return slope * below, slope

    def _drawn(self, volts: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current (draws, B) out of each node to its load, and its slope."""
        level = volts[self.draw_node]
        amps, slope = self.draw_s * level, self.draw_s
        if self.draw_a.any():
            own = level * np.sign(self.draw_a)
            fading = own < _FADE_V
            amps = amps + self.draw_a * np.where(fading, own / _FADE_V, 1.0)
            slope = slope + np.where(fading, np.abs(self.draw_a) / _FADE_V, 0.0)
        if self.draw_k.any():
            root = np.sqrt(np.maximum(level * np.sign(self.draw_k), 0.0))
            amps, slope = amps + self.draw_k * root**3, slope + 1.5 * np.abs(self.draw_k) * root
        return amps, slope

    def point(self, start: ArrayLike | None) -> OperatingPoint:
        """Settles the circuit and reads its currents."""
        volts = self._begin(start)
        settled = np.zeros(self.batch, bool)
        for first in range(0, self.batch, _CHUNK):
            self._settle(volts, settled, np.arange(first, min(first + _CHUNK, self.batch)), None, range(_EARLY))
        late = np.flatnonzero(~settled)
        if late.size:
            self._settle(volts, settled, late, None, range(_EARLY, _LIMIT))
        off = self._reversed(volts)
        odd = np.flatnonzero(off.any(axis=0))
        if odd.size:
            self._settle(volts, settled, odd, off[:, odd], range(_LIMIT))
        tube, _ = self.electrodes(volts)
        if odd.size:
            tube = _plate_off(tube, off, self.tubes.law.by_screen > 0)
        volts[:, ~settled] = np.nan
        gone = np.where(settled, 0.0, np.nan)
        across = volts[self.resistor_ends[0]] - volts[self.resistor_ends[1]]
        over = np.maximum(volts[self.glow_ends[0]] - volts[self.glow_ends[1]] - self.glow_v, 0.0)
        rows = (
            volts, tube.plate_a + gone, tube.screen_a + gone, -self._given(volts)[0], self.siemens * across,
            self.glow_s * over, self._drawn(volts)[0],
        )  # fmt: skip
        volts, *amps = (np.moveaxis(row, 0, -1).reshape(*self.shape, len(row)) for row in rows)
        return OperatingPoint(volts, *amps, settled.reshape(self.shape))  # type: ignore[call-arg]

    def _begin(self, start: ArrayLike | None) -> np.ndarray:
        if start is None:
            return np.zeros((self.nodes, self.batch))
        given = np.broadcast_to(np.asarray(start, float), (*self.shape, self.nodes))
        volts = np.moveaxis(given.reshape(self.batch, self.nodes), 0, -1).copy()
        volts[0] = 0.0
        volts[~np.isfinite(volts)] = 0.0
        return volts

    def _reversed(self, volts: np.ndarray) -> np.ndarray:
        """Tubes (T, B) whose plate lies below its cathode and would deliver current."""
        return volts[self.pins[:, 0]] - volts[self.pins[:, 3]] < -1e-6

    def _settle(
        self, volts: np.ndarray, settled: np.ndarray, busy: np.ndarray, blocked: np.ndarray | None, counts: range
    ) -> None:
        """Newton's method for the circuits `busy`; writes their volts (nodes, B) and whether they settled."""
        part, own = (self, volts) if busy.size == self.batch else (self.only(busy), volts[:, busy])
        last = np.full(busy.size, np.inf)
        for count in counts:
            with np.errstate(all="ignore"):
                step = solve(self.layout, *part.flow_and_slopes(own, blocked))
            moved = np.abs(step).max(axis=0, initial=0.0)
            left = ~(moved < _CLOSE_V)
            # Where plates bottom and grids swing far the steps can go round in a circle; ever other lengths leave it.
            if count >= _WHOLE:
                step = step * np.where(left & (moved > 0.5 * last), 0.1 + 0.9 * (0.618 * count % 1.0), 1.0)
            own = own.copy()
            own[1:] -= step
            last, rest = moved, np.count_nonzero(left)
            if rest > 0.7 * left.size and count < counts[-1]:
                continue
            volts[:, busy] = own
            settled[busy] = ~left
            if not rest:
                return
            part, own, busy, last = part.only(left), own[:, left], busy[left], last[left]
            blocked = None if blocked is None else blocked[:, left]


def _plate_off(tube: ElectrodeAmperes, blocked: np.ndarray, screened: np.ndarray) -> ElectrodeAmperes:
    """The same, with nothing flowing into plates that are `blocked`; a screen takes it instead where there is one."""
    plate, screen = tube[:4], tube[4:]
    kept = [np.where(blocked, 0.0, row) for row in plate]
    moved = (np.where(blocked & screened, row + lost, row) for row, lost in zip(screen, plate, strict=True))
    return ElectrodeAmperes(*kept, *moved)


def _tube_table(table: np.ndarray) -> _Tubes:
    """Figures (9 T, B) of the tubes' laws, counts, strengths, fixed currents and grids, sorted."""
    perveance, mu, mu_screen, offset, share, count, strength, fixed, grid = (table[i::9] for i in range(9))
    law = reciprocal(Law(perveance * strength, mu, mu_screen, offset, share))
    return _Tubes(law, None if np.isnan(fixed).all() else fixed, grid if grid.any() else None, count)


def _common(figures: list[ArrayLike]) -> tuple[int, ...]:
    """The shape all figures broadcast to."""
    shapes = {np.shape(figure) for figure in figures}
    try:
        return np.broadcast_shapes(*shapes)
    except ValueError:
        raise ValueError(f"the figures of a circuit do not broadcast: {sorted(shapes)}") from None


def _table(figures: list[ArrayLike], shape: tuple[int, ...]) -> np.ndarray:
    """Figures as rows (n, B)."""
    table = np.empty((len(figures), *shape))
    for i, figure in enumerate(figures):
        table[i] = figure
    return table.reshape(len(figures), int(np.prod(shape)))


def _ends(pairs: Sequence[tuple[int, ...]]) -> np.ndarray:
    """Nodes (ends, elements) of elements."""
    return np.array(pairs, int).T if pairs else np.zeros((2, 0), int)
