"""What a meter should show: a view of the operating point, each reading with the band it may lie in.

Nothing is worked out here that the point knows. What a finding stops is no target: it is left out, or the finding
stands beside it, until it is mended.
"""

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.bench.faulty import Faulty
from pipeline.bench.policy import band_pct, is_electrolytic
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.electrics.capacitors import esr, leakage_of_new
from pipeline.point.heating import fed_with_dc
from pipeline.point.quantities import Quantity
from pipeline.point.supply import TODAY, SupplyState
from pipeline.point.what_if import aged_v
from pipeline.point.wiring import Wired
from pipeline.unit import Node, Part

ELECTRODES = ("plate_v", "screen_v", "cathode_v", "grid_v")


class Expected(NamedTuple):
    """A reading to expect: `value` with its band in `unit`; an end that is None is open. `place` keys the causes.

    `beside` is the finding that stops it, in words: such a reading is what the fault gives, not what to aim at.
    """

    at: str
    reading: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    place: str
    why: str
    rests_on: tuple[Figure, ...] = ()
    beside: str = ""

    def judge(self, found: float) -> str:
        """`low`, `high` or `within`."""
        if self.low is not None and found < self.low:
            return "low"
        return "high" if self.high is not None and found > self.high else "within"


def expected(checked: Checked, *, nodes_as_drawn: bool = False) -> list[Expected]:
    """Every reading that can be told beforehand for a checked unit, at today's mains and without its readings.

    With `nodes_as_drawn` the nodes' volts are those with what its tubes were read to draw.
    """
    faulty = Faulty(checked)
    found = [*_mains(checked), *_windings(checked)]
    for state in checked.point.states:
        found += _nodes(checked, state, nodes_as_drawn)
    found += [*_main_supply(checked.state), *_heaters(checked), *_tubes(checked)]
    for part in checked.unit.parts.values():
        how = {"resistor": _resistor, "capacitor": _capacitor, "choke": _choke}.get(part.kind or "")
        found += how(part, checked) if how else ()
    return [_told(x, faulty.beside(x.at, x.reading)) for x in found if not faulty.hides(x.at, x.reading)]


def _told(found: Expected, finding: Finding | None) -> Expected:
    """The reading with the finding that stops it, if one does."""
    return found if finding is None else found._replace(beside=finding.why)


def around(value: float, percent: float) -> tuple[float, float]:
    """The band of `percent` on either side, the lower end first."""
    wide = abs(value) * percent / 100
    return value - wide, value + wide


def node_band(state: SupplyState) -> Figure:
    """How far node volts may be off: wider where a load is only estimated."""
    return state.allowances["estimated load band" if state.estimated else "given load band"]


def _row(q: Quantity, reading: str, place: str, why: str, *, drawn: bool = False,
         band: Figure | None = None) -> Iterator[Expected]:
    """A quantity of the point as a reading; `band` where the point gives it none. Nothing where it is not known."""
    value, low, high = (q.value, q.low, q.high) if drawn else (q.expected, q.expected_low, q.expected_high)
    if value is None:
        return
    if band is not None and (low is None or high is None or low == high):
        low, high = around(value, band.value)
    rests_on = tuple(dict.fromkeys([*([band] if band else []), *q.rests_on]))
    yield Expected(q.place, reading, value, low, high, q.unit, place, why, rests_on)


def _mains(checked: Checked) -> Iterator[Expected]:
    mains = checked.mains
    if checked.unit.mains_v is not None:
        yield Expected("mains", "ac_v", mains.today_v, mains.low_v, mains.high_v, "V", "mains", "the outlet",
                       mains.rests_on)


def _windings(checked: Checked) -> Iterator[Expected]:
    mains = checked.mains
    for winding in checked.unit.windings.values():
        quantity = checked.point.get(winding.id, "heater_v")
        if quantity is None:
            continue
        dc = fed_with_dc(winding.id, checked.point.states)
        why = f"DC, from {dc.nodes[-1].id}" if dc else "the battery as named" if mains.battery else \
            f"{winding.volts:g} V at {mains.design_v:g} V mains, at today's {mains.today_v:g} V"
        yield from _row(quantity, "dc_v" if dc or mains.battery else "ac_v", "heater winding", why,
                        band=checked.point.allowances["heater tolerance"])


def _nodes(checked: Checked, state: SupplyState, drawn: bool) -> Iterator[Expected]:
    aged = aged_v(state)
    for i, node in enumerate(state.nodes):
        quantity = checked.point.get(node.id, "dc_v")
        if quantity is None:
            continue
        why = f"worked out for {state.mains.today_v:g} V mains" if checked.unit.mains_v else "worked out"
        worn = state.allowances["selenium cell aged drop"]
        if node.id in aged:
            why += f"; an aged selenium rectifier gives about {aged[node.id]:.0f} V"
        for row in _row(quantity, "dc_v", _kind(state, i), why, drawn=drawn, band=node_band(state)):
            yield row._replace(rests_on=(*row.rests_on, worn)) if node.id in aged else row
        if state.solved is not None:
            yield from _ripple(state, i, node)


