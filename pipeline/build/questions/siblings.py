"""Limits of types that take each other's place."""

from pipeline.build.questions.ground import Chosen, Question, Questions, Row, apart, number

LIMITS = ("plate_max_v", "plate_dissipation_max_w", "screen_max_v", "screen_dissipation_max_w", "cathode_max_a",
          "grid_circuit_max_ohm", "grid_circuit_fixed_max_ohm")
LIMITS_APART = 0.12
"""Limits of one rating system and one tube lie no further apart, rounding included."""


def limits_against_sibling(chosen: Chosen) -> Questions:
    """The same tube on another base or with another heater has the same limits, where both are of one rating system.

    Types that take each other's place only one way, such as a later tube with higher limits, are not asked about.
    """
    sections = chosen.by_type("sections")
    for one, other, how in chosen.pairs:
        theirs = {row["section"]: row for row in sections.get(other, ())}
        for ours in sections.get(one, ()) if how != "drop-in" else ():
            if (like := theirs.get(ours["section"])) and ours["rating_system"] == like["rating_system"] is not None:
                yield from _unlike(ours, like, how)


def _unlike(ours: Row, theirs: Row, how: str) -> Questions:
    for name in LIMITS:
        a, b = number(ours, name), number(theirs, name)
        if a and b and apart(a, b) > LIMITS_APART:
            yield Question("sections", f"{ours['type']}/{ours['section']}", name, a, b,
                           f"{theirs['type']}, the same tube ({how}), has {b:g}")
