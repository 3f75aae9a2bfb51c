"""What each node of a supply gives, read off the settled circuit: the loads with which its waveforms are solved."""

import numpy as np

from pipeline.point.settle import Settled
from pipeline.point.supply import DESIGN, HIGH, SIGNAL, SIGNAL_HIGH, TODAY, SupplyState
from pipeline.point.tree import balance_siemens

_ROWS = {"today": TODAY, "high": HIGH, "design": DESIGN, "signal": SIGNAL, "signal high": SIGNAL_HIGH}


def set_loads(state: SupplyState, settled: Settled) -> None:
    """Give the supply the amperes drawn at each branch of its tree, and what drains it whatever the tubes do."""
    circuit, found = settled.circuit, settled.point
    assert found is not None
    flows = _inflows(state, settled)
    drawn = np.array([flows[i] - sum((flows[j] for j, b in enumerate(state.tree) if b.parent == i),
                                     np.zeros(flows.shape[1])) for i in range(len(state.tree))])
    state.ohmic = np.array([_siemens(state, settled, b.node.id) for b in state.tree])
    volts = np.array([state.sign * found.volts[:, circuit.numbers[b.node.id]] for b in state.tree])
    amps = np.maximum(drawn - state.ohmic[:, None] * np.maximum(volts, 0.0), 0.0)
    for i, corner in enumerate(circuit.corners):
        if corner.name in _ROWS:
            state.loads[_ROWS[corner.name]] = amps[:, i]
            state.steady[_ROWS[corner.name]] = (float(flows[0, i]), {
                b.node.id: float(v) for b, v in zip(state.tree, volts[:, i], strict=True)})


def _inflows(state: SupplyState, settled: Settled) -> np.ndarray:
    """Amperes (branches, corners) that come into each node of the tree, without their sign."""
    circuit, found = settled.circuit, settled.point
    assert found is not None
    flows = np.zeros((len(state.tree), len(circuit.corners)))
    for i, branch in enumerate(state.tree):
        if branch.parent is None:
            flows[i] = settled.feed_a[[s.id for s in settled.feeds].index(state.id)]
            continue
        ends = circuit.numbers[state.tree[branch.parent].node.id], circuit.numbers[branch.node.id]
        at = next(lead for lead in circuit.leads if (lead.to, lead.end) == ends)
        flows[i] = state.sign * found.resistor_a[:, at.element]
    return flows


def _siemens(state: SupplyState, settled: Settled, node: str) -> float:
    """What drains the node to chassis through resistors alone: its bleeders, balance resistors and resistive load."""
    home = next(s for s in settled.circuit.unit.supplies if any(n.id == node for n in s.nodes))
    here = settled.circuit.numbers[node]
    total = balance_siemens(home, next(n for n in home.nodes if n.id == node), settled.circuit.unit)
    for resistor in settled.circuit.resistors:
        if (resistor.a, resistor.b) == (here, 0):
            total += 1 / float(np.ravel(resistor.ohms)[0])
    return total
