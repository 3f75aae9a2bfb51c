"""Parts to change, with boxes to tick, and what no check looked at."""

from collections.abc import Sequence

from pipeline.bench.care import Care
from pipeline.bench.replacements import Advice, Replacement
from pipeline.checks.accounting import NotJudged
from pipeline.checks.check import Checked
from pipeline.output.sheet.markup import Markup, el, halves, join, own, prose, section, table, tick
from pipeline.output.sheet.words import sentence, short_grade
from pipeline.unit import Unit

_USED_KINDS = ("tube", "lamp", "choke")
"""Kinds whose ratings enter the heater and supply sums without a finding under their own ref."""


def parts_section(advice: Advice) -> Markup | None:
    """Every part to change in one table, a line each; None where there is none."""
    if not advice.buy:
        return None
    rows = [(tick(f"{line.ref} changed"), own(line.ref), own(line.marking), _buy(line)) for line in advice.buy]
    return section("parts", "Parts to change", halves("New parts", ("Done", "Part", "Marked", "Fit"), rows, "parts", 1))


def _buy(line: Replacement) -> Markup:
    """What to buy, how several are wired, and what fits."""
    times = f"{line.quantity} × " if line.quantity > 1 else ""
    said = "; ".join(w for w in (line.arrangement, line.size) if w)
    return Markup(el("b", times + line.buy) + (el("small", prose(said), class_="why") if said else ""))


def reasons_section(advice: Advice, unit: Unit) -> Markup | None:
    """Why each part is to be changed, then what to leave alone and why; None where there is nothing to say."""
    shown = [_reasons(advice.buy, unit) if advice.buy else None, _left(advice, unit) if advice.leave else None,
             _out(advice, unit) if advice.out else None,
             *(el("p", prose(words)) for words in advice.notes)]
    return section("reasons", "Why these parts", *shown) if any(shown) else None


def _reasons(lines: Sequence[Replacement], unit: Unit) -> Markup:
    """The reasons, those that hold for several parts once."""
    same: dict[tuple[str, ...], list[str]] = {}
    for line in lines:
        said = [w if w.endswith(".") else f"{w}." for w in (sentence(line.why, unit, line.ref), line.note) if w]
        same.setdefault((*said, f"Rests on: {short_grade(line.rests_on)}."), []).append(line.ref)
    rows = [(join([", " if i else "", own(ref)] for i, ref in enumerate(dict.fromkeys(refs))),
             join([" " if i else "", prose(words)] for i, words in enumerate(said))) for said, refs in same.items()]
    return table("Parts to change", ("Part", "Why"), rows, class_="reasons")


def _left(advice: Advice, unit: Unit) -> Markup:
    rows = [(_marked(x.ref, x.marking), join([prose(sentence(x.why, unit, x.ref)),
                                             el("small", f" Rests on: {short_grade(x.rests_on)}.")]))
            for x in advice.leave]
    return table("Leave alone", ("Part", "Why"), rows, class_="leave")


def _marked(ref: str, marking: str) -> Markup:
    return join([own(ref), el("small", " ", own(marking))])


def _out(advice: Advice, unit: Unit) -> Markup:
    rows = [(tick(f"{x.ref} taken out"), own(x.ref), own(x.marking), prose(sentence(x.why, unit, x.ref)))
            for x in advice.out]
    return table("Take out for good", ("Done", "Part", "Marked", "Why"), rows, key=1, class_="leave")


def care_section(care: Sequence[Care]) -> Markup | None:
    """What to clean, lubricate, adjust and measure, alike parts in one line; None where there is nothing."""
    groups: dict[tuple[str, ...], list[Care]] = {}
    for row in care:
        if row.task != "replace":
            groups.setdefault((row.kind, row.task, row.how), []).append(row)
    if not groups:
        return None
    rows = [(tick(f"{', '.join(x.ref for x in found)} {found[0].task}"), own(", ".join(x.ref for x in found)),
             _care(found[0])) for found in groups.values()]
    return section("care", "Care", el("p", "In this order, the set unplugged and discharged."),
                   table("Clean, lubricate, adjust, measure", ("Done", "Parts", "What to do"), rows, key=1,
                         class_="parts"))


def _care(care: Care) -> Markup:
    """What to do, with what, what a good part shows, and what must never be done."""
    said = [f"With {', '.join(care.uses)}." if care.uses else "", f"Expect {care.expect}." if care.expect else "",
            f"Never: {care.never}." if care.never else "", care.own,
            f"Rests on: {short_grade(care.rests_on)}." if care.rests_on else ""]
    return Markup(el("b", prose(f"{care.task[:1].upper()}{care.task[1:]}: {care.how}.")) + join(
        el("small", prose(words), class_="why") for words in said if words))


def unseen_section(checked: Checked) -> Markup:
    """What was not looked at, so that nobody takes silence for a pass."""
    same: dict[str, list[NotJudged]] = {}
    for x in checked.not_judged:
        same.setdefault(x.do, []).append(x)
    shown = [el("div", el("p", el("b", prose(do))), el("ul", *(
        el("li", el("b", own(x.ref)), " ", own(x.marking), ": ", prose(f"{x.why}.")) for x in found)))
        for do, found in same.items()]
    return section(
        "unseen", "Not judged",
        el("p", "The parts list only is judged. Wiring, insulation, sockets, switches, the wear of tubes and whatever "
                "is not in the list are for your eyes and meter."),
        el("h3", "No sum could judge these; what would settle it") if shown else None, *shown)
