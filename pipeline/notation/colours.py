"""Colour marks: resistor bands, body-end-dot, mica dots.

Digits, multipliers and tolerances: IEC 60062:2016 and its older table; body-end-dot order: RMA habit,
recalled.  Mica dots: RMA/EIA moulded mica (three dots) and the AWS six-dot order of US Army Ordnance
subcourse OD1647, voltages from AN 16-40BC224-2 pp. 7-4, 7-5 (second hand).
"""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.reading import Reading, Refusal, Section

_DIGITS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
TOLERANCE_PCT = {
    "brown": 1.0, "red": 2.0, "green": 0.5, "blue": 0.25, "violet": 0.1, "grey": 0.05,
    "gold": 5.0, "silver": 10.0, "none": 20.0,
}  # fmt: skip
"""Tolerance bands of resistors, in percent."""

_ALIASES = {
    "gray": "grey", "purple": "violet", "blk": "black", "brn": "brown", "org": "orange", "orn": "orange",
    "yel": "yellow", "grn": "green", "blu": "blue", "vio": "violet", "gry": "grey", "wht": "white", "gld": "gold",
    "slv": "silver", "sil": "silver", "bk": "black", "bn": "brown", "rd": "red", "og": "orange", "ye": "yellow",
    "gn": "green", "bu": "blue", "vt": "violet", "gy": "grey", "wh": "white", "gd": "gold", "sr": "silver",
}  # fmt: skip
_COLOURS = {*_DIGITS, "gold", "silver", "none", "body"}
_PLACES = {"body": "body", "end": "end", "tip": "end", "dot": "dot", "spot": "dot", "band": "band"}
_FILLERS = {
    "and",
    "no",
    "bands",
    "dots",
    "with",
    "mica",
    "resistor",
    "capacitor",
    "moulded",
    "molded",
    "rma",
    "aws",
}


def colour_words(text: str) -> list[str] | None:
    """Return the standard colour and place words of a text, or None where other words are in it."""
    words = [word.lower() for word in re.split(r"[\s,;/:.+()=-]+", text) if word]
    words = [_ALIASES.get(word, word) for word in words]
    if not all(word in _COLOURS or word in _PLACES or word in _FILLERS for word in words):
        return None
    words = [word for word in words if word not in _FILLERS]
    words = [{"tip": "end", "spot": "dot"}.get(word, word) for word in words]
    return words if sum(word in _COLOURS and word != "body" for word in words) >= 3 else None


def read_bands(words: list[str]) -> Reading:
    """Read a resistor's colours, in the order of its bands or by body, end and dot.

    Parameters
    ----------
    words : list of str
        From `colour_words`.

    Raises
    ------
    Refusal
        Colours that no resistor bears in that order.
    """
    if any(word in ("body", "end", "dot") for word in words):
        words = _body_end_dot(words)
    words = [word for word in words if word != "band"]
    digits = 3 if len(words) in (5, 6) else 2
    if not 3 <= len(words) <= 6:
        raise Refusal(f"{len(words)} colours: a resistor has three to six bands")
    if words[0] in ("gold", "silver", "none"):
        raise Refusal(f"no value starts with {words[0]}: read the bands from the other end")
    if words[0] == "black":
        raise Refusal(
            "no value starts with black: look again, it may be worn brown or read from the wrong end"
        )
    ohms = _value(words, digits)
    band = words[digits + 1] if len(words) > digits + 1 else "none"
    if band not in TOLERANCE_PCT:
        raise Refusal(f"{band} is no tolerance band in the old table")
    notes = ("the sixth band, the temperature coefficient, is not read",) if len(words) == 6 else ()
    if digits == 3 and words[3] in ("gold", "silver") and words[4] not in ("gold", "silver"):
        raise Refusal(
            "five bands with gold or silver fourth: an old four-band part with a reliability band, "
            "or a five-band part read in full; write the ohms"
        )
    return Reading(kind="resistor", ohms=float(ohms), tolerance_pct=TOLERANCE_PCT[band], notes=notes)


def _value(words: list[str], digits: int) -> Decimal:
    """Return figures times multiplier."""
    if any(word not in _DIGITS for word in words[:digits]):
        raise Refusal(f"the first {digits} colours must be figures, not gold or silver")
    figures = int("".join(str(_DIGITS.index(word)) for word in words[:digits]))
    power = {"gold": -1, "silver": -2}.get(words[digits])
    if power is None:
        if words[digits] not in _DIGITS[:8]:
            raise Refusal(f"{words[digits]} as multiplier makes no value that was sold")
        power = _DIGITS.index(words[digits])
    return Decimal(figures).scaleb(power)


def _body_end_dot(words: list[str]) -> list[str]:
    """Put ``body red end violet dot orange`` (either order of each pair) into band order."""
    label_first = words[0] in _PLACES
    found: dict[str, str] = {}
    loose: list[str] = []
    pending: str | None = None
    for word in words:
        is_place = word in ("body", "end", "dot")
        if pending is None:
            pending = word
        elif is_place == (pending in ("body", "end", "dot")):
            loose.append(pending)
            pending = word
        else:
            place, colour = (pending, word) if label_first else (word, pending)
            if place not in ("body", "end", "dot") or place in found:
                raise Refusal("write the colours as body, end, dot, each once")
            found[place] = colour
            pending = None
    loose += [pending] if pending else []
    if set(found) != {"body", "end", "dot"} or len(loose) > 1 or any(word in _PLACES for word in loose):
        raise Refusal(
            "body, end and dot must each have a colour; where a mark is missing it has the body's colour"
        )
    return [found["body"], found["end"], found["dot"], *loose]


def read_dots(words: list[str]) -> Reading:
    """Read the dots of a moulded mica (or AWS paper) capacitor.

    Three dots are figure, figure, multiplier in pF, 500 V, 20 %.  Six dots starting black, white or silver
    are type, figure, figure / characteristic, tolerance, multiplier.

    Raises
    ------
    Refusal
        Any other count: the orders of makers differ.
    """
    words = [word for word in words if word not in ("dot", "band")]
    if len(words) == 3:
        pf = _value(words, 2)
        note = "read as a three-dot moulded mica: pF, 500 V, 20 %"
        return _mica(pf, 500.0, (-20.0, 20.0), note)
    if len(words) == 6 and words[0] in ("black", "white", "silver"):
        pf = _value([words[1], words[2], words[5]], 2)
        if words[0] == "silver":
            return _mica(pf, None, None, "read as an AWS six-dot paper capacitor: pF")
        volts = None if pf > 10000 else 500.0 if pf < 6800 else 300.0
        return _mica(pf, volts, None, "read as an AWS six-dot mica: pF; its volts follow from its value")
    raise Refusal(
        f"{len(words)} capacitor colours can be read in more than one order: write the value, as 510 pF"
    )


def _mica(pf: Decimal, volts: float | None, band: tuple[float, float] | None, note: str) -> Reading:
    section = Section(float(pf.scaleb(-6)), volts)
    return Reading(
        kind="capacitor", sections=(section,), polarised=False, tolerance_band_pct=band, notes=(note,)
    )
