"""Tubes and supplies made to agree: what the tubes draw sets the supplies' volts, and these set what the tubes draw.

In each round a supply stands as volts behind a slope at its present load, the circuit is solved with it, and the load
it then gives is the next round's. The slopes make that quick: two or three rounds settle it to a millivolt, without
waveforms; these follow once, with the loads that were found. Today's corner is settled first and by itself: the others
begin where it came out.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np

from pipeline.electrics.circuit import Draw, OperatingPoint, Regulator, Resistor, Source, Tube, operating_point
from pipeline.electrics.regulation import rectified_output, square_wave_output
from pipeline.electrics.stages import Law
from pipeline.point.circuit import CHASSIS, CLAMP_OHM, HELD, Circuit
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.records import OpenRecord, field

ROUNDS = 8
CLOSE_A = 2e-5
"""A load that moved by less is settled; on a supply of a thousand ohms that is 20 mV."""
CLOSE = 5e-3
"""So is one that moved by a smaller share of itself: the slope is a tangent, and a drop that grows as the load to the
two thirds leaves it by a ninth of the square of that, 0.2 mV of a drop of 60 V."""


class Settled(OpenRecord):
    """A unit's circuit and what came of it: figures (corners, points or elements)."""

    circuit: Circuit
    feeds: list[SupplyState]
    measured: list[float | None]
    signal: list[float | None]
    point: OperatingPoint | None = None
    feed_a: np.ndarray = field(default_factory=lambda: np.zeros((0, 0)))
    supplied: tuple[np.ndarray, np.ndarray] | None = None
    """Open volts and slope of each feed (feeds, corners) in the last round."""
    offset_v: np.ndarray | None = None
    today_v: np.ndarray | None = None
    """Volts (points) of today's corner, settled by itself."""

    @property
    def key(self) -> tuple:
        return (self.circuit.key, tuple((s.rectified, s.supply.circuit, s.supply.input, s.device.perveance is None)
                                        for s in self.feeds),
                tuple(a is None for a in self.measured), tuple(a is None for a in self.signal))


OFF = 5e-4
"""Share of its volts by which a coarse supply may be off the waveforms before the unit is settled again."""
_NEAR = {"light": HIGH, "expect": TODAY, "strong": TODAY, "weak": TODAY, "lost": TODAY, "low": TODAY}
"""Corners that have no waveform of their own, and the row whose error is taken for theirs."""


def mended(unit: Settled) -> bool:
    """Take over the error of the coarse supplies from the waveforms; whether it is worth settling again."""
    found = unit.point
    assert found is not None
    corners, worst = unit.circuit.corners, 0.0
    offset = np.zeros(unit.feed_a.shape)
    names = [c.name for c in corners]
    near = [_NEAR.get(name, name) for name in names]
    for i, state in enumerate(unit.feeds):
        if state.solved is None or state.nodes[0].id in state.held:
            continue
        feed, factor = unit.circuit.feeds[i], tolerance(state, corners)
        volts = state.sign * (found.volts[:, feed.node] - found.volts[:, feed.minus])
        for k, name in enumerate(near):
            row, at = state.rows.get(name), names.index(name) if name in names else k
            if row is not None and factor[at]:
                coarse = volts[at] / factor[at]
                offset[i, k] = float(state.solved.dc_v[row, 0]) - coarse
                worst = max(worst, abs(offset[i, k]) / max(abs(coarse), 1.0))
    unit.offset_v = offset
    return worst > OFF


def settle_today(units: Sequence[Settled]) -> None:
    """Settle today's corner of every unit by itself: `today_v`, and the loads with which the others begin."""
    for group in _alike(units):
        batch = _Batch(group, slice(0, 1))
        solved = batch.settle()
        for i, unit in enumerate(group):
            unit.today_v, unit.feed_a = solved.volts[i, 0], batch.feed_a[i]


def settle_together(units: Sequence[Settled]) -> None:
    """Settle every corner of every unit, those of one topology in a batch."""
    for group in _alike(units):
        _Batch(group).hand_out()


def settle_again(units: Sequence[Settled]) -> None:
    """Settle anew units whose supplies have got an `offset_v`; their slopes are those of nearly the same load."""
    for group in _alike(units):
        _Batch(group).hand_out(np.array([u.supplied for u in group]).swapaxes(0, 1))


def _alike(units: Sequence[Settled]) -> Iterable[list[Settled]]:
    groups: dict[tuple, list[Settled]] = defaultdict(list)
    for unit in units:
        groups[unit.key].append(unit)
    return groups.values()


