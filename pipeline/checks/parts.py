"""`unknown-part`: what the parts list holds that no check can use."""

import re
from collections.abc import Iterator

from pipeline.checks.findings import Finding
from pipeline.unit import Part, Unit

_NOT_RATED = re.compile(r"^(T|TR|S|SW|SP|LS|J|JK|P|PU|MT|M|X|K|RY|W|TP|Y|XTAL|ANT|BATT?|B)\d*[A-Z]?$", re.IGNORECASE)
"""Refs of transformers, switches, speakers, jacks and the like, which the checks do not judge."""


def part_findings(unit: Unit) -> Iterator[Finding]:
    """One `unknown` for each part whose marking or type stays unknown."""
    for part in unit.parts.values():
        if part.kind is None and not (_NOT_RATED.match(part.ref) and part.role is None):
            why = part.reading.why if part.reading and part.reading.why else "the marking cannot be read"
            yield Finding("unknown-part", part.ref, "unknown", None, None, None,
                          f"{part.ref} {_shown(part.marking)}: {why}.",
                          "Read the marking again, or look the type up and add it with `tubewright add tubes`.")
        elif part.kind == "tube" and part.ratings is None:
            yield Finding("unknown-part", part.ref, "unknown", None, None, None,
                          f"{part.ref} {_shown(part.marking)}: the catalogue has no ratings for it.",
                          "Look the type up and add it with `tubewright add tubes`.")


def not_judged(unit: Unit) -> list[Part]:
    """Parts such as transformers and switches that no check looks at."""
    return [p for p in unit.parts.values() if p.kind is None and _NOT_RATED.match(p.ref) and p.role is None]


def _shown(marking: str) -> str:
    text = "".join(c if c.isprintable() else "�" for c in marking)
    return f"“{text if len(text) <= 40 else text[:37] + '...'}”"
