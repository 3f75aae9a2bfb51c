"""The parts list: its lines read and named, then each part's places and readings once every place is known."""

import re
from collections.abc import Callable, Iterator

from pipeline.notation.kinds import read_kind
from pipeline.notation.measured import read_measured
from pipeline.notation.roles import read_role
from pipeline.records import OpenRecord, replace
from pipeline.textfile import printable
from pipeline.unit.faults import Faults
from pipeline.unit.lists import Columns, Row, rows_of
from pipeline.unit.model import LETTERS, Part
from pipeline.unit.places import NAMED_SECTIONS, Names, folded, spelled

PART_COLUMNS = ("ref", "marking", "role", "at", "measured", "note", "kind")
LONGEST_REF = 20
_COLUMNS = Columns(PART_COLUMNS, ("ref", "marking"), {}, "parts")
_PREFIX = rf"(?i)\s*({'|'.join(NAMED_SECTIONS)}|[{LETTERS}{LETTERS.lower()}])\s+(?=[A-Za-z])(.*)"
_PIECES = r";|,(?![0-9])|(?<=[^0-9]),|\band\b"


class PartsList(OpenRecord):
    """The lines of a parts list as parts without places and readings, by ref, and the cells those are read from."""

    parts: dict[str, Part]
    rows: dict[str, Row]
    complete: bool = True
    """False where a line's ref cannot be read, or none can."""


def read_parts(text: str, faults: Faults) -> PartsList:
    """The parts of a list, their places and readings not yet read."""
    found = PartsList({}, {})
    rows = rows_of(text, _COLUMNS, faults)
    found.complete = rows is not None
    seen: dict[str, tuple[str, int]] = {}
    for row in rows or ():
        ref = _ref(row, faults)
        if ref is None:
            found.complete = False
        elif (other := seen.get(folded(ref))) is not None:
            beside = "" if other[0] == ref else f" as {other[0]}"
            faults.add(row.line, f"ref: {ref} stands already on line {other[1]}{beside}: give each part its own ref")
        else:
            seen[folded(ref)] = ref, row.line
            found.rows[ref] = row
            found.parts[ref] = _part(ref, row, faults)
    return found


def _ref(row: Row, faults: Faults) -> str | None:
    """The ref of a line, in plain letters; None, and a fault, where there is none."""
    ref = spelled(row["ref"])
    if not ref:
        faults.add(row.line, "ref: empty: every part needs a ref such as V1 or C3")
    elif len(ref) > LONGEST_REF or not ref.isprintable():
        faults.add(row.line, f"ref: {printable(ref[:20])!r}: too long or unprintable: use one such as V1 or C3")
    else:
        return ref
    return None


def _part(ref: str, row: Row, faults: Faults) -> Part:
    if not row["marking"]:
        faults.add(row.line, f"marking: empty for {ref}: type what is printed on the part, or ?")
    role, kind = _word(row, "role", read_role, faults), _word(row, "kind", read_kind, faults)
    return Part(ref, row["marking"], role, note=row["note"], line=row.line, kind_given=kind)


def _word(row: Row, column: str, read: Callable[[str], str], faults: Faults) -> str | None:
    """The role or kind in a cell; None where there is none, or, with a fault, it is not known."""
    try:
        return read(row[column]) if row[column] else None
    except ValueError as error:
        faults.add(row.line, f"{column}: {error}")
        return None


def placed(part: Part, row: Row, names: Names, faults: Faults) -> Part:
    """The part with its places and readings."""
    if not row["at"] and not row["measured"]:
        return part
    at, told = names.places(row["at"]) if row["at"] else ((), ())
    for message in told:
        faults.add(part.line, f"at: {message}")
    measured, sections = _measured(part, row["measured"], faults) if row["measured"] else ({}, {})
    return replace(part, at=tuple(at), measured=measured, measured_sections=sections)


def _measured(part: Part, text: str, faults: Faults) -> tuple[dict[str, float], dict[str, dict[str, float]]]:
    """The readings of a `measured` cell: those that name no section, and those that do by section."""
    own: dict[str, float] = {}
    sections: dict[str, dict[str, float]] = {}
    try:
        for section, pieces in _by_section(part, text):
            if section is None:
                own = read_measured(pieces)
            else:
                sections[section] = read_measured(pieces)
    except ValueError as error:
        faults.add(part.line, f"measured: {error}")
    return own, sections


def _by_section(part: Part, text: str) -> Iterator[tuple[str | None, str]]:
    """(section, its readings) of a text whose readings may name one first: `pentode plate 240 V, A cathode 2 V`.

    Raises ValueError for a section that the part does not have.
    """
    pieces = [piece for piece in re.split(_PIECES, text) if piece.strip()]
    named = [_named(part, piece) for piece in pieces]
    if named == [(None, piece) for piece in pieces]:
        yield None, text  # whole, so that what is wrong with it is told as it was typed
        return
    found: dict[str | None, list[str]] = {}
    for section, rest in named:
        found.setdefault(section, []).append(rest)
    for name, rests in found.items():
        yield name, "; ".join(rests)


def _named(part: Part, piece: str) -> tuple[str | None, str]:
    """The section that a reading names first, and the rest of it."""
    match = re.match(_PREFIX, piece)
    if match is None:
        return None, piece
    for name in part.sections:
        if name.casefold() == match[1].casefold():
            return name, match[2]
    if len(match[1]) == 1:
        return None, piece  # a letter may be the short name of an electrode
    if part.sections:
        said = printable(piece.strip()[:40])
        raise ValueError(f"{said!r}: {part.ref} has no section {match[1].lower()}: its sections are "
                         + " and ".join(part.sections))
    return (None if part.ratings else match[1].lower()), match[2]
