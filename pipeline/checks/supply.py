"""The unit's B+ worked out once for all checks: at today's mains, at the adverse end, at switch-on and without load."""

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.mains import Mains
from pipeline.checks.rectifier_model import Device, Draw, device_of, draw_of, source_ohm
from pipeline.electrics.supply import Section, supply
from pipeline.electrics.supply import Supply as Solved
from pipeline.electrics.surge import reservoir_surge, switch_on_surge
from pipeline.unit import LETTERS, MainsSupply, Node, Part, Unit

TODAY, HIGH, NO_LOAD, HALF_LOAD, LADDER = range(5)
LADDER_UF = (4.7, 8.0, 10.0, 16.0, 20.0, 22.0, 33.0, 40.0, 47.0, 50.0, 68.0, 100.0, 150.0, 220.0)
"""Preferred values and the old trade values between them."""
UPPER = 1.2
"""Upper tolerance of today's electrolytics, as a factor (quoted from makers' sheets)."""
HALF_WARM = Figure("slow-heating rectifier", "load at switch-on", 0.5, "1", "practice", "",
                   note="tubes and rectifier warm together: half the load is taken at the worst moment")
PEAKS = {"half-wave": 1, "full-wave": 1, "bridge": 1, "doubler": 2, "half-wave doubler": 2}


class Swing(NamedTuple):
    """Volts by node at switch-on: of the node, and across each of its capacitors."""

    nodes: dict[str, float]
    capacitors: dict[str, float]


