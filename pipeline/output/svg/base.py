"""A tube's base seen from below: as a figure, and as lines of text for the terminal."""

import math
import textwrap
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pipeline.amounts import plain
from pipeline.output.svg import draw
from pipeline.output.svg.bases import Base, base_of
from pipeline.output.svg.draw import LABEL, LEADING, SMALL, TITLE, WIDTH
from pipeline.output.svg.electrodes import PinWords, pin_words

CX, RIM, RING, PIN, LARGE_PIN, SPIGOT, EDGE = WIDTH / 2, 86.0, 64.0, 11.0, 14.5, 36.0, 6.0
COLUMN = CX - RIM - 18 - EDGE
FAN = 1.5
"""Labels spread this much wider than their pins, so that lines to them do not cross."""
GRADES = {"recalled": "pin map recalled, to be confirmed", "practice": "pin map by trade practice",
          "quoted": "pin map quoted from another work"}


class Label(NamedTuple):
    """What stands beside a pin: its lines, the last `bold` of them volts; `x`, `y` of the pin."""

    rows: list[str]
    bold: int
    x: float
    y: float

    @property
    def height(self) -> float:
        return len(self.rows) * LEADING[LABEL]


def base_drawing(type_: str, base: str | None, pins: Iterable[Mapping[str, object]], *,
                 volts: Mapping[str, float | str] | None = None, key: str = "") -> str | None:
    """The base from below as SVG: pins in their places, each with its function in words and the volts to expect.

    Parameters
    ----------
    type_ : the type's name; title of the drawing.
    base : its base; None or one whose pin places are not held (`bases.BASES`) gives a plain list of the pins.
    pins : rows of the `pins` table: `pin` (a number, or `cap`), `section`, `electrode`, and `evidence` if known; a map
        that is only recalled says so in the drawing.
    volts : pin → volts to expect (a number), or words (`6.3 V AC`).
    key : what makes this drawing's ids its own on a page that holds two like it (the tube's ref).

    Returns
    -------
    The SVG text, or None where there are no pins to draw.
    """
    rows = list(pins)
    words, given = pin_words(rows), {str(p): _volts(v) for p, v in (volts or {}).items()}
    if not words:
        return None
    found = base_of(base)
    grade = next((say for name, say in GRADES.items() if any(r.get("evidence") == name for r in rows)), "")
    head = f"{found.name} base, seen from below" if found else f"{base or 'unknown'} base, its pins in order"
    body, y = _heading(str(type_), [head, grade])
    drawn, height = _ring(found, words, given, y) if found else _list(words, given, y)
    return draw.document(f"{draw.clean(type_)}: {head}", _spoken(found, words, given, grade), height, body + drawn, key)


def _volts(value: float | str) -> str:
    if isinstance(value, str):
        return value
    return f"{plain(value, 2 if abs(value) < 10 else 3)} V" if math.isfinite(value) else "not known"


def _heading(type_: str, under: list[str]) -> tuple[list[str], float]:
    rows = [row for part in under if part for row in draw.wrap(part, WIDTH - 2 * EDGE, SMALL, most=2)]
    title = draw.fitted(type_, WIDTH - 2 * EDGE, TITLE, bold=True)
    return ([draw.text(CX, 20, title, size=TITLE, anchor="middle", bold=True),
             draw.lines(CX, 38, rows, size=SMALL, anchor="middle", ink="quiet")], 38 + len(rows) * LEADING[SMALL])


def _spoken(base: Base | None, words: list[PinWords], volts: Mapping[str, str], grade: str) -> list[str]:
    order = f"{base.read_from}." + (f" {base.note}" if base.note else "") if base else "Where the pins lie is not held."
    pins = [f"{'Top cap' if w.pin == 'cap' else 'Pin ' + w.pin}: {w.words}"
            + (f", {volts[w.pin]}" if w.pin in volts else "") + "." for w in words]
    return [order, *pins, *([grade[0].upper() + grade[1:] + "."] if grade else [])]


