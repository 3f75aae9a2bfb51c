"""One can written on several lines: C1A and C1B that both bear the marking of the whole can are asked about."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping

from pipeline.notation.reading import Reading, unread
from pipeline.notation.write import write
from pipeline.records import replace

_OF_A_CAN = re.compile(r"(.*[0-9])([A-H])", re.IGNORECASE)


def asked_about(readings: Mapping[str, Reading]) -> dict[str, Reading]:
    """Return the readings with those of a can that its lines would count twice replaced by the question.

    Parameters
    ----------
    readings : mapping
        Ref -> reading, of one parts list.

    Returns
    -------
    dict
        The same, where lines such as C1A and C1B bear one and the same marking of several sections: neither
        is read then, and each says why.
    """
    cans: dict[tuple, list[str]] = defaultdict(list)
    for ref, reading in readings.items():
        match = _OF_A_CAN.fullmatch(ref)
        if match and reading.kind == "capacitor" and len(reading.sections) > 1:
            cans[match[1].upper(), reading.sections].append(ref)
    result = dict(readings)
    for (stem, sections), refs in cans.items():
        if len(refs) > 1:
            why = _question(str(stem), len(sections), refs, readings[refs[0]])
            result |= {ref: _unread(readings[ref], why) for ref in refs}
    return result


def _question(stem: str, count: int, refs: list[str], reading: Reading) -> str:
    own = write(Reading(kind="capacitor", sections=reading.sections[:1]))
    return (f"{' and '.join(refs)} each bear all {count} sections: if that is one can, write on each line its own "
            f"section only ({refs[0]} {own}), or one line {stem} for the whole; if they are {len(refs)} cans, number "
            "them apart")


def _unread(reading: Reading, why: str) -> Reading:
    return replace(unread(why, ("capacitor",)), marking=reading.marking)
