"""A tube's base from below, small: pin numbers and electrodes in letters, to stand beside the table of its volts."""

import math
from collections.abc import Iterable, Mapping

from pipeline.output.svg import draw
from pipeline.output.svg.bases import Base, base_of
from pipeline.output.svg.electrodes import PinWords, pin_words

SIDE, RIM, RING, PIN, LETTERS_AT, TYPE = 150.0, 54.0, 39.0, 9.5, 64.0, 13
"""Units of the drawing; at 34 mm its type stands at 8 points."""
CENTRE = SIDE / 2
_LETTERS = {"heater": "h", "filament": "f", "plate": "p", "cathode": "k", "grid": "g", "control grid": "g1",
            "screen": "g2", "suppressor": "g3"}


def socket_drawing(type_: str, base: str | None, pins: Iterable[Mapping[str, object]], *, key: str = "") -> str | None:
    """The base from below as a small SVG, or None where there are no pins or their places are not held.

    Plates have a thick ring, heaters a double one, as in the large drawing (`base_drawing`); `key` makes its ids its
    own.
    """
    words, found = pin_words(pins), base_of(base)
    if not words or found is None:
        return None
    by_pin = {w.pin: w for w in words}
    body = [draw.circle(CENTRE, CENTRE, RIM, fill="paper", width=1.3), _foot(found)]
    for number, angle in enumerate(found.angles, 1):
        body.append(_pin(number, by_pin.get(str(number)), math.radians(angle)))
    if "cap" in by_pin:
        body.append(draw.text(CENTRE, CENTRE + 4, "cap", size=TYPE, anchor="middle"))
    said = [f"{'Top cap' if w.pin == 'cap' else 'Pin ' + w.pin}: {w.words}." for w in words]
    return draw.document(f"{draw.clean(type_)}: {found.name} base from below, small", said, SIDE, body, key, width=SIDE)


def _foot(base: Base) -> str:
    """What tells where the numbering begins: the spigot's key, the bump, or another mark."""
    y = CENTRE + RIM
    if base.shape == "spigot":
        return draw.circle(CENTRE, CENTRE, 20, width=1) + draw.box(CENTRE - 4, CENTRE + 19.5, 8, 5.5, fill="ink")
    if base.shape == "bump":
        return draw.path([(CENTRE - 5, y), (CENTRE - 4, y + 5), (CENTRE + 4, y + 5), (CENTRE + 5, y)], fill="ink")
    return draw.path([(CENTRE, y + 2), (CENTRE - 4, y + 9), (CENTRE + 4, y + 9)], fill="ink", closed=True) \
        if base.mark else ""


def _pin(number: int, pin: PinWords | None, angle: float) -> str:
    """A pin with its number, and beside the rim its electrode's letters where these are few."""
    across, down = -math.sin(angle), math.cos(angle)
    x, y = CENTRE + RING * across, CENTRE + RING * down
    look = pin.look if pin else "idle"
    mark = draw.circle(x, y, PIN, fill="paper", width=2.4 if look == "plate" else 1.1,
                       dash="3 2" if look == "idle" else "")
    mark += draw.circle(x, y, PIN - 2, width=0.7) if look == "heater" else ""
    mark += draw.text(x, y + 4.5, number, size=TYPE, anchor="middle", bold=look != "idle",
                      ink="quiet" if look == "idle" else "ink")
    letters = _LETTERS.get(pin.words.partition(",")[0], "") if pin else ""
    return mark + (draw.text(CENTRE + LETTERS_AT * across, CENTRE + LETTERS_AT * down + 4.5, letters, size=TYPE,
                             anchor="middle") if letters else "")
