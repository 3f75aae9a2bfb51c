"""Parts that are known by their name rather than their marking: what is printed is kept, amounts are read."""

from __future__ import annotations

import re

from pipeline.notation.kinds import KINDS, without_words
from pipeline.notation.quantities import quantities
from pipeline.notation.reading import Reading, Refusal
from pipeline.records import replace

_PRINTED = "printed on it: "
_MOST_OHM = 50_000.0  # no winding of a tube set has more, but many a resistor
_LEAST_MOTOR_A = 0.01
NOTHING = "nothing that can be read is printed on it"


def read_beyond(name: str, text: str) -> Reading:
    """Read the marking of a part whose kind is given by a word, its ref or the column ``kind``.

    Parameters
    ----------
    name : str
        One of `kinds.BEYOND`.
    text : str
        A marking as `lexing.clean` leaves it.

    Returns
    -------
    Reading
        Of that kind, with the amounts that its marking holds; what is not an amount stands in a note.

    Raises
    ------
    Refusal
        An amount that such a part cannot have.
    """
    kind = KINDS[name]
    if kind.reader is not None and (found := kind.reader(text, True)) is not None:
        if found.kind is not None:
            return replace(found, kind=name, bare=False, notes=_said(name, found.notes))
        raise Refusal(str(found.why))
    values, notes, rest = quantities(text, kind.holds)
    left = " ".join(re.sub(r"[\s,;:()]+", " ", without_words(name, rest)).split()).strip(" -/")
    if left:
        notes.append(f"{_PRINTED}{left}")
    return Reading(kind=name, notes=tuple(notes), **values)


def _said(name: str, notes: tuple[str, ...]) -> tuple[str, ...]:
    """Drop from what is printed the words that only name the kind."""
    found = []
    for note in notes:
        if not note.startswith(_PRINTED):
            found.append(note)
        elif left := without_words(name, note.removeprefix(_PRINTED)).strip(" -,;"):
            found.append(f"{_PRINTED}{left}")
    return tuple(found)


def holds_all(name: str, text: str) -> bool:
    """Tell whether every figure of a marking is an amount that this kind of part can have."""
    try:
        found = read_beyond(name, text)
    except Refusal:
        return False
    if (found.ohms or 0.0) > _MOST_OHM and name != "potentiometer":
        return False
    if name == "motor" and found.amps and found.amps < _LEAST_MOTOR_A:
        return False  # the full scale of a meter, whose ref may be the same
    if found.uf and not (found.hertz or found.rpm or found.watts):
        return False  # microfarads and volts alone are a capacitor's
    left = [note for note in found.notes if note.startswith(_PRINTED)]
    return not any(char.isdigit() for note in left for char in note)
