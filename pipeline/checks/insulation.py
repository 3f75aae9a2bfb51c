"""`heater-cathode`: volts between heater and cathode, in series strings and on windings, against the limit."""

from collections.abc import Iterator

from pipeline.catalogue import Figure
from pipeline.checks.rule import Measure
from pipeline.point.heating import Insulation
from pipeline.point.point import Point
from pipeline.unit import Part

NEGATIVE, POSITIVE = "heater_cathode_negative_max_v", "heater_cathode_positive_max_v"


def limit_of(part: Part, name: str) -> Figure | None:
    return part.rating("tubes", name)


def heater_cathode(point: Point) -> Iterator[Measure]:
    """One measure for each tube whose limit is known and whose volts can be worked out, by the tighter side.

    Where only an unloaded crest is known, because the supply is not worked out, passing the limit is no stop.
    """
    for found in point.insulated:
        sides = [(volts, limit, words) for name, volts, words in (
            (NEGATIVE, found.negative_v, "negative"), (POSITIVE, found.positive_v, "positive"))
            if (limit := limit_of(found.part, name)) is not None]
        if sides:
            volts, limit, words = max(sides, key=lambda side: side[0][1] / side[1].value)
            yield _measure(point, found, volts, limit, words)


def _measure(point: Point, found: Insulation, volts: tuple[float, float], limit: Figure, words: str) -> Measure:
    today, high = volts
    ref, crest = found.part.ref, "" if found.loaded else ", at the crest without load, for its load is not known"
    return Measure(
        ref, today, limit.value, "V",
        f"{ref}'s heater goes {high:.0f} V {words} to its cathode at {point.mains.at_high} ({today:.0f} V "
        f"today){crest}; it bears {limit.value:g} V.",
        "Move it nearer the chassis end of the string, or give it a heater winding of its own.", high,
        gravest="stop" if found.loaded else "caution", rests_on=(limit, *found.rests_on))
