"""What a supply's capacitors hold, what drains them, and what the unit draws from the wall."""

import math
from collections.abc import Sequence

from pipeline.electrics.safety import discharge_time, wall_current, wall_power
from pipeline.point.heaters import heater_on_winding
from pipeline.point.mains import Mains
from pipeline.point.supply import SIGNAL, SupplyState
from pipeline.point.tree import balance_siemens, node_uf, series_of
from pipeline.unit import Node, Unit

MEAN_OF_CREST = 2 / math.pi
"""Mean of a rectified sine over its crest: the volts at which a choke input takes its current from the winding."""


def held_uf(state: SupplyState, nodes: Sequence[Node] | None = None) -> dict[str, float]:
    """Microfarads from each node with capacitors to the chassis; the two halves of a doubler stand in series."""
    known = {n.id: node_uf(n, state.unit) for n in (state.nodes if nodes is None else nodes)
             if n.capacitors}
    return {node: (state.reservoir_uf or uf) / 2 if state.share(node) != 1.0 else uf
            for node, uf in known.items() if uf is not None}


def drain_s(state: SupplyState, node: str, ohms: float) -> float:
    """Seconds in which `ohms` at the node drain it to the volts that may stay, with what the other nodes send after.

    An upper bound: all that is stored passes through `ohms` and through all that joins the nodes.
    """
    trunk = state.trunk()
    between = sum((series_of(b.node, state.unit) or (0.0, 0.0))[0] for b in trunk.tree[1:])
    farad = sum(held_uf(trunk, [b.node for b in trunk.tree]).values()) * 1e-6
    safe = state.allowances["charge left volts"].value
    return float(discharge_time(farad, state.no_load_v(node), safe, ohms + between))


def bleeder_ohm(state: SupplyState, node: str) -> float | None:
    """Ohms that drain the node whatever the tubes do: bleeders and balance resistors on any node, its resistive loads.

    They drain the other nodes' capacitors too, through what joins the nodes.
    """
    nodes = state.trunk().node_ids
    found = [p.measured.get("ohms") or p.reading.ohms for p in state.unit.parts.values()
             if p.role == "bleeder" and p.kind == "resistor" and any(p.is_at(n) for n in nodes)]
    found += [n.load_ohm for n in state.nodes if n.id == node and n.load_ohm]
    siemens = sum(1 / x for x in found if x)
    siemens += sum(balance_siemens(s, n, state.unit) for s in state.unit.supplies for n in s.nodes if n.id in nodes)
    return 1 / siemens if siemens else None


def running_current(unit: Unit, states: tuple[SupplyState, ...] | list[SupplyState], mains: Mains) -> float | None:
    """Line amps of the warm set by the stated estimate (efficiency and power factor recalled); None if not known."""
    fed = [s for s in states if s.rectified]
    if any(s.solved is None for s in fed) or not fed or unit.mains_v is None:
        return None
    heater_w = sum(_heater_w(unit, w.id, w.volts) for w in unit.windings.values())
    string_a = sum(s.amps for s in unit.strings.values())
    rectified = sum(s.crest_v(mains.today) * (MEAN_OF_CREST if s.supply.input == "choke" else 1.0) * s.load_a(SIGNAL)
                    for s in fed)
    power = float(wall_power(heater_w, rectified, efficiency=0.85 if unit.windings else 1.0))
    return float(wall_current(power, mains.today_v)) + string_a if power else string_a or None


def _heater_w(unit: Unit, at: str, volts: float) -> float:
    heaters = [heater_on_winding(p, volts) for p in unit.parts_at(at)]
    return sum(h.volts.value * h.amps.value for h in heaters if h and h.amps)
