"""Rows of one key told apart by what they were set to: several operating points of one type at the same plate volts.

Two rows of one source are two points wherever they differ in what is given (`Table.givens`). A row of a weaker source
joins the first point that it agrees with in all that both give; where there is none, the first from which it differs
only in bias, cathode resistor or load, and little, as makers and editions do about one and the same point.
"""

from pipeline.build.normalise import TypedRow, Value
from schemas.columns import EVIDENCE
from schemas.tables import Table

ALIKE = 0.02
"""Relative difference within which two given figures count as the same setting."""
LOOSELY_ALIKE = 0.25
"""The same for what sources state a little apart for one point."""
_LOOSE = ("bias_v", "cathode_ohm", "load_ohm")


def points(rows: list[TypedRow], table: Table) -> list[list[TypedRow]]:
    """The rows of one key, strongest first, as points: one list each, the strongest row of each first.

    The points a reader most likely means come first: see `_place`.
    """
    if not table.givens:
        return [rows]
    found: list[list[TypedRow]] = []
    for row in rows:
        for loosely in (False, True):
            point = next((p for p in found if all(_joins(row, other, table, loosely) for other in p)), None)
            if point is not None:
                point.append(row)
                break
        else:
            found.append([row])
    return sorted(found, key=_place)


def _place(point: list[TypedRow]) -> tuple[bool, int, int]:
    """Points as the tube is usually wired come first, then by grade, then those that most sources print."""
    grade = str(point[0].values["evidence"])
    return (point[0].values["connected"] is not None, EVIDENCE.index(grade) if grade in EVIDENCE else len(EVIDENCE),
            -len({row.values["source_id"] for row in point}))


def numbered(subject: str, number: int) -> str:
    """The subject of a point: that of its key for the first, with `#2` and so on for the others."""
    return subject if number == 1 else f"{subject}#{number}"


def _joins(row: TypedRow, other: TypedRow, table: Table, loosely: bool) -> bool:
    same_source = row.values["source_id"] == other.values["source_id"]
    return all(_agree(row.values[name], other.values[name], same_source,
                      LOOSELY_ALIKE if loosely and name in _LOOSE and not same_source else ALIKE)
               for name in table.givens)


def _agree(a: Value, b: Value, same_source: bool, within: float) -> bool:
    if isinstance(a, str) or isinstance(b, str):
        return a == b
    if a is None or b is None:
        return a is b or not same_source
    return abs(a - b) <= within * max(abs(a), abs(b))