class _Batch:
    """Units of one topology at some of their corners; every figure (units, corners)."""

    def __init__(self, group: list[Settled], some: slice = slice(None)):
        self.group, self.some = group, some
        first = group[0].circuit
        self.size, self.corners, self.feeds = first.size, first.corners[some], first.feeds
        circuits = [u.circuit for u in group]

        def stacked(rows: list[Any]) -> np.ndarray:
            return np.array(rows)[:, some]

        self.resistors = [Resistor(r.a, r.b, stacked([c.resistors[i].ohms for c in circuits]))
                          for i, r in enumerate(first.resistors)]
        self.draws = [Draw(d.node, *(stacked([c.draws[i][k] for c in circuits]) for k in (1, 2)))
                      for i, d in enumerate(first.draws)]
        self.regulators = [Regulator(r.a, r.b, *(stacked([c.regulators[i][k] for c in circuits]) for k in (2, 3)))
                           for i, r in enumerate(first.regulators)]
        self.clamps = [Source(s.node, stacked([c.clamps[i].volts for c in circuits]),
                              stacked([c.clamps[i].ohms for c in circuits])) for i, s in enumerate(first.clamps)]
        self.strengths = [stacked([c.tubes[i].strength for c in circuits]) for i in range(len(first.tubes))]
        self.measured = np.array([[np.nan if a is None else a for a in u.measured] for u in group])
        self.signal = np.array([[np.nan if a is None else a for a in u.signal] for u in group])
        self.ratio = stacked([c.ratio for c in circuits])
        self.tubes = self._tubes([stacked([c.tubes[i].strength for c in circuits]) for i in range(len(first.tubes))])
        points = [u.point.volts[some] if u.point else u.today_v[None] if u.today_v is not None else None for u in group]
        self.volts = None if points[0] is None else np.array(
            [np.broadcast_to(p, (len(self.corners), self.size)) for p in points if p is not None])
        self.feed_a = self._first()
        self.offset_v = np.zeros(self.feed_a.shape)
        for i, unit in enumerate(group):
            if unit.offset_v is not None:
                self.offset_v[i] = unit.offset_v[:, some]

    def _first(self) -> np.ndarray:
        """Amps (units, feeds, corners) with which the rounds begin: those found before, or a guess."""
        known = [u.feed_a for u in self.group]
        if self.volts is None:
            known = [np.array([[first_guess(u, s)] for s in u.feeds]).reshape(-1, 1) for u in self.group]
        return np.array(known) * np.ones(len(self.corners))

    def hand_out(self, supplied: np.ndarray | None = None) -> None:
        """Settle, and give each unit what was found."""
        solved = self.settle(supplied)
        for i, unit in enumerate(self.group):
            unit.point = OperatingPoint(*(np.asarray(value)[i] for value in solved))
            unit.feed_a, unit.supplied = self.feed_a[i], (self.supplied[0][i], self.supplied[1][i])

    def settle(self, supplied: np.ndarray | None = None) -> OperatingPoint:
        """Rounds until no supply's load moves; `supplied` where the supplies' volts and slopes are known already."""
        before = None
        biased = np.array([f.minus != CHASSIS for f in self.feeds], bool)
        offset = self.offset_v * np.array(
            [[s.sign * tolerance(s, self.corners) for s in u.feeds] for u in self.group]).reshape(self.feed_a.shape)
        close = np.where(biased, 0.0, CLOSE)[:, None]
        for _ in range(2 * ROUNDS if biased.any() else ROUNDS):
            self.supplied = self._outputs() if supplied is None else (supplied[0], supplied[1])
            solved = self._solve(self.supplied[0] + offset, self.supplied[1])
            new, old = self._drawn(solved), self.feed_a
            moved = np.abs(new - old)
            self.feed_a = new if before is None else np.where(biased[None, :, None], _secant(*before, old, new), new)
            before = old, new
            if (supplied is not None and not biased.any()) or np.all(moved <= np.maximum(CLOSE_A, close * new)):
                break
        return solved

    def _outputs(self) -> tuple[np.ndarray, np.ndarray]:
        """Open volts and slope of each feed (units, feeds, corners) at its present load."""
        volts, ohms = np.zeros(self.feed_a.shape), np.ones(self.feed_a.shape)
        for i, _ in enumerate(self.feeds):
            states = [u.feeds[i] for u in self.group]
            volts[:, i], ohms[:, i] = output_of(states, self.corners, self.ratio, self.feed_a[:, i])
        return volts, ohms

    def _solve(self, volts: np.ndarray, ohms: np.ndarray) -> OperatingPoint:
        sources = [*self.clamps]
        for i, feed in enumerate(self.feeds):
            given, behind = volts[:, i], ohms[:, i]
            if feed.minus != CHASSIS:
                lead = np.asarray(next(r.ohms for r in self.resistors if (r.a, r.b) == (feed.minus, CHASSIS)))
                behind = behind + lead
                sources.append(Source(feed.minus, -self.feed_a[:, i] * lead, np.full(behind.shape, CLAMP_OHM)))
            sources.append(Source(feed.node, given, behind))
        solved = operating_point(
            self.size, resistors=self.resistors, tubes=self.tubes, draws=self.draws, sources=sources,
            regulators=self.regulators, start=self.volts)
        self.volts = solved.volts
        return solved

    def _tubes(self, strengths: list[np.ndarray]) -> list[Tube]:
        """The tubes with their laws stacked; a measured current is held, and goes with the mains at other corners."""
        today = next((i for i, c in enumerate(self.corners) if c.name == "today"), 0)
        read, full = (np.array([getattr(c, name) for c in self.corners]) for name in ("readings", "signal"))
        tubes, scale = [], self.ratio / self.ratio[:, [today]]
        for i, tube in enumerate(self.group[0].circuit.tubes):
            law = Law(*np.array([u.circuit.tubes[i].law for u in self.group], float).T[:, :, None])
            fixed = np.where(read, self.measured[:, i, None] * scale, np.nan)
            loud = self.signal[:, i, None] * scale
            fixed = np.where(full & np.isfinite(loud), loud, fixed)
            tubes.append(tube._replace(law=law, strength=strengths[i], fixed_a=fixed))
        return tubes

    def _drawn(self, solved: OperatingPoint) -> np.ndarray:
        """Amps each feed gives, without its sign and never back into it."""
        amps, at = np.zeros(self.feed_a.shape), len(self.clamps)
        for i, feed in enumerate(self.feeds):
            at += feed.minus != CHASSIS
            sign = np.array([u.feeds[i].sign for u in self.group])[:, None]
            amps[:, i] = np.maximum(sign * solved.source_a[..., at], 0.0)
            at += 1
        return amps


