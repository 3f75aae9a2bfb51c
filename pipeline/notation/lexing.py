"""Characters, numbers and words that all markings share."""

from __future__ import annotations

import re
import unicodedata
from decimal import Decimal

from pipeline.notation.reading import Refusal

LONGEST = 200

NUMBER = r"(?:[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+)"
_BLANK_THOUSANDS = (
    r"(?i)(?<![\w.,])([1-9][0-9]{0,2})((?:[ '][0-9]{3})*[ '][0-9]00)(?=\s*(?:pf|p|mmfd?|µµf|cm|ohms?|Ω)(?![^\W_]))"
)
FRACTION = r"[0-9]{1,2}/[0-9]{1,2}"

_VULGAR = {"½": ".5", "¼": ".25", "¾": ".75", "⅛": ".125", "⅜": ".375", "⅝": ".625", "⅞": ".875"}
_AS_FRACTION = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_CYRILLIC = {
    "мкф": "µF", "мк": "µF", "пф": "pF", "нф": "nF", "в": "V", "кв": "kV", "ом": "ohm", "ком": "kohm", "мом": "Megohm",
    "вт": "W", "ма": "mA", "а": "A", "гн": "H", "мгн": "mH", "гц": "Hz", "кгц": "kHz", "мгц": "MHz", "к": "k",
    "мкгн": "µH", "об/мин": "rpm", "мм": "mm", "см": "cm", "м": "M", "ω": "Ω",
}  # fmt: skip
_CYRILLIC_AMOUNT = (
    rf"(?i)((?<![^\W_]){NUMBER})(\s*)({'|'.join(sorted(_CYRILLIC, key=len, reverse=True))})(?![^\W_])"
)
_SAME = str.maketrans(
    {
        "\u03bc": "\u00b5", "\u2126": "\u03a9", "\u00d7": "x", "\u2715": "x", "\u2217": "*", "\u2013": "-",
        "\u2014": "-", "\u2010": "-", "\u2011": "-", "\u2012": "-", "\u2212": "-", "\u2044": "/", "\u2215": "/",
        "\u2248": "~", "\u223c": "~", "\u2393": "=", "\u201c": '"', "\u201d": '"', "\u2019": "'", "\u2018": "'",
        "\u2116": "No ", "\u338c": "\u00b5F", "\u338b": "nF", "\u338a": "pF", "\u33c0": "k\u03a9",
        "\u33c1": "M\u03a9", "\u00ba": "\u00b0", "\u2103": "\u00b0C", "\t": " ", "\n": " ", "\r": " ",
    }
)  # fmt: skip


def clean(marking: str) -> str:
    """Return a marking with one character for one meaning: µ, Ω, x, hyphen, plain blanks.

    Raises
    ------
    Refusal
        Nothing there, more than 200 characters, or a control character.
    """
    if len(marking) > LONGEST:
        raise Refusal(f"longer than {LONGEST} characters: write only what is printed on the part")
    text = marking.translate(_SAME)
    if not (text.isascii() and text.isprintable()):
        text = _plain(text)
    text = " ".join(text.split())
    if not any(char.isalnum() for char in text):
        raise Refusal("no letter and no figure in it")
    return text


def _plain(text: str) -> str:
    """Fold or drop what ASCII does not have; raises Refusal for a control character."""
    kinds = [unicodedata.category(char) for char in text]
    if "Cc" in kinds or "Cs" in kinds:
        raise Refusal("it holds control characters: type it again by hand")
    text = "".join(_fold(char) for char, kind in zip(text, kinds, strict=True) if kind != "Cf")
    return _latin_units(_decimals(text))


def _decimals(text: str) -> str:
    """Write ½ and its kin as decimals: ``1½`` is 1.5, but ``4k7 ½W`` and ``470½W`` hold two numbers.

    A lone figure with a blank after it (``1 ½ A``) stays a mixed number, for the readers to judge.
    """
    marks = "".join(_VULGAR)
    if not any(mark in text for mark in marks):
        return text
    text = re.sub(
        rf"(?<![^\s(+/@])([0-9])\s([{marks}])", lambda m: f"{m[1]} {_AS_FRACTION[m[2]]}", text
    )
    text = re.sub(rf"(?<![^\s(+/@-])([0-9]{{1,2}})([{marks}])", lambda m: m[1] + _VULGAR[m[2]], text)
    return re.sub(rf"(?<=[^\s])(\s?)([{marks}])|([{marks}])", _standing_alone, text)


