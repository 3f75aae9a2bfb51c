"""The first power-up in steps: what to measure before, what to set, how long to wait, what to expect, when to stop."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from pipeline.bench.expected import Expected, expected, node_band
from pipeline.bench.knowledge import Row, figures_of
from pipeline.bench.policy import is_electrolytic
from pipeline.catalogue import Catalogue, CatalogueError, Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import weakest
from pipeline.electrics.heaters import cold_ratio, volts_behind_lamp
from pipeline.electrics.safety import SAFE_DC_V, series_lamp, series_lamp_fault_current
from pipeline.point.charge import bleeder_ohm, drain_s, held_uf, running_current
from pipeline.point.heaters import heaters_of_string
from pipeline.point.supply import SupplyState
from pipeline.unit import Part

LAMP, VARIABLE, NEITHER = "series lamp", "variable transformer", "neither"
WAYS = {"lamp": LAMP, "variable transformer": VARIABLE, "none": NEITHER}
TUBE_ROWS = "variable transformer, tube rectifier"
DISCHARGE_OHM = 10_000.0
"""Resistor of a discharge probe, 5 W (practice: 1 to 10 kohm)."""
SHORT_OHM = Figure("B+ to chassis", "ohms", 10_000.0, "ohm", "practice", "service-practice",
                   note="below it look for the short before power")
LAMP_RULE = Figure("series lamp", "watts over the set's", 1.25, "1", "practice", "restoration-practice",
                   note="one to two times the set's watts")
OVER_CURRENT = 1.5
"""Line current this many times what is expected means stop (practice)."""
POWER_FACTOR = 0.9
BEHIND_LAMP = 0.7
"""Lower ends behind a lamp are taken at this share: a lamp's volts are an estimate (practice)."""
COLD_SPREAD = 2.0
"""Cold heaters are only known within this factor: wire temperatures vary (recalled)."""
BEFORE_POWER, ON_LAMP = "Before power: resistances", "On the lamp"
AT_LAST = "Warm, at full mains: write these down"
"""Titles of steps that `compare` knows."""
_FIRST_WATCH = "Switch off at once for smoke, a smell of hot varnish or wax, a red plate, a hiss, or a fuse that goes."


@dataclass(frozen=True)
class Step:
    """One step: what to do, mains volts to set, how long to wait, readings to expect, and when to stop."""

    title: str
    do: tuple[str, ...]
    set_v: float | None = None
    wait_s: float | None = None
    expect: tuple[Expected, ...] = ()
    stop: tuple[str, ...] = ()
    condition: str = "full"
    """What a reading of this step was taken in, as files of readings name it."""


@dataclass
class BringUp:
    """All steps of a unit's first power-up with what the user has."""

    unit: str
    way: str
    steps: list[Step] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    rests_on: tuple[Figure, ...] = ()
    mend_first: tuple[str, ...] = ()
    """What must be mended before the set is switched on."""

    def as_dict(self) -> dict[str, Any]:
        return {"unit": self.unit, "with": self.way, "mend_first": list(self.mend_first), "notes": self.notes,
                "evidence": weakest(f.evidence for f in self.rests_on),
                "steps": [{"step": i, "title": s.title, "do": list(s.do), "condition": s.condition,
                           "set_v": rounded(s.set_v), "wait_s": s.wait_s,
                           "stop": list(s.stop), "expect": [expected_dict(x) for x in s.expect]}
                          for i, s in enumerate(self.steps, 1)]}


def expected_dict(found: Expected) -> dict[str, Any]:
    """A reading to expect under the names of the JSON output."""
    return {"at": found.at, "reading": found.reading, "value": rounded(found.value), "low": rounded(found.low),
            "high": rounded(found.high), "unit": found.unit, "why": found.why,
            "evidence": weakest(f.evidence for f in found.rests_on)}


def rounded(value: float | None) -> float | None:
    return None if value is None else float(f"{value:.4g}")


def read_way(text: str) -> str:
    """What one has, from `lamp`, `variable transformer` or `none`; raises ValueError for another word."""
    word = " ".join(text.lower().replace("-", " ").replace("_", " ").split())
    if word in ("lamp", "series lamp", "bulb", "lamp limiter"):
        return LAMP
    if word in ("variable transformer", "variable", "variac", "autotransformer"):
        return VARIABLE
    if word in ("none", "neither", "nothing"):
        return NEITHER
    raise ValueError(f"{text[:30]!r} is not known: one of {', '.join(WAYS)}")


