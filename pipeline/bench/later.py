"""Places that nothing bears yet: the note of a part keeps them until something does."""

import re

from pipeline.unit import Part

LATER = re.compile(r"(?:^|; )at ([^;]+), not listed yet$")
"""How the note keeps a place that nothing bears yet: it moves to `at` as soon as something does."""


def waits_at(part: Part) -> str:
    """The place, or the places, that a part waits for; empty where there is none."""
    match = LATER.search(part.note)
    return match[1] if match else ""


def noted(note: str, later: str) -> str:
    """The note with a place that nothing bears yet, in the place of another such."""
    kept = LATER.sub("", note).strip("; ")
    return f"{kept}; at {later}, not listed yet" if kept else f"at {later}, not listed yet"
