"""Every tube of the unit from below, with the volts to expect on its pins and boxes for what the meter shows."""

import re
from collections.abc import Mapping

from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked
from pipeline.output.sheet.boxes import pin_reading, reading_box
from pipeline.output.sheet.expected import Expected, expected, pins_of
from pipeline.output.sheet.markup import Markup, blank, el, given, note, own, table, unbroken
from pipeline.output.svg.base import GRADES, base_drawing
from pipeline.output.svg.bases import base_of
from pipeline.output.svg.electrodes import pin_words
from pipeline.output.svg.socket import socket_drawing
from pipeline.unit import LETTERS, Part, Place

MOST_DRAWN = 150
"""More tubes than any chassis on a bench has; what is beyond is named, not drawn."""
ROW = 2
"""Tubes side by side at most; the first row stays with its heading on paper."""
_NUMBERED = re.compile(r", section \d")
_NEVER_MEASURED = {"internal shield", "shield", "shell", "no connection", "internal, leave free", "jumper"}
_WITHOUT_MAP = ("plate", "screen", "cathode")

Pins = Mapping[str, list[dict]]


def tubes_of(checked: Checked) -> list[Part]:
    """The tubes, and what stands in a tube's place but was not recognised: its card stays empty."""
    unit = checked.unit
    staged = {place.ref for stage in unit.stages for place in stage.tubes}
    heated = {*unit.windings, *unit.strings}
    return [p for p in unit.parts.values() if p.kind == "tube" or (p.kind is None and (
        p.ref in staged or p.ref[:1].upper() == "V" or any(p.is_at(name) for name in heated)))]


def pins_by_type(checked: Checked, catalogue: Catalogue) -> dict[str, list[dict]]:
    """Type → its rows of the pins table, for the tubes of the unit."""
    types = sorted({p.ratings.type for p in tubes_of(checked) if p.ratings})
    found: dict[str, list[dict]] = {}
    if types:
        for row in catalogue.rows("pins", f"type in ({', '.join('?' * len(types))})", types):
            found.setdefault(row["type"], []).append(row)
    return found


def tubes_section(checked: Checked, pins: Pins) -> Markup | None:
    """A drawing and a table of readings for every tube."""
    tubes = tubes_of(checked)
    if not tubes:
        return None
    shown = [_tube(p, checked, pins.get(p.ratings.type, []) if p.ratings else []) for p in tubes[:MOST_DRAWN]]
    rest = note(f"{len(tubes) - MOST_DRAWN} more tubes are not drawn: "
                + ", ".join(p.ref for p in tubes[MOST_DRAWN:])) if len(tubes) > MOST_DRAWN else None
    lead = note("Sockets as they lie before you with the chassis turned over. Volts are to chassis unless two pins are "
                "named, in the band a meter should read today. A blank box means that nothing certain is known: "
                "write down what the meter shows.")
    head = el("h2", "Tubes from below", id="tubes-head")
    first = el("div", head, lead, el("div", *shown[:ROW], class_="tubes"), class_="keep")
    others = el("div", *shown[ROW:], class_="tubes") if shown[ROW:] else None
    return el("section", first, others, rest, id="tubes", aria_labelledby="tubes-head")


def _tube(part: Part, checked: Checked, rows: list[dict]) -> Markup:
    found = expected(part, checked, rows)
    drawn = None
    if rows:
        base = part.rating("tubes", "base")
        drawn = base_drawing(part.called, str(base.value) if base else None, rows, volts=found.pins, key=part.ref)
    heading = el("h3", own(part.ref), " ", el("span", own(part.called)), " ", el("small", el("bdi", _where(part))))
    bases = [el("figure", Markup(drawn), class_="screen"), _small(part, rows)] if drawn else \
        [note("No pin map is held for it: see the maker's drawing.")]
    return el("article", heading, el("div", *bases), _readings(part, checked, found, rows), class_="tube")


def _small(part: Part, rows: list[dict]) -> Markup | None:
    """The base small, for paper; what the large one says under it stands beside it."""
    base = part.rating("tubes", "base")
    drawn = socket_drawing(part.called, str(base.value) if base else None, rows, key=part.ref)
    lie = base_of(str(base.value)) if base else None
    grade = next((say for name, say in GRADES.items() if any(r.get("evidence") == name for r in rows)), "")
    said = "; ".join(w for w in (lie.name if lie else "where the pins lie is not held", grade, lie.note if lie else "")
                     if w)
    return el("figure", Markup(drawn) if drawn else None, el("figcaption", said), class_="paper")


def _where(part: Part) -> str:
    marked = "" if given(part.marking) in part.called else f"marked {given(part.marking)}"
    at = " ".join(map(str, part.at))
    return ", ".join(w for w in (marked, f"on {given(at)}" if at else "", given(part.note)) if w)


def _readings(part: Part, checked: Checked, found: Expected, rows: list[dict]) -> Markup:
    """Heater, then every pin that one measures: what to expect and a box for the reading."""
    pins = pins_of(rows)
    named = {p.number: read for p in pins if (read := pin_reading(part, p, pins, checked))}
    lines: list[tuple[str, str, str, tuple[Place, str] | None]] = []
    if found.heater or found.heater_pins:
        name = "filament" if any("f" in p.electrodes for p in pins) else "heater"
        lines.append((found.heater_pins or name, name if found.heater_pins else "", found.heater,
                      (Place(part.ref), "heater_v")))
    for pin in pin_words(rows):
        if pin.look not in ("heater", "idle") and pin.words not in _NEVER_MEASURED:
            lines.append((pin.pin, _of_half(pin.words, named.get(pin.pin)), found.pins.get(pin.pin, ""),
                          named.get(pin.pin)))
        elif pin.look == "heater" and "DC" in found.pins.get(pin.pin, ""):
            lines.append((pin.pin, pin.words, found.pins[pin.pin], named.get(pin.pin)))
    lines += [("", name, "", (Place(part.ref), f"{name}_v")) for name in _WITHOUT_MAP] if not rows else []
    lines += [("?", words, "which pin is not said", None) for words in found.unplaced]
    body = [(unbroken(pin), own(words), unbroken(volts), _box(f"volts read at {part.ref} {pin} {words}", read))
            for pin, words, volts, read in lines]
    return table(f"Volts at {part.ref}", ("Pin", "Is", "Expect", "Read, V"), body, class_="pins")


def _of_half(words: str, read: tuple[Place, str] | None) -> str:
    """The pin's words, an alike half by the letter that the unit's own files give it: `plate, V1A`."""
    return _NUMBERED.sub(f", {read[0]}", words) if read and read[0].section and read[0].section in LETTERS else words


def _box(label: str, read: tuple[Place, str] | None) -> Markup:
    return reading_box(label, *read) if read else blank(label)