@dataclass
class SupplyState:
    """Volts and currents of the supply; what cannot be known is None, and `missing` says why."""

    unit: Unit
    supply: MainsSupply
    mains: Mains
    device: Device
    source_ohm: float | None
    draws: list[Draw]
    reservoir_uf: float | None
    missing: str = ""
    mend: str = ""
    solved: Solved | None = None
    extra: tuple[Figure, ...] = field(default=())

    @property
    def nodes(self) -> tuple[Node, ...]:
        return self.supply.nodes

    @cached_property
    def rests_on(self) -> tuple[Figure, ...]:
        """Every figure the worked-out volts rest on."""
        found = [*self.device.rests_on, *(f for d in self.draws for f in d.rests_on), *self.mains.rests_on, *self.extra]
        return tuple(dict.fromkeys(found))

    @property
    def estimated(self) -> list[str]:
        """Refs of tubes whose current is taken from typical operation, not measured."""
        return [ref for draw in self.draws for ref in draw.estimated]

    def crest_v(self, ratio: float) -> float:
        """Volts to which an unloaded reservoir charges, at `ratio` of design mains."""
        drop = self.device.threshold_v * (2 if self.supply.circuit == "bridge" else 1)
        return PEAKS[self.supply.circuit] * max(math.sqrt(2) * self.supply.secondary_v * ratio - drop, 0.0)

    @property
    def worked_out(self) -> Solved:
        """The solved supply, for whoever has seen that it is there; raises ValueError where it is not."""
        if self.solved is None:
            raise ValueError(f"the supply is not worked out: {self.missing}")
        return self.solved

    def loaded_v(self, node: str, row: int = TODAY) -> float:
        """Volts of the node; raises ValueError where the supply is not worked out."""
        return float(self.worked_out.dc_v[row, self._index(node)])

    def _found(self, figure: str, node: str, row: int) -> float | None:
        """A figure of the node in one row of the solved supply; None where that is not worked out."""
        return None if self.solved is None else float(getattr(self.solved, figure)[row, self._index(node)])

    def node_v(self, node: str, row: int) -> float | None:
        return self._found("dc_v", node, row)

    def today_v(self, node: str) -> float | None:
        return self.node_v(node, TODAY)

    def high_v(self, node: str) -> float | None:
        return self.node_v(node, HIGH)

    def ripple_v(self, node: str) -> float | None:
        """Ripple at today's mains, volts peak to peak."""
        return self._found("ripple_pp_v", node, TODAY)

    def half_load_v(self, node: str) -> float | None:
        """Volts at high mains with half the load, as while the tubes warm or with one of a pair out."""
        return self.node_v(node, HALF_LOAD)

    def half_load_ripple_v(self, node: str) -> float | None:
        return self._found("ripple_pp_v", node, HALF_LOAD)

    def no_load_v(self, node: str) -> float:
        """Most the node can reach at high mains: every tube out or cold."""
        solved = self._found("peak_v", node, NO_LOAD)
        return self.crest_v(self.mains.high) if solved is None else solved

    def cold_start_v(self, node: str) -> float | None:
        """Volts at switch-on at high mains: no load for a filament or silicon rectifier, half load for a slow one."""
        if self.cold_start_rests_on_load:
            return self.half_load_v(node)
        return max(self.no_load_v(node), self._high_swing.nodes.get(node, 0.0))

    def start_crest_v(self, node: str) -> float | None:
        """Most the node reaches at switch-on at high mains, its ripple counted."""
        loaded = self.cold_start_rests_on_load
        return self._found("peak_v", node, HALF_LOAD) if loaded else self.cold_start_v(node)

    def capacitor_v(self, node: str, row: int) -> float | None:
        """Most volts across each of the node's capacitors within a cycle, ripple counted."""
        return self._found("capacitor_peak_v", node, row)

    def capacitor_start_v(self, node: str) -> float | None:
        """Most volts across each of the node's capacitors at switch-on at high mains, its ripple counted."""
        if self.cold_start_rests_on_load:
            return self.capacitor_v(node, HALF_LOAD)
        return max(self._capacitor_idle_v(node), self._high_swing.capacitors.get(node, 0.0))

    def capacitor_start_today_v(self, node: str) -> float | None:
        """The same at today's mains: in proportion, and what swings with the capacitors as they are."""
        ratio = self.mains.today / self.mains.high
        if self.cold_start_rests_on_load:
            loaded = self.capacitor_v(node, HALF_LOAD)
            return None if loaded is None else loaded * ratio
        return max(self._capacitor_idle_v(node) * ratio, self._today_swing.capacitors.get(node, 0.0))

    def _capacitor_idle_v(self, node: str) -> float:
        """Most volts across each of the node's capacitors at high mains without load."""
        return self.capacitor_v(node, NO_LOAD) or self.no_load_v(node) * self.share(node)

    @cached_property
    def _high_swing(self) -> Swing:
        return self._swing(self.mains.high, UPPER)

    @cached_property
    def _today_swing(self) -> Swing:
        return self._swing(self.mains.today, 1.0)

    def _swing(self, ratio: float, first: float) -> Swing:
        """What the cold filter swings to at switch-on, where a metal rectifier meets a choke; else empty.

        At `ratio` of design mains, with `first` times the first capacitor. A filament warms up over many swings of
        the filter, which then follows it without passing the crest.
        """
        if self.device.kind not in ("silicon", "selenium") or not self.source_ohm or self.missing:
            return Swing({}, {})
        sections = sections_for(self, 0.0, (self.reservoir_uf or 0.0) * first)
        if not any(s.series_h for s in sections):
            return Swing({}, {})
        given = (self.supply.circuit, self.supply.secondary_v * ratio, self.mains.hertz, self.source_ohm, sections)
        threshold = self.device.threshold_v
        peaks = switch_on_surge(*given, input=self.supply.input, threshold_v=threshold)
        nodes = {n.id: float(v) for n, v in zip(self.nodes, peaks, strict=True)}
        halved = {n: float(reservoir_surge(*given, threshold_v=threshold).max()) for n in nodes if self.share(n) != 1.0}
        return Swing(nodes, nodes | halved)

    @property
    def cold_start_rests_on_load(self) -> bool:
        """Whether the volts at switch-on follow from the worked-out load: so for a slow-heating rectifier."""
        return self.solved is not None and not self.device.directly_heated

    def curve(self, high: bool = False) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """First capacitors tried (µF), DC volts and peak plate amps with each: today, or at the adverse end.

        Those for which no steady state is found are left out.
        """
        uf, solved = ladder_uf(self), self.worked_out
        if self.peak_limited or not uf.size:
            others = np.flatnonzero(uf != self.reservoir_uf)
            rows = np.full(uf.size, HIGH if high else TODAY)
            rows[others] = LADDER + (others.size if high else 0) + np.arange(others.size)
        else:
            ratio, factor = (self.mains.high, UPPER) if high else (self.mains.today, 1.0)
            sections = sections_for(self, 1.0, uf * factor)
            solved, rows = self.run(ratio, sections, unsettled="nan", least_drop=high), np.arange(uf.size)
        volts, amps = solved.dc_v[rows, 0], solved.plate_peak_a[rows]
        found = np.isfinite(amps)
        return uf[found], volts[found], amps[found]

    @property
    def peak_limited(self) -> bool:
        """Whether a rating limits the rectifier's peak current: then the curve is among what is solved."""
        part = self.device.part
        return any(part.rating(table, "plate_peak_max_a") is not None for table in ("rectifiers", "diodes"))

    def run(self, ratio: np.ndarray | float, sections: list[Section], *, waveforms: bool = False,
            unsettled: str = "raise", least_drop: bool = False) -> Solved:
        """The supply with these sections at `ratio` of design mains, solved anew; a tube may be one that drops least.

        Raises ValueError where the winding's resistance is not known or a value is not possible, ArithmeticError
        where no steady state is found and `unsettled` is not 'nan'.
        """
        if self.source_ohm is None:
            raise ValueError("source_ohm: not known")
        perveance = self.device.least_drop_perveance if least_drop else self.device.perveance
        return supply(
            self.supply.circuit, self.supply.secondary_v * ratio, self.mains.hertz, self.source_ohm, sections,
            input=self.supply.input, perveance=perveance, threshold_v=self.device.threshold_v,
            waveforms=waveforms, unsettled=unsettled)

    def aged_v(self) -> dict[str, float]:
        """Node → volts today with an aged selenium rectifier; empty for every other, or where none are found."""
        aged = self.device.aged_threshold_v
        if aged is None or self.solved is None:
            return {}
        worn = replace(self, device=replace(self.device, threshold_v=aged))
        volts = worn.run(self.mains.today, sections_for(self, 1.0, self.reservoir_uf or 0.0), unsettled="nan").dc_v
        return {n.id: float(v) for n, v in zip(self.nodes, volts, strict=True) if np.isfinite(v)}

    def plate_peak_a(self, row: int) -> float:
        return float(self.worked_out.plate_peak_a[row])

    def load_a(self, row: int) -> float:
        """DC amps the whole supply gives."""
        return float(self.worked_out.load_a[row].sum())

    def share(self, node: str) -> float:
        """Part of the node's volts that each of its capacitors bears: half of them in a full-wave doubler."""
        return 0.5 if self.supply.circuit == "doubler" and node == self.nodes[0].id else 1.0

    def winding_rms_a(self, row: int) -> float:
        """Rms amps in the winding, each half of a centre-tapped one."""
        return float(self.worked_out.winding_rms_a[row])

    def capacitor_rms_a(self, node: str, row: int) -> float:
        """Rms ripple amps in the node's capacitors together."""
        return float(self.worked_out.capacitor_rms_a[row, self._index(node)])

    def refs_on(self, node: str) -> list[str]:
        return self.nodes[self._index(node)].capacitor_names

    def sections_of(self, part: Part) -> list[tuple[int, str]]:
        """(section index, node) of each of the part's sections that hangs on a node."""
        found = []
        for node in self.nodes:
            for place in (place for chain in node.capacitors for place in chain if place.ref == part.ref):
                found.append((LETTERS.find(place.section) if place.section else 0, node.id))
        if not found:
            found = [(i, n.id) for n in self.nodes if part.is_at(n.id) for i in range(len(part.reading.sections))]
        return [(i, node) for i, node in found if 0 <= i < len(part.reading.sections)]

    def _index(self, node: str) -> int:
        return next(i for i, n in enumerate(self.nodes) if n.id == node)


