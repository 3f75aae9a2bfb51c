"""Bring-up and comparison as a person reads them at the bench, as JSON and as CSV."""

from collections.abc import Sequence

from pipeline.amounts import amount as exact
from pipeline.amounts import scale, written
from pipeline.bench.bringup import BringUp, Step, expected_dict
from pipeline.bench.compare import Compared, Comparison
from pipeline.bench.expected import Expected
from pipeline.bench.powered import side_of
from pipeline.bench.steps import BATTERY
from pipeline.output.page import CAUTIONS, paint, table, wrapped
from pipeline.output.tables import as_csv, as_json
from pipeline.unit import Place

_STEP_COLUMNS = ["step", "title", "condition", "set_v", "wait_s", "at", "reading", "value", "low", "high", "unit",
                 "why", "evidence", "read"]
_COMPARED = ["at", "reading", "value", "verdict", "low", "high", "unit", "expected", "causes", "measure_next",
             "evidence"]
_READING_WORDS = {
    "dc_v": "DC volts", "ac_v": "AC volts", "ripple_v": "ripple p-p", "cathode_v": "cathode", "plate_v": "plate",
    "screen_v": "screen", "grid_v": "grid", "heater_v": "heater", "volts": "volts across", "ohms": "ohms",
    "ohms_to_chassis": "ohms to chassis", "uf": "capacitance", "leakage_a": "leakage", "esr_ohm": "ESR",
    "dc_a": "DC current", "ac_a": "AC current"}
_UNITS = {"_a": "A", "uf": "µF", "ohm": "ohm", "ohms": "ohm", "chassis": "ohm"}
"""Unit of a reading by the end of its name; all others are volts."""


def print_bringup(made: BringUp, format: str) -> None:
    """Print the steps as text or JSON, or every reading to expect as CSV with an empty column to fill in."""
    if format == "json":
        print(as_json(made.as_dict() | {"cautions": CAUTIONS}), end="")
    elif format == "csv":
        rows = [{"step": i, "title": s.title, "condition": s.condition, "set_v": s.set_v, "wait_s": s.wait_s,
                 "read": ""} | x
                for i, s in enumerate(made.steps, 1) for x in [expected_dict(e) for e in s.expect] or [{}]]
        print(as_csv(rows, _STEP_COLUMNS), end="")
    else:
        print(_bringup_text(made), end="")


def _bringup_text(made: BringUp) -> str:
    blocks = [paint(wrapped(f"{made.unit}: first power-up with {_with(made.way)}"), "head")]
    if made.mend_first:
        blocks.append(paint(wrapped(made.notes[0]), "stop"))
    notes = made.notes[1 if made.mend_first else 0:]
    blocks += [wrapped(CAUTIONS), *(["\n".join(wrapped(note, 4, "  - ") for note in notes)] if notes else [])]
    said: set[str] = set()
    for i, step in enumerate(made.steps, 1):
        blocks.append(_step(i, step, [x for x in step.stop if x not in said]))
        said.update(step.stop)
    return "\n\n".join(blocks) + "\n"


def _with(way: str) -> str:
    return {"neither": "neither lamp nor variable transformer", BATTERY: BATTERY}.get(way, f"a {way}")


def _step(number: int, step: Step, stop: list[str]) -> str:
    """One step; `stop` holds those of its warnings that were not printed before."""
    lines = [paint(wrapped(f"{number}. {step.title}"), "head")]
    lines += [wrapped(x, 3, "   ") for x in step.do]
    if step.expect:
        lines.append(table([_expect(x) for x in step.expect], 5))
    for why, places in beside(step).items():
        lines.append(wrapped(f"{', '.join(places)}: as it stands now, not to be aimed at: {why}", 5, "     "))
    if step.wait_s:
        lines.append(f"   Wait {duration(step.wait_s)}.")
    lines += [wrapped("Stop: " + x, 9, "   ") for x in stop]
    lines += [wrapped(x, 13, "   If not: " if i == 0 else " " * 11) for i, x in enumerate(step.otherwise)]
    return "\n".join(lines)


def beside(step: Step) -> dict[str, list[str]]:
    """The findings that stop what a step would read → the places where it would."""
    found: dict[str, list[str]] = {}
    for x in step.expect:
        if x.beside and x.at not in found.setdefault(x.beside, []):
            found[x.beside].append(x.at)
    return found


def _expect(found: Expected) -> tuple[str, ...]:
    return (found.at, _READING_WORDS.get(found.reading, found.reading), band(found),
            "" if found.value is None else f"about {amount(found.value, found.unit)}", "[      ]")


def band(found: Expected) -> str:
    """The band in words: `380 to 420 V`, `at least 10 kohm`."""
    ends = [x for x in (found.low, found.high) if x is not None]
    factor, unit = scale(max(ends, key=abs, default=0.0), found.unit, found.reading)
    low, high = (None if x is None else written(x * factor, 3) for x in (found.low, found.high))
    if low is None or (high is not None and found.low == 0):
        return "" if high is None else f"at most {high} {unit}"
    return f"at least {low} {unit}" if high is None else f"{low} to {high} {unit}"


