"""Belts: 210 mm inside, 1.5 mm square; flat 5 x 0.6 x 340; 70 mm dia round 2 mm."""

from __future__ import annotations

import math
import re

from pipeline.notation.lexing import NUMBER, amount
from pipeline.notation.reading import Reading, Refusal

_SHAPES = (
    ("square", r"square|sq\.?|vierkant|quadrat\w*|carrée?|quadrat[oa]"),
    ("flat", r"flat|flach(?:riemen)?|plate?|piatt[oa]|плоский"),
    ("round", r"round|rund(?:riemen)?|ronde?|tond[oa]|o-?ring|круглый"),
)
_INCHES = r"\"|in(?:ch(?:es)?)?\b\.?"
_SIZE = rf"((?:[0-9]{{1,2}}[\s-])?[0-9]{{1,2}}/[0-9]{{1,2}}|{NUMBER})\s*(mm|cm|{_INCHES})?"
_ACROSS = r"dia(?:m(?:eter)?)?\.?|ø|⌀|durchmesser|diam[eè]tre|across|д(?:иаметр)?"
_DIAMETER = (
    rf"(?i)(?:(?<![^\W_])(?:{_ACROSS})\s*[:=]?\s*{_SIZE}|{_SIZE}\s*(?:inside\s+)?(?:{_ACROSS})(?![^\W_]))"
)
_ROUND = r"inside|inner|i\.?d\.?|innen|int[eé]rieur|long|length|länge|longueur|circumference|round|path|ic"
_NOTHING_MORE = rf"(?i){_SIZE}|(?<![^\W_])(?:{_ROUND}|x|by|belts?|mm)(?![^\W_])|[,;:()x×]"
_THICKEST_MM = 12.0
_THREAD_MM = 3.0
_LONGEST_MM = 3000.0


def read_belt(text: str, expected: bool) -> Reading | None:
    """Read a belt's marking or what was measured of it.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it; a number without a unit is millimetres.
    expected : bool
        True where a word, ref or column says what it is.

    Returns
    -------
    Reading or None
        Inside length round the belt (π times the diameter, where that is given), section's width and
        thickness in mm, its shape.

    Raises
    ------
    Refusal
        A size that no belt has.
    """
    if not expected:
        return None
    notes: list[str] = []
    shape, rest = _shape(text)
    across = re.search(_DIAMETER, rest)
    length: float | None = None
    if across:
        figures, unit = (across[1], across[2]) if across[1] else (across[3], across[4])
        length = round(math.pi * _mm(figures, unit), 1)
        notes.append("the inside length is worked out from the diameter: measure it round the pulleys if you can")
        rest = f"{rest[: across.start()]} {rest[across.end() :]}"
    sizes = [_mm(*each) for each in _sizes(rest)]
    if any(not 0 < size <= _LONGEST_MM for size in sizes):
        raise Refusal("a size in it is that of no belt: is a unit wrong?")
    long = [size for size in sizes if size > _THICKEST_MM]
    thin = sorted((size for size in sizes if size <= _THICKEST_MM), reverse=True)
    if len(long) > 1 or (long and across):
        raise Refusal("more than one length in it: write the inside length once, then the section")
    if len(thin) > 2:
        raise Refusal("more than two sizes of its section: write width and thickness")
    if length is None and long:
        length = long[0]
    if length is not None and re.search(r"(?i)(?<![^\W_])path(?![^\W_])", rest):
        notes.append("the length is that of the path over the pulleys; the belt is shorter")
    left = " ".join(re.sub(_NOTHING_MORE, " ", rest).split())
    notes += [f"printed on it: {left}"] if left else []
    width, thickness = (thin[0], thin[-1]) if thin else (None, None)
    shape = shape or _shape_of(thin)
    return Reading(kind="belt", length_mm=length, width_mm=width, thickness_mm=thickness, shape=shape,
                   notes=tuple(notes))


def _shape(text: str) -> tuple[str | None, str]:
    for name, pattern in _SHAPES:
        if match := re.search(rf"(?i)(?<![^\W_])(?:{pattern})(?![^\W_])", text):
            return name, f"{text[: match.start()]} {text[match.end() :]}"
    return None, text


def _shape_of(thin: list[float]) -> str | None:
    return "flat" if len(thin) == 2 and thin[0] > 1.5 * thin[1] else None


def _sizes(text: str) -> list[tuple[str, str]]:
    """Return figures and unit of each size; a unit after the last of several joined ones holds for all."""
    each = re.finditer(rf"(?i)(?<![^\W_.,]){_SIZE}(?![^\W_])", text)
    found: list[tuple[str, str]] = [(m[1], (m[2] or "").lower()) for m in each]
    for i in range(len(found) - 2, -1, -1):
        if not found[i][1]:
            found[i] = (found[i][0], found[i + 1][1])
    return found


def _mm(figures: str, unit: str | None) -> float:
    scale = 25.4 if unit and re.fullmatch(f"(?i)(?:{_INCHES})", unit) else 10.0 if (unit or "").lower() == "cm" else 1.0
    return round(float(amount(figures)) * scale, 3)


def read_thread(text: str, expected: bool) -> Reading | None:
    """Read a dial cord: the longest size is its length, one of at most 3 mm its thickness."""
    if not expected:
        return None
    feet = re.sub(rf"(?i)({NUMBER})\s*(?:feet|foot|ft\b\.?)", lambda m: f"{float(amount(m[1])) * 12:g} in", text)
    metre = rf"(?i)({NUMBER})\s*m(?:etres?|eters?)?(?![^\W_])"
    metres = re.sub(metre, lambda m: f"{float(amount(m[1])) * 100:g} cm", feet)
    sizes = sorted(size for size in (_mm(*each) for each in _sizes(metres) if each[1]) if size > 0)
    length = sizes[-1] if sizes and sizes[-1] > _THREAD_MM else None
    width = sizes[0] if sizes and sizes[0] <= _THREAD_MM else None
    return Reading(kind="dial cord", length_mm=length, width_mm=width)