def drafted(unit: Unit, mains: Mains) -> SupplyState | None:
    """The unit's supply ready to be solved, or with what is missing; None where the unit has none."""
    given = unit.supply
    if given is None or not given.nodes:
        return None
    device, ohms = device_of(unit, given), source_ohm(unit, given)
    about = 0.9 * math.sqrt(2) * given.secondary_v * PEAKS[given.circuit]
    state = SupplyState(unit, given, mains, device, ohms, [draw_of(n, unit, about) for n in given.nodes],
                        reservoir_uf(given, unit))
    _find_missing(state)
    if not state.missing and not device.directly_heated:
        state.extra += (HALF_WARM,)
    return state


def _find_missing(state: SupplyState) -> None:
    draws = [d.missing for d in state.draws if d.missing]
    total = sum(d.load_a + d.load_k for d in state.draws) + sum(d.load_ohm is not None for d in state.draws)
    empty = [n.id for n in state.nodes if n.capacitors and node_uf(n, state.unit) is None]
    if state.device.missing:
        state.missing, state.mend = state.device.missing, state.device.mend
    elif state.source_ohm is None:
        state.missing = "the winding's resistance is not given"
        state.mend = "Measure it cold, each half, and write secondary_ohm in unit.toml."
    elif empty:
        state.missing = f"the capacitance at {empty[0]} cannot be read"
        state.mend = "Write the value in the marking, or `measured` as 31 uF."
    elif draws or not total:
        state.missing = draws[0] if draws else "no node says what it feeds"
        state.mend = "Write load_a for its node in unit.toml, or the tube's measured cathode volts."
    elif bad := next((n for n in state.nodes[1:] if series_of(n, state.unit) is None), None):
        state.missing = f"neither ohms nor henries of {bad.through or 'the part before ' + bad.id} are known"
        state.mend = "Measure its resistance and write it in the marking."


