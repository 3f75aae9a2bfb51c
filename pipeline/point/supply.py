"""One supply of the unit: its nodes as a tree of filter sections, and its volts and currents once they are solved."""

import math
from collections.abc import Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.supply import Section, supply
from pipeline.electrics.supply import Supply as Solved
from pipeline.electrics.surge import reservoir_surge, switch_on_surge
from pipeline.electrics.transient import hot_switching
from pipeline.point import cells
from pipeline.point.devices import Device
from pipeline.point.mains import Mains
from pipeline.point.tree import (
    Branch,
    chain_shares,
    node_uf,
    plain,
    section_uf,
)
from pipeline.records import OpenRecord, field
from pipeline.unit import LETTERS, Node, Part, Place, Supply, Unit

TODAY, HIGH, DESIGN, NO_LOAD, HALF_LOAD, SIGNAL, SIGNAL_HIGH = (
    "today", "high", "design", "no load", "half load", "signal", "signal high")
"""Rows of a solved supply. Without a stage that draws more at full output the last two are the first two."""
PEAKS = {"half-wave": 1, "full-wave": 1, "bridge": 1, "doubler": 2, "half-wave doubler": 2}


class Swing(NamedTuple):
    """Volts by node at switch-on: of the node, and across each of its capacitors."""

    nodes: dict[str, float]
    capacitors: dict[str, float]


