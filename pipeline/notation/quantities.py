"""Amounts with their units in any order, as they stand on a motor's plate, a relay or a speaker."""

from __future__ import annotations

import re
from decimal import Decimal
from functools import cache
from typing import Any, NamedTuple

from pipeline.notation.lexing import NUMBER, amount, shown, speaks_of
from pipeline.notation.reading import Refusal

_END = r"(?![^\W_])"


class Quantity(NamedTuple):
    """A unit's pattern with its scales, longest first, and the largest value that is plausible."""

    units: tuple[tuple[str, str], ...]
    most: float


_OHMS = ((r"(?:meg(?:\s*ohms?|s)?|M\s?(?:ohms?|Ω))", "1e6"), (r"(?:k\s?(?:ohms?|Ω)?|kilo\s?ohms?)", "1e3"),
         (r"(?:ohms?|Ω|R)", "1"))
_LENGTH = ((r"mm", "1"), (r"cm", "10"), (r"(?:inch(?:es)?|in\b\.?|\")", "25.4"), (r"(?:feet|ft|foot)", "304.8"),
           (r"(?:metres?|meters?|m)", "1000"))
QUANTITIES: dict[str, Quantity] = {
    "hertz": Quantity(((r"(?:mc/?s?|mhz|megacycles?)", "1e6"), (r"(?:kc/?s?|kcs|khz|kilocycles?)", "1e3"),
                       (r"(?:hz|c/s|c\.p\.s\.|cps|cycles?|cyc|per\b\.?|~)", "1")), 1e9),
    "rpm": Quantity(((r"(?:rpm|r\.p\.m\.|r/min|u/min|tr/mn|tr/min|t/mn|giri|ot/min|об/мин)", "1"),), 20_000),
    "watts": Quantity(((r"mw", "1e-3"), (r"kw", "1e3"), (r"w(?:atts?)?", "1")), 2000),
    "henries": Quantity(((r"(?:µh|uh)", "1e-6"), (r"mh", "1e-3"), (r"h(?:y|ys|en(?:ry|ries|rys))?", "1")), 2000),
    "uf": Quantity(((r"(?:µµf|mmfd?|pf)", "1e-6"), (r"nf", "1e-3"), (r"(?:µf|uf|mfd?|µ|mkf?)", "1")), 2000),
    "volts": Quantity(((r"mv", "1e-3"), (r"kv", "1e3"), (r"v(?:olts?|ac|dc|=|~|-)?\s*(?:ac|dc)?", "1")), 30_000),
    "amps": Quantity(((r"(?:µa|ua|microamps?)", "1e-6"), (r"(?:ma|milliamps?)", "1e-3"),
                      (r"a(?:mps?|mperes?)?", "1")), 100),
    "ohms": Quantity(_OHMS, 50e6),
    "length_mm": Quantity(_LENGTH, 20_000),
    "diameter_mm": Quantity(_LENGTH, 1000),
    "teeth": Quantity(((r"(?:teeth|zähne|dents|denti)", "1"),), 1000),
    "pins": Quantity(((r"(?:pins?|prongs?|pol(?:ig)?|way|broches|контакт\w*)", "1"),), 200),
    "tracks": Quantity(((r"(?:tracks?|spur(?:en)?|pistes?|дорож\w*)", "1"),), 16),
}
"""Quantity, named as in `Reading` -> how it is written."""

_CONTACTS = (
    r"(?i)(?<![^\W_])(?:[SD2-9]P(?:[SD0-9]{1,2})T|[1-9]\s*p(?:ole)?s?\.?\s*[0-9]{1,2}\s*(?:w(?:ay)?|pos(?:ition)?s?)|"
    r"[1-9]\s*(?:change-?over|c/?o|n\.?o\.?|n\.?c\.?))(?![^\W_])"
)
_AMOUNT = (rf"(?i)(?<![^\W_])(?<![0-9.,])(?=(?P<list>(?:{NUMBER}\s*[/+x-]\s*)*)"
           rf"(?P<last>(?:[0-9]{{1,2}}[\s-])?[0-9]{{1,2}}/[0-9]{{1,2}}(?!\s*/)|{NUMBER}))")
"""One value or several, from wherever they may begin; no unit begins with what fewer of them would leave over."""
_MOST_VALUES = 8
_FRACTIONAL = ("watts", "amps", "length_mm", "diameter_mm")


def quantities(text: str, holds: tuple[str, ...]) -> tuple[dict[str, Any], list[str], str]:
    """Take the amounts of some quantities out of a marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    holds : tuple of str
        Names among `QUANTITIES`, and ``contacts``.

    Returns
    -------
    tuple
        Quantity -> value in its unit; notes; the text that is left.

    Raises
    ------
    Refusal
        A value that no part of this trade has.
    """
    found: dict[str, Any] = {}
    notes: list[str] = []
    may_say = "contacts" in holds and speaks_of(text, "sp", "dp", *"123456789")
    if may_say and (match := re.search(_CONTACTS, text)):
        found["contacts"] = " ".join(match[0].upper().split())
        text = f"{text[: match.start()]} {text[match.end() :]}"
    for name in holds:
        values: list[float] = []
        while name in QUANTITIES and len(values) < _MOST_VALUES and (taken := _taken(text, name)) is not None:
            values += taken[0]
            text = taken[1]
        if values:
            _keep(name, values, found, notes)
    return found, notes, text


@cache
def _unit(pattern: str) -> re.Pattern[str]:
    return re.compile(rf"(?i)\s?(?:{pattern}){_END}")


def _taken(text: str, name: str) -> tuple[list[float], str] | None:
    """Return the values of the first amount of a quantity (``110/220 V`` has two) and the rest of the text."""
    amounts = list(re.finditer(_AMOUNT, text))
    for unit, scale in QUANTITIES[name].units if amounts else ():
        match, end = next(((m, u.end()) for m in amounts if (u := _unit(unit).match(text, m.end("last")))), (None, 0))
        if match is None:
            continue
        said = text[match.start() : end].strip()
        if re.search(r"(?:^|[\s(=:])-\s?$", text[: match.start()]):
            raise Refusal(f"a minus sign stands before {said}: write the amount without it")
        written = [*re.findall(NUMBER, match["list"]), match["last"]]
        if name in _FRACTIONAL and _is_fraction(match["list"], written):
            written = ["/".join(written)]
        values = [float(amount(value) * Decimal(scale)) for value in written]
        if any(value > QUANTITIES[name].most for value in values):
            raise Refusal(f"{said} is too much for such a part: is a unit wrong?")
        return values, f"{text[: match.start()]} {text[end:]}"
    return None


def _is_fraction(joined: str, written: list[str]) -> bool:
    """Tell whether ``1/2`` stands there rather than two values."""
    whole = re.fullmatch(r"[1-9]\s*/\s*", joined) and re.fullmatch(r"[2-9]|1[0-9]|32|64", written[-1])
    return bool(whole) and int(written[0]) < int(written[-1])


def _keep(name: str, values: list[float], found: dict[str, Any], notes: list[str]) -> None:
    """Keep the one value; of several say them all and keep none, but the full scale of ``0-1 mA``."""
    values = values[1:] if len(values) == 2 and values[0] == 0 else values
    distinct = sorted(set(values))
    if len(distinct) > 1:
        said, listed = name.split("_")[0], ", ".join(shown(value) for value in distinct)
        notes.append(f"marked for several values of its {said}: {listed}; which holds here is not decided")
    elif distinct[0] > 0:
        found[name] = distinct[0]
