"""Filter sections as a caller gives them, checked and laid out as the table the solver works on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import at_least_zero, one_of, positive
from .network import SECTION_FIGURES, Sections


class Section(NamedTuple):
    """One filter section: a series part from an earlier node, a capacitor to ground, and what draws there.

    Every field but `parent` may be an array. `parent` is the index of the section it is fed from; None: the one
    before. The first section of a capacitor input has no series part; that of a choke input has the choke.
    """

    series_ohm: ArrayLike = 0.0
    series_h: ArrayLike = 0.0
    capacitance_f: ArrayLike = 0.0
    load_a: ArrayLike = 0.0
    load_ohm: ArrayLike | None = None
    load_k: ArrayLike = 0.0
    parent: int | None = None


def choke_ahead(input: str, circuit: str) -> bool:
    """Whether the input is a choke; ValueError where the name is unknown or the circuit has no such input."""
    one_of("input", input, ("capacitor", "choke"))
    if input == "choke" and circuit.endswith("doubler"):
        raise ValueError("input: a doubler has no choke input")
    return input == "choke"


def read_sections(given: Sequence[Section | Mapping[str, Any]]) -> list[Section]:
    """Sections out of sections or mappings; ValueError names an unknown field."""
    parts = []
    for i, part in enumerate(given):
        if isinstance(part, Section):
            parts.append(part)
            continue
        unknown = set(part) - set(Section._fields)
        if unknown:
            raise ValueError(f"sections[{i}]: {sorted(unknown)[0]!r} is none of {', '.join(Section._fields)}")
        parts.append(Section(**part))
    if not parts:
        raise ValueError("sections: there must be at least one")
    return parts


def section_numbers(parts: list[Section], choke_input: bool) -> dict[str, np.ndarray]:
    """Every figure of every section by its full name, such as ``sections[2].series_ohm``."""
    numbers = {}
    for i, part in enumerate(parts):
        at = f"sections[{i}]"
        for field in ("series_ohm", "series_h", "capacitance_f", "load_a", "load_k"):
            numbers[f"{at}.{field}"] = at_least_zero(f"{at}.{field}", getattr(part, field))
        load_ohm = part.load_ohm
        numbers[f"{at}.load_s"] = np.zeros(()) if load_ohm is None else 1.0 / positive(f"{at}.load_ohm", load_ohm)
        ohm, henry = numbers[f"{at}.series_ohm"], numbers[f"{at}.series_h"]
        if i == 0 and not choke_input:
            if ohm.any() or henry.any():
                raise ValueError(f"{at}.series_ohm, series_h: the first section of a capacitor input has none")
            positive(f"{at}.capacitance_f", part.capacitance_f)
        elif i == 0:
            positive(f"{at}.series_h", part.series_h)
        elif np.any((ohm == 0) & (henry == 0)):
            raise ValueError(f"{at}.series_ohm: a section needs a series resistance or a choke")
    return numbers


def section_table(parts: list[Section], flat: Mapping[str, np.ndarray]) -> Sections:
    """The solver's table, fields (n, B), out of figures broadcast to the batch."""
    parents = []
    for i, part in enumerate(parts):
        parent = i - 1 if part.parent is None or i == 0 else part.parent
        if i > 0 and not 0 <= parent < i:
            raise ValueError(f"sections[{i}].parent: {parent} is not an earlier section")
        parents.append(parent)
    rows = {name: np.array([flat[f"sections[{i}].{name}"] for i in range(len(parts))]) for name in SECTION_FIGURES}
    return Sections(**rows, parent=tuple(parents))
