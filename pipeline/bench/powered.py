"""Steps of a bring-up under power: bias first, then by lamp, by variable transformer or with neither."""

from collections.abc import Iterator, Sequence

from pipeline.bench.causes import causes_of
from pipeline.bench.expected import Expected, expected, node_band
from pipeline.bench.knowledge import Row
from pipeline.bench.steps import (
    AT_LAST,
    AT_LAST_ON_BATTERY,
    BIAS_FIRST,
    FIRST_WATCH,
    LAMP,
    NEITHER,
    ON_LAMP,
    TUBE_ROWS,
    VARIABLE,
    Step,
    rows_of,
)
from pipeline.checks.check import Checked
from pipeline.electrics.heaters import volts_behind_lamp
from pipeline.electrics.safety import series_lamp, series_lamp_fault_current
from pipeline.point.charge import running_current
from pipeline.point.supply import SupplyState
from pipeline.point.what_if import stepped
from pipeline.point.wiring import Wired
from pipeline.records import replace
from pipeline.unit import Part

WRITTEN_DOWN = ("dc_v", "ac_v", "cathode_v", "heater_v", "plate_v", "screen_v", "grid_v")
"""Readings of the last step."""
LOOKED_INTO = ("dc_v", "cathode_v", "grid_v")
"""Readings of which the steps say what to look for; `compare` says it of all."""
Pins = dict[str, dict[str, str]]
"""Ref → electrode → the number of its pin."""


def tube_rectifier(checked: Checked) -> Part | None:
    """The main supply's rectifier where it is a tube."""
    state = checked.state
    return state.device.part if state is not None and state.device.kind == "tube" else None


def set_watts(checked: Checked) -> float | None:
    """What the set takes from the wall, by the estimate of the fuse check; None where it cannot be told."""
    if checked.state is None:
        return None
    amps = running_current(checked.unit, checked.point.states, checked.mains)
    return None if amps is None else amps * checked.mains.today_v * checked.point.allowances["power factor"].value


def fixed_bias(checked: Checked) -> list[Wired]:
    """The sections whose grids stand at a node of a bias supply, or at given negative volts, and can be pulled."""
    bias = {n.id for s in checked.point.states if s.sign < 0 for n in s.nodes}
    return [w for w in checked.point.wired if checked.unit.string_of(w.part) is None
            and (w.grid.to in bias or (w.grid_v or 0.0) < 0)]


def bias_first(checked: Checked, pins: Pins) -> list[Step]:
    """The bias supply proved with the output tubes out; nothing where every tube biases itself."""
    fixed = fixed_bias(checked)
    if not fixed:
        return []
    refs = list(dict.fromkeys(w.place.ref for w in fixed))
    negative = {n.id for s in checked.point.states if s.sign < 0 for n in s.nodes}
    expect = tuple(x._replace(beside="") for x in expected(checked) if (x.at in negative and x.reading == "dc_v")
                   or (x.reading == "grid_v" and x.at in {str(w.place) for w in fixed}))
    where = [f"{w.place} pin {pin}" for w in fixed if (pin := pins.get(w.place.ref, {}).get("grid"))]
    rectifier, state = tube_rectifier(checked), checked.state
    do = [f"Take {', '.join(refs)} out" + (f", and the rectifier {rectifier.ref}: then there is no B+."
                                           if rectifier else "."),
          "Power on, first as in the steps below, then at the full mains: bias read at lowered volts proves nothing."]
    if rectifier is None and state is not None and state.solved is not None:
        do.insert(1, f"B+ is up and not loaded: to {max(state.no_load_v(n.id) for n in state.nodes):.0f} V. Keep off "
                     "it; set the meter's clips with the plug out.")
    do.append("Measure from the control-grid contact of each empty socket to chassis"
              + (f": {', '.join(where)}." if where else ".") + " Turn the bias control over its whole way and back "
              "with an insulated tool: no reading may jump.")
    return [Step(BIAS_FIRST, tuple(do), checked.mains.today_v or None, 60.0, expect,
                 (_without_bias(checked, fixed),), "warming")]


def _without_bias(checked: Checked, fixed: list[Wired]) -> str:
    """What a tube would burn with its grid at chassis."""
    lost = [(w, q) for w in fixed if (q := checked.point.get(w.place.ref, "plate_w", w.place.section)) and q.lost]
    burns = f" Without bias {lost[0][0].place} burns about {lost[0][1].lost:.0f} W." if lost else ""
    return f"The output tubes stay out until every grid reads within its band.{burns}"


