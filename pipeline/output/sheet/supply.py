"""The supplies on the sheet: volts to expect at each node of each, with a box for the reading."""

from pipeline.checks.check import Checked
from pipeline.output.sheet.boxes import reading_box
from pipeline.output.sheet.expected import band_words
from pipeline.output.sheet.markup import Markup, el, join, note, own, prose, section, table, unbroken
from pipeline.output.sheet.words import evidence, ripple, volts
from pipeline.point.supply import TODAY, SupplyState
from pipeline.unit import Node


def supply_section(checked: Checked) -> Markup | None:
    """A table for each supply, the main one first; what is not known is said, with what to measure."""
    states = [s for s in checked.point.states if s.nodes]
    states.sort(key=lambda s: s is not checked.state)
    if not states:
        return None
    return section("supply", "Supply volts", *(_supply(s, checked) for s in states))


def _supply(state: SupplyState, checked: Checked) -> Markup:
    if state.solved is None and not _read_or_settled(state, checked):
        mend = f" {state.mend}" if state.mend else ""
        why = f": {state.missing}" if state.missing else ""
        high = state.crest_v(checked.mains.high)
        reach = f"{state.id} can reach {high:.0f} V at switch-on. " if state.rectified else ""
        said = el("p", prose(f"{reach}The volts of {state.id} under load are not known{why}.{mend}"))
        return join([said, node_table(state, checked)])
    estimated = note(f"What {', '.join(state.estimated)} draw is estimated from typical operation; measured cathode "
                     "volts, or load_a for the node, make it sure.") if state.estimated else None
    return join([node_table(state, checked), note("These volts: ", evidence(state.rests_on)), estimated])


def _read_or_settled(state: SupplyState, checked: Checked) -> bool:
    """Whether every node's volts are known without the filter being solved: from a battery, or by readings."""
    found = [checked.point.get(n.id, "dc_v") for n in state.nodes]
    return all(q is not None and q.value is not None for q in found)


def node_table(state: SupplyState, checked: Checked) -> Markup:
    """Volts of each node: today with their band, at high mains, at half load, at switch-on, ripple, and a box."""
    mains = state.mains
    high = f"{mains.high_v:g} V" if state.supply.source == "mains" else "the high end"
    heads = ("Node", "Today", f"At {high}", f"Half load, {high}", f"At switch-on, {high}", "Ripple, p-p", "Read, V DC")
    return table(f"{state.id}: volts to expect, DC to chassis", heads, [_row(n, state, checked) for n in state.nodes],
                 class_="numbers")


def _row(node: Node, state: SupplyState, checked: Checked) -> tuple[object, ...]:
    found = checked.point.get(node.id, "dc_v")
    today = found.value if found and state.today_v(node.id) is None else state.today_v(node.id)
    band = band_words(found) if found and today is not None else ""
    cold = state.cold_start_v(node.id)
    later = (state.high_v(node.id), state.half_load_v(node.id), None if cold is None else state.sign * cold)
    beside = "measured" if band.endswith(" measured") else band if band != volts(today) else ""
    cell = el("span", unbroken(volts(today)), el("small", " ", beside) if beside else None)
    return (_node(node), cell, *(unbroken(volts(v)) for v in later), unbroken(ripple(state.ripple_v(node.id, TODAY))),
            reading_box(f"DC volts read at {node.id}", node.id, "dc_v"))


def _node(node: Node) -> Markup:
    return el("span", own(node.id), el("small", " ", own(", ".join(node.capacitor_names))) if node.capacitors else None)
