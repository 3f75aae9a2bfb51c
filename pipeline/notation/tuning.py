"""Variable capacitors: 2x 500 pF, 365 µµF, 3-30 pF."""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.capacitor import read_capacitor
from pipeline.notation.lexing import NUMBER, amount
from pipeline.notation.reading import Reading, Refusal, Section
from pipeline.records import replace

_PF = r"(?:pf|p|µµf|uuf|mmfd?|m\.m\.f\.|пф)"
_WORDS = (
    r"(?i)(?<![^\W\d_])(?:tuning|variable|ganged|gang|capacitors?|condensers?|cap|air|dual|twin|trimmers?|padders?|padding|"
    r"compression|mica|ceramic|drehko|drehkondensator|condensateur|variable|cv|кпе|кпк|kpk|with|section)(?![^\W\d_])"
)
_MOST_PF = 5000


def read_tuning(text: str, expected: bool) -> Reading | None:
    """Read a tuning capacitor: the largest pF of each gang; a number without a unit is pF."""
    if not expected:
        return None
    text = re.sub(r"(?i)(?<![^\W_])([2-5])[\s-]*(?:gang|fach)(?![^\W_])", r"\1 x ", text)
    rest = " ".join(re.sub(_WORDS, " ", text).split()).strip(" -,;")
    match = re.fullmatch(rf"(?i)([2-5])\s*(?:x|-?gang|-?fach)\s*({NUMBER})\s*(?:{_PF})?", rest)
    if match:
        return _sections([amount(match[2])] * int(match[1]))
    match = re.fullmatch(rf"(?i)({NUMBER}(?:\s*[+/x-]\s*{NUMBER}){{0,4}})\s*(?:{_PF})?", rest)
    values = [amount(value) for value in re.findall(NUMBER, match[1])] if match else []
    if len(values) == 2 and values[0] * 5 <= values[1] and "-" in rest:  # 10-365 pF: least and most of one gang
        values = values[1:]
    if values:
        return _sections(values)
    return Reading(kind="tuning capacitor", notes=(f"printed on it: {rest}",) if rest else ())


def _sections(pf: list[Decimal]) -> Reading:
    if any(not 0 < value <= _MOST_PF for value in pf):
        raise Refusal("its pF are those of no tuning capacitor: is a unit wrong?")
    sections = tuple(Section(float(value.scaleb(-6))) for value in pf)
    return Reading(kind="tuning capacitor", sections=sections, polarised=False)


def read_trimmer(text: str, expected: bool) -> Reading | None:
    """Read a trimmer or padder: the highest pF of its range; a number without a unit is pF."""
    if not expected:
        return None
    rest = " ".join(re.sub(_WORDS, " ", text).split()).strip(" -,;")
    if match := re.fullmatch(rf"(?i)({NUMBER})\s*(?:-|/|\.\.\.?|to|bis)\s*({NUMBER})\s*(?:{_PF})?", rest):
        low, high = amount(match[1]), amount(match[2])
        if not 0 < low < high <= _MOST_PF:
            raise Refusal("its range in pF is that of no trimmer: is a unit wrong?")
        note = f"{match[1]} to {match[2]} pF: the highest value is given"
        return Reading(kind="trimmer", sections=(Section(float(high.scaleb(-6))),), polarised=False, notes=(note,))
    if match := re.fullmatch(rf"(?i)({NUMBER})\s*(?:{_PF})?", rest):
        found = _sections([amount(match[1])])
        return replace(found, kind="trimmer")
    try:
        other = read_capacitor(f"{rest} trimmer", expected=True) if rest else None
    except Refusal:
        other = None
    if other is not None and other.kind and not other.volts_ac:
        return replace(other, kind="trimmer", polarised=False)
    return Reading(kind="trimmer", notes=(f"printed on it: {rest}",) if rest else ())
