"""Figures and grades in words."""

from collections.abc import Iterable

from pipeline.amounts import plain
from pipeline.catalogue import Figure
from pipeline.checks.findings import weakest
from pipeline.output.quantities import named, value
from pipeline.output.safe import MOST_GIVEN, Markup, given
from pipeline.output.sheet.markup import el
from pipeline.unit import Part, Unit

DAGGER = "†"
"""Stands behind every figure that was entered from memory."""
GRADES = {
    "measured": "your own readings and list", "published": "read in the maker's document or the standard",
    "quoted": "quoted: read in another work", "practice": "trade practice, no document",
    "recalled": "recalled from memory, to be looked up"}
_SHORT = {"measured": "your own figures", "published": "published figures", "quoted": "quoted figures",
          "practice": "trade practice"}
MOST_NAMED = 3


def volts(value_v: float | None) -> str:
    """Whole volts from 20 up, tenths below; `not known` for None."""
    if value_v is None:
        return "not known"
    return f"{value_v:.0f} V" if abs(value_v) >= 20 else f"{plain(value_v, 3)} V"


def ripple(volts_pp: float | None) -> str:
    """Ripple peak to peak, in millivolts where it is small."""
    if volts_pp is None:
        return "not known"
    return f"{plain(volts_pp, 2)} V" if volts_pp >= 0.1 else f"{plain(1e3 * volts_pp, 2)} mV"


def evidence(rests_on: Iterable[Figure]) -> Markup:
    """What a verdict rests on, in words; recalled figures are named and marked."""
    used = list(rests_on)
    grade = weakest(f.evidence for f in used)
    if grade != "recalled":
        return el("span", f"rests on {_SHORT[grade]}", class_="grade")
    recalled = list(dict.fromkeys(f"{named(f)} {value(f)}" for f in used if f.evidence == "recalled"))
    more = len(recalled) - MOST_NAMED
    listed = "; ".join(recalled[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
    return el("span", el("b", f"recalled{DAGGER}"), f": {listed}", class_="grade recalled")


def short_grade(rests_on: Iterable[Figure]) -> str:
    """The grade in a word or two, for a table's cell."""
    used = list(rests_on)
    grade = weakest(f.evidence for f in used)
    return {"recalled": f"recalled{DAGGER}", "practice": "practice", "measured": "own figures"}.get(grade, grade)


def sentence(text: str, unit: Unit, ref: str) -> str:
    """A finding's sentence, with a marking that is longer than a label cut where it stands."""
    part = unit.part_of(ref)
    if part is not None and len(part.marking) > MOST_GIVEN:
        text = text.replace(part.marking, given(part.marking))
    return text


def type_of(part: Part) -> str:
    """The catalogue's name of the part's type, else its marking."""
    return given((part.reading.type if part.reading and part.reading.type else None) or part.marking)
