"""Readings against what was expected: each in or out of its band, what it commonly comes from, what to measure next."""

from collections.abc import Iterator, Sequence
from typing import Any

from pipeline.bench.bringup import BEFORE_POWER, ON_LAMP, WAYS, bring_up, expected_dict, rounded
from pipeline.bench.causes import Cause, causes_of
from pipeline.bench.expected import ELECTRODES, Expected, expected
from pipeline.bench.knowledge import figures_of
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked, check
from pipeline.checks.findings import Finding
from pipeline.records import OpenRecord, Record, field, replace
from pipeline.unit import Place, Unit, UnitReading
from pipeline.unit.readings import OF_THE_PART

_STEP_OF = {"lamp": ON_LAMP, "cold": BEFORE_POWER}
"""Condition of a reading → the step that says what to expect then, where its note names none."""
MEASURED = ("plate_v", "screen_v", "cathode_v", "grid_v", "heater_v", "volts", "leakage_a", "uf", "esr_ohm", "ohms")
"""Readings that a part's `measured` cell holds."""


class Compared(Record):
    """One reading: `verdict` is within, low, high, or unknown where nothing could be expected."""

    reading: UnitReading
    expected: Expected | None
    verdict: str
    causes: tuple[Cause, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        return {"at": _place(self.reading), "reading": self.reading.reading,
                "value": self.reading.value, "date": self.reading.date, "condition": self.reading.condition,
                "verdict": self.verdict, "line": self.reading.line,
                "expected": expected_dict(self.expected) if self.expected else None,
                "causes": [c._asdict() for c in self.causes]}


    def day(self) -> dict[str, Any]:
        """The reading as one day of a course."""
        of = self.reading
        return {"date": of.date, "by": of.by, "condition": of.condition, "mains": of.mains, "value": of.value,
                "verdict": self.verdict, "note": of.note}


class Comparison(OpenRecord):
    """All readings compared, and the findings that differ once the readings stand in the unit."""

    unit: str
    rows: list[Compared]
    findings: list[Finding] = field(default_factory=list)
    nodes: list[dict[str, Any]] = field(default_factory=list)
    course: list[list[Compared]] = field(default_factory=list)
    """What was read more than once, by day: the earliest first."""

    @property
    def status(self) -> int:
        """Exit status: 1 for a reading out of band or a new stop, 3 for one that nothing can be said of, else 0."""
        if any(r.verdict in ("low", "high") for r in self.rows) or any(f.verdict == "stop" for f in self.findings):
            return 1
        return 3 if any(r.verdict == "unknown" for r in self.rows) else 0

    def as_dict(self) -> dict[str, Any]:
        return {"unit": self.unit, "readings": [r.as_dict() for r in self.rows],
                "findings": [f.as_dict() for f in self.findings], "nodes": self.nodes,
                "course": [{"at": _place(each[0].reading), "reading": each[0].reading.reading,
                            "days": [c.day() for c in each]} for each in self.course]}


def compare(before: Checked, readings: list[UnitReading], catalogue: Catalogue,
            earlier: Sequence[UnitReading] = ()) -> Comparison:
    """Judge each reading, then run the checks again with the readings as measured.

    Node volts are judged by what the tubes are now known to draw; a tube's own volts by what was expected of it; what
    was read at lowered mains by what its step said. Volts of another day are brought to today's mains. Of several days
    the latest counts; with the `earlier` readings the others make the course.
    """
    readings, former = latest_of(readings)
    of_day = check(_at_mains(before.unit, readings), catalogue)
    after = check(measured(before.unit, readings), catalogue)
    judges, table = _Judges(before, of_day, readings, catalogue), figures_of(catalogue, "causes")

    def judged(reading: UnitReading) -> Compared:
        found = judges.of(reading)
        verdict = found.judge(brought(reading, of_day.unit)) if found else "unknown"
        causes = causes_of(found, verdict, before, table) if found and verdict != "within" else ()
        return Compared(reading, found, verdict, causes)

    rows = [judged(reading) for reading in readings]
    days = [*(judged(r) for r in sorted((*earlier, *former), key=lambda r: r.date or "")), *rows]
    return Comparison(before.unit.name, rows, _changed(before, after), _node_rows(after), _courses(days))


def compare_record(unit: Unit, catalogue: Catalogue) -> Comparison:
    """The unit's own record: the latest readings judged, the earlier ones as their course."""
    return compare(check(without_record(unit), catalogue), list(unit.readings), catalogue)


def without_record(unit: Unit) -> Unit:
    """The unit as its parts list tells it, without what its record says."""
    own = {(r.at, r.reading) for r in unit.readings if r.reading in OF_THE_PART}
    parts = {ref: replace(p, measured={k: v for k, v in p.measured.items() if (ref, k) not in own})
             for ref, p in unit.parts.items()}
    return replace(unit, parts=parts, readings=())


def latest_of(readings: Sequence[UnitReading]) -> tuple[list[UnitReading], list[UnitReading]]:
    """(the latest of each place, quantity and condition; those of earlier days); one without a date is the oldest."""
    last: dict[tuple, UnitReading] = {}
    for reading in readings:
        key = (*_key(reading), reading.condition, reading.note if reading.condition not in ("full", "cold") else "")
        if key not in last or (reading.date or "") >= (last[key].date or ""):
            last[key] = reading
    kept = {id(r) for r in last.values()}
    return [r for r in readings if id(r) in kept], [r for r in readings if id(r) not in kept]


def _courses(days: Sequence[Compared]) -> list[list[Compared]]:
    """What was read on several days at full mains or cold, each in its order."""
    found: dict[tuple, list[Compared]] = {}
    for day in days:
        if day.reading.condition in ("full", "cold"):
            found.setdefault(_key(day.reading), []).append(day)
    return [each for each in found.values() if len(each) > 1]


def brought(reading: UnitReading, unit: Unit) -> float:
    """A reading at full mains brought to the unit's mains of today, where the mains of its day are known."""
    if reading.condition != "full" or not reading.mains or not unit.mains_v or reading.at == "mains" \
            or not reading.reading.endswith(("_v", "volts")):
        return reading.value
    return reading.value * unit.mains_v / reading.mains


class _Judges:
    """What to expect of each reading: by place and name, on the day's mains, at a step of the bring-up."""

    def __init__(self, before: Checked, of_day: Checked, readings: list[UnitReading], catalogue: Catalogue):
        self._unit = before.unit
        self._first = {(x.at, x.reading): x for x in expected(of_day)}
        drawing = check(measured(of_day.unit, readings, nodes=False), catalogue)
        self._second = {(x.at, x.reading): x for x in expected(drawing, nodes_as_drawn=True)}
        self._steps = {} if all(r.condition == "full" for r in readings) else _steps(before, catalogue)
        self._drawn = {node for state in before.point.states for node in state.node_ids} | {"supply"}

    def of(self, reading: UnitReading) -> Expected | None:
        for at in _places_of(reading, self._unit):
            key = (at, reading.reading)
            found = self._second.get(key) if at in self._drawn else self._first.get(key)
            if reading.condition != "full":
                found = self._steps.get((reading.note or _STEP_OF.get(reading.condition, ""), *key)) or \
                    (found if reading.condition == "cold" else None)
            if found is not None:
                return found
        return None


def _places_of(reading: UnitReading, unit: Unit) -> Iterator[str]:
    """The place by the name it has among the expected; of a tube without a section its only or power section."""
    yield _place(reading)
    part = unit.parts.get(reading.at)
    if part is not None and reading.section is None and part.kind == "tube" and part.power_section:
        yield str(Place(part.ref, part.power_section))


def _steps(checked: Checked, catalogue: Catalogue) -> dict[tuple[str, str, str], Expected]:
    """What each step of every bring-up says to expect: (its title, place, reading)."""
    return {(step.title, x.at, x.reading): x._replace(why=f"{step.title}: {x.why}") for way in WAYS.values()
            for step in bring_up(checked, catalogue, way).steps for x in step.expect}


def _at_mains(unit: Unit, readings: list[UnitReading]) -> Unit:
    """The unit at the mains that were read with the rest, where they were."""
    volts = [r.value for r in readings if r.at == "mains" and r.reading == "ac_v" and r.condition == "full"]
    return replace(unit, mains_v=volts[-1]) if volts else unit


def measured(unit: Unit, readings: list[UnitReading], *, nodes: bool = True) -> Unit:
    """The unit with the readings in their places: those at full mains or cold, a later one over an earlier.

    Without `nodes` the volts of its nodes are left to the sum.
    """
    unit = _at_mains(unit, readings)
    own = _of_one_day([r for r in readings if r.condition in ("full", "cold")])  # at lowered mains it says nothing
    for reading in own:
        part = unit.parts.get(reading.at)
        if part is not None and reading.reading in MEASURED:
            unit = unit.with_part(part.with_reading(reading.reading, brought(reading, unit), reading.section))
    taken, again = {_key(r) for r in own}, {(r.at, r.section) for r in own if r.reading in ELECTRODES}
    kept = [r for r in unit.readings if _key(r) not in taken
            and not (r.reading in ELECTRODES and (r.at, r.section) in again)]
    held = [r for r in (*kept, *own) if r.at in unit.nodes] if nodes else []
    return replace(unit, readings=tuple(r for r in kept if r.at not in unit.nodes) + tuple(held))


def _of_one_day(readings: list[UnitReading]) -> list[UnitReading]:
    """Without the electrodes of a tube that were read before its latest day: two days' volts make no third."""
    last: dict[tuple[str, str | None], str] = {}
    for r in readings:
        if r.reading in ELECTRODES:
            last[r.at, r.section] = max(last.get((r.at, r.section), ""), r.date or "")
    return [r for r in readings if r.reading not in ELECTRODES or (r.date or "") == last[r.at, r.section]]


def _place(reading: UnitReading) -> str:
    return str(Place(reading.at, reading.section))


def _key(reading: UnitReading) -> tuple[str, str | None, str]:
    return reading.at, reading.section, reading.reading


def _changed(before: Checked, after: Checked) -> list[Finding]:
    """Findings that are new or of another verdict with the readings."""
    old = {(f.check, f.subject): f for f in before.findings}
    return [f for f in after.findings if (was := old.get((f.check, f.subject))) is None or was.verdict != f.verdict]


def _node_rows(after: Checked) -> list[dict[str, Any]]:
    state = after.state
    if state is None or state.solved is None:
        return []
    return [{"id": n.id, "volts": rounded(state.today_v(n.id))} for n in state.nodes]