def standby_refs(checked: Checked) -> list[str]:
    """The switches that keep B+ from the set."""
    return list(dict.fromkeys(n.standby for s in checked.unit.supplies for n in s.nodes if n.standby))


def with_standby(steps: list[Step], checked: Checked) -> list[Step]:
    """The powered steps with the standby switch open in the first of them, and closed in the next."""
    refs, state = ", ".join(standby_refs(checked)), checked.state
    if not refs or len(steps) < 2:
        return steps
    top = f": until then the reservoir stands at up to {state.no_load_v(state.nodes[0].id):.0f} V" \
        if state is not None and state.solved is not None else ""
    steps = list(steps)
    steps[0] = replace(steps[0], do=(f"Leave the standby switch {refs} open: heaters and bias only.", *steps[0].do))
    steps[1] = replace(steps[1], do=(f"Close {refs} when the tubes have been warm for a minute{top}.", *steps[1].do))
    return steps


def powered(checked: Checked, table: dict[str, Row], way: str, notes: list[str]) -> list[Step]:
    """The steps from the first power to full mains with what the user has."""
    steps = {LAMP: _with_lamp, VARIABLE: _with_transformer, NEITHER: _with_neither}[way](checked, table, notes)
    return with_standby(steps, checked)


def volts_at(checked: Checked, ratios: Sequence[float], least_ratio: float) -> list[tuple[Expected, ...]]:
    """Readings to expect at each share of nameplate mains: from fully loaded to not loaded at all, of every supply."""
    found: list[list[Expected]] = [[] for _ in ratios]
    for state in checked.point.states:
        if state.rectified:
            main = state is checked.state
            for each, rows in zip(found, _stepped(state, ratios, least_ratio, main=main), strict=True):
                each += rows
    line = running_current(checked.unit, checked.point.states, checked.mains)
    if line is not None and checked.state is not None:
        over = checked.point.allowances["line current too high"]
        for ratio, each in zip(ratios, found, strict=True):
            share = line * ratio / checked.mains.today
            each.append(Expected("mains", "ac_a", share, 0.0, over.value * share, "A", "mains",
                                 "estimated from the loads", (over, *checked.state.rests_on)))
    return [tuple(each) for each in found]


def _stepped(state: SupplyState, ratios: Sequence[float], least_ratio: float, *, main: bool) -> list[list[Expected]]:
    """One supply's nodes at each share of the mains; the load of the main one."""
    volts, amps = stepped(state, list(ratios)) if state.solved is not None else (None, None)
    found, band = [], node_band(state)
    for i, ratio in enumerate(ratios):
        each, crest = [], state.crest_v(ratio)
        for j, node in enumerate(state.node_ids):
            weak = 0.0 if volts is None or ratio <= least_ratio else float(volts[i, j]) * (1 - band.value / 100)
            value = None if volts is None else state.sign * float(volts[i, j])
            low, high = sorted((state.sign * weak, state.sign * crest))
            each.append(Expected(node, "dc_v", value, low, high, "V", "bias node" if state.sign < 0 else "node",
                                 "from warm tubes to none drawing", (band, *state.rests_on)))
        if main and amps is not None:
            each.append(Expected("supply", "dc_a", float(amps[i]), 0.0, float(amps[i]) * (1 + band.value / 100), "A",
                                 "supply", "all tubes warm", (band, *state.rests_on)))
        found.append(each)
    return found


def _with_transformer(checked: Checked, table: dict[str, Row], notes: list[str]) -> list[Step]:
    tube = tube_rectifier(checked)
    rows = rows_of(table, TUBE_ROWS if tube else VARIABLE)
    ratios = [row["mains_pct"].value / 100 for row in rows]
    least = min(ratios) if tube and ratios else 0.0
    times, steps = checked.point.allowances["line current too high"].value, []
    for row, ratio, expect in zip(rows, ratios, volts_at(checked, ratios, least + 0.1 if tube else 0.0), strict=True):
        set_v = ratio * checked.mains.design_v
        stop = f"Turn back and look for the fault if the line current passes {times:g} times what is " \
               "expected, or a node stands outside its band."
        steps.append(Step(f"{ratio * 100:.0f} % of the nameplate's volts", (f"Set {set_v:.0f} V.",), set_v,
                          row["wait_s"].value, expect, (stop, FIRST_WATCH), "lowered" if ratio < 1 else "warming"))
    if tube:
        notes.append(f"The tube rectifier gives nothing below about {least * 100:.0f} % of the mains: its cathode is "
                     "too cold. Low volts on the dial therefore do not re-form the capacitors; do that before, out of "
                     "the set.")
    if fixed_bias(checked):
        notes.append("Bias rises with the mains: at every step the grids must follow, or the output tubes run away.")
    return steps


