"""Volts, ripple, switch-on volts and load of every node of the supplies."""

from collections.abc import Iterator

from pipeline.point.figures import Over, unknown
from pipeline.point.quantities import Quantity
from pipeline.point.readings import Readings
from pipeline.point.settle import Settled
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.records import replace

OF_NODE = ("dc_v", "ripple_v", "cold_start_v", "load_a")


def node_quantities(state: SupplyState, settled: Settled, over: Over, readings: Readings) -> Iterator[Quantity]:
    """Every quantity of the supply's own nodes."""
    assert settled.point is not None
    for node in state.nodes:
        here = settled.circuit.numbers[node.id]
        volts = settled.point.volts[:, here]
        given = "given" if state.supply.source == "battery" and not node.source else "solved"
        yield over.quantity(node.id, None, "dc_v", volts, measured=readings.nodes.get(node.id), origin=given,
                            rests_on=state.rests_on)
        yield from _in_time(state.trunk(), node.id, over) if state.trunk().solved is not None else \
            _steady(state.trunk(), node.id, over)
    if state.supply.minus:
        yield over.quantity(state.supply.minus, None, "dc_v",
                            settled.point.volts[:, settled.circuit.numbers[state.supply.minus]],
                            rests_on=state.rests_on)


def _in_time(state: SupplyState, node: str, over: Over) -> Iterator[Quantity]:
    """What follows from the waveforms."""
    band = state.allowances["node ripple band"]
    ripple, most = state.ripple_v(node) or 0.0, state.ripple_v(node, HIGH) or 0.0
    yield Quantity(node, None, "ripple_v", ripple, ripple * (1 - band.value / 100), ripple * (1 + band.value / 100),
                   "solved", (*state.rests_on, band), expected=ripple, least=min(ripple, most), most=max(ripple, most))
    yield from _steady(state, node, over)


def _steady(state: SupplyState, node: str, over: Over) -> Iterator[Quantity]:
    """Volts at switch-on and what is drawn: all there is where a battery or vibrator feeds the node."""
    if state.supply.source == "vibrator":
        yield Quantity(node, None, "ripple_v", missing="a vibrator's ripple comes from the moments in which no contact "
                       "is closed, and how long these are is not known", mend="Read the AC volts at the node.")
    cold = state.cold_start_v(node)
    if cold is not None:
        ratio = state.mains.today / state.mains.high
        today = state.sign * cold * ratio
        ends = sorted((today, state.sign * cold))
        yield Quantity(node, None, "cold_start_v", state.sign * cold, ends[0], ends[1], "solved", state.rests_on,
                       expected=today, least=ends[0], most=ends[1])
    if TODAY not in state.loads:
        return
    index = state.node_ids.index(node)
    load = {row: float(amps[index]) for row, amps in state.loads.items()}
    amps = load[TODAY] + _ohmic(state, index, node, TODAY)
    high = load[HIGH] + _ohmic(state, index, node, HIGH)
    wide = over.band_pct / 100
    yield Quantity(node, None, "load_a", amps, amps * (1 - wide), amps * (1 + wide), "solved", state.rests_on,
                   expected=amps, least=min(amps, high), most=max(amps, high))


def _ohmic(state: SupplyState, index: int, node: str, row: str) -> float:
    return float(state.ohmic[index]) * abs(state.node_v(node, row) or 0.0)


def missing_nodes(state: SupplyState) -> Iterator[Quantity]:
    """Rows of the nodes of a supply that cannot be worked out; a reading stands where there is one."""
    for node in state.nodes:
        read = state.held.get(node.id)
        for quantity in unknown(node.id, None, OF_NODE, state.missing, state.mend):
            if quantity.quantity == "dc_v" and read is not None:
                yield replace(quantity, value=read, low=read, high=read, origin="measured", missing="", mend="")
            else:
                yield quantity
