"""`unknown-part`: what the parts list holds that no rule can use, though its ref or role says that one should."""

from collections.abc import Iterator

from pipeline.checks.rule import Fact
from pipeline.notation.kinds import BEYOND, kinds_of_ref
from pipeline.point.point import Point
from pipeline.unit import Part


def is_rated(part: Part) -> bool:
    """Whether rules look at a part of this ref; one with a role is always looked at."""
    letters = part.ref.rstrip("0123456789" if part.ref[-1:].isdigit() else "ABCDEFGH0123456789").upper()
    suggested = kinds_of_ref(letters)
    return part.role is not None or not suggested or suggested[0] not in BEYOND


def unknown_part(point: Point) -> Iterator[Fact]:
    """One `unknown` for each part whose marking or type stays unknown."""
    for part in point.unit.parts.values():
        if part.kind is None and is_rated(part):
            why = part.reading.why if part.reading and part.reading.why else "the marking cannot be read"
            yield Fact(part.ref, None, f"{part.ref} “{part.shown}”: {why}.",
                       "Read the marking again, or look the type up and add it with `tubewright add tubes`.")
        elif part.kind == "tube" and part.ratings is None:
            yield Fact(part.ref, None, f"{part.ref} “{part.shown}”: the catalogue has no ratings for it.",
                       "Look the type up and add it with `tubewright add tubes`.")
