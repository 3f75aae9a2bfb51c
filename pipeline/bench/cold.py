"""Steps of a bring-up with the plug out: what to look at, every node's ohms, and how to discharge."""

from collections.abc import Iterator

from pipeline.bench.expected import Expected, expected
from pipeline.bench.steps import BEFORE_POWER, Step
from pipeline.checks.check import Checked
from pipeline.electrics.heaters import cold_ratio
from pipeline.point.charge import bleeder_ohm, drain_s, held_uf
from pipeline.point.heaters import heaters_of_string
from pipeline.point.supply import SupplyState

BLEEDERS_WITHIN = 0.8
"""A bleeder may read this share of its ohms: the meter charges capacitors beside it (practice)."""


def before_power(checked: Checked) -> Step:
    """Resistance checks with the plug out, of every supply."""
    expect = [x for x in expected(checked) if x.reading == "ohms"]
    allowed = checked.point.allowances["cold heater ohms"]
    for string in checked.unit.strings.values():
        heaters = heaters_of_string(string, checked.unit)
        if heaters:
            ohms = sum(h.volts.value / h.amps.value for h in heaters) * float(cold_ratio())
            expect.append(Expected(string.id, "ohms", ohms, ohms / allowed.value, ohms * allowed.value, "ohm", "string",
                                   "all heaters of the string, cold: what matters is whether it is open",
                                   (*(h.volts for h in heaters), allowed)))
    for state in checked.point.states:
        expect += _to_chassis(state)
    off = "Plug out." if checked.unit.mains_v is not None else "Batteries out."
    do = [f"{off} Look for burnt parts, bare cord, wax run out, swollen cans; fit the tubes in their own places.",
          *_load(checked), "Measure these with the set off and every capacitor discharged."]
    if checked.unit.mains_v is not None and (checked.unit.strings or not checked.unit.windings):
        do.append("No power transformer: the chassis is joined to the line. Work only behind an isolating transformer.")
    elif checked.unit.mains_v is not None:
        do.append("From either plug pin to chassis the meter shows no less than 1 Mohm.")
    return Step(BEFORE_POWER, tuple(do), condition="cold", expect=tuple(expect),
                stop=("Do not go on while B+ to chassis stays low, a winding or the heater string is open, or the cord "
                      "touches the chassis.",))


def _load(checked: Checked) -> Iterator[str]:
    """The speaker or its stand-in goes on before power: an open secondary lets the plate swing far above B+."""
    power = [p.ref for p in checked.unit.parts.values() if p.kind == "tube" and "power" in (p.function or "")]
    if power:
        speakers = [p.ref for p in checked.unit.parts.values() if p.kind == "speaker"]
        yield (f"Connect the speaker{' ' + ', '.join(speakers) if speakers else ''}, or a resistor of its ohms that "
               f"bears the set's watts, before any power: {', '.join(power)} must never work into an open output "
               "transformer. The meter shows a little less than the speaker's ohms.")


def _to_chassis(state: SupplyState) -> Iterator[Expected]:
    short = state.allowances["short to chassis"]
    lead = "red lead on the node" if state.sign > 0 else "black lead on the node, red on the chassis"
    for node in state.nodes:
        ohms = bleeder_ohm(state, node.id)
        low = short.value if ohms is None else min(short.value, BLEEDERS_WITHIN * ohms)
        yield Expected(node.id, "ohms_to_chassis", ohms, low, None, "ohm", "node",
                       f"{lead}, wait until the capacitors have charged", (short,))


def discharge(checked: Checked) -> Step:
    """How every node is discharged, and how long it takes."""
    probe, safe = checked.point.allowances["discharge probe"], checked.point.allowances["charge left volts"]
    do = [f"After every power-up: plug out, wait, then a {probe.value / 1000:g} kohm 5 W resistor on an insulated "
          "probe from each node to chassis, one hand in the pocket.",
          f"Measure: it is done when every node reads below {safe.value:g} V. Measure again after a minute: capacitors "
          "climb by themselves."]
    for state in checked.point.states:
        if state.supply.source != "node" and any(n.capacitors for n in state.nodes):
            do += _times(state)
    return Step("Discharge, and how to know", tuple(do))


def _times(state: SupplyState) -> Iterator[str]:
    """Volts, charge and time of each node: with the probe, and by itself."""
    probe, safe = state.allowances["discharge probe"], state.allowances["charge left volts"]
    for node, uf in held_uf(state).items():
        volts, ohms = state.no_load_v(node), bleeder_ohm(state, node)
        sign = "-" if state.sign < 0 else ""
        if volts <= safe.value:
            yield f"{node}: up to {sign}{volts:.0f} V on {uf:g} µF: below {safe.value:g} V already."
            continue
        alone = f"by its own bleeder in {drain_s(state, node, ohms):.0f} s" if ohms else "by itself perhaps never"
        yield (f"{node}: up to {sign}{volts:.0f} V on {uf:g} µF; below {safe.value:g} V with the probe in "
               f"{max(drain_s(state, node, probe.value), 0.1):.1f} s, {alone}.")
