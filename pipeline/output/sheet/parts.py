"""Parts to change, with boxes to tick, and what no check looked at."""

from collections.abc import Sequence

from pipeline.bench.replacements import Advice, Replacement
from pipeline.checks.check import Checked
from pipeline.checks.parts import not_judged
from pipeline.output.sheet.markup import Markup, el, given, join, own, prose, section, table, tick
from pipeline.output.sheet.words import sentence, short_grade
from pipeline.unit import Part, Unit

_USED_KINDS = ("tube", "lamp", "choke")
"""Kinds whose ratings enter the heater and supply sums without a finding under their own ref."""


def parts_section(advice: Advice, unit: Unit) -> Markup | None:
    """One line for each part to change, then what to leave alone; None where there is nothing to say."""
    shown = [_changes(advice.buy, unit) if advice.buy else None, _left(advice, unit) if advice.leave else None,
             *(el("p", prose(words)) for words in advice.notes)]
    return section("parts", "Parts to change", *shown) if any(shown) else None


def _changes(lines: Sequence[Replacement], unit: Unit) -> Markup:
    rows = [(tick(f"{line.ref} changed"), own(line.ref), own(line.marking), _buy(line, unit)) for line in lines]
    return table("New parts", ("Done", "Part", "Marked", "Fit"), rows, key=1, class_="parts")


def _buy(line: Replacement, unit: Unit) -> Markup:
    """What to buy, how several are wired, what fits, and why."""
    times = f"{line.quantity} × " if line.quantity > 1 else ""
    said = [w for w in (line.arrangement, line.size, sentence(line.why, unit, line.ref), line.note) if w]
    said.append(f"Rests on: {short_grade(line.rests_on)}.")
    return Markup(el("b", times + line.buy) + join(el("small", prose(words), class_="why") for words in said))


def _left(advice: Advice, unit: Unit) -> Markup:
    rows = [(own(x.ref), own(x.marking), prose(sentence(x.why, unit, x.ref)), short_grade(x.rests_on))
            for x in advice.leave]
    return table("Leave alone", ("Part", "Marked", "Why", "Rests on"), rows, class_="leave")


def unseen_section(checked: Checked) -> Markup:
    """What was not looked at, so that nobody takes silence for a pass."""
    other, quiet = not_judged(checked.unit), _without_finding(checked)
    return section(
        "unseen", "Not looked at",
        el("p", "The parts list only is judged. Wiring, insulation, sockets, switches, the wear of tubes and whatever "
                "is not in the list are for your eyes and meter."),
        el("p", el("b", "No check knows these: "), _listed(other)) if other else None,
        el("p", el("b", "Read, but with too little about them to judge: "), _listed(quiet)) if quiet else None)


def _listed(parts: Sequence[Part]) -> Markup:
    return Markup(", ".join(el("bdi", f"{p.ref} ({given(p.marking)})") for p in parts) + ".")


def _without_finding(checked: Checked) -> list[Part]:
    """Parts that were read, have no finding of their own and entered no sum."""
    unit = checked.unit
    words = {word for f in checked.findings for word in (f.subject, *f.subject.split(" and "))}
    spoken = {part.ref for part in map(unit.part_of, words) if part is not None}
    feeds = {n.through for n in unit.supply.nodes} if unit.supply else set()
    places = {*unit.windings, *unit.strings}
    return [p for p in unit.parts.values() if p.kind is not None and p.ref not in spoken and p.ref not in feeds
            and not (p.kind in _USED_KINDS and any(place.ref in places for place in p.at))]
