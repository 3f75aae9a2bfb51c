"""`replacement`: parts of the line's side that should go altogether instead of being renewed."""

from collections.abc import Iterator

from pipeline.checks.rule import Fact
from pipeline.point.point import Point
from pipeline.unit import Part, Unit

LOCAL = "Local codes and a qualified person decide."
TWO_WIRE = ("two-wire", "two wire", "2-wire", "2 wire", "2-core", "2 core", "two-core", "two core", "zip",
            "unpolarised", "unpolarized", "2x0.75", "2 x 0.75")
"""Words on or about a cord that has no earth."""


def replacement(point: Point) -> Iterator[Fact]:
    """Line-to-chassis capacitors, two-wire cords and fuses in the neutral of sets that a three-wire cord can serve."""
    unit = point.unit
    isolated = is_isolated(unit)
    for part in unit.parts.values():
        if part.role == "line to chassis" and part.kind == "capacitor" and isolated:
            yield Fact(part.ref, False, f"{part.ref} ({part.shown}) joins line and chassis; where a three-wire cord "
                       "with protective earth can be fitted it is not renewed but left out.",
                       f"Fit a three-wire cord, chassis to earth, and leave {part.ref} out. {LOCAL}", "caution")
        elif part.kind == "cord" and _two_wire(part) and isolated:
            yield Fact(part.ref, False, f"{part.ref} ({part.shown}) has no protective earth, and the chassis is metal.",
                       f"Fit a three-wire cord with strain relief, chassis to earth. {LOCAL}", "caution")
        elif part.kind == "fuse" and _in_neutral(part):
            yield Fact(part.ref, False, f"{part.ref} stands in the neutral: when it blows the set is dead but live.",
                       f"Move it into the line, before the switch. {LOCAL}", "caution")


def is_isolated(unit: Unit) -> bool:
    """Whether a transformer parts the chassis from the mains, as far as the heaters tell it."""
    return bool(unit.windings) and not unit.strings


def _two_wire(part: Part) -> bool:
    words = part.said.lower()
    return any(word in words for word in TWO_WIRE)


def _in_neutral(part: Part) -> bool:
    return "neutral" in part.said.lower()
