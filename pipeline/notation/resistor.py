"""Resistors: 470K, 4K7, 1 meg, 2,2 MΩ, 470 ohm 1 W 10%, colour words.

Letter-as-point codes and tolerance letters are those of IEC 60062; preferred values, IEC 60063.
"""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.colours import colour_words, read_bands
from pipeline.notation.lexing import (
    FRACTION,
    NUMBER,
    amount,
    blank_thousands,
    dotted_thousands,
    number,
    speaks_of,
    undotted,
)
from pipeline.notation.reading import Reading, Refusal

LETTER_PCT = {"B": 0.1, "C": 0.25, "D": 0.5, "F": 1.0, "G": 2.0, "J": 5.0, "K": 10.0, "M": 20.0, "N": 30.0}
"""Tolerance letters of IEC 60062, in percent."""

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
"""Two-figure preferred values of IEC 60063."""

_POINTS = {"R": Decimal(1), "E": Decimal(1), "K": Decimal(1000), "M": Decimal(10) ** 6}
_UNITS = (
    (r"k\s*(?:il)?(?:o?hms?|Ω|R)?|kilo\s*ohms?", Decimal(1000)),
    (r"meg(?:s|ohms?|\s*ohms?|\s*Ω)?|m", Decimal(10) ** 6),
    (r"ohms?|Ω|r|e", Decimal(1)),
)
_MEGOHM = r"M\s*(?:[Oo]hms?|OHMS?|Ω)"
_WORDS = (
    r"(?i)\b(?:carbon|comp(?:osition)?|wire[\s-]?wound|ww|metal|film|oxide|flame[\s-]?proof|fusible|resistors?|"
    r"ceramic|sand[\s-]?block|vitreous|enamel(?:l?ed)?|power|type|tol(?:erance)?|pot(?:entiometer)?|volume|"
    r"control|trim(?:mer|pot)?|variable|rheostat|stopper|value|rated|at|candohm|fusible|widerstand|draht|schicht|"
    r"kohle(?:schicht)?|résistance|bobinée|filo|резистор|млт|вс|улм|пэв|пэвр|ули|млт-[0-9,.]+|insulated|isol|hum|"
    r"drahtgewickelt|zement|carbone|agglom[ée]r[ée]e?|à couche|couche|a filo|impasto|"
    r"(?:brown|red|orange|yellow|green|blue|grey|gray|white|black) (?:body|case)|"
    r"dropper|section|allen[\s-]bradley|erie|dubilier|morganite|vitrosil|dralowid|siemens|metal[\s-]clad)\b"
)
_CENTRE_TAP = r"(?i)\bc\.?t\b\.?|\bcent(?:re|er)[\s-]*tap(?:ped)?\b|\bmittelabgriff\b"
_SOVIET_WATTS = r"(?i)\b(?:млт|вс|улм|пэвр?|омлт|с2-\d\d|mlt|vs|pev)-([0-9]+(?:[.,][0-9]+)?)\b"


def read_resistor(text: str, *, expected: bool = False) -> Reading | None:
    """Read a resistor's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    expected : bool
        True where ref or role says that it is a resistor: then a bare number is ohms.

    Returns
    -------
    Reading or None
        Ohms, watts, tolerance in percent.

    Raises
    ------
    Refusal
        A value that can be two, or that no resistor has.
    """
    if (words := colour_words(text)) is not None:
        return read_bands(words)
    return _printed(undotted(text), expected)


def _printed(text: str, expected: bool) -> Reading | None:
    text, by_type = _typed_watts(text)
    text, joined = blank_thousands(text)
    rest, tapped = re.subn(_CENTRE_TAP, " ", text)
    rest, watts = _watts(rest)
    rest, percent = _tolerance(rest)
    watts = by_type if watts is None else watts
    rest = re.sub(r",(?![0-9])|[();]", " ", re.sub(_WORDS, " ", rest))
    rest = " ".join(rest.split()).strip(" /@+-")
    rated = watts is not None or percent is not None
    value = _coded(rest, expected) or _with_unit(rest) or _bare(rest, expected, rated)
    if value is None:
        return None
    ohms, letter, notes, bare = value
    if not Decimal("0.001") <= ohms <= Decimal(10) ** 9:
        raise Refusal(f"{ohms:f} ohm is no resistor of a tube set")
    _not_below_zero(text)
    notes = (*notes, joined) if joined else notes
    if tapped:
        notes = (*notes, "CT: the ohms are taken from end to end")
    return Reading(
        kind="resistor",
        ohms=float(ohms),
        watts=watts,
        tolerance_pct=percent if percent is not None else LETTER_PCT.get(letter or ""),
        notes=notes,
        centre_tap=True if tapped else None,
        bare=bare,
    )


def _typed_watts(text: str) -> tuple[str, float | None]:
    """Take the watts out of a Soviet type such as МЛТ-2 or ВС-0,5."""
    match = re.search(_SOVIET_WATTS, text) if "-" in text else None
    if not match:
        return text, None
    return f"{text[: match.start()]} {text[match.end() :]}".strip(), float(number(match[1])[0])


