"""`capacitor-ripple`: the current that heats the reservoir, against what a stocked part of its size bears."""

from collections.abc import Iterator

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.rule import Measure
from pipeline.point.point import Point
from pipeline.point.supply import SIGNAL, SIGNAL_HIGH, SupplyState

MAKERS = "electrolytic-maker-series"
"""Source of the stocked parts' ripple ratings."""
LOW_V, HIGH_V = 350.0, 500.0
"""Ripple ratings are known for stocked parts of 400 and 450 V only; they are not carried over to other volts."""


def capacitor_ripple(point: Point) -> Iterator[Measure]:
    """One measure for each reservoir whose value and volts lie among the stocked parts with a ripple rating."""
    for state in point.states:
        if state.solved is not None and state.supply.input == "capacitor" and state.reservoir_uf:
            measure = _measure(point, state)
            if measure is not None:
                yield measure


def _measure(point: Point, state: SupplyState) -> Measure | None:
    node = state.nodes[0]
    node_v = abs(state.high_v(node.id) or 0.0)
    rated = sorted({(r["uf"], r["ripple_a"], r["volts"], r["evidence"]) for r in point.stock
                    if r["kind"] == "electrolytic" and r["ripple_a"] and LOW_V <= r["volts"] <= HIGH_V})
    count = 1 if state.share(node.id) != 1.0 else max(len(node.capacitors), 1)  # a doubler's figures are of one half
    each = (state.reservoir_uf or 0.0) / count
    if not rated or not 0.6 * LOW_V <= node_v <= HIGH_V or not rated[0][0] <= each <= rated[-1][0]:
        return None
    limit = float(np.interp(each, [r[0] for r in rated], [r[1] for r in rated])) * count
    refs = " and ".join(node.capacitor_names)
    near = sorted(rated, key=lambda r: abs(r[0] - each))[:2]
    known = [Figure(f"electrolytic/{uf:g}/{volts:g}", "ripple_a", amps, "A", grade, MAKERS)
             for uf, amps, volts, grade in near]
    today, amps = (state.capacitor_rms_a(node.id, row) for row in (SIGNAL, SIGNAL_HIGH))
    return Measure(
        refs, today, limit, "A",
        f"{refs} {'carry' if count > 1 else 'carries'} {amps * 1000:.0f} mA of ripple at {state.at_high}; a stocked "
        f"part of {each:g} µF bears about {limit / count * 1000:.0f} mA.",
        "Take a part made for more ripple, or two of half the value.", amps, gravest="caution",
        rests_on=(*known, *state.rests_on), covers=tuple(p.ref for chain in node.capacitors for p in chain))