def node_uf(node: Node, unit: Unit) -> float | None:
    """Microfarads on the node, measured ones first; None where one of its capacitors cannot be read."""
    total = 0.0
    for place in (place for chain in node.capacitors for place in chain):
        part = unit.parts[place.ref]
        index = LETTERS.find(place.section) if place.section else 0
        sections = part.reading.sections if part.reading and part.kind == "capacitor" else ()
        if not 0 <= index < len(sections):
            return None
        total += part.measured.get("uf") or sections[index].uf
    return total or None


def reservoir_uf(given: MainsSupply, unit: Unit) -> float | None:
    """Microfarads of the reservoir; in a full-wave doubler of each half, its capacitors standing in series."""
    total, node = node_uf(given.nodes[0], unit), given.nodes[0]
    return total / len(node.capacitors) if total and given.circuit == "doubler" else total


def series_of(node: Node, unit: Unit) -> tuple[float, float] | None:
    """(ohms, henries) of what feeds the node, or None where neither is known."""
    part = unit.parts.get(node.through or "")
    if part is None:
        return (0.0, 0.0) if node.through is None else None
    ohms = part.measured.get("ohms") or (part.reading.ohms if part.reading else None)
    henries = part.reading.henries if part.reading and part.kind == "choke" else None
    return None if ohms is None and henries is None else (ohms or 0.0, henries or 0.0)


def ladder_uf(state: SupplyState) -> np.ndarray:
    """First capacitors (µF) to try: preferred and old trade values, and the one fitted; none for a choke input."""
    if state.supply.input == "choke" or not state.reservoir_uf:
        return np.array([])
    return np.array(sorted({*LADDER_UF, state.reservoir_uf}))


def sections_for(state: SupplyState, load: np.ndarray | float, first_uf: np.ndarray | float) -> list[Section]:
    """The nodes as filter sections, loads scaled by `load`, the reservoir of `first_uf` microfarads."""
    known = [n.id for n in state.nodes]
    sections = []
    for i, (node, draw) in enumerate(zip(state.nodes, state.draws, strict=True)):
        ohms, henries = series_of(node, state.unit) or (0.0, 0.0)
        uf = first_uf if i == 0 else node_uf(node, state.unit) or 0.0
        sections.append(Section(
            series_ohm=ohms, series_h=henries, capacitance_f=uf * 1e-6,
            load_a=draw.load_a * load, load_ohm=draw.load_ohm, load_k=draw.load_k * load,
            parent=known.index(node.source) if node.source else i - 1))
    return sections