def _kind(state: SupplyState, index: int) -> str:
    """What a node is, for the causes of a reading there."""
    if state.sign < 0:
        return "bias node"
    if index == 0 and state.supply.source == "battery":
        return "battery node"
    return "reservoir" if index == 0 and state.rectified and state.supply.source == "mains" else "node"


def _ripple(state: SupplyState, index: int, node: Node) -> Iterator[Expected]:
    """On a scope and on a meter; a node behind others may have more, its first one lies in a band."""
    band, more = state.allowances["node ripple band"], state.allowances["ripple of a later node"]
    least, place = state.allowances["least volts read"], _kind(state, index)
    for reading, ripple, what in (("ripple_v", state.ripple_v(node.id), "peak to peak, on a scope"),
                                  ("ac_v", state.ripple_rms_v(node.id), "rms, on a meter through a capacitor")):
        if ripple is None:
            continue
        low, high = around(ripple, band.value) if index == 0 else (None, more.value * ripple)
        low = low if low is not None and low > least.value else None
        yield Expected(node.id, reading, ripple, low, max(high, least.value), "V", place, f"ripple, {what}",
                       (band if index == 0 else more, least, *state.rests_on))


def _main_supply(state: SupplyState | None) -> Iterator[Expected]:
    """What the main supply gives, and the windings of its transformer."""
    if state is None:
        return
    if state.unit.windings:
        yield from _secondary(state)
    if state.solved is not None:
        amps, band = state.load_a(TODAY), node_band(state)
        yield Expected("supply", "dc_a", amps, *around(amps, band.value), "A", "supply", "all the supply gives",
                       (band, *state.rests_on))


def _secondary(state: SupplyState) -> Iterator[Expected]:
    given, band = state.supply, state.allowances["winding band"]
    if given.secondary_v:
        volts, meter = state.winding_v * state.mains.today, state.allowances["meter in circuit"]
        yield Expected("secondary", "ac_v", volts, *around(volts, meter.value), "V", "secondary",
                       "open-circuit volts of the winding, each half; loaded it stands a little lower", (meter,))
    for name, ohms in (("secondary", given.secondary_ohm), ("primary", given.primary_ohm)):
        if ohms:
            yield Expected(name, "ohms", ohms, *around(ohms, band.value), "ohm", "choke",
                           f"{name} winding, cold, as given", (band,))


def _heaters(checked: Checked) -> Iterator[Expected]:
    """Heater volts of each tube at today's mains."""
    unit, mains = checked.unit, checked.mains
    for quantity in checked.point.quantities.of("heater_v"):
        part = unit.parts.get(quantity.at)
        if part is None:
            continue
        winding, string = unit.winding_of(part), unit.string_of(part)
        where = f"on {winding.id}" if winding else \
            f"its share of {mains.today_v:g} V in {string.id}" if string else "its heater"
        yield from _row(quantity, "heater_v", "tube", where, band=checked.point.allowances["heater tolerance"])


def _tubes(checked: Checked) -> Iterator[Expected]:
    """The electrodes of every section as wired; of a tube whose stage is not known how far they can go."""
    wired = {one.place.ref for one in checked.point.wired}
    for one in checked.point.wired:
        ref, section = one.at
        known = {name for name in ELECTRODES if (q := checked.point.get(ref, name, section)) and q.expected is not None}
        for name in ELECTRODES:
            if name in known:
                yield from _electrode(one, name, checked)
        if not {"plate_v", "grid_v"} & known:
            yield from _ceiling(one.part, checked, str(one.place))
    special = _no_stage(checked)
    for part in checked.unit.parts.values():
        if part.kind == "tube" and part.ref not in wired and part.ref not in special:
            yield from _ceiling(part, checked, part.ref)


def _electrode(one: Wired, name: str, checked: Checked) -> Iterator[Expected]:
    """One electrode of a section; a grid at chassis may be a little below it, and not above."""
    quantity = checked.point.get(one.place.ref, name, one.place.section)
    assert quantity is not None
    positive = checked.point.allowances["positive grid"]
    direct = one.grid_from is not None
    for row in _row(quantity, name, "tube", _why(one, name, checked)):
        if name == "cathode_v" and quantity.expected == 0:
            continue  # it stands on the chassis
        if name == "grid_v" and not direct and quantity.expected == 0:
            yield row._replace(value=None, low=None, high=positive.value, rests_on=(positive,),
                               why="a control grid is not positive")
        else:
            yield row


