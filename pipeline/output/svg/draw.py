"""Ink, type and escaping shared by every figure: elements as SVG text, and the frame a screen reader is given.

Every figure is 400 units wide, so that its type stands at its true size in a column of 400 px; on paper give it 82 mm
or more, where its smallest type is 8 points. Colours are CSS custom properties of the page (--ink, --quiet, --rule,
--paper, --tint, --accent; --face is the type) over plain attributes, which serve where custom properties are not known.
"""

import hashlib
import math
import re
from collections.abc import Iterable, Sequence

from markupsafe import escape as markup_escape

WIDTH = 400.0
TITLE, LABEL = 17, 14
SMALL = LABEL
"""What goes with a drawing is told from its labels by its ink: smaller type would be below 8 points on paper."""
LEADING = {TITLE: 21, LABEL: 17}
TONES = {"ink": "#1f1d1a", "quiet": "#57534c", "rule": "#857f74", "paper": "#ffffff", "tint": "#efe9dd",
         "accent": "#8a3213"}
"""Text stands in ink, quiet or accent only: each is above 7:1 on paper (WCAG 2.2, 1.4.3 asks 4.5:1)."""
FACE = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"
MOST_CHARACTERS = 300
"""A label longer than this is no label: it is cut, so that a hostile cell cannot make the page slow."""

_WIDTHS = {**dict.fromkeys("ijlI|.,:;'!", 0.36), **dict.fromkeys("frt()[]-/\" ", 0.43),
           **dict.fromkeys("mwMW%@—…<>+=#&~", 1.02)}
_GLUED = re.compile(r" +(?!(?:\+ )?\d)")
"""Where a line may break: not before a number (`grid 2`, `grids 2 + 4` stay whole)."""


def clean(text: object) -> str:
    """Text in one line, without characters that XML forbids or that turn the reading order."""
    cut = str(text)[:MOST_CHARACTERS + 1]
    cut = cut if len(cut) <= MOST_CHARACTERS else cut[:-2].rstrip() + "…"
    return "".join(c if c.isprintable() else " " if c.isspace() else "\ufffd" for c in cut).strip()


def escape(text: object) -> str:
    """`text` cleaned, safe inside an element or a quoted attribute."""
    return markup_escape(clean(text))


def num(value: float) -> str:
    """A coordinate, to a tenth of a unit."""
    if not math.isfinite(value):
        raise ValueError(f"a coordinate must be finite: {value}")
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def text_width(text: str, size: float, bold: bool = False) -> float:
    """An upper estimate of the text's width in units, after the widest usual sans-serif (DejaVu Sans, measured)."""
    ems = sum(_WIDTHS.get(c, 0.0) or (1.0 if ord(c) > 0x2E7F else 0.8 if c.isupper() else 0.65) for c in text)
    return ems * size * (1.1 if bold else 1.0)


def wrap(text: object, width: float, size: float, bold: bool = False, most: int = 6) -> list[str]:
    """`text` in lines no wider than `width`; too long a word is broken, a text too long for `most` lines ends in …"""
    lines: list[str] = [""]
    for word in _GLUED.split(clean(text)):
        if lines[-1] and text_width(f"{lines[-1]} {word}", size, bold) <= width:
            lines[-1] += " " + word
            continue
        pieces = _pieces(word, width, size, bold)
        lines = lines[:-1] + pieces if not lines[-1] else lines + pieces
    if len(lines) > most:
        lines = [*lines[:most - 1], fitted(lines[most - 1] + "…", width, size, bold)]
    return lines


def wrap_list(entries: Iterable[object], width: float, size: float, most: int = 12) -> list[str]:
    """Entries with commas between, in lines; no entry is broken over two lines, and what is left out is counted."""
    said = [fitted(entry, width - size, size) for entry in entries]
    said = [entry + "," for entry in said[:-1]] + said[-1:]
    rows: list[list[str]] = []
    for entry in said:
        if rows and text_width(" ".join([*rows[-1], entry]), size) <= width:
            rows[-1].append(entry)
        else:
            rows.append([entry])
    rest = sum(len(row) for row in rows[most - 1:])
    rows = rows if len(rows) <= most else [*rows[:most - 1], [f"and {rest} more"]]
    return [" ".join(row) for row in rows]


