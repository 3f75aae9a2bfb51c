"""`unknown-part`: what the parts list holds that no check can use."""

from collections.abc import Iterator

from pipeline.checks.findings import Finding
from pipeline.notation.kinds import BEYOND
from pipeline.unit import Part, Unit

_NOT_RATED = frozenset((
    "T", "TR", "S", "SW", "SP", "LS", "J", "JK", "P", "PU", "MT", "M", "X", "K", "RY", "W", "TP", "Y", "XTAL", "ANT",
    "BAT", "BATT", "B"))
"""Letters of the refs of transformers, switches, speakers, jacks and the like, which the checks do not judge."""


def is_rated(part: Part) -> bool:
    """Whether the checks look at a part of this ref; one with a role is always looked at."""
    letters = part.ref.rstrip("0123456789" if part.ref[-1:].isdigit() else "ABCDEFGH0123456789").upper()
    return part.role is not None or letters not in _NOT_RATED


def part_findings(unit: Unit) -> Iterator[Finding]:
    """One `unknown` for each part whose marking or type stays unknown."""
    for part in unit.parts.values():
        if part.kind is None and is_rated(part):
            why = part.reading.why if part.reading and part.reading.why else "the marking cannot be read"
            yield Finding("unknown-part", part.ref, "unknown", None, None, None,
                          f"{part.ref} “{part.shown}”: {why}.",
                          "Read the marking again, or look the type up and add it with `tubewright add tubes`.")
        elif part.kind == "tube" and part.ratings is None:
            yield Finding("unknown-part", part.ref, "unknown", None, None, None,
                          f"{part.ref} “{part.shown}”: the catalogue has no ratings for it.",
                          "Look the type up and add it with `tubewright add tubes`.")


def not_judged(unit: Unit) -> list[Part]:
    """Parts such as transformers and switches that no check looks at."""
    return [p for p in unit.parts.values() if p.kind in BEYOND or (p.kind is None and not is_rated(p))]
