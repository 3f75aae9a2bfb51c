"""A supply's nodes as a tree of filter sections: what lies between them, and the capacitance on each."""

from typing import NamedTuple

import numpy as np

from pipeline.electrics.sections import Section
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


def chain_shares(chain: tuple[Place, ...], unit: Unit) -> list[float]:
    """Share of the volts on a series chain that each of its capacitors bears at worst.

    Balance resistors across them decide; without them leakage does, which nobody knows: then the ends of the
    tolerances do.
    """
    if len(chain) == 1:
        return [1.0]
    ohms = [balance_ohm(place, unit) for place in chain]
    known = [x for x in ohms if x]
    if len(known) == len(chain):
        return [x / sum(known) for x in known]
    inverse = [1 / (section_uf(place, unit) or 1.0) for place in chain]
    even = [x / sum(inverse) for x in inverse]
    return [min(1.0, x * UNBALANCED * 2) for x in even]


def balance_ohm(place: Place, unit: Unit) -> float | None:
    """Ohms of the balance resistor across a capacitor, or None."""
    for part in unit.parts.values():
        if part.role == "balance" and any(a.ref == place.ref and a.section in (None, place.section) for a in part.at):
            return part.measured.get("ohms") or part.reading.ohms
    return None


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
