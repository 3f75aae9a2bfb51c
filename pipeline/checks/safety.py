"""Rules about people and fire: leakage to the chassis, charge that stays, the fuse."""

from collections.abc import Iterator

from pipeline.amounts import amount
from pipeline.checks.rule import AT_LEAST, Measure
from pipeline.electrics.safety import bleeder, choose_fuse, leakage_current, stored_energy
from pipeline.point.charge import bleeder_ohm, drain_s, held_uf, running_current
from pipeline.point.point import Point
from pipeline.point.supply import SupplyState


def leakage(point: Point) -> Iterator[Measure]:
    """Current that each line-to-chassis capacitor sends through whoever touches the chassis, at high mains."""
    may, hurts, mains = point.allowances["touch current"], point.allowances["touch current that injures"], point.mains
    for part in point.unit.parts.values():
        if part.role != "line to chassis" or part.kind != "capacitor" or point.unit.mains_v is None:
            continue
        uf = part.measured.get("uf") or max(s.uf for s in part.reading.sections)
        amps = float(leakage_current(uf * 1e-6, mains.high_v, mains.hertz))
        injures = amps > hurts.value
        limit, most = hurts if injures else may, may.value / (amps / uf)
        tail = "; above 5 mA it injures" if injures else "; 0.5 mA is the limit for parts that may be touched" \
            if amps > may.value else ""
        yield Measure(
            part.ref, amps, limit.value, "A",
            f"{part.ref}, {uf:g} µF from line to chassis, lets {amps * 1000:.2g} mA through a person who touches the "
            f"chassis{tail}.",
            f"Fit {most * 1000:.2g} nF or less, class Y; never where people can reach the chassis without isolation.",
            gravest="stop" if injures else "caution", rests_on=(may, hurts if injures else None, *mains.rests_on))


def stored(point: Point) -> Iterator[Measure]:
    """What each node still holds after the plug is out, and how long it takes to fall to a safe voltage."""
    for state in point.states:
        for node, uf in held_uf(state).items():
            yield _stored(point, state, node, uf)


def _stored(point: Point, state: SupplyState, node: str, uf: float) -> Measure:
    safe, within = point.allowances["charge left volts"], point.allowances["charge left seconds"]
    volts, ohms = state.no_load_v(node), bleeder_ohm(state, node)
    held = f"{node} holds up to {volts:.0f} V on {uf:g} µF, {float(stored_energy(uf * 1e-6, volts)):.2g} J"
    covers = tuple(p.ref for n in state.nodes if n.id == node for chain in n.capacitors for p in chain)
    if volts <= safe.value or ohms is None:
        why = f"{held}." if volts <= safe.value else f"{held}; no bleeder drains it when the tubes are cold or out."
        do = f"Discharge through 1 to 10 kohm 5 W and measure below {safe.value:g} V before you touch."
        return Measure(node, volts, safe.value, "V", why, do + _bleeder(state, node, volts, safe.value, within.value),
                       gravest="caution", rests_on=(safe,), covers=covers)
    seconds = drain_s(state, node, ohms)
    others = " with the other nodes" if len(held_uf(state)) > 1 else ""
    return Measure(
        node, seconds, within.value, "s",
        f"{held}; through {amount(ohms, 'ohm', digits=3)} it falls below {safe.value:g} V{others} in at most "
        f"{seconds:.0f} s.",
        f"Wait, then measure below {safe.value:g} V before you touch.", gravest="caution", rests_on=(safe, within),
        covers=covers)


def _bleeder(state: SupplyState, node: str, volts: float, safe_v: float, within_s: float) -> str:
    """The bleeder across its first node that would empty the whole supply in time, in words; said of that node only."""
    if volts <= safe_v or node != state.trunk().node_ids[0]:
        return ""
    farad = sum(held_uf(state.trunk(), [b.node for b in state.trunk().tree]).values()) * 1e-6
    found = bleeder(farad, volts, within_s, safe_v)
    ohms = float(f"{0.95 * float(found.ohms):.1e}")
    watts = amount(float(found.recommended_w), "W", digits=2)
    return f" A bleeder of {amount(ohms, 'ohm', digits=2)} that bears {watts} would do it in {within_s:g} s."


def fuse(point: Point) -> Iterator[Measure]:
    """Each fuse against the current the set draws from the wall, where that can be worked out."""
    running = running_current(point.unit, point.states, point.mains)
    for part in point.unit.parts.values():
        if part.kind != "fuse" or part.reading.amps is None or running is None:
            continue
        try:
            wanted = float(choose_fuse(running, "iec" if point.mains.hertz < 55 else "ul"))
        except ValueError:  # more current than any fuse of the ladder: the load typed in says enough elsewhere
            continue
        large, rule, near = (point.allowances[name] for name in (
            "fuse too large", "fuse over running current", "fuse near"))
        amps = part.reading.amps
        most = large.value * max(running, wanted / 2)
        what = f"{part.ref} is {amps:g} A; the set draws about {running:.2g} A, which asks for {wanted:g} A time-lag"
        rests_on = (rule, large, near, *(f for s in point.states for f in s.rests_on))
        if amps > most:
            yield Measure(part.ref, amps, most, "A", f"{what}: it will not save the transformer.",
                          f"Fit {wanted:g} A time-lag, or the maker's figure.", rests_on=rests_on)
            continue
        low = amps < running
        yield Measure(part.ref, amps, running if low else wanted * near.value, "A", f"{what}.",
                      f"The maker's figure comes first; else fit {wanted:g} A time-lag.",
                      sense=AT_LEAST if low else "at most", gravest="caution", rests_on=rests_on)