def _pieces(word: str, width: float, size: float, bold: bool) -> list[str]:
    pieces = [""]
    for letter in word:
        if pieces[-1] and text_width(pieces[-1] + letter, size, bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces


def fitted(text: object, width: float, size: float, bold: bool = False) -> str:
    """`text` in one line of at most `width`, cut with … where it must be."""
    text = clean(text)
    if text_width(text, size, bold) <= width:
        return text
    while text and text_width(text + "…", size, bold) > width:
        text = text[:-1]
    return text.rstrip(" …") + "…"


def tone(fill: str | None = None, stroke: str | None = None, width: float = 1.0, dash: str = "") -> str:
    """Paint attributes: a plain colour, and over it the page's own by custom property."""
    pairs = [("fill", fill or "none")] + ([("stroke", stroke)] if stroke else [])
    plain = "".join(f' {name}="{TONES.get(value, value)}"' for name, value in pairs)
    own = ";".join(f"{name}:var(--{value},{TONES[value]})" for name, value in pairs if value in TONES)
    plain += f' stroke-width="{num(width)}"' if stroke else ""
    plain += f' stroke-dasharray="{dash}"' if stroke and dash else ""
    return plain + (f' style="{own}"' if own else "")


def text(x: float, y: float, words: object, *, size: int = LABEL, anchor: str = "start", ink: str = "ink",
         bold: bool = False, halo: bool = False) -> str:
    """One line of text; `y` is its base line. With a `halo` of paper no line behind it runs through its letters."""
    weight = ' font-weight="700"' if bold else ""
    paint = tone(ink, "paper", 4) + ' stroke-linejoin="round" paint-order="stroke"' if halo else tone(ink)
    return (f'<text x="{num(x)}" y="{num(y)}" font-size="{size}" text-anchor="{anchor}"{weight}{paint}>'
            f"{escape(words)}</text>")


def lines(x: float, y: float, rows: Sequence[str], *, size: int = LABEL, anchor: str = "start", ink: str = "ink",
          bold: bool = False) -> str:
    """Rows of text, the first with its base line at `y`."""
    return "".join(text(x, y + i * LEADING[size], row, size=size, anchor=anchor, ink=ink, bold=bold)
                   for i, row in enumerate(rows))


def path(points: Iterable[tuple[float, float]], *, fill: str | None = None, stroke: str | None = "ink",
         width: float = 1.0, dash: str = "", closed: bool = False) -> str:
    """A run of straight lines through `points`."""
    run = "L".join(f"{num(x)} {num(y)}" for x, y in points)
    return f'<path d="M{run}{"Z" if closed else ""}" stroke-linejoin="round"{tone(fill, stroke, width, dash)}/>'


def circle(x: float, y: float, r: float, *, fill: str | None = None, stroke: str | None = "ink", width: float = 1.0,
           dash: str = "") -> str:
    return f'<circle cx="{num(x)}" cy="{num(y)}" r="{num(r)}"{tone(fill, stroke, width, dash)}/>'


def box(x: float, y: float, w: float, h: float, *, fill: str | None = None, stroke: str | None = "ink",
        width: float = 1.0, dash: str = "") -> str:
    return (f'<rect x="{num(x)}" y="{num(y)}" width="{num(max(w, 0.0))}" height="{num(max(h, 0.0))}"'
            f"{tone(fill, stroke, width, dash)}/>")


def hatch(x: float, y: float, w: float, h: float, *, step: float = 6.0, stroke: str = "ink", width: float = 1.0) -> str:
    """Slanting lines over a box, drawn out (a pattern would need an id, and ids clash on a page of many figures)."""
    runs = []
    for k in range(1, int((w + h) / step) + 1):
        reach = k * step
        start = (max(reach - h, 0.0), min(reach, h))
        end = (min(reach, w), max(reach - w, 0.0))
        if end[0] > start[0]:
            runs.append(f"M{num(x + start[0])} {num(y + start[1])}L{num(x + end[0])} {num(y + end[1])}")
    return f'<path d="{"".join(runs)}"{tone(None, stroke, width)}/>' if runs else ""


def document(title: object, description: Iterable[object], height: float, body: Sequence[str], key: str = "", *,
             width: float = WIDTH) -> str:
    """The whole figure; `description` says in sentences what the drawing shows, for who hears it.

    `key` makes the ids of two like figures on one page differ (a ref, say).
    """
    named = escape(title)
    said = " ".join(escape(part) for part in description)
    content = "".join(body)
    mark = "tw-" + hashlib.sha256("\0".join((key, named, said, content)).encode()).hexdigest()[:10]
    return (f'<svg xmlns="http://www.w3.org/2000/svg" role="img" viewBox="0 0 {num(width)} {num(height)}" '
            f'width="{num(width)}" height="{num(height)}" aria-labelledby="{mark}-t" aria-describedby="{mark}-d" '
            f'font-family="{FACE}" style="font-family:var(--face,{FACE})">'
            f'<title id="{mark}-t">{named}</title><desc id="{mark}-d">{said}</desc>{content}</svg>')
