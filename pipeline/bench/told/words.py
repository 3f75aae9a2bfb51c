"""A line's text while amounts and words are taken out of it, until nothing is left that was not understood."""

import re

from pipeline.notation.lexing import clean
from pipeline.notation.resistor import read_resistor
from pipeline.textfile import printable

_NUMBER = r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)"
_UNITS = {
    "V": (r"\s*(k)?v(?:olts?)?(?:\s?(?:ac|dc|rms|eff))?", {"k": 1e3}),
    "A": (r"\s*(m|milli|µ|u)?\s?(?:a|amps?|amperes?)", {"m": 1e-3, "milli": 1e-3, "µ": 1e-6, "u": 1e-6}),
    "Hz": (r"\s*(k)?(?:hz|cycles?|cyc|c/?s|cps|~)", {"k": 1e3}),
    "%": (r"\s*()(?:%|per\s?cent)", {}),
}
OHM = rf"{_NUMBER}\s*(?:k|meg|M)?\s*(?:ohms?|Ω)|\d+[kMR]\d+|{_NUMBER}\s?(?:k|meg|M|R)"
FILLERS = ("the", "a", "an", "of", "for", "and", "with", "is", "are", "by", "at", "on", "in", "its", "from", "to",
           "all", "each", "per", "own", "about", "measured", "cold", "rated", "marked", "says", "=", ":", "-", "&")


class Said:
    """The text of a line; `left` is what no pattern has taken yet."""

    def __init__(self, text: str):
        self.left = f" {clean(text)} " if text.strip() else " "

    def take(self, pattern: str) -> re.Match[str] | None:
        """What a pattern finds between word ends, taken out of the text."""
        match = re.search(rf"(?i)(?<![\w.,+%-])(?:{pattern})(?![\w%])", self.left)
        if match is not None:
            self.left = f"{self.left[:match.start()]} {self.left[match.end():]}"
        return match

    def amount(self, unit: str, label: str = "", *, bare: bool = False) -> float | None:
        """An amount in a unit, with the label before or behind it, if there is one; `bare` numbers need no unit.

        Raises ValueError where two amounts stand for one.
        """
        written, scales = _UNITS[unit]
        one = rf"(?P<n>{_NUMBER})(?:{written})"
        loose = rf"(?P<n>{_NUMBER})(?:{written})?" if bare else one
        between = r"(?:\s+(?:is|of|at|to|about|the))*[\s:=]*"
        patterns = [rf"(?:{label}){between}{loose}", rf"{one}\s*(?:on|at|of|as)?\s*(?:the\s+)?(?:{label})"] if label \
            else [one]
        for pattern in patterns:
            if match := self.take(pattern):
                scale = next((g for g in match.groups()[1:] if g and g.lower() in scales), "")
                return float(match["n"].replace(",", ".")) * scales.get(scale.lower(), 1.0)
        return None

    def only(self, unit: str) -> float | None:
        """The one amount left in a unit; raises ValueError where two are left."""
        first = self.amount(unit)
        second = self.amount(unit) if first is not None else None
        if second is not None and second != first:
            raise ValueError(f"{first:g} {unit} and {second:g} {unit} are said: which of them is it?")
        return first

    def ohms(self, label: str = "") -> float | None:
        """Ohms as a resistor is marked, with the label before or behind them, if there is one."""
        between = r"(?:\s+(?:is|of|at|to|about|the|winding|resistor))*[\s:=]*"
        for pattern in ([rf"(?:{label}){between}(?P<n>{OHM})", rf"(?P<n>{OHM})\s*(?:in\s+the\s+|on\s+the\s+|of\s+)?"
                         rf"(?:{label})"] if label else [rf"(?P<n>{OHM})"]):
            if match := self.take(pattern):
                return ohms_of(match["n"])
        return None

    def words(self) -> list[str]:
        """The words that are left, without commas at their ends and what only joins."""
        found = (word.strip(",;:") for word in self.left.split())
        return [word for word in found if word and (word.lower() not in FILLERS or word == "A")]


def ohms_of(text: str) -> float:
    """Ohms as marked; raises ValueError where they cannot be read."""
    found = read_resistor(clean(text), expected=True)
    if found is None or found.ohms is None:
        raise ValueError(f"{printable(text)!r} is no resistance: write for example 48 ohm or 4k7")
    return float(found.ohms)


def not_understood(words: list[str], example: str) -> ValueError:
    """What to say of words that are left of a line."""
    said = printable(" ".join(words)[:40])
    return ValueError(f"{said!r} is not understood here: say for example {example}")
