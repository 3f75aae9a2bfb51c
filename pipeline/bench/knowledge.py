"""The bench's own tables: figures with their evidence, how old parts are told and how they age."""

import re
from collections.abc import Iterable
from functools import lru_cache

from pipeline.catalogue import Catalogue, Figure
from pipeline.unit import Part

Row = dict[str, Figure]
MOST_READ = 500
"""No marking and note say more than this about what a part is."""


def figures_of(catalogue: Catalogue, table: str) -> dict[str, Row]:
    """Subject → quantity → chosen figure of one whole table, in raw order; empty where the catalogue lacks it."""
    return catalogue.chosen(table) if catalogue.has(table) else {}


def old_part(part: Part, old_parts: dict[str, Row]) -> Row | None:
    """The kind of old part that the marking or the note names, the longest word winning; None where neither says."""
    text = part.said[:MOST_READ].lower()
    best, longest = None, 0
    for row in old_parts.values():
        if row["part_kind"].value != ("rectifier" if part.kind == "diode" else part.kind) or "marks" not in row:
            continue
        for word in row["marks"].value.split(";"):
            if len(word) > longest and word in text and _whole_word(word).search(text):
                best, longest = row, len(word)
    return best


@lru_cache(maxsize=256)
def _whole_word(word: str) -> re.Pattern[str]:
    return re.compile(rf"(?<![\w]){re.escape(word)}(?![\w])")


_MM = "mm"
"""What every size ends in: a note without it holds none, and no pattern is compiled for it."""
_SIZE = (r"(?i)\b(?:fits?|room|space|at most|max\.?|largest)\D{0,20}?(\d{1,3}(?:[.,]\d+)?)\s*(?:mm)?"
         r"\s*[x×]\s*(\d{1,3}(?:[.,]\d+)?)\s*mm\b")


def largest_size(note: str) -> str | None:
    """The largest size that the note says will fit: `room for 25 x 50 mm` gives `25 x 50 mm`."""
    found = re.search(_SIZE, note[:500]) if _MM in note.lower() else None
    return f"{found[1]} x {found[2]} mm" if found else None


_LENGTH = r"(\d{1,3}(?:[.,]\d+)?)\s*mm\b"
_SAID = (("diameter", rf"(?i)(?:\b(?:diameter|dia\.?|can of|can)|[øØ⌀])\s*{_LENGTH}|{_LENGTH}\s*(?:can\b|dia)"),
         ("length", rf"(?i)\b(?:length|long)\s*{_LENGTH}|{_LENGTH}\s*(?:long|high|tall)\b"),
         ("lead spacing", rf"(?i)\b(?:spacing|pitch|rm)\s*{_LENGTH}|{_LENGTH}\s*(?:lead spacing|pitch)\b"))
_LEADS = r"(?i)\b(axial|radial|snap[- ]?in|screw terminals?|single[- ]ended)\b"


def size_said(part: Part) -> tuple[str | None, str | None]:
    """(size, leads) that the marking, the note or a measurement gives: `at most 25 x 50 mm`, `axial`; None for neither.

    A can diameter, a length and a lead spacing each stand by themselves: `diameter 25 mm, lead spacing 10 mm`.
    """
    text = part.said[:MOST_READ]
    words = [f"at most {room}"] if (room := largest_size(text)) else []
    measured = {"diameter": part.measured.get("diameter_mm"), "length": part.measured.get("length_mm")}
    for name, pattern in _SAID:
        found = re.search(pattern, text) if _MM in text.lower() else None
        mm = next((g for g in found.groups() if g), None) if found else None
        mm = f"{measured[name]:g}" if measured.get(name) else mm
        words += [f"{name} {mm} mm"] if mm and not room else []
    leads = re.search(_LEADS, text)
    return ", ".join(words) or None, leads[1].lower() if leads else None


def nearest(wanted: float, values: Iterable[float]) -> float:
    """The value nearest by ratio; raises ValueError where there is none."""
    return min(values, key=lambda v: max(v / wanted, wanted / v))


def ladder(series: Iterable[float], low: float, high: float) -> list[float]:
    """Every value of a preferred series (mantissas 1 to 10) from `low` to `high`."""
    steps = sorted({round(m * 10.0**decade, 9) for m in series for decade in range(-3, 9)})
    return [v for v in steps if low * (1 - 1e-9) <= v <= high * (1 + 1e-9)]