def _standing_alone(match: re.Match[str]) -> str:
    return f"0{_VULGAR[match[3]]}" if match[3] else f" 0{_VULGAR[match[2]]}"


def _latin_units(text: str) -> str:
    """Write a Cyrillic unit after its number in Latin letters: ``20 мкФ 450 В`` becomes 20 µF 450 V."""
    if not (has_cyrillic(text) or "ω" in text):
        return text
    return re.sub(_CYRILLIC_AMOUNT, lambda m: f"{m[1]}{m[2]}{_CYRILLIC[m[3].lower()]}", text)


def has_cyrillic(text: str) -> bool:
    """Tell whether a letter of it is Cyrillic."""
    return not text.isascii() and any("\u0400" <= char <= "\u04ff" for char in text)


def _fold(char: str) -> str:
    """Fold full-width forms and odd blanks to the plain character."""
    if "\uff01" <= char <= "\uff5e":
        return chr(ord(char) - 0xFEE0)
    return " " if char.isspace() else char


def undotted(text: str) -> str:
    """Drop the points of abbreviations: ``D.C.W.V.`` becomes DCWV, ``mfd.`` becomes mfd."""
    text = re.sub(r"(?<![A-Za-z0-9])(?:[A-Za-zµ]\.){2,}", lambda m: m[0].replace(".", ""), text)
    text = re.sub(r"(?<=[0-9])(?:[A-Za-zµ]\.){2,}", lambda m: m[0].replace(".", ""), text)
    return re.sub(r"(?<=[A-Za-zµ])\.(?![0-9])", "", text)


def number(text: str) -> tuple[Decimal, str | None]:
    """Read one number, with decimal point, decimal comma or thousands commas.

    Parameters
    ----------
    text : str
        What `NUMBER` matches.

    Returns
    -------
    tuple
        The exact value, and a note where a comma was taken for a thousands mark.

    Raises
    ------
    Refusal
        Points and commas that make no number.
    """
    if re.fullmatch(r"[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]+)?", text):
        return Decimal(text.replace(",", "")), f"the comma in {text} is taken as a thousands mark"
    if re.fullmatch(r"[1-9][0-9]{0,2}(\.[0-9]{3}){2,}(,[0-9]+)?", text):
        return Decimal(text.replace(".", "").replace(",", ".")), f"the points in {text} are thousands marks"
    if re.match(r"0[0-9]", text):
        raise Refusal(
            f"'{text}' starts with a needless 0: is a point lost? write it as 0.{text[1:]} or {text.lstrip('0')}"
        )
    plain = text.replace(",", ".")
    if plain.count(".") > 1:
        raise Refusal(f"'{text}' is not a number")
    return Decimal(plain), None


def blank_thousands(text: str) -> tuple[str, str | None]:
    """Join ``10 000 pF`` and ``4'700 ohm``, as French and Swiss parts have them, and say so."""
    match = re.search(_BLANK_THOUSANDS, text) if "00" in text else None
    if match is None:
        return text, None
    joined = match[1] + re.sub(r"[ ']", "", match[2])
    return text.replace(match[0], joined, 1), f"{match[0]} is taken as {joined}"


def dotted_thousands(text: str) -> bool:
    """Tell whether a number such as ``5.000`` may be five thousand, as on German parts."""
    return re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", text) is not None


def amount(text: str) -> Decimal:
    """Read a number or a fraction: ``0.5``, ``1/2``, ``1-1/2``, ``2 1/2``."""
    match = re.fullmatch(rf"(?:([0-9]{{1,2}})[\s-])?({FRACTION})", text)
    if not match:
        return number(text)[0]
    top, bottom = (int(part) for part in match[2].split("/"))
    if not 0 < top < bottom:
        raise Refusal(f"'{text}' is no fraction a maker would print")
    return Decimal(match[1] or 0) + Decimal(top) / Decimal(bottom)


def shown(value: float | Decimal) -> str:
    """Write a number without a needless tail: 16, 0.05, 4.7."""
    return f"{float(value):.12g}"


def speaks_of(text: str, *words: str) -> bool:
    """Tell whether one of some words or letters, in lower case, stands in a text.

    A reader asks this before it tries a pattern that needs one of them: to compile the pattern costs a hundred times as
    much, which a short parts list would pay for every part that it does not hold.
    """
    lower = text.lower()
    return any(word in lower for word in words)


def listed(items: list[str] | tuple[str, ...]) -> str:
    """Join names for a sentence: ``a, b or c``."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} or {items[-1]}"
