"""Volts and watts of resistors, chokes and windings, and the volts on capacitors, from the settled circuit."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from pipeline.catalogue import Figure
from pipeline.point.figures import Over
from pipeline.point.quantities import Quantities, Quantity
from pipeline.point.readings import Readings
from pipeline.point.settle import Settled
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.point.wiring import Wired
from pipeline.records import replace
from pipeline.unit import Part, Unit

_NUMBERS = ("value", "low", "high", "expected", "expected_low", "expected_high", "least", "most", "design")


def resistor_quantities(settled: Settled, over: Over, readings: Readings,
                        rests_on: tuple[Figure, ...]) -> Iterator[Quantity]:
    """`resistor_v`, `resistor_a` and `resistor_w` of every part that lies between two points of the circuit.

    A part of which two halves lie in the circuit is told by the half with more current.
    """
    found = settled.point
    assert found is not None
    by_part = defaultdict(list)
    for at in settled.circuit.leads:
        by_part[at.ref].append(at)
    for ref, halves in by_part.items():
        if ref not in settled.circuit.unit.parts:
            continue
        at = max(halves, key=lambda h: abs(float(found.resistor_a[0, h.element])))
        amps = np.abs(found.resistor_a[:, at.element])
        volts = np.abs(found.volts[:, at.to] - found.volts[:, at.end])
        used = (*rests_on, *at.rests_on)
        read = readings.across.get(ref)
        yield over.quantity(ref, None, "resistor_v", volts, measured=abs(read) if read is not None else None,
                            rests_on=used)
        yield over.quantity(ref, None, "resistor_a", amps, rests_on=used)
        yield over.quantity(ref, None, "resistor_w", amps * volts, rests_on=used)


def read_resistors(unit: Unit, readings: Readings, known: set[str]) -> Iterator[Quantity]:
    """Volts and watts of resistors that are in no circuit but have a reading across them."""
    for ref, volts in readings.across.items():
        if ref in known:
            continue
        yield Quantity(ref, None, "resistor_v", abs(volts), abs(volts), abs(volts), "measured")
        ohms = unit.parts[ref].measured.get("ohms") or unit.parts[ref].reading.ohms
        if ohms:
            watts = volts**2 / ohms
            yield Quantity(ref, None, "resistor_w", watts, watts, watts, "measured", most=watts, design=watts)


def balance_quantities(unit: Unit, known: Quantities) -> Iterator[Quantity]:
    """`resistor_v` and `resistor_w` of a resistor across one capacitor of a chain that has not one across each.

    It stands at that capacitor's volts, as they are at worst.
    """
    for part in unit.parts.values():
        ohms = part.measured.get("ohms") or part.reading.ohms
        volts = next((q for p in part.at if (q := known.get(p.ref, "capacitor_v", p.section)) is not None), None)
        if part.role != "balance" or not ohms or volts is None or volts.value is None \
                or known.get(part.ref, "resistor_v"):
            continue
        yield replace(volts, at=part.ref, section=None, quantity="resistor_v")
        watts: dict[str, Any] = {
            name: None if (v := getattr(volts, name)) is None else v**2 / ohms for name in _NUMBERS}
        yield replace(volts, at=part.ref, section=None, quantity="resistor_w", **watts)


def capacitor_quantities(unit: Unit, states: Sequence[SupplyState], wired: Sequence[Wired],
                         known: Quantities) -> Iterator[Quantity]:
    """`capacitor_v` of every capacitor: on a node, across a cathode resistor, on a screen, between plate and grid."""
    on_node = set()
    for state in states:
        for place, node, share in state.capacitors():
            on_node.add(place.ref)
            yield _on_node(state, place.ref, place.section, node, share, known)
    for part in unit.parts.values():
        if part.kind == "capacitor" and part.ref not in on_node:
            quantity = _to_chassis(part, states, known) or \
                _between(part, unit, known, _cold_v(part, unit, states, wired))
            if quantity is not None:
                yield quantity


def _on_node(state: SupplyState, ref: str, section: str | None, node: str, share: float,
             known: Quantities) -> Quantity:
    """Crest of the volts across it at work; at switch-on they are the supply's own figures."""
    part, volts = state.share(node) * share, known.get(node, "dc_v")
    if volts is None or volts.value is None:
        return Quantity(ref, section, "capacitor_v", missing=f"the volts at {node} are not known: {state.missing}",
                        mend=state.mend)
    crests = [x * share for x in (state.capacitor_v(node, TODAY), state.capacitor_v(node, HIGH)) if x is not None]
    return _share_of(volts, part, ref, section, max([*crests, abs(volts.most or volts.value) * part]))


