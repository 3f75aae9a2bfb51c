"""The record on the sheet: what was measured, before and after, and what was found and done, from the unit's files."""

from pipeline.amounts import amount
from pipeline.checks.check import Checked
from pipeline.output.bench import reading_words, unit_of
from pipeline.output.sheet.markup import Markup, el, join, own, section, table
from pipeline.unit import Part, Place, Unit, UnitReading


def record_section(checked: Checked) -> Markup | None:
    """A table of the readings, first and last of each, and one of the parts' notes; None where nothing is recorded."""
    readings, parts = _readings(checked.unit), _parts(checked.unit)
    return section("record", "Record", readings, parts) if readings or parts else None


def _readings(unit: Unit) -> Markup | None:
    """Each reading as it was first and as it is now."""
    found: dict[tuple[Place, str], list[UnitReading]] = {}
    for reading in sorted(unit.readings, key=lambda r: r.date or ""):
        found.setdefault((Place(reading.at, reading.section), reading.reading), []).append(reading)
    rows = [(own(at), reading_words(name), _said(course[0]) if len(course) > 1 else "", _said(course[-1]))
            for (at, name), course in found.items()]
    return table("Measured", ("At", "Reading", "First", "Last"), rows) if rows else None


def _said(reading: UnitReading) -> Markup:
    """The value, and under it the day, the condition and who read it."""
    beside = [w for w in (reading.date, reading.condition if reading.condition != "full" else "",
                          f"at {reading.mains:g} V" if reading.mains else "", reading.by, reading.note) if w]
    return el("span", amount(reading.value, unit_of(reading.reading)),
              el("small", " ", own(", ".join(beside)), class_="why") if beside else None)


def _parts(unit: Unit) -> Markup | None:
    rows = [(own(p.ref), own(p.marking), _measured(p), own(p.note)) for p in unit.parts.values()
            if p.note or p.measured or p.measured_sections]
    return table("Found and done, as the list says", ("Part", "Marked", "Measured", "Note"), rows) if rows else None


def _measured(part: Part) -> Markup:
    every = [("", part.measured), *((f" of {s}", m) for s, m in part.measured_sections.items())]
    said = [f"{reading_words(name)}{of} {amount(value, unit_of(name))}" for of, m in every for name, value in m.items()]
    return join(el("span", words, class_="why") for words in said)
