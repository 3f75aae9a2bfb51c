"""A unit's supplies made ready to be solved, each with what it misses."""

from collections.abc import Mapping

from pipeline.catalogue import Figure
from pipeline.point.devices import device_of, source_ohm
from pipeline.point.mains import Mains
from pipeline.point.supply import SupplyState
from pipeline.point.tree import node_uf, reservoir_uf, series_of, tree_of
from pipeline.unit import Supply, Unit


def drafted(unit: Unit, given: Supply, mains: Mains, allowances: Mapping[str, Figure]) -> SupplyState:
    """A supply ready to be solved, or with what is missing."""
    tree = tree_of(unit, given)
    state = SupplyState(unit, given, mains, allowances, device_of(unit, given, allowances), source_ohm(unit, given),
                        tree, reservoir_uf(given, unit) if given.nodes else None)
    _find_missing(state)
    return state


def _find_missing(state: SupplyState) -> None:
    empty = [b.node.id for b in state.tree if b.node.capacitors and node_uf(b.node, state.unit) is None]
    bad = next((b.node for b in state.tree if series_of(b.node, state.unit) is None), None)
    if not state.nodes:
        state.missing, state.mend = "no node says what it feeds", "Describe its nodes in unit.toml."
    elif state.device.missing:
        state.missing, state.mend = state.device.missing, state.device.mend
    elif state.source_ohm is None and state.supply.source == "mains":
        state.missing = "the winding's resistance is not given"
        state.mend = "Measure it cold, each half, and write secondary_ohm in unit.toml."
    elif state.supply.source in ("mains", "vibrator") and not state.nodes[0].capacitors:
        state.missing = f"no capacitor stands at {state.nodes[0].id}, the first node"
        state.mend = f"Write its reservoir into the list, with {state.nodes[0].id} as its place."
    elif empty:
        state.missing = f"the capacitance at {empty[0]} cannot be read"
        state.mend = "Write the value in the marking, or `measured` as 31 uF."
    elif bad is not None:
        state.missing = f"neither ohms nor henries of {bad.through or 'the part before ' + bad.id} are known"
        state.mend = "Measure its resistance and write it in the marking."
