"""Transformers: 350-0-350 V 120 mA, 6.3 V 3 A CT; 5k : 3.2 ohm; 220/260-0-260."""

from __future__ import annotations

import re

from pipeline.notation.lexing import NUMBER, amount, shown, speaks_of
from pipeline.notation.quantities import quantities
from pipeline.notation.reading import Reading, Refusal, Winding

_WINDING = (
    rf"(?i)(?<![^\W_])(?<![0-9.,])(?:(?P<twice>2)\s*x\s*)?(?P<volts>{NUMBER})"
    rf"(?:\s*[-–]\s*0\s*[-–]\s*(?P<half>{NUMBER}))?\s*(?P<unit>v(?:olts?|ac)?)?(?![^\W_])"
    rf"(?P<tap>\s*c\.?t\.?(?![^\W_]))?"
    rf"(?:[\s,@/]*(?P<amps>{NUMBER})\s*(?P<milli>m?)a(?:mps?)?(?![^\W_]))?(?P<later>\s*c\.?t\.?(?![^\W_]))?"
)
_RATIO = (
    rf"(?i)(?<![0-9.,])({NUMBER})\s*(k?)\s*(?:ohms?|Ω)?\s*(?::|/|->|to)\s*({NUMBER}(?:\s*[-/,]\s*{NUMBER})*)\s*"
    r"(?:ohms?|Ω)"
)
_CT = r"(?i)(?<![^\W_])(?:c\.?t\.?|cent(?:re|er)[\s-]*tap(?:ped)?|mittelanzapfung)(?![^\W_])"
_MOST_V = 20_000.0


def read_transformer(text: str, expected: bool) -> Reading | None:
    """Read a transformer's marking.

    Returns
    -------
    Reading or None
        Windings with their volts and amps, ohms of the one winding that is marked so; None where the kind is
        not expected (nothing on a transformer tells it from other parts).

    Raises
    ------
    Refusal
        Volts that no winding of a tube set has.
    """
    if not expected:
        return None
    windings, rest = _windings(text)
    notes: list[str] = []
    if speaks_of(rest, "ohm", "ω") and (ratio := re.search(_RATIO, rest)):
        primary = float(amount(ratio[1])) * (1000 if ratio[2] else 1)
        notes.append(f"{shown(primary)} ohm to {ratio[3]} ohm: impedances, not what an ohmmeter shows")
        rest = f"{rest[: ratio.start()]} {rest[ratio.end() :]}"
    tapped = re.search(_CT, rest) is not None
    values, more, rest = quantities(re.sub(_CT, " ", rest), ("ohms", "hertz", "henries"))
    left = " ".join(re.sub(r"[\s,;:()]+", " ", rest).split()).strip(" -/+")
    notes += more + ([f"printed on it: {left}"] if left else [])
    if tapped and "ohms" in values:
        notes.append("CT: the ohms are taken from end to end")
    tap = True if tapped else None
    return Reading(kind="transformer", windings=windings, centre_tap=tap, notes=tuple(notes), **values)


def _windings(text: str) -> tuple[tuple[Winding, ...], str]:
    """Take out every winding: volts with a unit, or two halves round a 0."""
    found: list[Winding] = []
    pieces, at = [], 0
    for match in re.finditer(_WINDING, text):
        if not match["half"] and not match["unit"]:
            continue
        volts = float(amount(match["volts"]))
        if match["half"] and amount(match["half"]) != amount(match["volts"]):
            continue
        if not 0 < volts <= _MOST_V:
            raise Refusal(f"{match['volts']} V is no winding of a tube set: is a unit wrong?")
        tapped = bool(match["half"] or match["twice"] or match["tap"] or match["later"])
        amps = float(amount(match["amps"])) / (1000 if match["milli"] else 1) if match["amps"] else None
        found.append(Winding(volts, amps, tapped))
        pieces.append(text[at : match.start()])
        at = match.end()
    return tuple(found), " ".join([*pieces, text[at:]])