def bring_up(checked: Checked, catalogue: Catalogue, way: str) -> BringUp:
    """The steps for a checked unit with what the user has: `LAMP`, `VARIABLE` or `NEITHER`.

    Raises CatalogueError where the catalogue is older than the table of steps.
    """
    made = BringUp(checked.unit.name, way)
    table = figures_of(catalogue, "bringup_steps")
    if not all(_rows(table, name) for name in (LAMP, VARIABLE, TUBE_ROWS, NEITHER)):
        raise CatalogueError(f"{catalogue.folder}: no steps of bring-up in this catalogue: run `tubewright build`")
    made.steps = [_before_power(checked), _discharge(checked)]
    powered = {LAMP: _with_lamp, VARIABLE: _with_transformer, NEITHER: _with_neither}[way]
    made.steps += powered(checked, table, made.notes)
    made.steps.append(_at_last(checked))
    _notes(checked, catalogue, made)
    found = [f for step in made.steps for x in step.expect for f in x.rests_on]
    made.rests_on = tuple(dict.fromkeys([*found, *(f for row in table.values() for f in row.values())]))
    return made


def _before_power(checked: Checked) -> Step:
    """Resistance checks with the plug out."""
    expect, state = [x for x in expected(checked) if x.reading == "ohms"], checked.state
    for string in checked.unit.strings.values():
        heaters = heaters_of_string(string, checked.unit)
        if heaters:
            ohms = sum(h.volts.value / h.amps.value for h in heaters) * float(cold_ratio())
            expect.append(Expected(string.id, "ohms", ohms, ohms / COLD_SPREAD, ohms * COLD_SPREAD, "ohm", "string",
                                   "all heaters of the string, cold: what matters is whether it is open",
                                   tuple(h.volts for h in heaters)))
    if state is not None:
        expect += _to_chassis(state)
    do = ["Plug out. Look for burnt parts, bare cord, wax run out, swollen cans; fit the tubes in their own places.",
          "Measure these with the set off and every capacitor discharged."]
    if checked.unit.strings or not checked.unit.windings:
        do.append("No power transformer: the chassis is joined to the line. Work only behind an isolating transformer.")
    else:
        do.append("From either plug pin to chassis the meter shows no less than 1 Mohm.")
    return Step(BEFORE_POWER, tuple(do), condition="cold", expect=tuple(expect),
                stop=("Do not go on while B+ to chassis stays low, a winding or the heater string is open, or the cord "
                      "touches the chassis.",))


def _to_chassis(state: SupplyState) -> Iterator[Expected]:
    for node in state.nodes:
        ohms = bleeder_ohm(state, node.id)
        low = SHORT_OHM.value if ohms is None else min(SHORT_OHM.value, 0.8 * ohms)
        yield Expected(node.id, "ohms_to_chassis", ohms, low, None, "ohm", "node",
                       "red lead on the node, wait until the capacitors have charged", (SHORT_OHM,))


def _discharge(checked: Checked) -> Step:
    do = [f"After every power-up: plug out, wait, then a {DISCHARGE_OHM / 1000:g} kohm 5 W resistor on an insulated "
          "probe from each node to chassis, one hand in the pocket.",
          f"Measure: it is done when every node reads below {SAFE_DC_V:g} V. Measure again after a minute: capacitors "
          "climb by themselves."]
    do += _discharge_times(checked.state) if checked.state is not None else ()
    return Step("Discharge, and how to know", tuple(do))


def _discharge_times(state: SupplyState) -> Iterator[str]:
    """Volts, charge and time of each node: with the probe, and by itself."""
    for node, uf in held_uf(state).items():
        volts, ohms = state.no_load_v(node), bleeder_ohm(state, node)
        alone = f"by its own bleeder in {drain_s(state, node, ohms):.0f} s" if ohms else "by itself perhaps never"
        yield (f"{node}: up to {volts:.0f} V on {uf:g} µF; below {SAFE_DC_V:g} V with the probe in "
               f"{max(drain_s(state, node, DISCHARGE_OHM), 0.1):.1f} s, {alone}.")


def _powered(checked: Checked, ratios: list[float], least_ratio: float) -> list[tuple[Expected, ...]]:
    """Readings to expect at each share of nameplate mains: from fully loaded to not loaded at all."""
    state, mains = checked.state, checked.mains
    if state is None:
        return [() for _ in ratios]
    line = running_current(checked.unit, checked.point.states, mains)
    volts, amps = state.stepped(ratios) if state.solved is not None else (None, None)
    found = []
    for i, ratio in enumerate(ratios):
        each: list[Expected] = []
        for j, node in enumerate(state.nodes):
            crest = state.crest_v(ratio)
            low = 0.0 if volts is None or ratio <= least_ratio else volts[i, j] * (1 - node_band(state).value / 100)
            value = None if volts is None else float(volts[i, j])
            each.append(Expected(node.id, "dc_v", value, float(low), crest, "V", "node",
                                 "from warm tubes to none drawing", (node_band(state), *state.rests_on)))
        if amps is not None:
            each.append(Expected("supply", "dc_a", float(amps[i]), 0.0, float(amps[i]) * 1.2, "A", "supply",
                                 "all tubes warm", state.rests_on))
        if line is not None:
            share = line * ratio / mains.today
            each.append(Expected("mains", "ac_a", share, 0.0, OVER_CURRENT * share, "A", "mains",
                                 "estimated from the loads", state.rests_on))
        found.append(tuple(each))
    return found