def _with_lamp(checked: Checked, table: dict[str, Row], notes: list[str]) -> list[Step]:
    mains, watts = checked.mains, set_watts(checked)
    lamp = None if watts is None else float(series_lamp(watts))
    ratio = None if watts is None or lamp is None else \
        float(volts_behind_lamp(mains.today_v, lamp, mains.today_v, watts, mains.design_v)) / mains.design_v
    if lamp is None:
        notes.append("What the set draws is not known, so the lamp cannot be chosen by it: take 60 W for a small "
                     "radio, 100 W for an amplifier.")
    waits = [row["wait_s"].value for row in rows_of(table, LAMP)]
    bulb = f"a {lamp:.0f} W incandescent lamp" if lamp else "the incandescent lamp"
    most = f" A dead short draws {float(series_lamp_fault_current(lamp, mains.today_v)):.2g} A." if lamp else ""
    expect = volts_at(checked, [ratio or 1.0, mains.today], 0.6 if tube_rectifier(checked) else 0.0)
    steps = [
        Step("First minute on the lamp",
             (f"Put {bulb} in series with the plug.{most} It lights for a moment, then dims.",), None, waits[0], (),
             ("A lamp that stays at full brightness for ten seconds: a short. Plug out.", FIRST_WATCH)),
        Step(ON_LAMP, (f"The set gets about {ratio * mains.design_v:.0f} V of {mains.today_v:g} V." if ratio else
                       "Measure what the set gets.",),
             ratio * mains.design_v if ratio else None, waits[1], _widened(checked, expect[0]) if ratio else (),
             ("A lamp that grows brighter again, or B+ that does not come up after two minutes.",), "lamp"),
        Step("Without the lamp", ("Plug out, discharge, take the lamp out of the way, plug in again.",), mains.today_v,
             waits[2], expect[1], (FIRST_WATCH,), "warming")]
    if ratio and ratio < 0.6 and tube_rectifier(checked):
        notes.append("Behind this lamp the tube rectifier stays too cold to conduct: no B+ is no fault yet.")
    notes.append("A lamp limits the current; it does not isolate. LED and fluorescent lamps do not serve.")
    return steps


def _widened(checked: Checked, found: tuple[Expected, ...]) -> tuple[Expected, ...]:
    """The volts behind a lamp are an estimate: the ends nearer zero are taken nearer still."""
    share = checked.point.allowances["volts behind a lamp"].value
    return tuple(x._replace(high=None if x.high is None else x.high * share) if x.place == "bias node" else
                 x._replace(low=None if x.low is None else x.low * share) for x in found)


def _with_neither(checked: Checked, table: dict[str, Row], notes: list[str]) -> list[Step]:
    rows, mains = rows_of(table, NEITHER), checked.mains
    waits = [row["wait_s"].value for row in rows]
    pulled = tube_rectifier(checked) if checked.unit.windings else None
    expect = volts_at(checked, [mains.today], 0.0)[0]
    ac = tuple(x for x in expected(checked) if x.reading == "ac_v" and x.at in (*checked.unit.windings, "secondary"))
    steps = []
    if pulled is not None:
        do = f"Pull the rectifier {pulled.ref}, switch on, look at heaters and winding volts."
        steps.append(Step("Heaters only", (do,), mains.today_v, waits[0], ac, (FIRST_WATCH, "B+ must read 0 V."),
                          "warming"))
    cold = tuple(x._replace(high=0.0) if x.place == "bias node" else x._replace(low=0.0) for x in expect)
    do = "Fit the right fuse, everything back in place, the meter on the first node, a hand on the switch. Switch on " \
         "for a minute, then off."
    steps.append(Step("First minute", (do,), mains.today_v, waits[1],
                      cold, (FIRST_WATCH, "Off at once if B+ does not rise, or rises and falls back."), "warming"))
    steps.append(Step("On", ("Switch on again and stay with it.",), mains.today_v, waits[2], expect, (FIRST_WATCH,),
                      "warming"))
    notes.append("Without lamp or variable transformer only the fuse guards the set: replace every old electrolytic "
                 "first. A series lamp costs a socket and an incandescent bulb.")
    if not checked.unit.windings:
        notes.append("In a series string no tube can be pulled: the whole string goes cold.")
    return steps


