"""Boxes to write a reading into: each knows the place and the reading that a file of readings would name."""

import re
from collections.abc import Iterable

from pipeline.amounts import scale
from pipeline.checks.check import Checked
from pipeline.output.bench import unit_of
from pipeline.output.sheet.expected import READINGS, Pin, of_section
from pipeline.output.sheet.markup import Markup, blank
from pipeline.unit import Part, Place

_BOX = re.compile(r'data-at="([^"]*)" data-reading="([^"]*)" data-unit="[^"]*">')


def reading_box(label: str, at: object, reading: str, *, most: float = 0.0, condition: str = "full",
                step: str = "") -> Markup:
    """A box for the reading `reading` at `at`, which the page can save.

    A number typed without a unit is in that of the band beside it, whose larger end is `most`. Boxes of one place,
    reading, condition and step are one: what is typed into one stands in the other.
    """
    return blank(label, data_at=str(at), data_reading=reading, data_unit=scale(most, unit_of(reading), reading)[1],
                 data_condition=condition if condition != "full" else None,
                 data_note=step if condition != "full" else None)


def boxed(sections: Iterable[Markup]) -> frozenset[tuple[str, str]]:
    """(place, reading) of every box at full mains in parts of the sheet, as they stand in its HTML."""
    return frozenset(found for part in sections for found in _BOX.findall(part))


def pin_reading(part: Part, pin: Pin, pins: list[Pin], checked: Checked) -> tuple[Place, str] | None:
    """(place, reading) of the DC volts on a pin; None where no file of readings has a name for them."""
    rectifies = any(s.rectifier == part.ref for s in checked.unit.supplies)
    name = next((n for n, electrodes in READINGS if pin.electrodes & electrodes), None)
    if name is None or (rectifies and name != "cathode_v"):
        return None
    if pin.section is None:
        return Place(part.ref), name
    if part.sections:
        section = next((s for s in part.sections if of_section(pin, s, pins)), None)
        return (Place(part.ref, section), name) if section else None
    return None if pin.section.startswith("d") else (Place(part.ref), name)