def _with_transformer(checked: Checked, table: dict[str, Row], notes: list[str]) -> list[Step]:
    tube = _tube_rectifier(checked)
    rows = _rows(table, TUBE_ROWS if tube else VARIABLE)
    ratios = [row["mains_pct"].value / 100 for row in rows]
    least = min(ratios) if tube and ratios else 0.0
    steps = []
    for row, ratio, expect in zip(rows, ratios, _powered(checked, ratios, least + 0.1 if tube else 0.0), strict=True):
        set_v = ratio * checked.mains.design_v
        stop = f"Turn back and look for the fault if the line current passes {OVER_CURRENT:g} times what is " \
               "expected, or a node stands outside its band."
        steps.append(Step(f"{ratio * 100:.0f} % of the nameplate's volts", (f"Set {set_v:.0f} V.",), set_v,
                          row["wait_s"].value, expect, (stop, _FIRST_WATCH), "lowered" if ratio < 1 else "warming"))
    if tube:
        notes.append(f"The tube rectifier gives nothing below about {least * 100:.0f} % of the mains: its cathode is "
                     "too cold. Low volts on the dial therefore do not re-form the capacitors; do that before, out of "
                     "the set.")
    return steps


def _with_lamp(checked: Checked, table: dict[str, Row], notes: list[str]) -> list[Step]:
    mains, watts = checked.mains, set_watts(checked)
    if watts is None:
        notes.append("What the set draws is not known, so the lamp cannot be chosen by it: take 60 W for a small "
                     "radio, 100 W for an amplifier.")
        lamp, ratio = None, None
    else:
        lamp = float(series_lamp(watts))
        ratio = float(volts_behind_lamp(mains.today_v, lamp, mains.today_v, watts, mains.design_v)) / mains.design_v
    rows = _rows(table, LAMP)
    waits = [row["wait_s"].value for row in rows]
    bulb = f"a {lamp:.0f} W incandescent lamp" if lamp else "the incandescent lamp"
    most = f" A dead short draws {float(series_lamp_fault_current(lamp, mains.today_v)):.2g} A." if lamp else ""
    expect = _powered(checked, [ratio or 1.0, mains.today], 0.6 if _tube_rectifier(checked) else 0.0)
    steps = [
        Step("First minute on the lamp",
             (f"Put {bulb} in series with the plug.{most} It lights for a moment, then dims.",), None, waits[0], (),
             ("A lamp that stays at full brightness for ten seconds: a short. Plug out.", _FIRST_WATCH)),
        Step(ON_LAMP, (f"The set gets about {ratio * mains.design_v:.0f} V of {mains.today_v:g} V." if ratio else
                             "Measure what the set gets.",),
             ratio * mains.design_v if ratio else None, waits[1], _widened(expect[0]) if ratio else (),
             ("A lamp that grows brighter again, or B+ that does not come up after two minutes.",), "lamp"),
        Step("Without the lamp", ("Plug out, discharge, take the lamp out of the way, plug in again.",), mains.today_v,
             waits[2], expect[1], (_FIRST_WATCH,), "warming")]
    if ratio and ratio < 0.6 and _tube_rectifier(checked):
        notes.append("Behind this lamp the tube rectifier stays too cold to conduct: no B+ is no fault yet.")
    notes.append("A lamp limits the current; it does not isolate. LED and fluorescent lamps do not serve.")
    return steps


def _widened(found: tuple[Expected, ...]) -> tuple[Expected, ...]:
    """The volts behind a lamp are an estimate: the lower ends are taken lower."""
    return tuple(x._replace(low=None if x.low is None else x.low * BEHIND_LAMP) for x in found)


