"""Tubes and supplies made to agree: what the tubes draw sets the supplies' volts, and these set what the tubes draw.

In each round a supply stands as volts behind a slope at its present load, the circuit is solved with it, and the load
it then gives is the next round's. The slopes make that quick: two or three rounds settle it to a millivolt, without
waveforms; these follow once, with the loads that were found.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import field
from typing import Any

import numpy as np

from pipeline.electrics.circuit import Draw, OperatingPoint, Regulator, Resistor, Source, Tube, operating_point
from pipeline.electrics.regulation import rectified_output
from pipeline.electrics.stages import Law
from pipeline.point.circuit import CHASSIS, CLAMP_OHM, HELD, Circuit
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.records import Record

ROUNDS = 8
CLOSE_A = 2e-5
"""A load that moved by less is settled; on a supply of a thousand ohms that is 20 mV."""


class Settled(Record, frozen=False):
    """A unit's circuit and what came of it: figures (corners, points or elements)."""

    circuit: Circuit
    feeds: list[SupplyState]
    measured: list[float | None]
    signal: list[float | None]
    point: OperatingPoint | None = None
    feed_a: np.ndarray = field(default_factory=lambda: np.zeros((0, 0)))
    offset_v: np.ndarray | None = None

    @property
    def key(self) -> tuple:
        return (self.circuit.key, tuple((s.rectified, s.supply.circuit, s.supply.input, s.device.perveance is None)
                                        for s in self.feeds),
                tuple(a is None for a in self.measured), tuple(a is None for a in self.signal))


OFF = 5e-4
"""Share of its volts by which a coarse supply may be off the waveforms before the unit is settled again."""
_NEAR = {"light": HIGH, "expect": TODAY, "strong": TODAY, "weak": TODAY, "lost": TODAY}
"""Corners that have no waveform of their own, and the row whose error is taken for theirs."""


def mended(unit: Settled) -> bool:
    """Take over the error of the coarse supplies from the waveforms; whether it is worth settling again."""
    found = unit.point
    assert found is not None
    offset, worst = np.zeros(unit.feed_a.shape), 0.0
    for i, state in enumerate(unit.feeds):
        if state.solved is None or state.nodes[0].id in state.held:
            continue
        feed = unit.circuit.feeds[i]
        volts = state.sign * (found.volts[:, feed.node] - found.volts[:, feed.minus])
        for k, corner in enumerate(unit.circuit.corners):
            row = state.rows.get(_NEAR.get(corner.name, corner.name))
            near = next((j for j, c in enumerate(unit.circuit.corners) if c.name == _NEAR.get(corner.name)), k)
            if row is not None:
                offset[i, k] = float(state.solved.dc_v[row, 0]) - volts[near]
                worst = max(worst, abs(offset[i, k]) / max(abs(volts[near]), 1.0))
    unit.offset_v = offset
    return worst > OFF


def settle_together(units: Sequence[Settled], rounds: int = ROUNDS) -> None:
    """Settle every unit, those of one topology in a batch."""
    groups: dict[tuple, list[Settled]] = defaultdict(list)
    for unit in units:
        groups[unit.key].append(unit)
    for group in groups.values():
        _Batch(group).settle(rounds)


