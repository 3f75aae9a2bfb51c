"""`regulator-current`: glow tubes and diodes that hold a node, between their least and their greatest current."""

from collections.abc import Iterator

import numpy as np

from pipeline.amounts import amount
from pipeline.catalogue import Figure
from pipeline.checks.rule import AT_LEAST, Measure
from pipeline.point.cells import flat_v
from pipeline.point.point import Point
from pipeline.point.supply import SupplyState
from pipeline.unit import Part


def regulator_current(point: Point) -> Iterator[Measure]:
    """Current of each regulator today and at the ends, and whether it starts at the volts without it."""
    for state in point.states:
        for node in state.nodes:
            if node.regulator and (state.missing or point.circuit is None):
                yield Measure(" and ".join(node.regulator), None, None, "A",
                              f"What flows through {' and '.join(node.regulator)} is not known: {state.missing}.",
                              state.mend, covers=node.regulator)
    if point.circuit is None or point.volts is None or point.settled is None or point.settled.point is None:
        return
    for index, (node_id, refs) in enumerate(point.circuit.regulated):
        amps = np.abs(point.settled.point.regulator_a[:, index])
        ends = {c.name: float(a) for c, a in zip(point.circuit.corners, amps, strict=True)}
        for ref in refs:
            yield from _of(point, point.unit.parts[ref], node_id, refs, ends)


def _of(point: Point, part: Part, node: str, refs: tuple[str, ...], amps: dict[str, float]) -> Iterator[Measure]:
    least, most = part.rating("regulators", "least_a"), part.rating("regulators", "greatest_a")
    today, ends = amps["today"], [amps[name] for name in ("high", "light", "today", "low")]
    said = f"{part.ref} ({part.called}) holds {node} with {amount(today, 'A', digits=3)}, " \
           f"{amount(min(ends), 'A', digits=3)} to {amount(max(ends), 'A', digits=3)} at the ends"
    state = point.state_of(node)
    rests_on: tuple[Figure, ...] = state.rests_on if state else ()
    if today <= 0:
        yield Measure(part.ref, 0.0, least.value if least else 1e-3, "A", f"{part.ref} ({part.called}) does not "
                      f"regulate {node}: the volts there stay below those it holds.",
                      "Look for too much load, or too large a resistor before it.", sense=AT_LEAST, gravest="caution",
                      rests_on=(least, *rests_on))
        return
    if most is not None:
        yield Measure(part.ref, today, most.value, "A", f"{said}; it bears {most.value * 1000:g} mA.",
                      "Enlarge the resistor before it.", max(ends), rests_on=(most, *rests_on))
    if least is not None:
        yield Measure(part.ref, today, least.value, "A", f"{said}; it wants {least.value * 1000:g} mA to stay lit.",
                      "Look for too much load on its node, or too large a resistor before it.", min(ends),
                      sense=AT_LEAST, gravest="caution", rests_on=(least, *rests_on))
    start = part.rating("regulators", "start_v")
    if start is not None and len(refs) == 1 and state is not None:
        volts, least_v = _before_it_lights(point, state, node, amps["high"])
        yield Measure(part.ref, volts, start.value, "V", f"{part.ref} starts at {start.value:g} V; {node} reaches "
                      f"{volts:.0f} V today before it does, {least_v:.0f} V at the lowest.",
                      "Raise the supply, or it never lights.", least_v, AT_LEAST, "caution", (start, *rests_on))


def _before_it_lights(point: Point, state: SupplyState, node: str, amps: float) -> tuple[float, float]:
    """Volts that the node reaches at switch-on with the regulator still dark: today, and at the lowest line or cells.

    `amps` are the regulator's own at the high line: behind a slow rectifier, half of them count in the half load.
    """
    high = state.cold_start_v(node) or 0.0
    if state.cold_start_rests_on_load(node):
        at = next(b for b in state.tree if b.node.id == node)
        high = abs(high) + 0.5 * amps * at.ohms
    if state.supply.volts is not None:
        return state.supply.volts * high / state.fresh_v, \
            flat_v(state.supply, state.allowances) * high / state.fresh_v
    return high * point.mains.today_v / point.mains.high_v, high * point.mains.low_v / point.mains.high_v
