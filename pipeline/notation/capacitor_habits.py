"""What old capacitors mean by habit: unit left out, working and surge volts, polarity left out.

All of it is trade habit (evidence grade: practice), so each assumption is said in the reading's notes.
"""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.capacitor_tokens import Pieces, code_uf
from pipeline.notation.lexing import shown
from pipeline.notation.reading import Refusal, Section
from pipeline.notation.resistor import E24

ELECTROLYTIC_ROLES = ("reservoir", "smoothing", "bias filter", "cathode bypass")
"""Roles in which a whole number without a unit is microfarads."""

SURGE_RATIO = 1.25
"""Two rising voltages on one part within this ratio are working and surge (IEC 60384-4: 1.10 and 1.15)."""

HIGHEST_ELECTROLYTIC_V = 550.0
SMALLEST_ELECTROLYTIC_UF = 0.1
_HIGHEST_BLOCK_V = 600.0

USUAL_V = frozenset(
    [3, 4, 6, 8, 10, 12, 15, 16, 18, 20, 25, 30, 35, 40, 50, 60, 63, 64, 70, 75, 80]
    + [100, 110, 125, 150, 160, 175, 180, 200, 220, 225, 250, 275, 300, 315, 325, 330, 350, 360, 370, 375, 380, 385]
    + [400, 420, 425, 440, 450, 475, 500, 525, 550, 600, 630, 700, 750, 800, 900, 1000, 1200, 1250, 1500, 1600]
    + [2000, 2500, 3000, 4000, 5000, 6000, 7500, 10000]
    + [Decimal("6.3"), Decimal("6.4"), Decimal("12.5")]
)
"""Voltages that were printed on capacitors; a number without V is taken for volts only if it is one of them."""

_BOTH_WAYS = {"125"}  # 125 µF was a common can, 125 is also the code of 1.2 µF


def bare_uf(
    values: list[Decimal], volts: list[float], pieces: Pieces, role: str | None, expected: bool
) -> list[Decimal]:
    """Return values without a unit in µF.

    Parameters
    ----------
    values : list of Decimal
        As printed.
    volts : list of float
        What volts stand beside them, may be empty.
    pieces : Pieces
        Words of the marking; the assumption is added to its notes.
    role : str or None
        The part's role.
    expected : bool
        Whether ref or role says that it is a capacitor; a code alone does not.

    Raises
    ------
    Refusal
        Microfarads and picofarads are both likely.
    """
    top = max(volts, default=None)
    if any(value <= 0 for value in values):
        raise Refusal("a capacitance of zero")
    if len(values) > 1 or values[0] < 1:
        if top and top > _HIGHEST_BLOCK_V and max(values) >= 1:
            raise Refusal(f"µF or pF at {shown(top)} V: write the unit")
        return _noted(values, pieces)
    value = values[0]
    text = shown(value)
    electrolytic = "electrolytic" in pieces.words or role in ELECTROLYTIC_ROLES
    if "small" in pieces.words and not electrolytic:
        pieces.notes.append(f"no unit marked: {text} taken as pF, from its kind")
        return [value.scaleb(-6)]
    if _is_code(text) and not electrolytic:
        if not (volts or expected):
            raise Refusal(
                f"{text} alone can be the code of {shown(code_uf(text))} µF: give its ref, or the unit"
            )
        pieces.notes.append(f"{text} is read as a three-figure code in pF: {shown(code_uf(text))} µF")
        return [code_uf(text)]
    if text in _BOTH_WAYS and not electrolytic:
        raise Refusal(f"{text} can be {text} µF or the code of {shown(code_uf(text))} µF: write the unit")
    if not electrolytic and _doubtful(value, top, role):
        raise Refusal(f"{text} without a unit can be {text} µF or {text} pF: write the unit")
    return _noted(values, pieces)


def _noted(values: list[Decimal], pieces: Pieces) -> list[Decimal]:
    pieces.notes.append("no unit marked: taken as microfarad")
    return values


def _is_code(text: str) -> bool:
    return (
        re.fullmatch(r"[1-9][0-9][1-5]", text) is not None and int(text[:2]) in E24 and text not in _BOTH_WAYS
    )


def _doubtful(value: Decimal, volts: float | None, role: str | None) -> bool:
    if volts is None or (role == "rf" and value >= 5):
        return True
    limits = ((600, 10), (499, 99), (100, 999))
    return any(volts > above and value > most for above, most in limits) or value > 10_000


def pair(values: list[Decimal], volts: list[float], pieces: Pieces) -> tuple[list[Section], float | None]:
    """Give each value its working volts.

    Parameters
    ----------
    values : list of Decimal
        µF of each section.
    volts : list of float
        None, one for all, or one for each; two rising ones close together are working and surge.
    pieces : Pieces
        Assumptions are added to its notes.

    Returns
    -------
    tuple
        The sections; the surge volts where two voltages were read so.

    Raises
    ------
    Refusal
        The numbers of values and volts do not match.
    """
    uf = [float(value) for value in values]
    if not volts:
        return [Section(each) for each in uf], None
    if len(volts) == 1:
        return [Section(each, volts[0]) for each in uf], None
    if len(volts) == 2 and (what := _two_voltages(max(uf), *volts)):
        low, high = volts
        pieces.notes.append(f"{shown(low)} V taken as the working and {shown(high)} V as the {what} voltage")
        return [Section(each, low) for each in uf], high if what != "test" else None
    if len(volts) != len(uf):
        raise Refusal(
            f"{len(uf)} value(s) but {len(volts)} voltages: write each section's own, as 40 µF 450 V"
        )
    return [Section(each, own) for each, own in zip(uf, volts, strict=True)], None


def _two_voltages(uf: float, low: float, high: float) -> str | None:
    """Name the higher of two voltages: surge if close above, test if two to four times, on a small paper part."""
    if low < high <= SURGE_RATIO * low:
        return "surge (peak)"
    return "test" if uf < 1 and low >= 100 and 2 * low <= high <= 4 * low else None


def is_polarised(sections: list[Section], volts_ac: float | None, pieces: Pieces) -> bool | None:
    """Tell whether the part is polarised, from words, class, AC rating, else value and volts.

    Returns
    -------
    bool or None
        None where the marking does not decide: 0.5 to 1 µF, no volts, or 1 µF and more above 550 V.
    """
    words = pieces.words
    if words & {"nonpolar", "run", "start"} or pieces.classes:
        return False
    if words & {"electrolytic", "plus"} and volts_ac is None:
        return True
    if words & {"film", "small", "small unit", "range"} or volts_ac is not None:
        return False
    largest = max(section.uf for section in sections)
    volts = [section.volts_dc for section in sections if section.volts_dc is not None]
    if largest < SMALLEST_ELECTROLYTIC_UF or (largest < 0.5 and volts and min(volts) > 100):
        return False
    if largest < 1 or not volts or max(volts) > HIGHEST_ELECTROLYTIC_V:
        return None
    pieces.notes.append("polarity not marked: taken as electrolytic from its value and volts")
    return True
