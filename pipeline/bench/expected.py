"""What a meter should show: at nodes, windings, tubes, resistors and capacitors, each with the band it may lie in."""

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.bench.policy import LEAK_A, band_pct, is_electrolytic
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.electrics.capacitors import esr, leakage_of_new
from pipeline.point.devices import typical_draw
from pipeline.point.heaters import heater_on_winding, heaters_of_string
from pipeline.point.strings import running_volts
from pipeline.point.supply import TODAY, SupplyState
from pipeline.point.tree import series_of
from pipeline.unit import HeaterString, Part

GIVEN_BAND = Figure("node volts", "band", 10.0, "%", "practice", "service-practice",
                    note="where the load is given or measured")
ESTIMATED_BAND = Figure("node volts", "band", 20.0, "%", "practice", "service-practice",
                        note="where the load is estimated from typical operation; the allowance service sheets state")
TYPICAL_BAND = Figure("cathode volts", "band", 30.0, "%", "practice", "service-practice",
                      note="a tube in this circuit against its typical operation")
RIPPLE_BAND = Figure("ripple", "band", 50.0, "%", "practice", "service-practice",
                     note="electrolytics were made -10/+50 % and wider")
RESISTOR_BAND = Figure("resistor", "band", 20.0, "%", "practice", "restoration-practice",
                       note="where no tolerance is marked")
WINDING_BAND = Figure("winding", "band", 20.0, "%", "practice", "service-practice")
POSITIVE_GRID = Figure("control grid", "grid_v", 0.3, "V", "practice", "service-practice",
                       note="direct-coupled stages aside")
PLATE_LEAST = Figure("output tube", "plate over node volts", 0.85, "1", "practice", "service-practice",
                     note="drop in the output transformer")
OLD_TAN_DELTA = Figure("electrolytic capacitor", "tan delta", 0.25, "1", "quoted", "electrolytic-maker-series",
                       note="largest of a new 400 or 450 V part at 120 Hz; twice that counts as the end of its life")
LEAST_BAND_PCT = 10.0
"""A meter in a circuit is not better than this."""
STRING_BAND_PCT = 15.0


class Expected(NamedTuple):
    """A reading to expect: `value` with its band in `unit`; an end that is None is open. `place` keys the causes."""

    at: str
    reading: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    place: str
    why: str
    rests_on: tuple[Figure, ...] = ()

    def judge(self, found: float) -> str:
        """`low`, `high` or `within`."""
        if self.low is not None and found < self.low:
            return "low"
        return "high" if self.high is not None and found > self.high else "within"


def expected(checked: Checked) -> list[Expected]:
    """Every reading that can be told beforehand for a checked unit, at today's mains."""
    unit, state = checked.unit, checked.state
    found = [*_mains(checked), *(_nodes(state) if state is not None and state.solved is not None else ())]
    if state is not None:
        found += _transformer(state)
    for string in unit.strings.values():
        found += _string(string, checked)
    for part in unit.parts.values():
        how = {"tube": _tube, "resistor": _resistor, "capacitor": _capacitor, "choke": _choke}.get(part.kind or "")
        found += how(part, checked) if how else ()
    return found


def around(value: float, percent: float) -> tuple[float, float]:
    """The band of `percent` on either side."""
    return value * (1 - percent / 100), value * (1 + percent / 100)


def node_band(state: SupplyState) -> Figure:
    """How far node volts may be off: wider where a load is only estimated."""
    return ESTIMATED_BAND if state.estimated else GIVEN_BAND


def _mains(checked: Checked) -> Iterator[Expected]:
    mains = checked.mains
    yield Expected("mains", "ac_v", mains.today_v, mains.low_v, mains.high_v, "V", "mains", "the outlet",
                   mains.rests_on)
    for winding in checked.unit.windings.values():
        volts, band = winding.volts * mains.today, checked.point.allowances["heater tolerance"]
        yield Expected(winding.id, "ac_v", volts, *around(volts, band.value), "V", "heater winding",
                       f"{winding.volts:g} V at {mains.design_v:g} V mains, at today's {mains.today_v:g} V",
                       (band,))


