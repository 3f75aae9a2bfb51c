"""Parts to change, with boxes to tick, and what no check looked at."""

from collections.abc import Sequence

from pipeline.bench.replacements import Advice, Replacement
from pipeline.checks.check import Checked
from pipeline.output.sheet.markup import Markup, el, join, own, prose, section, table, tick
from pipeline.output.sheet.words import sentence, short_grade
from pipeline.unit import Unit

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
    rows = [(own(x.ref), own(x.marking), prose(f"{x.why[0].upper()}{x.why[1:]}."), prose(x.do))
            for x in checked.not_judged]
    return section(
        "unseen", "Not judged",
        el("p", "The parts list only is judged. Wiring, insulation, sockets, switches, the wear of tubes and whatever "
                "is not in the list are for your eyes and meter."),
        table("Parts that no sum could judge", ("Part", "Marked", "Why", "What would settle it"), rows) if rows
        else None)