def _with_neither(checked: Checked, table: dict[str, Row], notes: list[str]) -> list[Step]:
    rows, mains = _rows(table, NEITHER), checked.mains
    waits = [row["wait_s"].value for row in rows]
    pulled = _tube_rectifier(checked) if checked.unit.windings else None
    expect = _powered(checked, [mains.today], 0.0)[0]
    ac = tuple(x for x in expected(checked) if x.reading == "ac_v" and x.at in (*checked.unit.windings, "secondary"))
    steps = []
    if pulled is not None:
        do = f"Pull the rectifier {pulled.ref}, switch on, look at heaters and winding volts."
        steps.append(Step("Heaters only", (do,), mains.today_v, waits[0], ac, (_FIRST_WATCH, "B+ must read 0 V."),
                          "warming"))
    cold = tuple(x._replace(low=0.0) for x in expect)
    do = "Fit the right fuse, everything back in place, the meter on the first node, a hand on the switch. Switch on " \
         "for a minute, then off."
    steps.append(Step("First minute", (do,), mains.today_v, waits[1],
                      cold, (_FIRST_WATCH, "Off at once if B+ does not rise, or rises and falls back."), "warming"))
    steps.append(Step("On", ("Switch on again and stay with it.",), mains.today_v, waits[2], expect, (_FIRST_WATCH,),
                      "warming"))
    notes.append("Without lamp or variable transformer only the fuse guards the set: replace every old electrolytic "
                 "first. A series lamp costs a socket and an incandescent bulb.")
    if not checked.unit.windings:
        notes.append("In a series string no tube can be pulled: the whole string goes cold.")
    return steps


def _at_last(checked: Checked) -> Step:
    """What to read once the set is warm at full mains, with the bands `compare` judges by."""
    wanted = ("dc_v", "ac_v", "cathode_v", "heater_v", "plate_v", "grid_v")
    expect = tuple(x for x in expected(checked)
                   if x.reading in wanted and (x.value is not None or x.reading == "grid_v"))
    return Step(AT_LAST,
                ("Read these and let `compare` judge them: `bringup --format csv` makes the file to fill in.",),
                checked.mains.today_v, None, expect, ("Any plate that glows: off at once.",))


def _notes(checked: Checked, catalogue: Catalogue, made: BringUp) -> None:
    state = checked.state
    if state is None:
        made.notes.append("unit.toml describes no supply: the volts to expect are not known.")
    elif state.solved is None:
        made.notes.append(f"Volts under load are not known: {state.missing}. {state.mend}".strip())
    made.mend_first = tuple(sorted({f.subject for f in checked.findings if f.verdict == "stop"}))
    if made.mend_first:
        made.notes.insert(0, f"Do not switch on yet: {', '.join(made.mend_first)} must be mended first (see `check`).")
    made.notes += _reforming(checked, figures_of(catalogue, "reforming"))


def _reforming(checked: Checked, table: dict[str, Row]) -> list[str]:
    """How to re-form old electrolytics that are kept, for each rated volts in the unit."""
    rated: dict[float, list[str]] = {}
    stopped = {f.subject for f in checked.findings if f.check == "capacitor-kind" and f.verdict == "stop"}
    for part in checked.unit.parts.values():
        role = checked.roles.get(part.role or "")
        if part.kind == "capacitor" and part.ref not in stopped and is_electrolytic(part, role):
            for section in part.reading.sections:
                if section.volts_dc and part.ref not in rated.setdefault(section.volts_dc, []):
                    rated[section.volts_dc].append(part.ref)
    notes = []
    for volts, refs in sorted(rated.items()):
        row = reforming_row(volts, table)
        if row is not None:
            ohms, most, hours = row["series_ohm"].value, row["most_a"].value, row["hold_s"].value / 3600
            at_once = f"; stepped there at once {volts / ohms * 1000:.2g} mA could flow, so raise the volts slowly" \
                if volts / ohms > most else ""
            notes.append(f"Re-forming of {', '.join(refs)} ({volts:g} V), if kept: out of the set, through "
                         f"{ohms / 1000:g} kohm, below {most * 1000:g} mA, {hours:g} h at {volts:g} V{at_once}.")
    return notes


def reforming_row(rated_v: float, table: dict[str, Row]) -> Row | None:
    """The row for a part of these rated volts; None above the table."""
    return next((table[limit] for limit in sorted(table, key=float) if rated_v <= float(limit)), None)


def _rows(table: dict[str, Row], way: str) -> list[Row]:
    """The steps of one way, in their order."""
    found = [(float(s.rsplit("/", 1)[1]), row) for s, row in table.items() if s.rsplit("/", 1)[0] == way]
    return [row for _, row in sorted(found, key=lambda pair: pair[0])]


def _tube_rectifier(checked: Checked) -> Part | None:
    """The supply's rectifier where it is a tube."""
    state = checked.state
    return state.device.part if state is not None and state.device.kind == "tube" else None


def set_watts(checked: Checked) -> float | None:
    """What the set takes from the wall, by the estimate of the fuse check; None where it cannot be told."""
    if checked.state is None:
        return None
    amps = running_current(checked.unit, checked.point.states, checked.mains)
    return None if amps is None else amps * checked.mains.today_v * POWER_FACTOR