def _secant(x0: np.ndarray, f0: np.ndarray, x1: np.ndarray, f1: np.ndarray) -> np.ndarray:
    """Where f(x) = x, from two tries: a supply whose own current sets its tubes' grids may swing ever wider else."""
    off = (f1 - x1) - (f0 - x0)
    step = np.divide((f1 - x1) * (x1 - x0), off, out=np.zeros(off.shape), where=np.abs(off) > 1e-12)
    return np.where(np.abs(off) > 1e-12, np.clip(x1 - step, 0.3 * np.minimum(x1, f1), 3 * np.maximum(x1, f1)), f1)


def output_of(states: Sequence[SupplyState], corners: Sequence[Any], ratio: np.ndarray,
              amps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Open volts (signed) and slope of supplies of one kind at their load; all (units, corners).

    At high mains a tube drops least and the first capacitor stands at its upper tolerance.
    """
    factor = np.array([s.sign * tolerance(s, corners) for s in states])
    if states[0].rectified:
        volts, slope = _rectified(states, corners, ratio, amps)
    else:
        volts, slope = _steady(states, corners, amps)
    today = next((i for i, c in enumerate(corners) if c.name == "today"), 0)
    held = np.array([s.held.get(s.nodes[0].id, np.nan) for s in states])[:, None] * np.where(
        [c.name in HELD for c in corners], ratio / ratio[:, [today]], np.nan)
    open_v = np.where(np.isnan(held), factor * (volts + slope * amps), held)
    return np.where(factor == 0.0, 0.0, open_v), np.where(np.isnan(held), slope, CLAMP_OHM)


def tolerance(state: SupplyState, corners: Sequence[Any]) -> np.ndarray:
    """Factor on a supply's volts at each corner: a bias supply's by its tolerance, nothing where it is lost."""
    if state.sign > 0:
        return np.ones(len(corners))
    band = state.allowances["bias supply tolerance"].value / 100
    return np.array([0.0 if c.bias is None else 1 + c.bias * band for c in corners])


def _steady(states: Sequence[SupplyState], corners: Sequence[Any], amps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Batteries, and the square wave of a vibrator, whose rectifier drops what its load asks all the time."""
    high = np.array([c.adverse for c in corners])
    given = np.array([[s.cells_v(c.mains) for c in corners] for s in states])
    if states[0].supply.source == "vibrator":
        return _square_wave(states, high, given, amps)
    slope = np.array([max(s.source_ohm or 0.0, 0.1) for s in states])[:, None] * np.ones(given.shape)
    volts = given - slope * amps - np.array([s.device.threshold_v for s in states])[:, None]
    usual, least = (np.array([value or np.inf for value in values])[:, None] for values in (
        [s.device.perveance for s in states], [s.device.least_drop_perveance for s in states]))
    load = np.maximum(amps, 1e-6)
    drop = (load / np.where(high, least, usual)) ** (2 / 3)
    return volts - drop, slope + 2 / 3 * drop / load


def _square_wave(states: Sequence[SupplyState], high: np.ndarray, given: np.ndarray,
                 amps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A vibrator's output: in half-wave circuits and doublers a diode passes twice the load for half of the time."""
    usual, least = (np.array([value or np.nan for value in values])[:, None] for values in (
        [s.device.perveance for s in states], [s.device.least_drop_perveance for s in states]))
    ohms = np.array([max(s.source_ohm or 0.0, 0.1) for s in states])[:, None]
    threshold = np.array([s.device.threshold_v for s in states])[:, None]
    found = square_wave_output(
        states[0].supply.circuit or "full-wave", given, ohms, np.maximum(amps, 1e-6), threshold_v=threshold,
        perveance=None if states[0].device.perveance is None else np.where(high, least, usual))
    return np.asarray(found.dc_v), np.asarray(found.slope_ohm)


def _rectified(states: Sequence[SupplyState], corners: Sequence[Any], ratio: np.ndarray,
               amps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """At corners of the same mains and load the same: worked out once."""
    lines = [c.mains for c in corners]
    first = [lines.index(line) for line in lines]
    some = sorted(set(first))
    if len(some) < len(first) and np.array_equal(amps, amps[:, first]):
        volts, slope = _each_rectified(states, [corners[i] for i in some], ratio[:, some], amps[:, some])
        at = [some.index(i) for i in first]
        return volts[:, at], slope[:, at]
    return _each_rectified(states, corners, ratio, amps)


def _each_rectified(states: Sequence[SupplyState], corners: Sequence[Any], ratio: np.ndarray,
                    amps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    high = np.array([c.adverse for c in corners])
    usual = np.array([s.device.perveance or np.nan for s in states])[:, None]
    least = np.array([s.device.least_drop_perveance or np.nan for s in states])[:, None]
    first, supply = [s.tree[0] for s in states], states[0].supply
    farad = np.array([(s.reservoir_uf or 0.0) * 1e-6 for s in states])[:, None]
    upper = np.array([s.upper for s in states])[:, None]
    column = {name: np.array(values)[:, None] * np.ones(ratio.shape) for name, values in {
        "v_rms": [s.supply.secondary_v or 0.0 for s in states], "hertz": [s.mains.hertz for s in states],
        "ohm": [s.source_ohm or 0.0 for s in states], "threshold": [s.device.threshold_v for s in states],
        "choke_h": [b.henries for b in first], "choke_ohm": [b.ohms for b in first]}.items()}
    solved = rectified_output(
        supply.circuit or "", column["v_rms"] * ratio, column["hertz"], column["ohm"],
        farad * np.where(high, upper, 1.0), amps, input=supply.input,
        perveance=None if states[0].device.perveance is None else np.where(high, least, usual),
        threshold_v=column["threshold"], choke_h=column["choke_h"], choke_ohm=column["choke_ohm"])
    return np.asarray(solved.dc_v), np.asarray(solved.slope_ohm)


def first_guess(unit: Settled, state: SupplyState) -> float:
    """Amps with which the rounds begin: given loads, and each tube as published at its own point."""
    nodes = {unit.circuit.numbers[n] for n in state.node_ids if n in unit.circuit.numbers}
    total = sum(abs(float(np.ravel(d.amps)[0])) + float(np.ravel(d.k)[0]) * abs(state.about_v) ** 1.5
                for d in unit.circuit.draws if d.node in nodes)
    for wired, law in zip(unit.circuit.wired, unit.circuit.laws, strict=True):
        if wired.plate and wired.plate.to in state.node_ids:
            total += law.point.cathode_a if law else 0.01
    return total or 1e-3