class SupplyState(OpenRecord):
    """Volts and currents of a supply; what cannot be known is None, and `missing` says why.

    `loads` and `ohmic` hold what is drawn at each branch of the tree: amperes by row, siemens to chassis. A supply
    taken from a node of another has that one as its `feeder`, in whose tree its nodes are worked out. `steady` holds
    by row what it gives (A) and its nodes' volts, without their signs, as the circuit settled.
    """

    unit: Unit
    supply: Supply
    mains: Mains
    allowances: Mapping[str, Figure]
    device: Device
    source_ohm: float | None
    tree: list[Branch]
    reservoir_uf: float | None
    missing: str = ""
    mend: str = ""
    loads: dict[str, np.ndarray] = field(default_factory=dict)
    ohmic: np.ndarray = field(default_factory=lambda: np.zeros(0))
    held: dict[str, float] = field(default_factory=dict)
    rows: dict[str, int] = field(default_factory=dict)
    largest: dict[str, float] = field(default_factory=dict)
    solved: Solved | None = None
    feeder: "SupplyState | None" = None
    steady: dict[str, tuple[float, dict[str, float]]] = field(default_factory=dict)
    drawn: tuple[Figure, ...] = ()
    estimated: list[str] = field(default_factory=list)

    @property
    def id(self) -> str:
        return self.supply.id

    @property
    def sign(self) -> int:
        return -1 if self.supply.polarity == "negative" else 1

    @property
    def nodes(self) -> tuple[Node, ...]:
        return self.supply.nodes

    @property
    def rectifier(self) -> Part:
        """The rectifier; raises ValueError where the supply has none."""
        if self.device.part is None:
            raise ValueError(f"{self.id} has no rectifier")
        return self.device.part

    @property
    def circuit(self) -> str:
        return self.supply.circuit or "full-wave"

    @property
    def winding_v(self) -> float:
        """Rms volts of the winding (each half) or of the line, at design mains; of a vibrator its square wave's."""
        return self.supply.secondary_v or (self.supply.volts if self.supply.source == "vibrator" else None) or 0.0

    @property
    def upper(self) -> float:
        """Upper tolerance of the first capacitor, as a factor."""
        return 1 + self.allowances["reservoir upper tolerance"].value / 100

    @property
    def about_v(self) -> float:
        """Signed volts about which its first node will stand, before anything is solved."""
        if self.supply.volts is not None:
            return self.sign * self.supply.volts
        return self.sign * 0.9 * self.crest_v(1.0)

    @property
    def fresh_v(self) -> float:
        """Most volts of its battery, without sign: fresh or charged, as given; 0 where it has none."""
        return cells.fresh_v(self.supply, self.mains, self.allowances)

    def cells_v(self, mains: str) -> float:
        """Volts of its battery or square wave as they are named, or at the `high` or `low` end; 0 where it has none."""
        return self.fresh_v if mains == "high" else \
            cells.flat_v(self.supply, self.allowances) if mains == "low" else self.supply.volts or 0.0

    @property
    def at_high(self) -> str:
        """The highest volts of what feeds it in words, after `at`: of the line, or of its own cells."""
        own = self.supply.source == "battery" and not self.mains.battery
        return f"{self.fresh_v:.3g} V of fresh batteries" if own else self.mains.at_high

    @property
    def rectified(self) -> bool:
        """Whether an alternating winding or the line feeds it through a rectifier."""
        return self.supply.source == "mains" and self.supply.circuit is not None

    @cached_property
    def rests_on(self) -> tuple[Figure, ...]:
        """Every figure the worked-out volts rest on."""
        half = () if self.device.directly_heated else (self.allowances["half-warm load"],)
        return tuple(dict.fromkeys((*self.device.rests_on, *self.drawn, *self.mains.rests_on, *half,
                                    *cells.rests_on(self.supply, self.mains, self.allowances))))

    def crest_v(self, ratio: float) -> float:
        """Volts to which an unloaded reservoir charges, at `ratio` of design mains; a battery's own, whatever these."""
        if self.supply.volts is not None:
            return self.supply.volts
        drop = self.device.threshold_v * (2 if self.supply.circuit == "bridge" else 1)
        crest = math.sqrt(2) * self.winding_v * ratio
        return PEAKS[self.circuit] * max(crest - drop, 0.0)

    @property
    def worked_out(self) -> Solved:
        """The solved supply, for whoever has seen that it is there; raises ValueError where it is not."""
        if self.solved is None:
            raise ValueError(f"the supply is not worked out: {self.missing}")
        return self.solved

    def _found(self, figure: str, node: str, row: str) -> float | None:
        """A figure of the node in one row of the solved supply; None where that is not worked out."""
        if self.feeder is not None:
            return self.feeder._found(figure, node, row)
        if self.solved is None and not self.rectified and figure == "dc_v" and self.steady:
            return self.steady.get(row, self.steady[TODAY])[1].get(node) if row not in (NO_LOAD, HALF_LOAD) else None
        return None if self.solved is None else float(getattr(self.solved, figure)[self._row(row), self._index(node)])

    def _row(self, row: str) -> int:
        return self.rows.get(row, self.rows[{SIGNAL: TODAY, SIGNAL_HIGH: HIGH}.get(row, row)])

    def node_v(self, node: str, row: str) -> float | None:
        """Signed DC volts of the node; today's are the reading's where there is one."""
        if row == TODAY and node in self.held:
            return self.held[node]
        found = self._found("dc_v", node, row)
        return None if found is None else self.sign * found

    def loaded_v(self, node: str, row: str = TODAY) -> float:
        """Volts of the node; raises ValueError where the supply is not worked out."""
        found = self.node_v(node, row)
        if found is None:
            raise ValueError(f"the supply is not worked out: {self.missing}")
        return found

    def ripple_v(self, node: str, row: str = TODAY) -> float | None:
        """Ripple, volts peak to peak."""
        return self._found("ripple_pp_v", node, row)

    def ripple_rms_v(self, node: str, row: str = TODAY) -> float | None:
        return self._found("ripple_rms_v", node, row)

    def today_v(self, node: str) -> float | None:
        return self.node_v(node, TODAY)

    def high_v(self, node: str) -> float | None:
        return self.node_v(node, HIGH)

    def half_load_v(self, node: str) -> float | None:
        """Volts at high mains with half the load, as while the tubes warm or with one of a pair out."""
        return self.node_v(node, HALF_LOAD)

    def half_load_ripple_v(self, node: str) -> float | None:
        return self.ripple_v(node, HALF_LOAD)

    def no_load_v(self, node: str) -> float:
        """Most the node can reach at high mains, without its sign: every tube out or cold."""
        solved = self._found("peak_v", node, NO_LOAD)
        if self.feeder is not None:
            return self.feeder.no_load_v(node)
        return solved if solved is not None else self.fresh_v or self.crest_v(self.mains.high)

    def cold_start_v(self, node: str) -> float | None:
        """Volts at switch-on at high mains: no load for a filament or silicon rectifier, half load for a slow one."""
        if self.feeder is not None:
            return self.feeder.cold_start_v(node)
        if self.cold_start_rests_on_load(node):
            return self._found("dc_v", node, HALF_LOAD)
        return max(self.no_load_v(node), self._high_swing.nodes.get(node, 0.0))

    def start_crest_v(self, node: str) -> float | None:
        """Most the node reaches at switch-on at high mains, its ripple counted."""
        loaded = self.cold_start_rests_on_load(node)
        return self._found("peak_v", node, HALF_LOAD) if loaded else self.cold_start_v(node)

    def capacitor_v(self, node: str, row: str) -> float | None:
        """Most volts across each of the node's capacitors within a cycle, ripple counted; of a whole series chain."""
        if self.trunk().solved is None:
            volts = self._found("dc_v", node, row)
            return None if volts is None else volts * self.trunk().share(node)
        return self._found("capacitor_peak_v", node, row)

    def capacitor_start_v(self, node: str) -> float | None:
        """Most volts across each of the node's capacitors at switch-on at high mains, its ripple counted."""
        if self.cold_start_rests_on_load(node):
            return self.capacitor_v(node, HALF_LOAD)
        return max(self._capacitor_idle_v(node), self._high_swing.capacitors.get(node, 0.0))

    def capacitor_start_today_v(self, node: str) -> float | None:
        """The same at today's mains: in proportion, and what swings with the capacitors as they are."""
        ratio = self.mains.today / self.mains.high
        if self.cold_start_rests_on_load(node):
            loaded = self.capacitor_v(node, HALF_LOAD)
            return None if loaded is None else loaded * ratio
        return max(self._capacitor_idle_v(node) * ratio, self._today_swing.capacitors.get(node, 0.0))

    def _capacitor_idle_v(self, node: str) -> float:
        """Most volts across each of the node's capacitors at high mains without load."""
        return self.capacitor_v(node, NO_LOAD) or self.no_load_v(node) * self.share(node)

    @cached_property
    def _high_swing(self) -> Swing:
        return self._swing(self.mains.high, self.upper)

    @cached_property
    def _today_swing(self) -> Swing:
        return self._swing(self.mains.today, 1.0)

    def _swing(self, ratio: float, first: float) -> Swing:
        """What the cold filter swings to at switch-on, where a metal rectifier meets a choke; else empty.

        At `ratio` of design mains, with `first` times the first capacitor. A filament warms up over many swings of
        the filter, which then follows it without passing the crest.
        """
        if self.device.kind not in ("silicon", "selenium") or not self.source_ohm or self.missing or not self.rectified:
            return Swing({}, {})
        sections = self.sections(np.zeros((1, len(self.tree))), np.array([first]))
        if not any(np.any(s.series_h) for s in sections):
            return Swing({}, {})
        sections = [plain(s) for s in sections]
        given = (self.circuit, self.winding_v * ratio, self.mains.hertz, self.source_ohm,
                 sections)
        threshold = self.device.threshold_v
        peaks = switch_on_surge(*given, input=self.supply.input, threshold_v=threshold)
        nodes = {b.node.id: float(v) for b, v in zip(self.tree, peaks, strict=True)}
        halved = {n: float(reservoir_surge(*given, threshold_v=threshold).max()) for n in nodes if self.share(n) != 1.0}
        return Swing(nodes, nodes | halved)

    def cold_start_rests_on_load(self, node: str | None = None) -> bool:
        """Whether the volts at switch-on follow from the worked-out load: so for a slow rectifier without standby.

        A standby switch leaves the rectifier hot and what follows it without load.
        """
        if self.feeder is not None:
            return self.feeder.cold_start_rests_on_load(node)
        standby = any(b.node.standby for b in self.tree)
        return self.solved is not None and not self.device.directly_heated and not standby

    def sections(self, loads: np.ndarray, first: np.ndarray, *, first_uf: np.ndarray | None = None) -> list[Section]:
        """The tree as filter sections: `loads` (rows, branches) amperes, `first` times the reservoir in each row."""
        found = []
        for i, branch in enumerate(self.tree):
            reservoir = self.reservoir_uf or 0.0
            uf = (reservoir if first_uf is None else first_uf) * first if i == 0 else \
                np.full(len(first), node_uf(branch.node, self.unit) or 0.0)
            siemens = self.ohmic[i] if self.ohmic.size else 0.0
            found.append(Section(
                series_ohm=np.full(len(first), branch.ohms), series_h=np.full(len(first), branch.henries),
                capacitance_f=uf * 1e-6, load_a=loads[:, i],
                load_ohm=np.full(len(first), 1 / siemens) if siemens else None, load_k=np.zeros(len(first)),
                parent=branch.parent))
        return found

    def farads(self) -> list[float]:
        """Farads at each branch of the tree: each half of a doubler's first capacitor, 0 where there is none."""
        return [((self.reservoir_uf if i == 0 else node_uf(b.node, self.unit)) or 0.0) * 1e-6
                for i, b in enumerate(self.tree)]

    @property
    def peak_limit_a(self) -> float | None:
        """The rectifier's rated peak current; None where it has none."""
        limit = self._rating("plate_peak_max_a")
        return None if limit is None else float(limit.value)

    @property
    def kept_by_maker(self) -> bool:
        """Whether the peak is within its rating in every row, with no larger capacitor than the maker names."""
        named, limit = self._rating("input_capacitor_max_uf"), self.peak_limit_a
        return (named is not None and limit is not None and named.value >= (self.reservoir_uf or 0.0)
                and all(self.plate_peak_a(row) <= limit for row in (SIGNAL, SIGNAL_HIGH, DESIGN)))

    @property
    def design_centre(self) -> bool:
        """Whether the rectifier's limits are design-centre ones, which leave room for a high line and for spread."""
        part = self.device.part
        system = self._rating("rating_system") or (part.rating("tubes", "rating_system") if part else None)
        return self.device.kind == "tube" and system is not None and system.value == "design-centre"

    @property
    def beyond_line(self) -> bool:
        """Whether today's line is higher than design-centre ratings allow for."""
        return self.mains.today > 1 + self.allowances["line variation"].value / 100

    def _rating(self, quantity: str) -> Figure | None:
        part = self.device.part
        return None if part is None else part.rating("rectifiers", quantity) or part.rating("diodes", quantity)

    def run(self, ratio: float, uf: np.ndarray, *, row: str = TODAY, least_drop: bool = False,
            waveforms: bool = False) -> Solved:
        """The supply with other first capacitors (µF), at `ratio` of design mains, with the loads of `row`.

        Raises ValueError where the winding's resistance is not known or a value is not possible.
        """
        if self.source_ohm is None:
            raise ValueError("source_ohm: not known")
        loads = np.broadcast_to(self.loads[row if row in self.loads else TODAY], (len(uf), len(self.tree)))
        perveance = self.device.least_drop_perveance if least_drop else self.device.perveance
        sections = self.sections(loads, np.ones(len(uf)), first_uf=uf)
        return self.solve(ratio, sections, self.source_ohm, perveance, self.device.threshold_v, waveforms)

    def solve(self, ratio: np.ndarray | float, sections: list[Section], ohms: np.ndarray | float,
               perveance: float | None, threshold_v: float, waveforms: bool = False) -> Solved:
        """The given sections behind `ohms` at `ratio` of design mains; what finds no steady state is nan."""
        return supply(self.circuit, self.winding_v * ratio, self.mains.hertz, ohms,
                      sections, input=self.supply.input, perveance=perveance, threshold_v=threshold_v,
                      waveforms=waveforms, unsettled="nan")

    def switch_on_a(self) -> dict[str, float]:
        """Greatest plate amps with an empty reservoir and a hot cathode, switched on at the crest: by row."""
        ratios = {TODAY: self.mains.today, HIGH: self.mains.high, DESIGN: 1.0}
        drops = {HIGH: self.device.least_drop_perveance}
        perveance = None if self.device.perveance is None else np.array(
            [drops.get(row, self.device.perveance) for row in ratios])
        amps = hot_switching(self.circuit, self.winding_v * np.array(list(ratios.values())), self.source_ohm or 0.0,
                             perveance=perveance, threshold_v=self.device.threshold_v)
        return {row: float(a) for row, a in zip(ratios, amps, strict=True)}

    def plate_peak_a(self, row: str) -> float:
        return float(self.worked_out.plate_peak_a[self._row(row)])

    def load_a(self, row: str) -> float:
        """DC amps the whole supply gives."""
        if self.solved is None and self.steady:
            return self.steady.get(row, self.steady[TODAY])[0]
        return float(self.worked_out.load_a[self._row(row)].sum())

    def share(self, node: str) -> float:
        """Part of the node's volts that each of its capacitors bears: half of them in a full-wave doubler."""
        return 0.5 if self.supply.circuit == "doubler" and node == self.nodes[0].id else 1.0

    def winding_rms_a(self, row: str) -> float:
        """Rms amps in the winding, each half of a centre-tapped one."""
        return float(self.worked_out.winding_rms_a[self._row(row)])

    def plate_rms_a(self, row: str) -> float:
        return float(self.worked_out.plate_rms_a[self._row(row)])

    def capacitor_rms_a(self, node: str, row: str) -> float:
        """Rms ripple amps in the node's capacitors together."""
        return float(self.worked_out.capacitor_rms_a[self._row(row), self._index(node)])

    def refs_on(self, node: str) -> list[str]:
        """The node's capacitors as they are written."""
        return self.tree[self._index(node)].node.capacitor_names

    @property
    def node_ids(self) -> list[str]:
        """The nodes of its tree, those of supplies taken from it among them."""
        return [b.node.id for b in self.tree]

    def capacitors(self) -> list[tuple[Place, str, float]]:
        """(place, node, share of the node's volts) of every capacitor or section that hangs in the tree.

        Those of a supply taken from another's node hang in the tree of that one, and are told there only.
        """
        if self.feeder is not None:
            return []
        return [(place, b.node.id, share) for b in self.tree for chain in self._chains(b.node)
                for place, share in zip(chain, chain_shares(chain, self.unit, self.allowances), strict=True)
                if section_uf(place, self.unit) is not None]

    def trunk(self) -> "SupplyState":
        """The supply that feeds it, or itself."""
        return self if self.feeder is None else self.feeder

    def sections_of(self, part: Part) -> list[tuple[int, str]]:
        """(section index, node) of each of the part's sections that hangs in the tree."""
        return [(LETTERS.index(place.section) if place.section else 0, node)
                for place, node, _ in self.capacitors() if place.ref == part.ref]

    def _chains(self, node: Node) -> Sequence[tuple[Place, ...]]:
        """The node's chains; in a doubler two capacitors written in series are its two halves."""
        if self.share(node.id) != 1.0:
            return [(place,) for chain in node.capacitors for place in chain]
        return node.capacitors

    def _index(self, node: str) -> int:
        return next(i for i, b in enumerate(self.tree) if b.node.id == node)