def _not_below_zero(text: str) -> None:
    if "-" in text and re.search(rf"(?:^|[\s(=])-\s?{NUMBER}(?!\s*%)(?!\s*/?\s*\+)", text):
        raise Refusal("a minus sign stands before a number: no part has a value below zero; write it without")


def _watts(text: str) -> tuple[str, float | None]:
    if mixed := re.match(rf"(?i)[0-9] {FRACTION}\s*w", text):
        raise Refusal(f"{mixed[0]} can be a mixed number or ohms and watts: write the ohms with their unit")
    match = re.search(rf"(?i)(?<![0-9/.,])({FRACTION}|{NUMBER})\s*-?\s*w(?:atts?)?(?![a-z0-9])", text)
    if not match:
        return text, None
    watts = float(amount(match[1]))
    if not 0 < watts <= 1000:
        raise Refusal(f"{match[0].strip()} is no rating of a resistor")
    return f"{text[: match.start()]} {text[match.end() :]}".strip(), watts


def _tolerance(text: str) -> tuple[str, float | None]:
    if not speaks_of(text, "%", "pct", "per"):
        return text, None
    match = re.search(rf"(?i)(?:±|\+/?-)?\s*(?<![0-9.,])({NUMBER})\s*(?:%|pct\b|per\s?cent\b)", text)
    if not match:
        return text, None
    percent = float(number(match[1])[0])
    if percent > 100:
        raise Refusal(f"{match[0].strip()} is no tolerance")
    return f"{text[: match.start()]} {text[match.end() :]}".strip(), percent


_Value = tuple[Decimal, str | None, tuple[str, ...], bool]


def _coded(text: str, expected: bool) -> _Value | None:
    """Read 4K7, M47, 4R7J, 470RK, 1M0: the letter stands for the point; E for ohm only where expected."""
    points = "RrEeKkM" if expected else "RrKkM"
    match = re.fullmatch(rf"([0-9]{{0,3}})([{points}])([0-9]{{1,3}})\s*([BCDFGJKMN])?", text)
    ballast = match and not match[1] and match[2] in "KM" and (match[4] or "") in ("B", "C", "D")
    if ballast:
        return None  # K55B is a plug-in ballast: no leading-letter resistor was made so close
    if match and len(match[1] + match[3]) <= 4 and (match[1] or match[2] in "RKM"):
        return Decimal(f"{match[1] or 0}.{match[3]}") * _POINTS[match[2].upper()], match[4], (), False
    match = re.fullmatch(r"([0-9]{1,3})([RKM])\s*([BCDFGJKMN])", text)
    return (Decimal(match[1]) * _POINTS[match[2]], match[3], (), False) if match else None


def _with_unit(text: str) -> _Value | None:
    """Read a number with a unit, and perhaps a tolerance letter after it."""
    match = re.fullmatch(rf"({NUMBER})\s*([A-Za-zΩ ]+?)(?:\s+([JKGF]))?", text)
    if not match:
        return None
    if re.fullmatch(r"m\s*(?:ohms?|Ω)", match[2]):
        raise Refusal(f"{match[2]} with a small m is milliohm: write {match[1]} M or {match[1]} ohm as meant")
    scale = Decimal(10) ** 6 if re.fullmatch(_MEGOHM, match[2]) else None
    for pattern, factor in _UNITS:
        if scale is None and re.fullmatch(f"(?i)(?:{pattern})", match[2]):
            scale = factor
    if scale is None:
        return None
    if scale == 1 and dotted_thousands(match[1]):
        raise Refusal(
            f"{match[1]} can be a decimal or thousands: write {match[1].replace('.', '')} or add a k"
        )
    value, note = number(match[1])
    notes = [note] if note else []
    if match[2] == "m":
        notes.append("the small m is taken as megohm")
    if match[2] in ("M", "m") and value > 30:
        raise Refusal(
            f"{match[0]} would be {value} megohm; on old drawings M also stood for thousand: write k or meg"
        )
    code_like = re.fullmatch(r"[1-9][0-9][1-6][KkMm]", text) is not None  # 104K is a capacitor code as well
    return value * scale, match[3], tuple(notes), code_like


def _bare(text: str, expected: bool, rated: bool) -> _Value | None:
    """Read a number alone as ohms: where a resistor is expected, or watts or percent stand beside it."""
    if not re.fullmatch(NUMBER, text):
        return None
    value, note = number(text)
    figures = len("".join(str(digit) for digit in value.as_tuple().digits).strip("0"))
    if not (expected or rated):
        preferred = (
            value >= 1 and value == int(value) and int(f"{int(value):0<2}"[:2]) in E24 and figures <= 2
        )
        return (value, None, ("no unit marked: taken as ohms",), True) if preferred else None
    if value == 0 or dotted_thousands(text):
        raise Refusal(f"'{text}' alone: write the unit, as {text} k or {text} ohm")
    if figures == 3 and re.fullmatch(r"[1-9][0-9][1-6]", text):
        code = int(text[:2]) * 10 ** int(text[2])
        raise Refusal(f"{text} can be {text} ohm or, as a three-figure code, {code} ohm: write the unit")
    notes = ["no unit marked: taken as ohms"] + ([note] if note else [])
    return value, None, tuple(notes), False
