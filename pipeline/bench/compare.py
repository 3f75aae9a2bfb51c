"""Readings against what was expected: each in or out of its band, what it commonly comes from, what to measure next."""

from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple

from pipeline.bench.bringup import BEFORE_POWER, ON_LAMP, WAYS, bring_up, expected_dict, rounded
from pipeline.bench.expected import Expected, expected
from pipeline.bench.knowledge import Row, figures_of
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked, check
from pipeline.checks.findings import Finding
from pipeline.unit import Unit, UnitReading

_STEP_OF = {"lamp": ON_LAMP, "cold": BEFORE_POWER}
"""Condition of a reading → the step that says what to expect then, where its note names none."""
MEASURED = ("plate_v", "screen_v", "cathode_v", "grid_v", "heater_v", "volts", "leakage_a", "uf", "esr_ohm", "ohms")
"""Readings that a part's `measured` cell holds."""


class Cause(NamedTuple):
    """What such a reading commonly comes from, what to measure to tell, and the grade of the saying."""

    cause: str
    measure_next: str
    evidence: str


@dataclass(frozen=True)
class Compared:
    """One reading: `verdict` is within, low, high, or unknown where nothing could be expected."""

    reading: UnitReading
    expected: Expected | None
    verdict: str
    causes: tuple[Cause, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        return {"at": self.reading.at, "reading": self.reading.reading, "value": self.reading.value,
                "verdict": self.verdict, "line": self.reading.line,
                "expected": expected_dict(self.expected) if self.expected else None,
                "causes": [c._asdict() for c in self.causes]}


@dataclass
class Comparison:
    """All readings compared, and the findings that differ once the readings stand in the unit."""

    unit: str
    rows: list[Compared]
    findings: list[Finding] = field(default_factory=list)
    nodes: list[dict[str, Any]] = field(default_factory=list)

    @property
    def status(self) -> int:
        """Exit status: 1 for a reading out of band or a new stop, 3 for one that nothing can be said of, else 0."""
        if any(r.verdict in ("low", "high") for r in self.rows) or any(f.verdict == "stop" for f in self.findings):
            return 1
        return 3 if any(r.verdict == "unknown" for r in self.rows) else 0

    def as_dict(self) -> dict[str, Any]:
        return {"unit": self.unit, "readings": [r.as_dict() for r in self.rows],
                "findings": [f.as_dict() for f in self.findings], "nodes": self.nodes}


def compare(before: Checked, readings: list[UnitReading], catalogue: Catalogue) -> Comparison:
    """Judge each reading, then run the checks again with the readings as measured.

    Node volts are judged by what the tubes are now known to draw; a tube's own volts by what was expected of it; what
    was read at lowered mains by what its step said.
    """
    after = check(measured(before.unit, readings), catalogue)
    first = {(x.at, x.reading): x for x in expected(before)}
    second = {(x.at, x.reading): x for x in expected(after)}
    steps = {} if all(r.condition == "full" for r in readings) else _steps(before, catalogue)
    nodes = {n.id for n in before.state.nodes} | {"supply"} if before.state else set()
    table = figures_of(catalogue, "causes")
    rows = []
    for reading in readings:
        key = (reading.at, reading.reading)
        found = second.get(key) if reading.at in nodes else first.get(key)
        if reading.condition != "full":
            found = steps.get((reading.note or _STEP_OF.get(reading.condition, ""), *key)) or \
                (found if reading.condition == "cold" else None)
        verdict = found.judge(reading.value) if found else "unknown"
        causes = causes_of(found, verdict, before, table) if found and verdict != "within" else ()
        rows.append(Compared(reading, found, verdict, causes))
    return Comparison(before.unit.name, rows, _changed(before, after), _node_rows(after))


def _steps(checked: Checked, catalogue: Catalogue) -> dict[tuple[str, str, str], Expected]:
    """What each step of every bring-up says to expect: (its title, place, reading)."""
    return {(step.title, x.at, x.reading): x._replace(why=f"{step.title}: {x.why}") for way in WAYS.values()
            for step in bring_up(checked, catalogue, way).steps for x in step.expect}


def measured(unit: Unit, readings: list[UnitReading]) -> Unit:
    """The unit with the readings of its parts, and of the mains, in their places; those at full mains or cold."""
    for reading in readings:
        if reading.condition not in ("full", "cold"):
            continue  # at lowered mains it says nothing of the unit at full mains
        part = unit.parts.get(reading.at)
        if part is not None and reading.reading in MEASURED:
            unit = unit.with_part(replace(part, measured=part.measured | {reading.reading: reading.value}))
        elif reading.at == "mains" and reading.reading == "ac_v":
            unit = replace(unit, mains_v=reading.value)
    return unit


def _changed(before: Checked, after: Checked) -> list[Finding]:
    """Findings that are new or of another verdict with the readings."""
    old = {(f.check, f.subject): f for f in before.findings}
    return [f for f in after.findings if (was := old.get((f.check, f.subject))) is None or was.verdict != f.verdict]


def _node_rows(after: Checked) -> list[dict[str, Any]]:
    state = after.state
    if state is None or state.solved is None:
        return []
    return [{"id": n.id, "volts": rounded(state.today_v(n.id))} for n in state.nodes]


def causes_of(found: Expected, verdict: str, checked: Checked, table: dict[str, Row]) -> tuple[Cause, ...]:
    """Causes of a reading that is `low` or `high` in its place, the likeliest first."""
    ranked: list[tuple[float, Row]] = []
    places, reading = _places(found, checked), found.reading
    if found.place in ("reservoir", "node") and reading == "ac_v":
        reading = "ripple_v"
    for subject, row in table.items():
        place, what, direction, rank = subject.split("/")
        if place in places and what == reading and direction == verdict:
            ranked.append((float(rank), row))
    return tuple(Cause(row["cause"].value, row["measure_next"].value, row["cause"].evidence)
                 for _, row in sorted(ranked, key=lambda pair: pair[0]))


def _places(found: Expected, checked: Checked) -> set[str]:
    """The place itself, and what makes it special: the kind of rectifier behind a reservoir."""
    places = {found.place}
    if found.place == "reservoir" and checked.state is not None:
        kind = checked.state.device.kind
        places.add("reservoir, tube rectifier" if kind == "tube" else f"reservoir, {kind}")
        if checked.state.supply.circuit == "half-wave":
            places.add("reservoir, half-wave")
    return places