def _ring(base: Base, words: list[PinWords], volts: Mapping[str, str], top: float) -> tuple[list[str], float]:
    """The base with its labels, and the height reached; pins the base does not have are named below it."""
    by_pin = {w.pin: w for w in words}
    numbers = [str(i + 1) for i in range(len(base.angles))]
    labels = {n: _label(n, by_pin.get(n), volts, a) for n, a in zip(numbers, base.angles, strict=True)}
    sides = [[v for v in labels.values() if v.rows and _side(v.x) == side] for side in (-1, 0, 1)]
    placed = [(-1, v, y) for v, y in _spread(sides[0])] + [(1, v, y) for v, y in _spread(sides[2])]
    placed += [(0, v, -RIM - 12 - v.height / 2) for v in sides[1]]
    cy = top + 8 + max([RIM, *(v.height / 2 - y for _, v, y in placed)])
    low = max([RIM + 30, *(y + v.height / 2 for _, v, y in placed)])
    parts = [_outline(base, cy), *(_leader(v, y, cy, side) for side, v, y in placed)]
    for number, angle in zip(numbers, base.angles, strict=True):
        parts.append(_pin(base, int(number), by_pin.get(number), *_at(angle, cy, base)))
    parts += [_words(v, y + cy, side) for side, v, y in placed]
    if cap := by_pin.get("cap"):
        parts.append(_cap(cap, volts.get("cap"), cy))
    notes = _notes(base, [w for w in words if w.pin not in (*numbers, "cap")], by_pin, numbers)
    return [*parts, draw.lines(CX, cy + low + 18, notes, size=SMALL, anchor="middle", ink="quiet")], \
        cy + low + 6 + len(notes) * LEADING[SMALL] + 4


def _at(angle: float, cy: float, base: Base) -> tuple[float, float]:
    """Where a pin lies: clockwise from the foot of the page is to the left."""
    r = RIM if base.shape == "contacts" else RING
    return CX - r * math.sin(math.radians(angle)), cy + r * math.cos(math.radians(angle))


def _side(x: float) -> int:
    return 0 if abs(x) < 0.1 else (-1 if x < 0 else 1)


def _label(number: str, pin: PinWords | None, volts: Mapping[str, str], angle: float) -> Label:
    x, y = -math.sin(math.radians(angle)), math.cos(math.radians(angle))
    width = COLUMN if _side(x) else 2.4 * RIM
    rows = draw.wrap(pin.words, width, LABEL, most=4) if pin else []
    bold = draw.wrap(volts[number], width, LABEL, bold=True, most=2) if number in volts else []
    return Label(rows + bold, len(bold), x, y)


def _spread(labels: list[Label]) -> list[tuple[Label, float]]:
    """The labels of one side with their heights on the page (0 is the ring's centre), none over another."""
    labels = sorted(labels, key=lambda v: v.y)
    wanted = [v.y * RING * FAN for v in labels]
    places = list(wanted)
    for i in range(len(places) - 2, -1, -1):
        room = (labels[i].height + labels[i + 1].height) / 2 + 5
        places[i] = min(places[i], places[i + 1] - room)
    shift = (sum(places) - sum(wanted)) / max(len(places), 1)  # what was pushed up is shared with those below
    return [(label, y - shift) for label, y in zip(labels, places, strict=True)]


def _outline(base: Base, cy: float) -> str:
    parts = [draw.circle(CX, cy, RIM, fill="paper", width=1.5)]
    foot = cy + RIM
    if base.shape == "spigot":
        parts.append(draw.circle(CX, cy, SPIGOT, width=1.2))
        parts.append(draw.path([(CX - 5, cy + SPIGOT - 0.7), (CX - 5, cy + SPIGOT + 8), (CX + 5, cy + SPIGOT + 8),
                                (CX + 5, cy + SPIGOT - 0.7)], fill="ink", width=1.2))
    elif base.shape == "bump":
        parts.append(draw.path([(CX - 7, foot - 0.4), (CX - 5, foot + 6), (CX + 5, foot + 6), (CX + 7, foot - 0.4)],
                               fill="ink"))
    if base.mark:
        parts.append(draw.path([(CX, foot + 7), (CX - 5, foot + 14), (CX + 5, foot + 14)], fill="ink", closed=True))
        parts.append(draw.text(CX, foot + 27, base.mark, size=SMALL, anchor="middle", ink="quiet"))
    return "".join(parts)


