"""Findings about people and fire: leakage to the chassis, charge that stays, the fuse."""

from collections.abc import Iterator

from pipeline.catalogue import Figure
from pipeline.checks.findings import AT_LEAST, AT_MOST, Finding, figures
from pipeline.checks.heater_parts import heater_on_winding
from pipeline.checks.mains import Mains
from pipeline.checks.supply import SupplyState, node_uf, series_of
from pipeline.electrics.safety import (
    SAFE_DC_V,
    TOUCH_LIMIT_A,
    choose_fuse,
    discharge_time,
    leakage_current,
    stored_energy,
    wall_current,
    wall_power,
)
from pipeline.unit import Unit

TOUCH = Figure("touch current", "ES1 limit", TOUCH_LIMIT_A, "A", "published", "iec-62368-1", "table 4")
TOUCH_PAINFUL = Figure("touch current", "ES2 limit", 0.005, "A", "recalled", "iec-62368-1", "table 4")
SAFE_VOLTS = Figure("charged capacitor", "ES1 limit", SAFE_DC_V, "V", "published", "iec-62368-1", "table 5")
FUSE_RULE = Figure("fuse", "times the running current", 1.5, "1", "practice", "")
FUSE_TOO_LARGE = 4.0
"""A fuse this many times the running current no longer guards a transformer (practice)."""
FUSE_NEAR = 1.6
"""A fuse up to this many times the wanted one, two steps of its ladder, may be the maker's own (practice)."""
SAFE_AFTER_S = 60.0


def safety_findings(unit: Unit, state: SupplyState | None, mains: Mains) -> Iterator[Finding]:
    """`leakage-current` of line-to-chassis capacitors, `stored-energy` of the nodes, `fuse`."""
    yield from leakage_findings(unit, mains)
    if state is not None:
        yield from energy_findings(state)
        yield from fuse_findings(unit, state, mains)


def leakage_findings(unit: Unit, mains: Mains) -> Iterator[Finding]:
    """Current that each line-to-chassis capacitor sends through whoever touches the chassis, at high mains."""
    for part in unit.parts.values():
        if part.role != "line to chassis" or part.kind != "capacitor":
            continue
        uf = part.measured.get("uf") or max(s.uf for s in part.reading.sections)
        amps = float(leakage_current(uf * 1e-6, mains.high_v, mains.hertz))
        what = f"{part.ref}, {uf:g} µF from line to chassis, lets {amps * 1000:.2g} mA through a person who touches " \
               f"the chassis"
        rests_on = figures(TOUCH, *mains.rests_on)
        most = TOUCH_LIMIT_A / (amps / uf)
        do = f"Fit {most * 1000:.2g} nF or less, class Y; never where people can reach the chassis without isolation."
        if amps > TOUCH_PAINFUL.value:
            yield Finding("leakage-current", part.ref, "stop", amps, TOUCH_PAINFUL.value, "A",
                          f"{what}; above 5 mA it injures.", do, (*rests_on, TOUCH_PAINFUL))
        elif amps > TOUCH_LIMIT_A:
            yield Finding("leakage-current", part.ref, "caution", amps, TOUCH_LIMIT_A, "A",
                          f"{what}; 0.5 mA is the limit for parts that may be touched.", do, rests_on)
        else:
            yield Finding("leakage-current", part.ref, "pass", amps, TOUCH_LIMIT_A, "A", what + ".", rests_on=rests_on)


def energy_findings(state: SupplyState) -> Iterator[Finding]:
    """What each node still holds after the plug is out, and how long it takes to fall below 60 V."""
    charged = held_uf(state)
    for node, uf in charged.items():
        volts, ohms = state.no_load_v(node), bleeder_ohm(state, node)
        held = f"{node} holds up to {volts:.0f} V on {uf:g} µF, {float(stored_energy(uf * 1e-6, volts)):.2g} J"
        if volts <= SAFE_DC_V:
            yield Finding("stored-energy", node, "pass", volts, SAFE_DC_V, "V", held + ".", rests_on=(SAFE_VOLTS,))
            continue
        if ohms is None:
            yield Finding("stored-energy", node, "caution", volts, SAFE_DC_V, "V",
                          f"{held}; no bleeder drains it when the tubes are cold or out.",
                          "Discharge through 1 to 10 kohm 5 W and measure below 60 V before you touch.", (SAFE_VOLTS,))
            continue
        seconds = drain_s(state, node, ohms)
        verdict = "pass" if seconds <= SAFE_AFTER_S else "caution"
        others = " with the other nodes" if len(charged) > 1 else ""
        yield Finding("stored-energy", node, verdict, seconds, SAFE_AFTER_S, "s",
                      f"{held}; through {ohms:.3g} ohm it falls below 60 V{others} in at most {seconds:.0f} s.",
                      "" if verdict == "pass" else "Wait, then measure below 60 V before you touch.", (SAFE_VOLTS,))


