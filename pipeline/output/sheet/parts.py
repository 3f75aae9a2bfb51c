"""Parts to change, with boxes to tick, and what no check looked at."""

from collections.abc import Sequence

from pipeline.bench.replacements import AC_KINDS, Replacement
from pipeline.checks.check import Checked
from pipeline.checks.parts import not_judged
from pipeline.output.sheet.markup import Markup, el, given, section, table, tick
from pipeline.output.sheet.words import sentence, short_grade
from pipeline.unit import Part, Unit

_USED_KINDS = ("tube", "lamp", "choke")
"""Kinds whose ratings enter the heater and supply sums without a finding under their own ref."""


def parts_section(lines: Sequence[Replacement], unit: Unit) -> Markup | None:
    """One line for each part to change; None where nothing is to be changed."""
    if not lines:
        return None
    rows = [(tick(f"{line.ref} changed"), line.ref, given(line.marking), _buy(line, unit), short_grade(line.rests_on))
            for line in lines]
    return section("parts", "Parts to change", table("New parts", ("Done", "Part", "Marked", "Fit", "Rests on"), rows, key=1))


def _buy(line: Replacement, unit: Unit) -> Markup:
    why = el("small", sentence(line.why, unit, line.ref), class_="why")
    if line.kind is None or line.value is None:
        return Markup(el("b", "not known") + why)
    ac = " AC" if line.kind in AC_KINDS else ""
    rated = f" {line.volts:g} V{ac}" if line.volts is not None else ""
    times = f"{line.quantity} × " if line.quantity > 1 else ""
    return Markup(el("b", f"{times}{line.kind} {line.value:g} {line.unit}{rated}") + why)


def unseen_section(checked: Checked) -> Markup:
    """What was not looked at, so that nobody takes silence for a pass."""
    other, quiet = not_judged(checked.unit), _without_finding(checked)
    return section(
        "unseen", "Not looked at",
        el("p", "The parts list only is judged. Wiring, insulation, sockets, switches, the wear of tubes and whatever is "
                "not in the list are for your eyes and meter."),
        el("p", el("b", "No check knows these: "), _listed(other)) if other else None,
        el("p", el("b", "Read, but with too little about them to judge: "), _listed(quiet)) if quiet else None)


def _listed(parts: Sequence[Part]) -> str:
    return ", ".join(f"{p.ref} ({given(p.marking)})" for p in parts) + "."


def _without_finding(checked: Checked) -> list[Part]:
    """Parts that were read, have no finding of their own and entered no sum."""
    unit = checked.unit
    spoken = {f.subject for f in checked.findings} | {f.subject[:-1] for f in checked.findings}
    spoken |= {word for f in checked.findings for word in f.subject.split(" and ")}
    feeds = {n.through for n in unit.supply.nodes} if unit.supply else set()
    places = {*unit.windings, *unit.strings}
    return [p for p in unit.parts.values() if p.kind is not None and p.ref not in spoken and p.ref not in feeds
            and not (p.kind in _USED_KINDS and p.at in places)]