def amount(value: float, unit: str) -> str:
    """About how much: whole numbers from 100 up, else the two figures that such an estimate is good for."""
    factor, name = scale(value, unit)
    return f"{written(value * factor, 3 if abs(value * factor) >= 100 else 2)} {name}".rstrip()


def duration(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 60 else f"{seconds:.0f} s"


def print_compared(found: Comparison, format: str) -> None:
    """Print the comparison as text, JSON or CSV."""
    if format == "json":
        print(as_json(found.as_dict() | {"cautions": CAUTIONS}), end="")
    elif format == "csv":
        print(as_csv([_compared_row(r) for r in found.rows], _COMPARED), end="")
    else:
        print(_compared_text(found), end="")


def _compared_row(row: Compared) -> dict:
    known = expected_dict(row.expected) if row.expected else {}
    return {"at": _place(row), "reading": row.reading.reading, "value": row.reading.value, "verdict": row.verdict,
            "low": known.get("low"), "high": known.get("high"), "unit": known.get("unit"),
            "expected": known.get("value"), "causes": [c.cause for c in row.causes],
            "measure_next": [c.measure_next for c in row.causes], "evidence": known.get("evidence")}


def _compared_text(found: Comparison) -> str:
    out = [(r, r.expected) for r in found.rows if r.verdict in ("low", "high") and r.expected is not None]
    within = [r for r in found.rows if r.verdict == "within"]
    unknown = [r for r in found.rows if r.verdict == "unknown"]
    blocks = [paint(wrapped(found.unit), "head"), *(_out(r, known) for r, known in out)]
    if within:
        blocks.append(paint("WITHIN", "pass") + "\n" + table([_within(r) for r in within]))
    if unknown:
        blocks.append(paint("NOTHING TO COMPARE WITH", "unknown") + "\n" + table([_within(r) for r in unknown]))
    if found.course:
        rows = [(_place(each[0]), _READING_WORDS.get(each[0].reading.reading, each[0].reading.reading), _course(each))
                for each in found.course]
        blocks.append(paint("BEFORE AND AFTER", "head") + "\n" + table(rows))
    if found.findings:
        lines = [wrapped(f"{f.verdict}: {f.why}" + (f" {f.do}" if f.do else ""), 8, f"  {f.subject:<5} ")
                 for f in found.findings]
        blocks.append(paint("WITH THESE READINGS THE CHECKS SAY", "head") + "\n" + "\n".join(lines))
    tally = [(len(out), "out of band"), (len(within), "within"), (len(unknown), "with nothing to compare with")]
    last = "; ".join(f"{count} {words}" for count, words in tally if count)
    return "\n\n".join([*blocks, wrapped(CAUTIONS), paint(wrapped(last or "no readings"), "head")]) + "\n"


def _out(row: Compared, expected: Expected) -> str:
    head = (f"{_place(row)} {_READING_WORDS.get(row.reading.reading, row.reading.reading)}: "
            f"{exact(row.reading.value, expected.unit)}, {side_of(expected, row.verdict)}; expected {band(expected)} "
            f"({expected.why})")
    lines = [paint(wrapped(head, 4), "stop")]
    for number, cause in enumerate(row.causes, 1):
        lines.append(wrapped(f"{cause.cause}. Measure: {cause.measure_next}.", 7, f"    {number}. "))
    if row.causes:
        grade = {c.evidence for c in row.causes}
        lines.append(f"    ({'trade practice' if grade == {'practice'} else ', '.join(sorted(grade))})")
    return "\n".join(lines)


def _course(each: Sequence[Compared]) -> str:
    """A quantity day by day: `318 V low (2026-10-03, AB), 402 V (2026-11-20)`."""
    days, mains_of = [], {c.reading.mains for c in each}
    for c in each:
        verdict = f" {side_of(c.expected, c.verdict)}" if c.expected and c.verdict in ("low", "high") else ""
        about = ", ".join(x for x in (c.reading.date or "no date", c.reading.by) if x)
        cold = " cold" if c.reading.condition == "cold" else ""
        mains = f" at {c.reading.mains:g} V mains" if c.reading.mains and len(mains_of) > 1 else ""
        days.append(f"{exact(c.reading.value, _unit(c))}{verdict} ({about}{cold}{mains})")
    return ", then ".join(days)


def _unit(row: Compared) -> str:
    return row.expected.unit if row.expected else unit_of(row.reading.reading)


def _place(row: Compared) -> str:
    return str(Place(row.reading.at, row.reading.section))


def _within(row: Compared) -> tuple[str, ...]:
    unit = _unit(row)
    step = "" if row.reading.condition == "full" else row.reading.note.partition(":")[0] or row.reading.condition
    return (_place(row), _READING_WORDS.get(row.reading.reading, row.reading.reading),
            exact(row.reading.value, unit), band(row.expected) if row.expected else "", step)


def reading_words(name: str) -> str:
    """A reading's name in words: `DC volts`, `ohms to chassis`."""
    return _READING_WORDS.get(name, name.replace("_", " "))


def unit_of(reading: str) -> str:
    """The unit a reading is kept in."""
    return next((unit for end, unit in _UNITS.items() if reading.endswith(end)), "V")
