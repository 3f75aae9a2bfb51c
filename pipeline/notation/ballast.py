"""Ballasts and barretters: K55B, BM49C, 0,3Б17-35, EU VI, barretter 302.

The code of the American plug-in ballasts (recalled, to be confirmed in the RMA standard it is believed to stand in):
an optional B for true ballast action, then the letter of the pilot lamp (K 0.15 A, L 0.25 A, M 0.2 A), at
times a letter of the base, the volts that resistor and lamp drop together at 0.3 A, and the letter of the base wiring.
The code of Soviet barretters (recalled): amps, the letter Б, lowest and highest volts.
"""

from __future__ import annotations

import re

from pipeline.notation.lexing import number
from pipeline.notation.quantities import quantities
from pipeline.notation.reading import Reading, Refusal

_RMA = r"(B?)([KLM])([XYZ]?)[\s-]?([0-9]{2,3})[\s-]?([A-H])([A-Z0-9]?)"
_SOVIET = r"(?i)([0-9]+(?:[.,][0-9]+)?)Б([0-9]+(?:[.,][0-9]+)?)-([0-9]+(?:[.,][0-9]+)?)"
_LAMPS = {"K": "0.15 A (40 or 47)", "L": "0.25 A (44 or 46)", "M": "0.2 A (50 or 51)"}
_LINE_A = 0.3
_MOST_A = 20.0
_LEAST_V, _MOST_V = 20, 110
_WORDS = (
    r"(?i)(?<![^\W\d_])(?:ballast(?:\s+(?:tube|resistor))?|barretter|baretter|barreter|iron[\s-]hydrogen|eisenurdox|urdox|"
    r"бареттер|tube|type|plug-in resistor)(?![^\W\d_])"
)


def read_ballast(text: str, expected: bool) -> Reading | None:
    """Read a ballast's or barretter's marking.

    Parameters
    ----------
    text : str
        A marking as `lexing.clean` leaves it.
    expected : bool
        True where a word, ref or column says what it is: then its number is kept though it says nothing.

    Returns
    -------
    Reading or None
        Type as printed; volts dropped and amps where its code says them.
    """
    name = " ".join(re.sub(_WORDS, " ", text).split()).strip(" -,;:()")
    if match := re.fullmatch(_RMA, name.upper()):
        volts = int(match[4])
        if _LEAST_V <= volts <= _MOST_V:
            return _american(match, volts)
    if match := re.fullmatch(_SOVIET, re.sub(r"\s", "", name)):
        amps, low, high = (float(number(part)[0]) for part in match.groups())
        if not (0 < amps < _MOST_A and 0 < low < high):
            raise Refusal("its amps or volts are those of no barretter: read it again")
        note = f"holds {amps:g} A while it drops {low:g} to {high:g} V (the code of Soviet barretters, recalled)"
        return Reading(kind="ballast", type=match[0].upper(), amps=amps, notes=(note,))
    if not expected:
        return None
    values, notes, rest = quantities(name, ("volts", "amps", "ohms"))
    left = " ".join(rest.split()).strip(" -,;:()")
    if left:
        notes.append("its number says nothing of its volts and amps: look them up, or measure the drop when it runs")
    return Reading(kind="ballast", type=left or None, notes=tuple(notes), **values)


def _american(match: re.Match[str], volts: int) -> Reading:
    ballast, lamp, _, _, wiring, more = match.groups()
    notes = [
        f"by the code of plug-in ballasts (recalled): drops {volts} V at {_LINE_A:g} A, made for pilot lamps of "
        f"{_LAMPS[lamp]} on its taps, base wired as {wiring}",
        "measure the volts across it in the running set before you trust the code",
    ]
    notes += ["B: it evens the current out, which a plain resistor in its place does not"] if ballast else []
    notes += [f"the {more} after the wiring is not read"] if more else []
    return Reading(
        kind="ballast", type=re.sub(r"[\s-]", "", match[0]), volts=float(volts), amps=_LINE_A, notes=tuple(notes),
    )  # fmt: skip
