"""A supply's nodes as a tree of filter sections: what lies between them, and the capacitance on each."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.sections import Section
from pipeline.point.leads import ohms_of
from pipeline.unit import Node, Part, Place, Supply, Unit

LADDER_UF = (4.7, 8.0, 10.0, 16.0, 20.0, 22.0, 33.0, 40.0, 47.0, 50.0, 68.0, 100.0, 150.0, 220.0)
"""First capacitors to try: preferred values and the old trade values between them."""
UNBALANCED = 0.6
"""Share of the volts that one of two alike capacitors in series bears at the ends of their tolerances."""


class Branch(NamedTuple):
    """A node of the tree: its parent's place in the tree, and what lies between."""

    node: Node
    parent: int | None
    ohms: float
    henries: float


def chain_shares(chain: tuple[Place, ...], unit: Unit, allowances: Mapping[str, Figure]) -> list[float]:
    """Share of the volts on a series chain that each of its capacitors bears at worst.

    Balance resistors across them decide, one at the high end of its tolerance and the others at the low end; without
    them leakage does, which nobody knows: then the ends of the capacitors' tolerances do.
    """
    if len(chain) == 1:
        return [1.0]
    ohms = [ohms_of(part, allowances) if (part := balance_of(place, unit)) else None for place in chain]
    known = [x for x in ohms if x]
    if len(known) == len(chain):
        return [x.high / (x.high + sum(y.low for y in known if y is not x)) for x in known]
    inverse = [1 / (section_uf(place, unit) or 1.0) for place in chain]
    even = [x / sum(inverse) for x in inverse]
    return [min(1.0, x * UNBALANCED * 2) for x in even]


def balance_of(place: Place, unit: Unit) -> Part | None:
    """The balance resistor across a capacitor, or None."""
    return next((part for part in unit.parts.values() if part.role == "balance" and part.kind != "potentiometer"
                 and any(a.ref == place.ref and a.section in (None, place.section) for a in part.at)), None)


def balance_ohm(place: Place, unit: Unit) -> float | None:
    """Ohms of the balance resistor across a capacitor, or None."""
    part = balance_of(place, unit)
    return None if part is None else part.measured.get("ohms") or part.reading.ohms


def balanced(given: Supply, node: Node, unit: Unit) -> list[list[Part]]:
    """The balance resistors of each chain of the node in which every link has one of its own that can be read.

    They stand in series from the node down; the two halves of a doubler are such a chain.
    """
    chains = [list(chain) for chain in node.capacitors]
    if given.circuit == "doubler" and node is given.nodes[0]:
        chains = [[place for chain in chains for place in chain]]
    found = [[balance_of(place, unit) for place in chain] for chain in chains if len(chain) > 1]
    known = [[part for part in parts if part and (part.measured.get("ohms") or part.reading.ohms)] for parts in found]
    return [parts for parts, all_ in zip(known, found, strict=True)
            if len(parts) == len(all_) == len({part.ref for part in parts})]


def balance_siemens(given: Supply, node: Node, unit: Unit) -> float:
    """What the node's balance resistors drain, nominally."""
    return sum(1 / sum(p.measured.get("ohms") or p.reading.ohms or 0.0 for p in parts)
               for parts in balanced(given, node, unit))


def tree_of(unit: Unit, given: Supply) -> list[Branch]:
    """The supply's nodes from the rectifier on, with those of every supply that is taken from one of them."""
    tree: list[Branch] = []
    _grow(tree, unit, given)
    return tree


def _grow(tree: list[Branch], unit: Unit, given: Supply) -> None:
    for i, node in enumerate(given.nodes):
        before = node.source or (given.origin if i == 0 else None)
        known = [b.node.id for b in tree]
        parent = known.index(before) if before in known else None
        ohms, henries = series_of(node, unit) or (0.0, 0.0)
        tree.append(Branch(node, parent, max(ohms, 0.01) if parent is not None and not henries else ohms, henries))
    for other in unit.supplies:
        if other.source == "node" and other.origin in [n.id for n in given.nodes] and other.polarity == given.polarity:
            _grow(tree, unit, other)


def section_uf(place: Place, unit: Unit) -> float | None:
    """Microfarads of one capacitor or section, a measured value first; None where it cannot be read."""
    part = unit.parts.get(place.ref)
    if part is None or part.kind != "capacitor":
        return None
    index = part.sections.index(place.section) if place.section in part.sections else 0
    sections = part.reading.sections
    measured = part.measured_sections.get(place.section or "", {}).get("uf") or part.measured.get("uf")
    return measured or sections[index].uf if index < len(sections) else None


def node_uf(node: Node, unit: Unit) -> float | None:
    """Microfarads on the node, chains in series counted so; None where one of its capacitors cannot be read."""
    total = 0.0
    for chain in node.capacitors:
        each = [section_uf(place, unit) for place in chain]
        if any(not uf for uf in each):
            return None
        total += 1 / sum(1 / uf for uf in each if uf)
    return total or None


def reservoir_uf(given: Supply, unit: Unit) -> float | None:
    """Microfarads of the reservoir; in a full-wave doubler of each half, its capacitors standing in series."""
    node = given.nodes[0]
    if given.circuit != "doubler":
        return node_uf(node, unit)
    halves = [section_uf(place, unit) for chain in node.capacitors for place in chain]
    known = [uf for uf in halves if uf]
    return sum(known) / len(known) if known and len(known) == len(halves) else None


def series_of(node: Node, unit: Unit) -> tuple[float, float] | None:
    """(ohms, henries) of what feeds the node, or None where neither is known."""
    part: Part | None = unit.parts.get(node.through or "")
    if part is None:
        return (0.0, 0.0) if node.through is None else None
    ohms = part.measured.get("ohms") or part.reading.ohms
    henries = part.reading.henries if part.kind == "choke" else None
    return None if ohms is None and henries is None else (ohms or 0.0, henries or 0.0)


def plain(section: Section) -> Section:
    """A section of a batch of one as plain numbers."""
    series_ohm, series_h, farad, amps, k = (float(np.ravel(np.asarray(v))[0]) for v in (
        section.series_ohm, section.series_h, section.capacitance_f, section.load_a, section.load_k))
    ohms = None if section.load_ohm is None else float(np.ravel(np.asarray(section.load_ohm))[0])
    return Section(series_ohm, series_h, farad, amps, ohms, k, section.parent)


def ladder_uf(reservoir_uf: float | None) -> np.ndarray:
    """First capacitors (µF) to try: preferred and old trade values, and the one fitted; none where there is none."""
    return np.array(sorted({*LADDER_UF, reservoir_uf})) if reservoir_uf else np.array([])
