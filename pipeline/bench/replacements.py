"""Advice about a unit's parts: what to buy, what to leave alone and why, and what to measure first."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

from pipeline.bench.capacitors import CAN_NOTE, lines_for
from pipeline.bench.knowledge import Row, figures_of, largest_size, old_part
from pipeline.bench.parts import DEPTHS, Advice, Leave, Replacement, unknown_line
from pipeline.bench.policy import bad_findings, by_subject, choose
from pipeline.bench.rectifiers import rectifier_advice
from pipeline.bench.resistors import USUAL, resistor_advice
from pipeline.bench.small_parts import fuse_advice, is_lamp, lamp_advice
from pipeline.bench.stock import Stock
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked
from pipeline.unit import Part

__all__ = ["CAN_NOTE", "DEPTHS", "Advice", "Leave", "Replacement", "advise", "replacements"]
USUAL_DEPTH = "usual"


def replacements(checked: Checked, catalogue: Catalogue, depth: str = USUAL_DEPTH) -> list[Replacement]:
    """What to buy for a checked unit at a depth of `DEPTHS`; raises ValueError for another depth."""
    return advise(checked, catalogue, depth).buy


def advise(checked: Checked, catalogue: Catalogue, depth: str = USUAL_DEPTH) -> Advice:
    """All advice about a checked unit's parts; raises ValueError for a depth that is none of `DEPTHS`."""
    if depth not in DEPTHS:
        raise ValueError(f"depth: {depth!r} is none of {', '.join(DEPTHS)}")
    adviser = _Adviser(checked, catalogue, depth)
    for part in checked.unit.parts.values():
        adviser.part(part)
    adviser.finish()
    return adviser.advice


class _Adviser:
    """The tables that advice needs, read once, and the advice as it grows."""

    def __init__(self, checked: Checked, catalogue: Catalogue, depth: str):
        self.checked, self.depth = checked, depth
        self.advice, self.about = Advice(), by_subject(checked)
        self.old_parts = catalogue.chosen("old_parts")
        self.stock = Stock(catalogue)
        self.catalogue = catalogue
        self.unmeasured: list[str] = []

    @cached_property
    def diodes(self) -> dict[str, Row]:
        return figures_of(self.catalogue, "diodes")

    @cached_property
    def lamps(self) -> dict[str, Row]:
        return figures_of(self.catalogue, "lamps")

    def part(self, part: Part) -> None:
        """Add what is to be said of one part."""
        found: Sequence[Replacement | Leave | None]
        if part.kind == "capacitor":
            found = self._capacitor(part)
        elif part.kind == "resistor":
            found = self._resistor(part)
        elif part.kind == "diode":
            found = rectifier_advice(part, self.checked, self.about, self.diodes, self.stock)
        elif part.kind == "fuse":
            found = [fuse_advice(part, self.checked, self.about)]
        elif is_lamp(part):
            found = [lamp_advice(part, self.checked, self.about, self.lamps)]
        else:
            return
        size = largest_size(part.note)
        for each in found:
            if isinstance(each, Leave):
                self.advice.leave.append(each)
            elif each is not None:
                self.advice.buy.append(each if not size or each.size else _sized(each, size))

    def _capacitor(self, part: Part) -> list[Replacement | Leave]:
        role = self.checked.roles.get(part.role or "")
        choice = choose(part, role, old_part(part, self.old_parts),
                        bad_findings(part, self.about, self.checked.unit.parts), self.depth,
                        self.checked.point.allowances)
        if not choice.replace:
            return [Leave(part.ref, part.marking, choice.why, choice.rests_on)]
        if role is None:
            on_node = self.checked.state is not None and self.checked.state.sections_of(part)
            role = self.checked.roles.get("smoothing") if part.reading.polarised or on_node else None
        if role is None:
            return [unknown_line(part.ref, part.marking, "µF", f"{choice.why}, so the right kind cannot be told: write "
                                 "its role, such as coupling, tone or line to chassis.")]
        return list(lines_for(part, role, choice, self.checked, self.stock))

    def _resistor(self, part: Part) -> list[Replacement | Leave | None]:
        old = old_part(part, self.old_parts) or self.old_parts.get(USUAL)
        found = resistor_advice(part, old, self.about.get(part.ref, []), self.stock.resistors, self.stock.series,
                                self.depth) if old and "replace_beyond_pct" in old else None
        if found is None and "ohms" not in part.measured:
            self.unmeasured.append(part.ref)
        return [found]

    def finish(self) -> None:
        """Add what concerns several parts at once."""
        if self.unmeasured:
            limit = self.old_parts.get(USUAL, {}).get("replace_beyond_pct")
            beyond = f" what is off by more than {limit.value:g} %" if limit else " what is off"
            self.advice.notes.append(f"Not measured: {', '.join(self.unmeasured)}. Measure each with the set off and "
                                     f"one end lifted, write the ohms as measured, and replace{beyond}.")


def _sized(line: Replacement, size: str) -> Replacement:
    return replace(line, size=f"at most {size}")