def _nodes(state: SupplyState) -> Iterator[Expected]:
    band, aged = node_band(state), state.aged_v()
    for i, node in enumerate(state.nodes):
        place, rests_on = "reservoir" if i == 0 else "node", (band, *state.rests_on)
        volts = state.loaded_v(node.id)
        yield Expected(node.id, "dc_v", volts, *around(volts, band.value), "V", place,
                       f"worked out for {state.mains.today_v:g} V mains"
                       + (f"; an aged selenium rectifier gives about {aged[node.id]:.0f} V" if node.id in aged else ""),
                       (*rests_on, state.allowances["selenium cell aged drop"]) if node.id in aged else rests_on)
        for reading, ripple, what in (("ripple_v", state.ripple_v(node.id), "peak to peak, on a scope"),
                                      ("ac_v", state.ripple_rms_v(node.id), "rms, on a meter through a capacitor")):
            if ripple is None:
                continue
            if i == 0:
                yield Expected(node.id, reading, ripple, *around(ripple, RIPPLE_BAND.value), "V", place,
                               f"ripple, {what}", (RIPPLE_BAND, *state.rests_on))
            else:
                yield Expected(node.id, reading, ripple, None, max(2 * ripple, 0.1), "V", place,
                               f"ripple, {what}", (RIPPLE_BAND, *state.rests_on))


def _transformer(state: SupplyState) -> Iterator[Expected]:
    if state.unit.windings:
        yield from _windings(state)
    if state.solved is not None:
        amps, band = state.load_a(TODAY), node_band(state)
        yield Expected("supply", "dc_a", amps, *around(amps, band.value), "A", "supply", "all the supply gives",
                       (band, *state.rests_on))


def _windings(state: SupplyState) -> Iterator[Expected]:
    given = state.supply
    volts = state.winding_v * state.mains.today
    yield Expected("secondary", "ac_v", volts, *around(volts, LEAST_BAND_PCT), "V", "secondary",
                   "open-circuit volts of the winding, each half; loaded it stands a little lower", (WINDING_BAND,))
    for name, ohms in (("secondary", given.secondary_ohm), ("primary", given.primary_ohm)):
        if ohms:
            yield Expected(name, "ohms", ohms, *around(ohms, WINDING_BAND.value), "ohm", "choke",
                           f"{name} winding, cold, as given", (WINDING_BAND,))


def _string(string: HeaterString, checked: Checked) -> Iterator[Expected]:
    """Heater volts of each member at today's mains."""
    heaters = heaters_of_string(string, checked.unit)
    if not heaters:
        return
    today = running_volts(string, checked.unit, checked.mains, checked.state)[0]
    for heater, volts in zip(heaters, today, strict=True):
        yield Expected(heater.part.ref, "heater_v", float(volts), *around(float(volts), STRING_BAND_PCT), "V", "tube",
                       f"its share of {checked.mains.today_v:g} V in {string.id}", (heater.volts, heater.amps))


def _tube(part: Part, checked: Checked) -> Iterator[Expected]:
    winding = checked.unit.winding_of(part)
    if winding is not None and (heater := heater_on_winding(part, winding.volts)):
        volts, band = winding.volts * checked.mains.today, checked.point.allowances["heater tolerance"]
        yield Expected(part.ref, "heater_v", volts, *around(heater.volts.value, band.value), "V", "tube",
                       f"{heater.volts.value:g} V heater on {winding.id}", (heater.volts, band))
    state = checked.state
    if state is not None and part.ref == state.device.ref:
        return
    yield Expected(part.ref, "grid_v", None, None, POSITIVE_GRID.value, "V", "tube",
                   "a control grid is not positive, unless the stage is coupled directly", (POSITIVE_GRID,))
    if state is None or state.solved is None:
        return
    node = next((n.id for n in state.nodes if n.feeds(part.ref)), None)
    top = state.loaded_v(node or state.nodes[0].id)
    band = node_band(state)
    most = top * (1 + band.value / 100)
    least = top * PLATE_LEAST.value * (1 - band.value / 100) if node and _is_power(part) else None
    yield Expected(part.ref, "plate_v", top * 0.97 if least else None, least, most, "V", "tube",
                   f"no more than {node or state.nodes[0].id} gives", (band, PLATE_LEAST, *state.rests_on))
    yield Expected(part.ref, "screen_v", None, None, most, "V", "tube",
                   f"no more than {node or state.nodes[0].id} gives", (band, *state.rests_on))
    yield from _cathode(part, state, top)