def _to_chassis(part: Part, states: Sequence[SupplyState], known: Quantities) -> Quantity | None:
    """A capacitor that its `at` hangs at a node, in a role that smooths nothing, or at B-; None for every other."""
    volts = next((q for p in part.at if (q := known.get(p.ref, "dc_v")) is not None and q.value is not None), None)
    if volts is None:
        return None
    state = next((s for s in states if volts.at in s.node_ids), None)
    cold = (state.cold_start_v(volts.at) or 0.0) if state else 0.0
    return _share_of(volts, 1.0, part.ref, None, max(abs(volts.most or 0.0), abs(volts.least or 0.0), abs(cold)))


def _share_of(volts: Quantity, part: float, ref: str, section: str | None, most: float) -> Quantity:
    """A capacitor's volts as a share of its node's, with their band; `most` are those at the adverse end."""
    dc, low, high, first, last, design = (None if v is None else abs(v) * part for v in (
        volts.value, volts.low, volts.high, volts.expected_low, volts.expected_high, volts.design))
    ends, expected = [x for x in (low, high) if x is not None], [x for x in (first, last) if x is not None]
    return Quantity(ref, section, "capacitor_v", dc, min(ends, default=dc), max(ends, default=dc), volts.origin,
                    volts.rests_on, expected=None if volts.expected is None else abs(volts.expected) * part,
                    expected_low=min(expected, default=None), expected_high=max(expected, default=None),
                    least=dc, most=most, design=design)


def _cold_v(part: Part, unit: Unit, states: Sequence[SupplyState], wired: Sequence[Wired]) -> float:
    """Volts at switch-on on the plate or screen a capacitor hangs at: with the tube cold nothing drops."""
    first = next((p for p in part.at if p.ref in unit.parts and unit.parts[p.ref].kind == "tube"), None)
    one = next((w for w in wired if first and w.place.ref == first.ref
                and first.section in (None, w.place.section)), None)
    if one is None or part.role == "cathode bypass":
        return 0.0
    lead = one.screen if part.role == "screen bypass" else one.plate
    state = next((s for s in states if lead and lead.to in s.node_ids), None)
    return (state.cold_start_v(lead.to) or 0.0) if state and lead and lead.to else 0.0


def _between(part: Part, unit: Unit, known: Quantities, cold_v: float) -> Quantity | None:
    """A capacitor that hangs on tubes: bypass of cathode or screen, or from one tube's plate to another's grid."""
    tubes = [p for p in part.at if p.ref in unit.parts and unit.parts[p.ref].kind == "tube"]
    if not tubes:
        return None
    name = {"cathode bypass": "cathode_v", "screen bypass": "screen_v"}.get(part.role or "", "plate_v")
    found = [q for place in tubes[:1] for q in known.at(place.ref) if q.quantity == name
             and place.section in (None, q.section)]
    if not found or found[0].value is None:
        return None
    first, other = found[0], None
    if name == "plate_v" and len(tubes) > 1:
        other = next((q for q in known.at(tubes[1].ref) if q.quantity == "grid_v" and q.value is not None), None)
    less = (other.value or 0.0) if other else 0.0

    def across(volts: float | None) -> float | None:
        return None if volts is None else abs(volts - less)

    used = (*first.rests_on, *(other.rests_on if other else ()))
    return Quantity(part.ref, None, "capacitor_v", across(first.value), across(first.low), across(first.high),
                    first.origin, used, expected=across(first.expected),
                    expected_low=across(first.expected_low), expected_high=across(first.expected_high),
                    least=across(first.least), most=max(across(first.most) or 0.0, cold_v - less if cold_v else 0.0),
                    design=across(first.design))
