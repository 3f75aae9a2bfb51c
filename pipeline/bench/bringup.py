"""The first power-up in steps: what to measure before, what to set, how long to wait, what to expect, when to stop."""

from typing import Any

from pipeline.bench.cold import before_power, discharge
from pipeline.bench.expected import Expected
from pipeline.bench.knowledge import Row, figures_of
from pipeline.bench.policy import is_electrolytic
from pipeline.bench.powered import Pins, at_last, bias_first, powered, set_watts, without_mains
from pipeline.bench.steps import (
    AT_LAST,
    BATTERY,
    BEFORE_POWER,
    BIAS_FIRST,
    LAMP,
    NEITHER,
    ON_LAMP,
    TUBE_ROWS,
    VARIABLE,
    WAYS,
    Step,
    rows_of,
)
from pipeline.catalogue import Catalogue, CatalogueError, Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import weakest
from pipeline.records import OpenRecord, field

__all__ = ["AT_LAST", "BEFORE_POWER", "BIAS_FIRST", "LAMP", "NEITHER", "ON_LAMP", "VARIABLE", "WAYS", "BringUp", "Step",
           "bring_up", "expected_dict", "read_way", "reforming_row", "rounded", "set_watts"]


class BringUp(OpenRecord):
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
                           "stop": list(s.stop), "otherwise": list(s.otherwise),
                           "expect": [expected_dict(x) for x in s.expect]}
                          for i, s in enumerate(self.steps, 1)]}


def expected_dict(found: Expected) -> dict[str, Any]:
    """A reading to expect under the names of the JSON output."""
    return {"at": found.at, "reading": found.reading, "value": rounded(found.value), "low": rounded(found.low),
            "high": rounded(found.high), "unit": found.unit,
            "why": f"{found.why}; mend first: {found.beside}" if found.beside else found.why,
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
    made = BringUp(checked.unit.name, way if checked.unit.mains_v is not None else BATTERY)
    table = figures_of(catalogue, "bringup_steps")
    if not all(rows_of(table, name) for name in (LAMP, VARIABLE, TUBE_ROWS, NEITHER)):
        raise CatalogueError(f"{catalogue.folder}: no steps of bring-up in this catalogue: run `tubewright build`")
    made.steps = [before_power(checked), discharge(checked)]
    if checked.unit.mains_v is None:
        made.steps += without_mains(checked)
    else:
        made.steps += [*bias_first(checked, _grid_pins(checked, catalogue)), *powered(checked, table, way, made.notes)]
    made.steps.append(at_last(checked, figures_of(catalogue, "causes")))
    _notes(checked, catalogue, made)
    found = [f for step in made.steps for x in step.expect for f in x.rests_on]
    made.rests_on = tuple(dict.fromkeys([*found, *(f for row in table.values() for f in row.values())]))
    return made


def _grid_pins(checked: Checked, catalogue: Catalogue) -> Pins:
    """The pin of the control grid of each tube that has one such pin."""
    types = {p.ref: p.reading.type for p in checked.unit.parts.values() if p.kind == "tube" and p.reading.type}
    found: Pins = {}
    for ref, type_ in types.items():
        pins = [pin for pin, electrode in catalogue.query("select pin, electrode from {pins} where type = ?", [type_])
                if {"g", "g1"} & set(electrode.split("+"))]
        if len(pins) == 1:
            found[ref] = {"grid": pins[0]}
    return found


def _notes(checked: Checked, catalogue: Catalogue, made: BringUp) -> None:
    if not checked.unit.supplies:
        made.notes.append("unit.toml describes no supply: the volts to expect are not known.")
    for state in checked.point.states:
        if state.missing:
            of = "" if state is checked.state else f" of {state.id}"
            made.notes.append(f"Volts{of} under load are not known: {state.missing}. {state.mend}".strip())
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