def _pin(base: Base, number: int, pin: PinWords | None, x: float, y: float) -> str:
    """A pin: thick ring for a plate, double ring for a heater, dashed for one that carries nothing."""
    r = LARGE_PIN if number in base.large else PIN
    look = pin.look if pin else "idle"
    dash = "3 2.5" if look == "idle" else ""
    if base.shape == "contacts":
        mark = draw.box(x - r, y - r, 2 * r, 2 * r, fill="paper", width=2.6 if look == "plate" else 1.2, dash=dash)
        mark += draw.box(x - r + 3, y - r + 3, 2 * r - 6, 2 * r - 6, width=0.8) if look == "heater" else ""
    else:
        mark = draw.circle(x, y, r, fill="paper", width=2.6 if look == "plate" else 1.2, dash=dash)
        mark += draw.circle(x, y, r + 3, width=0.8) if look == "heater" else ""
    return mark + draw.text(x, y + 4.3, number, size=SMALL, anchor="middle", bold=look != "idle",
                            ink="quiet" if look == "idle" else "ink")


def _leader(label: Label, y: float, cy: float, side: int) -> str:
    """From the pin outwards to the rim, then to its label."""
    rim = (CX + label.x * (RIM + 2), cy + label.y * (RIM + 2))
    start = (CX + label.x * (RING + PIN), cy + label.y * (RING + PIN))
    end = (CX, cy - RIM - 9) if side == 0 else (CX + side * (RIM + 14), cy + y)
    return draw.path([start, rim, end], stroke="rule", width=0.9)


def _words(label: Label, y: float, side: int) -> str:
    anchor = {-1: "end", 0: "middle", 1: "start"}[side]
    x, first = CX + side * (RIM + 18), y - label.height / 2 + 12.5
    split = len(label.rows) - label.bold
    return (draw.lines(x, first, label.rows[:split], anchor=anchor)
            + draw.lines(x, first + split * LEADING[LABEL], label.rows[split:], anchor=anchor, bold=True))


def _cap(cap: PinWords, volts: str | None, cy: float) -> str:
    rows = ["top cap:", *draw.wrap(cap.words, 2 * SPIGOT, SMALL, most=3)]
    bold = draw.wrap(volts, 2 * SPIGOT, SMALL, bold=True, most=1) if volts else []
    first = cy - (len(rows) + len(bold)) * LEADING[SMALL] / 2 + 11
    return (draw.lines(CX, first, rows, size=SMALL, anchor="middle")
            + draw.lines(CX, first + len(rows) * LEADING[SMALL], bold, size=SMALL, anchor="middle", bold=True))


def _notes(base: Base, strange: list[PinWords], by_pin: Mapping[str, PinWords], numbers: list[str]) -> list[str]:
    looks = {by_pin[n].look if n in by_pin else "absent" for n in numbers}
    legend = [say for look, say in (("plate", "thick ring: plate"), ("heater", "double ring: heater")) if look in looks]
    if "absent" in looks:
        legend.append("dashed without a word: unused or no pin")
    said = [base.note] if base.note else []
    if strange:
        said.append("This base has no such pin: " + ", ".join(f"{w.pin} {w.words}" for w in strange))
    rows = [row for part in said for row in draw.wrap(part, WIDTH - 2 * EDGE, SMALL, most=4)]
    return draw.wrap_list(legend, WIDTH - 2 * EDGE, SMALL) + rows


def _list(words: list[PinWords], volts: Mapping[str, str], top: float) -> tuple[list[str], float]:
    """The pins one under the other, for a base whose pin places are not held."""
    rows = draw.wrap("Where the pins lie is not held for this base: see the maker's drawing.", WIDTH - 2 * EDGE, SMALL)
    parts = [draw.lines(CX, top + 8, rows, size=SMALL, anchor="middle", ink="quiet")]
    y = top + 8 + len(rows) * LEADING[SMALL] + 8
    for word in words:
        said = draw.wrap(word.words, 190, LABEL, most=3)
        parts.append(draw.text(88, y, draw.fitted(word.pin, 76, LABEL, bold=True), anchor="end", bold=True))
        parts.append(draw.lines(100, y, said))
        if word.pin in volts:
            parts.append(draw.text(300, y, draw.fitted(volts[word.pin], 94, LABEL, bold=True), bold=True))
        y += len(said) * LEADING[LABEL] + 3
    return parts, y