def held_uf(state: SupplyState) -> dict[str, float]:
    """Microfarads from each node with capacitors to the chassis; the two halves of a doubler stand in series."""
    known = {n.id: node_uf(n, state.unit) for n in state.nodes if n.capacitors}
    return {node: (state.reservoir_uf or uf) / 2 if state.share(node) != 1.0 else uf
            for node, uf in known.items() if uf is not None}


def drain_s(state: SupplyState, node: str, ohms: float) -> float:
    """Seconds in which `ohms` at the node drain it below 60 V, and with it what the other nodes send after.

    An upper bound: all that is stored passes through `ohms` and through all that joins the nodes.
    """
    between = sum((series_of(n, state.unit) or (0.0, 0.0))[0] for n in state.nodes[1:])
    farad = sum(held_uf(state).values()) * 1e-6
    return float(discharge_time(farad, state.no_load_v(node), SAFE_DC_V, ohms + between))


def bleeder_ohm(state: SupplyState, node: str) -> float | None:
    """Ohms that drain the node whatever the tubes do: bleeders on any node, resistive loads on its own.

    They drain the other nodes' capacitors too, through what joins the nodes.
    """
    found = [p.measured.get("ohms") or p.reading.ohms for p in state.unit.parts.values()
             if p.role == "bleeder" and p.kind == "resistor" and any(p.is_at(n.id) for n in state.nodes)]
    found += [n.load_ohm for n in state.nodes if n.id == node and n.load_ohm]
    known = [x for x in found if x]
    return 1 / sum(1 / x for x in known) if known else None


def running_current(unit: Unit, state: SupplyState, mains: Mains) -> float | None:
    """Line amps of the warm set by the stated estimate (efficiency and power factor recalled); None if not known."""
    if state.solved is None:
        return None
    heater_w = sum(_heater_w(unit, w.id, w.volts) for w in unit.windings.values())
    string_a = sum(s.amps for s in unit.strings.values())
    rectified = state.crest_v(mains.today) * state.load_a(0)
    power = float(wall_power(heater_w, rectified, efficiency=0.85 if unit.windings else 1.0))
    return float(wall_current(power, mains.today_v)) + string_a if power else string_a or None


def _heater_w(unit: Unit, at: str, volts: float) -> float:
    heaters = [heater_on_winding(p, volts) for p in unit.parts.values() if p.is_at(at)]
    return sum(h.volts.value * h.amps.value for h in heaters if h and h.amps)


def fuse_findings(unit: Unit, state: SupplyState, mains: Mains) -> Iterator[Finding]:
    """Each fuse against the current the set draws from the wall, where that can be worked out."""
    running = running_current(unit, state, mains)
    for part in unit.parts.values():
        if part.kind != "fuse" or part.reading.amps is None or running is None:
            continue
        amps = part.reading.amps
        try:
            wanted = float(choose_fuse(running, "iec" if mains.hertz < 55 else "ul"))
        except ValueError:  # more current than any fuse of the ladder: the load typed in says enough elsewhere
            continue
        what = f"{part.ref} is {amps:g} A; the set draws about {running:.2g} A, which asks for {wanted:g} A time-lag"
        rests_on = (FUSE_RULE, *state.rests_on)
        if amps > FUSE_TOO_LARGE * max(running, wanted / 2):
            yield Finding("fuse", part.ref, "stop", amps, FUSE_TOO_LARGE * max(running, wanted / 2), "A",
                          f"{what}: it will not save the transformer.", f"Fit {wanted:g} A time-lag, or the maker's "
                          "figure.", rests_on)
        elif amps < running or amps > wanted * FUSE_NEAR:
            bound = (running, rests_on, AT_LEAST) if amps < running else (wanted * FUSE_NEAR, rests_on, AT_MOST)
            yield Finding("fuse", part.ref, "caution", amps, bound[0], "A", what + ".",
                          f"The maker's figure comes first; else fit {wanted:g} A time-lag.", *bound[1:])
        else:
            yield Finding("fuse", part.ref, "pass", amps, wanted * FUSE_NEAR, "A", what + ".", rests_on=rests_on)
