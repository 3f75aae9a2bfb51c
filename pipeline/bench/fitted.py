"""The unit as it will be with the new parts in their places, so that every check can be run on it again."""

from dataclasses import replace

from pipeline.bench.parts import TWO_IN_ARM, Replacement
from pipeline.catalogue import Catalogue
from pipeline.notation.reading import Reading, Section
from pipeline.unit import LETTERS, Part, Unit, read_part


def with_new_parts(unit: Unit, lines: list[Replacement], catalogue: Catalogue) -> Unit:
    """The unit with every line that is known fitted; the readings taken on the old parts are dropped."""
    known = {line.ref: line for line in lines if line.verdict in ("pass", "caution")}
    parts = {}
    for ref, part in unit.parts.items():
        fresh = _capacitor(part, known) if part.kind == "capacitor" else _other(part, known.get(ref), catalogue)
        parts[ref] = fresh or part
    return _with_series_resistor(replace(unit, parts=parts), known)


def _capacitor(part: Part, known: dict[str, Replacement]) -> Part | None:
    sections, several = list(part.reading.sections), len(part.reading.sections) > 1
    lines = [known.get(f"{part.ref}{LETTERS[i]}" if several else part.ref) for i in range(len(sections))]
    fitted = [line for line in lines if line is not None]
    if not fitted:
        return None
    for i, line in enumerate(lines):
        if line is not None:
            sections[i] = _section(line)
    first = fitted[0]
    reading = Reading(
        marking=part.marking, kind="capacitor", sections=tuple(sections), volts_ac=first.volts if first.is_ac else None,
        polarised=first.kind == "electrolytic", safety_class=first.safety_class)
    return replace(part, reading=reading, measured={})


def _section(line: Replacement) -> Section:
    """What the line makes: two in series halve the value and double the volts, those in parallel add."""
    factor = {"in series": 1 / line.quantity, "in parallel": line.quantity}.get(line.arrangement, 1)
    volts = None if line.is_ac or line.volts is None else line.volts * (
        line.quantity if line.arrangement == "in series" else 1)
    return Section((line.value or 0.0) * factor, volts)


def _other(part: Part, line: Replacement | None, catalogue: Catalogue) -> Part | None:
    if line is None:
        return None
    if line.unit == "ohm":
        reading = Reading(marking=part.marking, kind="resistor", ohms=line.value, watts=line.watts,
                          tolerance_pct=line.tolerance_pct)
        return replace(part, reading=reading, measured={k: v for k, v in part.measured.items() if k != "ohms"})
    if line.kind == "fuse":
        return replace(part, reading=Reading(marking=part.marking, kind="fuse", amps=line.value, speed=line.speed))
    if line.type is None:
        return None
    named = replace(part, marking=f"#{line.type}" if line.kind == "lamp" else line.type)
    ratings = catalogue.ratings([line.type]).get(line.type)
    inverse = ratings.figure("diodes", "piv_max_v") if ratings else None
    if ratings is not None and inverse is not None and line.arrangement == TWO_IN_ARM:
        ratings = ratings.with_figure("diodes", inverse._replace(value=2 * inverse.value))
    return replace(named, reading=read_part(named, catalogue), ratings=ratings)


def _with_series_resistor(unit: Unit, known: dict[str, Replacement]) -> Unit:
    """A resistor that goes in series with a new silicon rectifier stands in the supply as added ohms."""
    if unit.supply is None or (line := known.get(f"{unit.supply.rectifier} series")) is None:
        return unit
    return unit.with_supply(replace(unit.supply, added_ohm=unit.supply.added_ohm + (line.value or 0.0)))
