"""Advice about a unit's parts: what to buy, what to leave alone and why, and what to measure first."""

from collections.abc import Sequence
from functools import cached_property

from pipeline.bench.capacitors import CAN_NOTE, lines_for
from pipeline.bench.care import Care, care_of
from pipeline.bench.due import due_lines, earthed_cord, not_yet
from pipeline.bench.knowledge import figures_of, old_part, size_said
from pipeline.bench.needs import home_of
from pipeline.bench.parts import DEPTHS, Advice, Leave, Replacement, unknown_line
from pipeline.bench.policy import bad_findings, by_subject, choose
from pipeline.bench.rectifiers import rectifier_advice
from pipeline.bench.resistors import USUAL, resistor_advice
from pipeline.bench.small_parts import fuse_advice, is_lamp, lamp_advice
from pipeline.bench.stock import Stock
from pipeline.bench.tubes import is_socket, tube_advice
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked
from pipeline.checks.going import is_isolated
from pipeline.records import replace
from pipeline.unit import Part, Place

__all__ = ["CAN_NOTE", "DEPTHS", "Advice", "Leave", "Replacement", "advise", "replacements"]
USUAL_DEPTH = "usual"


def replacements(checked: Checked, catalogue: Catalogue, depth: str = USUAL_DEPTH) -> list[Replacement]:
    """What to buy for a checked unit at a depth of `DEPTHS`; raises ValueError for another depth."""
    return advise(checked, catalogue, depth).buy


def advise(checked: Checked, catalogue: Catalogue, depth: str = USUAL_DEPTH, tried: Sequence[Checked] = (),
           gentle: bool = False) -> Advice:
    """All advice about a checked unit's parts; raises ValueError for a depth that is none of `DEPTHS`.

    `tried` is the unit checked with parts of an earlier advice fitted: what it says of volts and limits counts too.
    `gentle` takes no more microfarads at a node than there were.
    """
    if depth not in DEPTHS:
        raise ValueError(f"depth: {depth!r} is none of {', '.join(DEPTHS)}")
    adviser = _Adviser(checked, catalogue, depth, tried, gentle)
    for part in checked.unit.parts.values():
        adviser.part(part)
    adviser.finish()
    return adviser.advice


class _Adviser:
    """The tables that advice needs, read once, and the advice as it grows."""

    def __init__(self, checked: Checked, catalogue: Catalogue, depth: str, tried: Sequence[Checked], gentle: bool):
        self.checked, self.depth, self.gentle = checked, depth, gentle
        self.seen = (checked, *tried)
        self.advice, self.about = Advice(), by_subject(checked)
        self.going = {f.subject: f for f in checked.findings if f.check == "replacement"}
        self.old_parts = catalogue.chosen("old_parts")
        self.stock = Stock(catalogue)
        self.catalogue = catalogue
        self.unmeasured: list[str] = []

    @cached_property
    def care(self) -> list[Care]:
        return care_of(self.checked.unit, self.catalogue)

    def part(self, part: Part) -> None:
        """Add what is to be said of one part."""
        if part.ref in self.going and part.kind == "capacitor":
            found = self.going[part.ref]
            self.advice.out.append(Leave(part.ref, part.marking, f"{found.why} {found.do}", found.rests_on))
            return
        size, leads = size_said(part)
        for each in self._advice(part):
            if isinstance(each, Leave):
                self.advice.leave.append(each)
            elif each is not None:
                told = each.ref.partition(" ")[0] == each.ref and each.unit in ("µF", "ohm")
                line = replace(each, size=size) if size and told and not each.size else each
                self.advice.buy.append(replace(line, lead_style=leads) if leads and told else line)

    def _advice(self, part: Part) -> Sequence[Replacement | Leave | None]:
        if part.kind == "capacitor":
            return self._capacitor(part)
        if part.kind == "resistor":
            return self._resistor(part)
        if part.kind == "diode":
            return rectifier_advice(part, self.checked, self.about, self.stock)
        if part.kind == "fuse":
            return [fuse_advice(part, self.checked, self.about)]
        if is_lamp(part):
            return [lamp_advice(part, self.checked, self.about, self.stock)]
        if is_socket(part):
            return [tube_advice(part, self.checked.unit, self.about, self.catalogue)]
        return []

    def _capacitor(self, part: Part) -> list[Replacement | Leave]:
        role = self.checked.roles.get(part.role or "")
        choice = choose(part, role, old_part(part, self.old_parts),
                        bad_findings(part, self.about, self.checked.unit.parts), self.depth,
                        self.checked.point.allowances)
        if not choice.replace:
            return [Leave(part.ref, part.marking, choice.why, choice.rests_on)]
        if role is None:
            places = [Place(part.ref, section) for section in part.sections or (None,)]
            on_node = any(home_of(place, self.checked) for place in places)
            role = self.checked.roles.get("smoothing") if part.reading.polarised or on_node else None
        if role is None:
            return [unknown_line(part.ref, part.marking, "µF", f"{choice.why}, so the right kind cannot be told: write "
                                 "its role, such as coupling, tone or line to chassis.")]
        return list(lines_for(part, role, choice, self.seen, self.stock, self.gentle))

    def _resistor(self, part: Part) -> list[Replacement | Leave | None]:
        if part.is_new:
            return [Leave(part.ref, part.marking, "it is new")]
        old = old_part(part, self.old_parts) or self.old_parts.get(USUAL)
        found = resistor_advice(part, old, self.about.get(part.ref, []), self.stock, self.depth,
                                self.gentle) if old and "replace_beyond_pct" in old else None
        if found is None and "ohms" not in part.measured:
            self.unmeasured.append(part.ref)
        return [found]

    def finish(self) -> None:
        """Add what concerns several parts at once."""
        advice = self.advice
        cord = earthed_cord(self.checked, {r: f for r, f in self.going.items() if self._earths(r)},
                            figures_of(self.catalogue, "care"))
        advice.buy += [cord] if cord else []
        for ref, found in self.going.items():
            if not self._earths(ref):
                part = self.checked.unit.parts[ref]
                advice.leave = [x for x in advice.leave if x.ref != ref]
                advice.buy = [x for x in advice.buy if x.ref != ref]
                advice.leave.append(Leave(ref, part.marking, f"{found.why} {found.do}".rstrip("."), found.rests_on))
        advice.buy += due_lines(self.care, {line.ref for line in advice.buy}, is_isolated(self.checked.unit))
        advice.notes += not_yet(self.care)
        if self.unmeasured:
            limit = self.old_parts.get(USUAL, {}).get("replace_beyond_pct")
            beyond = f" what is off by more than {limit.value:g} %" if limit else " what is off"
            self.advice.notes.append(f"Not measured: {', '.join(self.unmeasured)}. Measure each with the set off and "
                                     f"one end lifted, write the ohms as measured, and replace{beyond}.")


    def _earths(self, ref: str) -> bool:
        """Whether what is said of a part that should go asks for a three-wire cord."""
        return self.checked.unit.parts[ref].kind in ("cord", "capacitor")
