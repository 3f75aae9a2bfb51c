"""What to do about parts that are more than a value: clean, lubricate, adjust, measure, replace, and never what."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

from pipeline.bench.drive import belt_advice, speed_advice
from pipeline.bench.knowledge import MOST_READ, Row, figures_of
from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.findings import weakest
from pipeline.records import Record, replace
from pipeline.unit import Part, Unit

TASKS = ("leave", "clean", "lubricate", "adjust", "measure", "replace")
"""In the order in which they are done."""
_FAULTY = (
    r"(?i)\b(?:hard(?:ened)?|cracked|crumbl\w+|perished|sticky|gummy|tar|dead|open|burnt|burned|charred|missing|worn|glazed|"
    r"broken|torn|leak(?:s|ing|ed)?|slack|stretched|noisy|scratchy|jumps|arcs|arcing|shorted|frayed|seized|stuck|"
    r"defect\w*|faulty|bad|flat spots?|does not (?:grip|start|work|turn)|replace)\b")
"""Words by which a person calls a part faulty (practice); *open* is what a broken winding is called."""


class Care(Record):
    """One thing to do about one part.

    `task` is one of `TASKS`, `uses` names what it is done with, `expect` what a good part shows, `never` what must
    not be done, `when` whether such a part is replaced always or if faulty, `buy` and `counter` what to ask for and
    where; `own` says what is known of this very part, such as the size of belt to order; `faulty` the word in its
    marking or note that calls it so.
    """

    ref: str
    marking: str
    kind: str
    task: str
    how: str
    uses: tuple[str, ...] = ()
    expect: str = ""
    never: str = ""
    when: str = ""
    buy: str = ""
    counter: str = ""
    own: str = ""
    faulty: str = ""
    renewed: bool = False
    rests_on: tuple[Figure, ...] = ()

    @property
    def evidence(self) -> str:
        return weakest(f.evidence for f in self.rests_on)

    @property
    def due(self) -> bool:
        """Whether the part is to be replaced now: such a part always is, or its marking or note calls it faulty."""
        return self.task == "replace" and not self.renewed and (self.when == "always" or bool(self.faulty))

    def as_dict(self) -> dict[str, Any]:
        """The advice in plain types."""
        return {"ref": self.ref, "marking": self.marking, "kind": self.kind, "task": self.task, "how": self.how,
                "uses": list(self.uses), "expect": self.expect, "never": self.never, "when": self.when,
                "due": self.due, "faulty": self.faulty, "buy": self.buy, "counter": self.counter, "own": self.own,
                "evidence": self.evidence,
                "sources": sorted({f.source_id for f in self.rests_on if f.source_id})}


class Aid(Record):
    """A fluid, grease or other aid that is bought once for a whole order, and the parts it is for."""

    name: str
    serves: str
    never: str
    counter: str
    pack: str
    refs: tuple[str, ...]
    rests_on: tuple[Figure, ...] = ()

    @property
    def evidence(self) -> str:
        return weakest(f.evidence for f in self.rests_on)

    def as_dict(self) -> dict[str, Any]:
        """The aid in plain types."""
        return {"name": self.name, "serves": self.serves, "never": self.never, "counter": self.counter,
                "pack": self.pack, "refs": list(self.refs), "evidence": self.evidence,
                "sources": sorted({f.source_id for f in self.rests_on if f.source_id})}


def care_of(unit: Unit, catalogue: Catalogue) -> list[Care]:
    """All that the table `care` says about the parts of a unit, part by part in the order of the list."""
    table = figures_of(catalogue, "care")
    return [row for part in unit.parts.values() for row in part_care(
        part, table, catalogue.allowances, unit.mains_hz, unit.mains_v)]


def part_care(part: Part, table: dict[str, Row], allowances: Mapping[str, Figure], mains_hz: float | None = None,
              mains_v: float | None = None) -> list[Care]:
    """What the table `care` says about one part, in the order of `TASKS`, with what is known of this very part.

    Parameters
    ----------
    part : Part
        Any part whose kind is known; one that could not be read gets nothing.
    table : dict
        The table `care`, as `knowledge.figures_of` gives it.
    allowances : mapping
        The catalogue's allowances, for belts and motors.
    mains_hz, mains_v : float or None
        The mains it runs on, for motors and belts.
    """
    rows: list[Care] = []
    for task in TASKS if part.kind else ():
        row = table.get(f"{part.kind}/{task}")
        if row is not None:
            rows.append(_care(part, task, row))
    if part.kind == "belt":
        rows = [_with_belt(care, part, allowances) for care in rows]
    if part.kind == "motor" and mains_hz is not None:
        rows += [Care(part.ref, part.shown, "motor", "adjust", how, rests_on=rests_on)
                 for how, rests_on in speed_advice(part, mains_hz, mains_v, allowances)]
    return sorted(rows, key=lambda care: TASKS.index(care.task))


def _care(part: Part, task: str, row: Row) -> Care:
    def said(quantity: str) -> str:
        return str(row[quantity].value) if quantity in row else ""

    uses = tuple(name for name in said("uses").split(";") if name)
    worn = re.search(_FAULTY, part.said[:MOST_READ]) if task == "replace" and not part.is_new else None
    return Care(part.ref, part.shown, str(part.kind), task, said("how"), uses, said("expect"), said("never"),
                said("replace"), said("buy"), said("counter"), "", worn[0].lower() if worn else "", part.is_new,
                tuple(row.values()))


def _with_belt(care: Care, part: Part, allowances: Mapping[str, Figure]) -> Care:
    """The advice with the size to order; without a size nothing is to be bought yet, and `own` says what to measure."""
    if care.task != "replace":
        return care
    size = belt_advice(part, allowances)
    return replace(care, buy=size.buy, own=size.why, rests_on=(*care.rests_on, *size.rests_on))


def aids_for(care: Iterable[Care], catalogue: Catalogue) -> list[Aid]:
    """What the advice is done with, each once for the whole order, with the refs it is for.

    What the table `chemicals` does not know is left out: the advice itself still names it.
    """
    table = figures_of(catalogue, "chemicals")
    refs: dict[str, list[str]] = {}
    for row in care:
        for name in row.uses:
            if row.ref not in refs.setdefault(name, []):
                refs[name].append(row.ref)
    return [_aid(name, table[name], refs[name]) for name in sorted(refs) if name in table]


def _aid(name: str, row: Row, refs: list[str]) -> Aid:
    def said(quantity: str) -> str:
        return str(row[quantity].value) if quantity in row else ""

    return Aid(name, said("serves"), said("never"), said("counter"), said("pack"), tuple(refs), tuple(row.values()))