TEXT_WIDTH, TEXT_SIDE, HALF, REACH = 79, 26, 4, 9
"""The text drawing: columns in all and for the words of a side; rows and columns from the ring's centre to its edge."""


def base_text(base: str | None, pins: Iterable[Mapping[str, object]]) -> list[str]:
    """The base from below in about a dozen lines of at most 78 columns; empty where there are no pins."""
    words, found = pin_words(pins), base_of(base)
    if not words:
        return []
    if found is None:
        return [f"{_cut(base or 'base not known', 30)}: where the pins lie is not held; in order",
                *(f"  {_cut(w.pin, 6):>3}  {_cut(w.words, TEXT_WIDTH - 12)}" for w in words)]
    head = f"{found.name}: {found.read_from}"
    return [head, *_text_ring(found, {w.pin: w for w in words}), *_text_rest(found, words)]


def _text_ring(base: Base, by_pin: Mapping[str, PinWords]) -> list[str]:
    middle, rows = TEXT_WIDTH // 2, [[" "] * TEXT_WIDTH for _ in range(2 * HALF + 2)]
    taken = {(_side(-math.sin(math.radians(a))), _text_row(a)) for a in base.angles}
    for number, angle in enumerate(base.angles, 1):
        row, across = _text_row(angle), -REACH * math.sin(math.radians(angle))
        pin, mark = by_pin.get(str(number)), f"({number})"
        column = middle + round(across) - 1
        _put(rows[row], column, mark)
        if pin:
            most = 2 if (_side(across), row + 1) not in taken else 1
            side = -1 if _side(across) < 0 else 1
            _text_label(rows, row, (column, column + len(mark)), side, _fold(pin.words, most))
    if cap := by_pin.get("cap"):
        said = _cut("cap: " + cap.words, 2 * REACH)
        _put(rows[HALF], middle - len(said) // 2, said)
    if base.mark:
        _put(rows[-1], middle, f"^ {base.mark}")
    return ["".join(row).rstrip() for row in rows]


def _text_row(angle: float) -> int:
    return HALF + round(HALF * math.cos(math.radians(angle)))


def _text_label(rows: list[list[str]], row: int, pin: tuple[int, int], side: int, said: list[str]) -> None:
    """The words beside a pin that stands in columns `pin`, a line between; later lines below the first."""
    for i, words in enumerate(said):
        if side < 0:
            start, line = TEXT_SIDE - len(words), pin[0] - TEXT_SIDE - 2
            _put(rows[row + i], start, words + (" " + "─" * max(line, 1) if i == 0 else ""))
        else:
            start, line = TEXT_WIDTH - TEXT_SIDE, TEXT_WIDTH - TEXT_SIDE - pin[1] - 2
            _put(rows[row + i], start, words)
            if i == 0:
                _put(rows[row], pin[1] + 1, "─" * max(line, 1))


def _fold(words: str, most: int) -> list[str]:
    rows = textwrap.wrap(draw.clean(words), TEXT_SIDE, max_lines=most, placeholder="…")
    return rows or [""]


def _put(row: list[str], column: int, words: str) -> None:
    row[column:column + len(words)] = list(words)


def _cut(words: str, most: int) -> str:
    words = draw.clean(words)
    return words if len(words) <= most else words[:most - 1] + "…"


def _text_rest(base: Base, words: list[PinWords]) -> list[str]:
    numbers = {str(i + 1) for i in range(len(base.angles))} | {"cap"}
    strange = [_cut(f"no such pin on this base: {w.pin} {w.words}", TEXT_WIDTH) for w in words if w.pin not in numbers]
    return textwrap.wrap(base.note, TEXT_WIDTH) + strange
