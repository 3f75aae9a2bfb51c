"""What is wanted: recalled figures, those first that units rest on most often, with the command that confirms them."""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from shlex import quote
from typing import NamedTuple

from pipeline.catalogue import Catalogue, Figure
from pipeline.output.pages.known import Known, Row, natural

MOST_TYPES = 300
"""Types that are named; of the others only the number is said."""
NOT_ASKED = ("designations", "substitutes", "designation_exceptions", "tube_pins")
"""Tables whose rows `confirm` does not ask for."""

Used = Mapping[tuple[str, str], int]
"""Subject and quantity → units whose verdicts rest on it."""


class Wanted(NamedTuple):
    """A type to look up: units that rest on it, figures they rest on, all its recalled figures, commonness, command."""

    type: str
    units: int
    rests_on: list[str]
    recalled: int
    common: bool
    command: str


def used_by(catalogue: Catalogue, folder: Path) -> tuple[int, Used]:
    """How many units stand in the folder, and how many of them rest on each recalled figure."""
    from pipeline.checks.check import check
    from pipeline.unit import UnitError, load

    units, found = 0, Counter[tuple[str, str]]()
    for path in sorted(folder.glob("*/unit.toml")):
        try:
            rests: Iterable[Figure] = check(load(path.parent, catalogue), catalogue).recalled
        except UnitError:
            continue
        units += 1
        found.update({(figure.subject, figure.quantity) for figure in rests})
    return units, found


def wanted(known: Known, used: Used) -> list[Wanted]:
    """Types with recalled figures: most units first, then the commoner, then that with the most to look up."""
    rows: dict[str, list[Row]] = defaultdict(list)
    for type_, tables in known.by_type.items():
        rows[type_] = [r for table, many in tables.items() if table not in NOT_ASKED for r in many
                       if r["chosen"] and r["evidence"] == "recalled"]
    found = [_wanted(known, type_, many, used) for type_, many in rows.items() if many]
    return sorted(found, key=lambda w: (-w.units, -len(w.rests_on), not w.common, -w.recalled, natural(w.type)))


def _wanted(known: Known, type_: str, rows: list[Row], used: Used) -> Wanted:
    resting = [(used.get((r["subject"], r["quantity"]), 0), known.label(r["table"], r["quantity"])) for r in rows]
    return Wanted(type_, max((n for n, _ in resting), default=0),
                  list(dict.fromkeys(label for n, label in sorted(resting, key=lambda x: -x[0]) if n)), len(rows),
                  type_ in known.common, f"tubewright confirm {quote(type_)}")