class _Batch:
    """Units of one topology; every figure (units, corners)."""

    def __init__(self, group: list[Settled]):
        self.group = group
        first = group[0].circuit
        self.size, self.corners, self.feeds = first.size, first.corners, first.feeds
        circuits = [u.circuit for u in group]
        self.resistors = [Resistor(r.a, r.b, _stack([c.resistors[i].ohms for c in circuits]))
                          for i, r in enumerate(first.resistors)]
        self.draws = [Draw(d.node, *(_stack([c.draws[i][k] for c in circuits]) for k in (1, 2)))
                      for i, d in enumerate(first.draws)]
        self.regulators = [Regulator(r.a, r.b, *(_stack([c.regulators[i][k] for c in circuits]) for k in (2, 3)))
                           for i, r in enumerate(first.regulators)]
        self.clamps = [Source(s.node, _stack([c.clamps[i].volts for c in circuits]),
                              _stack([c.clamps[i].ohms for c in circuits])) for i, s in enumerate(first.clamps)]
        self.strengths = [_stack([c.tubes[i].strength for c in circuits]) for i in range(len(first.tubes))]
        self.measured = np.array([[np.nan if a is None else a for a in u.measured] for u in group])
        self.signal = np.array([[np.nan if a is None else a for a in u.signal] for u in group])
        self.full = np.array([c.signal for c in self.corners])
        self.today = first.row("today") or 0
        self.read = np.array([c.readings for c in self.corners])
        self.ratio = _stack([c.ratio for c in circuits])
        self.volts = None if group[0].point is None else np.array([u.point.volts for u in group if u.point])
        self.offset_v = [np.zeros(u.circuit.ratio.shape) if u.offset_v is None else u.offset_v for u in group]
        self.feed_a = np.array([u.feed_a for u in group]) if self.volts is not None else self._first()

    def _first(self) -> np.ndarray:
        """Amps (units, feeds, corners) with which the rounds begin."""
        group = self.group
        return np.array([[first_guess(u, s) for s in u.feeds] for u in group])[:, :, None] \
            * np.ones(len(self.corners)) if self.feeds else np.zeros((len(group), 0, len(self.corners)))

    def settle(self, rounds: int) -> None:
        """Rounds until no supply's load moves; then what was found is handed to each unit."""
        solved, before = None, None
        biased = np.array([f.minus != CHASSIS for f in self.feeds])
        for count in range(max(rounds, 2 * ROUNDS) if biased.any() else rounds):
            volts, ohms = self._outputs()
            solved = self._solve(volts, ohms)
            new, old = self._drawn(solved), self.feed_a
            moved = np.abs(new - old).max(initial=0.0)
            self.feed_a = new if before is None else np.where(biased[None, :, None], _secant(*before, old, new), new)
            before = old, new
            if count and (moved < CLOSE_A or not self.feeds):
                break
        assert solved is not None
        for i, unit in enumerate(self.group):
            unit.point = OperatingPoint(*(np.asarray(value)[i] for value in solved))
            unit.feed_a = self.feed_a[i]

    def _outputs(self) -> tuple[np.ndarray, np.ndarray]:
        """Open volts and slope of each feed (units, feeds, corners) at its present load."""
        volts, ohms = np.zeros(self.feed_a.shape), np.ones(self.feed_a.shape)
        for i, _ in enumerate(self.feeds):
            states = [u.feeds[i] for u in self.group]
            volts[:, i], ohms[:, i] = output_of(states, self.corners, self.ratio, self.feed_a[:, i])
            sign = np.array([s.sign for s in states])[:, None]
            volts[:, i] += sign * np.array([np.broadcast_to(o, self.feed_a[0].shape)[i] for o in self.offset_v])
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
            self.size, resistors=self.resistors, tubes=self._tubes(), draws=self.draws, sources=sources,
            regulators=self.regulators, start=self.volts)
        self.volts = solved.volts
        return solved

    def _tubes(self) -> list[Tube]:
        """The tubes with their laws stacked; a measured current is held, and goes with the mains at other corners."""
        tubes, scale = [], self.ratio / self.ratio[:, [self.today]]
        for i, tube in enumerate(self.group[0].circuit.tubes):
            law = Law(*(np.array([float(np.asarray(u.circuit.tubes[i].law[k])) for u in self.group])[:, None]
                        for k in range(len(Law._fields))))
            fixed = np.where(self.read, self.measured[:, i, None] * scale, np.nan)
            loud = self.signal[:, i, None] * scale
            fixed = np.where(self.full & np.isfinite(loud), loud, fixed)
            tubes.append(tube._replace(law=law, strength=self.strengths[i], fixed_a=fixed))
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
    sign = np.array([s.sign for s in states])[:, None]
    lost = np.array([c.bias is None for c in corners]) & (sign < 0)
    side = np.array([0 if c.bias is None else c.bias for c in corners])
    tolerance = np.where(sign < 0, 1 + side * states[0].allowances["bias supply tolerance"].value / 100, 1.0)
    if states[0].rectified:
        volts, slope = _rectified(states, corners, ratio, amps)
    else:
        volts, slope = _steady(states, corners, amps)
    today = next((i for i, c in enumerate(corners) if c.name == "today"), 0)
    held = np.array([s.held.get(s.nodes[0].id, np.nan) for s in states])[:, None] * np.where(
        [c.name in HELD for c in corners], ratio / ratio[:, [today]], np.nan)
    open_v = np.where(np.isnan(held), sign * (volts + slope * amps) * tolerance, held)
    return np.where(lost, 0.0, open_v), np.where(np.isnan(held), slope, CLAMP_OHM)


def _steady(states: Sequence[SupplyState], corners: Sequence[Any], amps: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Batteries, and the square wave of a vibrator, whose rectifier drops what its load asks all the time."""
    high = np.array([c.adverse for c in corners])
    given = np.array([[s.fresh_v if c.adverse else s.supply.volts or 0.0 for c in corners] for s in states])
    slope = np.array([max(s.source_ohm or 0.0, 0.1) for s in states])[:, None] * np.ones(given.shape)
    volts = given - slope * amps - np.array([s.device.threshold_v for s in states])[:, None]
    usual, least = (np.array([value or np.inf for value in values])[:, None] for values in (
        [s.device.perveance for s in states], [s.device.least_drop_perveance for s in states]))
    load = np.maximum(amps, 1e-6)
    drop = (load / np.where(high, least, usual)) ** (2 / 3)
    return volts - drop, slope + 2 / 3 * drop / load


def _rectified(states: Sequence[SupplyState], corners: Sequence[Any], ratio: np.ndarray,
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


def _stack(rows: list[Any]) -> np.ndarray:
    return np.array(rows, float)