def _is_power(part: Part) -> bool:
    function = part.rating("tubes", "function")
    return function is not None and "power" in str(function.value)


def _cathode(part: Part, state: SupplyState, top: float) -> Iterator[Expected]:
    """Cathode volts from the typical current at these plate volts, through the cathode resistors of the list."""
    resistors = [p for p in state.unit.parts.values() if p.role == "cathode" and p.is_at(part.ref)
                 and p.kind == "resistor" and p.reading.ohms]
    found = typical_draw(part, top)
    if found is None or not resistors or not any(n.feeds(part.ref) for n in state.nodes):
        return
    k, rests_on = found
    amps = k * top**1.5 / len(resistors)
    volts = amps * (resistors[0].measured.get("ohms") or resistors[0].reading.ohms)
    yield Expected(part.ref, "cathode_v", volts, *around(volts, TYPICAL_BAND.value), "V", "tube",
                   f"{amps * 1000:.0f} mA, by typical operation, through {resistors[0].ref}",
                   (TYPICAL_BAND, *rests_on))


def _resistor(part: Part, checked: Checked) -> Iterator[Expected]:
    ohms, state = part.reading.ohms, checked.state
    if not ohms:
        return
    percent = max(part.reading.tolerance_pct or RESISTOR_BAND.value, LEAST_BAND_PCT)
    yield Expected(part.ref, "ohms", ohms, *around(ohms, percent), "ohm", "resistor",
                   f"{part.marking}, within {percent:g} %; in circuit it may read lower", (RESISTOR_BAND,))
    if state is None or state.solved is None:
        return
    node = next((n for n in state.nodes if n.through == part.ref and n.source), None)
    if node is not None and node.source and series_of(node, checked.unit):
        volts = state.loaded_v(node.source) - state.loaded_v(node.id)
        yield Expected(part.ref, "volts", volts, *around(volts, 2 * node_band(state).value), "V", "resistor",
                       f"between {node.source} and {node.id}", (node_band(state), *state.rests_on))


def _choke(part: Part, checked: Checked) -> Iterator[Expected]:
    if part.reading.ohms:
        yield Expected(part.ref, "ohms", part.reading.ohms, *around(part.reading.ohms, WINDING_BAND.value), "ohm",
                       "choke", "as marked, cold", (WINDING_BAND,))


def _capacitor(part: Part, checked: Checked) -> Iterator[Expected]:
    if len(part.reading.sections) != 1:
        return
    uf, volts = part.reading.sections[0]
    role = checked.roles.get(part.role or "")
    low, high = band_pct(part, role)
    yield Expected(part.ref, "uf", uf, uf * (1 + low / 100), uf * (1 + high / 100), "µF", "capacitor",
                   f"{part.marking}, {low:+g}/{high:+g} %", tuple(role.values()) if role else ())
    if not is_electrolytic(part, role):
        yield Expected(part.ref, "leakage_a", None, None, LEAK_A.value, "A", "capacitor",
                       "film, paper or mica must not leak", (LEAK_A,))
        return
    if volts and volts > 100:
        most = float(leakage_of_new(uf * 1e-6, volts))
        yield Expected(part.ref, "leakage_a", None, None, most, "A", "capacitor",
                       "what a new one may leak after five minutes at its rated volts", (OLD_TAN_DELTA,))
    if volts and volts >= 350:
        most = 2 * float(esr(OLD_TAN_DELTA.value, uf * 1e-6))
        yield Expected(part.ref, "esr_ohm", None, None, most, "ohm", "capacitor",
                       "twice the most of a new one at 120 Hz", (OLD_TAN_DELTA,))
