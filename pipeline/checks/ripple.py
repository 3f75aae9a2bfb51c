"""`capacitor-ripple`: the current that heats the reservoir, against what a stocked part of its size bears."""

from collections.abc import Iterator
from typing import Any

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures
from pipeline.checks.supply import HIGH, SupplyState

LOW_V, HIGH_V = 350.0, 500.0
"""Ripple ratings are known for stocked parts of 400 and 450 V only; they are not carried over to other volts."""


def ripple_findings(state: SupplyState | None, stock: list[dict[str, Any]]) -> Iterator[Finding]:
    """One finding for the reservoir, where its value and volts lie among the stocked parts with a ripple rating."""
    if state is None or state.solved is None or state.supply.input != "capacitor" or not state.reservoir_uf:
        return
    node = state.nodes[0]
    volts = state.high_v(node.id) or 0.0
    rated = sorted({(r["uf"], r["ripple_a"], r["evidence"]) for r in stock
                    if r["kind"] == "electrolytic" and r["ripple_a"] and LOW_V <= r["volts"] <= HIGH_V})
    each = state.reservoir_uf / max(len(node.capacitors), 1)
    if not rated or not 0.6 * LOW_V <= volts <= HIGH_V or not rated[0][0] <= each <= rated[-1][0]:
        return
    limit = float(np.interp(each, [r[0] for r in rated], [r[1] for r in rated])) * len(node.capacitors)
    amps = state.capacitor_rms_a(node.id, HIGH)
    refs = " and ".join(node.capacitor_names)
    known = Figure("stocked electrolytic", "ripple_a", round(limit, 3), "A", rated[0][2], "electrolytic-maker-series")
    what = f"{refs} carries {amps * 1000:.0f} mA of ripple at {state.mains.high_v:g} V mains; " \
           f"a stocked part of {each:g} µF bears about {limit / len(node.capacitors) * 1000:.0f} mA"
    verdict = "caution" if amps > limit else "pass"
    yield Finding("capacitor-ripple", refs, verdict, amps, limit, "A", what + ".",
                  "" if verdict == "pass" else "Take a part made for more ripple, or two of half the value.",
                  figures(known, *state.rests_on))