def _why(one: Wired, name: str, checked: Checked) -> str:
    if name == "cathode_v":
        amps = checked.point.get(one.place.ref, "cathode_a", one.place.section)
        through = f" through {one.cathode.through}" if one.cathode.through else ""
        return f"{amps.expected * 1000:.3g} mA{through}" if amps and amps.expected is not None else "as it is wired"
    lead = {"plate_v": one.plate, "screen_v": one.screen, "grid_v": one.grid}[name]
    if name == "grid_v" and one.grid_from is not None:
        return f"joined to {one.grid_from} plate"
    parts = [f"from {lead.to}"] if lead and lead.to else []
    parts += [f"through {lead.through}"] if lead and lead.through else []
    return " ".join(parts) or "as it is wired"


def _ceiling(part: Part, checked: Checked, at: str) -> Iterator[Expected]:
    """How far the electrodes of a tube can go where only its supply is known."""
    positive = checked.point.allowances["positive grid"]
    yield Expected(at, "grid_v", None, None, positive.value, "V", "tube",
                   "a control grid is not positive, unless the stage is coupled directly", (positive,))
    node = next((n.id for n in checked.unit.nodes.values() if n.feeds(part.ref)), None)
    state = checked.state
    node = node or (state.nodes[0].id if state is not None and state.nodes else None)
    top = checked.point.get(node, "dc_v") if node else None
    if top is None or top.expected is None or top.expected_high is None:
        return
    for name in ("plate_v", "screen_v"):
        yield Expected(at, name, None, None, top.expected_high, "V", "tube", f"no more than {node} gives",
                       top.rests_on)


def _no_stage(checked: Checked) -> set[str]:
    """Tubes that rectify or regulate: what they stand at are the nodes."""
    supplies = checked.unit.supplies
    return {s.rectifier for s in supplies if s.rectifier} | {
        ref for s in supplies for node in s.nodes for ref in node.regulator}


def _resistor(part: Part, checked: Checked) -> Iterator[Expected]:
    ohms, usual = part.reading.ohms, checked.point.allowances["resistor tolerance"]
    if not ohms:
        return
    percent = max(part.reading.tolerance_pct or usual.value, checked.point.allowances["meter in circuit"].value)
    yield Expected(part.ref, "ohms", ohms, *around(ohms, percent), "ohm", "resistor",
                   f"{part.marking}, within {percent:g} %; in circuit it may read lower", (usual,))
    yield from _across(part, "resistor_v", checked)


def _across(part: Part, name: str, checked: Checked) -> Iterator[Expected]:
    """The volts across a part, where they can be told from the meter's zero."""
    least = checked.point.allowances["least volts read"].value
    for quantity in checked.point.quantities.at(part.ref):
        if quantity.quantity == name and (quantity.expected or 0.0) >= least:
            node = next((n for n in checked.unit.nodes.values() if n.through == part.ref and n.source), None)
            where = f"between {node.source} and {node.id}" if node else f"across {quantity.place}"
            state = checked.state
            band = None if state is None else node_band(state)
            yield from _row(quantity, "volts", part.kind or "", where, band=band)


def _choke(part: Part, checked: Checked) -> Iterator[Expected]:
    band = checked.point.allowances["winding band"]
    if part.reading.ohms:
        yield Expected(part.ref, "ohms", part.reading.ohms, *around(part.reading.ohms, band.value), "ohm", "choke",
                       "as marked, cold", (band,))


def _capacitor(part: Part, checked: Checked) -> Iterator[Expected]:
    yield from _across(part, "capacitor_v", checked)
    if len(part.reading.sections) != 1:
        return
    uf, volts = part.reading.sections[0]
    role, loss = checked.roles.get(part.role or ""), checked.point.allowances["electrolytic loss"]
    low, high = band_pct(part, role)
    yield Expected(part.ref, "uf", uf, uf * (1 + low / 100), uf * (1 + high / 100), "µF", "capacitor",
                   f"{part.marking}, {low:+g}/{high:+g} %", tuple(role.values()) if role else ())
    if not is_electrolytic(part, role):
        leak = checked.point.allowances["coupling leakage"]
        yield Expected(part.ref, "leakage_a", None, None, leak.value, "A", "capacitor",
                       "film, paper or mica must not leak", (leak,))
        return
    if volts and volts > 100:
        most = float(leakage_of_new(uf * 1e-6, volts))
        yield Expected(part.ref, "leakage_a", None, None, most, "A", "capacitor",
                       "what a new one may leak after five minutes at its rated volts", (loss,))
    if volts and volts >= 350:
        most = 2 * float(esr(loss.value, uf * 1e-6))
        yield Expected(part.ref, "esr_ohm", None, None, most, "ohm", "capacitor",
                       "twice the most of a new one at 120 Hz", (loss,))