def without_mains(checked: Checked) -> list[Step]:
    """A set on batteries or a vibrator: filaments before B+, and what they get before the tubes go in."""
    found = expected(checked)
    heats = {s.supply.heats for s in checked.point.states if s.supply.heats}
    low = {n.id for s in checked.point.states if s.supply.heats for n in s.nodes}
    filaments = tuple(x for x in found if x.at in heats | low | set(checked.unit.windings) and x.reading in (
        "dc_v", "ac_v"))
    nodes = tuple(x for x in found if x.at in checked.unit.nodes and x.at not in low and x.reading == "dc_v")
    vibrator = any(s.supply.source == "vibrator" for s in checked.point.states)
    do = ["Take the tubes out. Connect what feeds the filaments, mind its poles, and measure at the sockets.",
          "Then what feeds B+, by itself: between the filament contacts of every socket there must be no B+."]
    steps = [Step("Filament volts, before the tubes go in", tuple(do), None, 60.0, filaments,
                  ("Tubes stay out until no filament contact shows more than its volts: B+ there burns them all.",),
                  "warming")]
    if vibrator:
        steps[0] = replace(steps[0], do=("Renew the buffer capacitor before any power: with a bad one the vibrator's "
                                         "contacts burn.", "Fit the fuse that the set is rated for.", *do[:1]))
    steps.append(Step("With the tubes", ("Everything off, tubes in, filaments first, then B+ through its fuse.",), None,
                      600.0, nodes, (FIRST_WATCH,), "warming"))
    return steps


def at_last(checked: Checked, table: dict[str, Row]) -> Step:
    """What to read once the set is warm at full mains, with the bands `compare` judges by."""
    chained = {p.ref for n in checked.unit.nodes.values() for chain in n.capacitors if len(chain) > 1 for p in chain}
    expect = tuple(x for x in expected(checked) if (x.reading in WRITTEN_DOWN and (
        x.value is not None or x.reading == "grid_v")) or (x.reading == "volts" and x.at in chained))
    return Step(AT_LAST if checked.unit.mains_v else AT_LAST_ON_BATTERY,
                ("Read these and let `compare` judge them: `bringup --format csv` makes the file to fill in.",),
                checked.mains.today_v if checked.unit.mains_v else None, None, expect,
                ("Any plate that glows: off at once.",), otherwise=tuple(otherwise(checked, expect, table)))


def otherwise(checked: Checked, expect: Sequence[Expected], table: dict[str, Row]) -> Iterator[str]:
    """For each kind of place and reading the likeliest cause on either side of the band, and what to measure then."""
    kinds: dict[tuple[str, str, bool], list[Expected]] = {}
    for x in expect:
        if x.reading in LOOKED_INTO and not (x.reading == "grid_v" and (x.value or 0.0) > 0):
            kinds.setdefault((x.place, x.reading, (x.high or 0.0) < 0), []).append(x)
    for (_, reading, _), rows in kinds.items():
        for side in ("low", "high"):
            causes = causes_of(rows[0], side, checked, table)
            if causes and not (side == "low" and all(x.low is None for x in rows)):
                where = ", ".join(dict.fromkeys(x.at for x in rows[:4])) + (" …" if len(rows) > 4 else "")
                what = {"cathode_v": "cathode ", "grid_v": "grid "}.get(reading, "")
                yield f"{where} {what}{side_of(rows[0], side)}: {causes[0].cause}. Next: {causes[0].measure_next}."


def side_of(found: Expected, side: str) -> str:
    """`low` and `high` in words; of negative volts what is high is not negative enough."""
    if (found.high or 0.0) < 0 or found.place == "bias node":
        return {"low": "too negative", "high": "not negative enough"}.get(side, side)
    return side
