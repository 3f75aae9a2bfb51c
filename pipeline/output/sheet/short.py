"""What must be mended or minded, a line each, for the bench; the whole of it stands in the appendix."""

from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.output.quantities import numbers
from pipeline.output.sheet.findings import GRAVE, WORDS, alike, tally
from pipeline.output.sheet.markup import Markup, el, join, note, own, prose, section, table
from pipeline.output.sheet.words import DAGGER, sentence
from pipeline.unit import Unit

HEADS = ("", "Part", "What", "Do")


def short_section(checked: Checked) -> Markup:
    """The tally, and the stops, unknowns and cautions in a table: what stands alike in one row."""
    unit = checked.unit
    found = {verdict: [f for f in checked.findings if f.verdict == verdict] for verdict in GRAVE}
    rows = [_row(group, unit) for verdict in GRAVE
            for group in (_unknowns(found[verdict]) if verdict == "unknown" else alike(found[verdict]))]
    made = table("To mend and to mind", HEADS, rows, key=1, class_="short") if rows else None
    legend = note(f"{DAGGER} rests on a figure recalled from memory: look it up before you rely on it. The reasons "
                  "stand under Findings.") if rows else None
    return section("short", "To mend and to mind", el("p", tally(checked.findings), class_="tally"), made, legend)


def _unknowns(found: list[Finding]) -> list[list[Finding]]:
    """What is not known, by what would settle it: one missing figure leaves many checks open."""
    groups: dict[str, list[Finding]] = {}
    for f in found:
        groups.setdefault(f.do or f.why, []).append(f)
    return list(groups.values())


def _row(group: list[Finding], unit: Unit) -> tuple[object, ...]:
    first = group[0]
    refs = join([", " if i else "", own(ref)] for i, ref in enumerate(dict.fromkeys(f.subject for f in group)))
    verdict = el("span", WORDS[first.verdict], class_=f"verdict {first.verdict}")
    return verdict, refs, _what(group, unit), prose(first.do)


def _what(group: list[Finding], unit: Unit) -> Markup:
    """The check and its numbers; the reason itself where there are none; of several checks their names."""
    if len(names := list(dict.fromkeys(f.check.replace("-", " ") for f in group))) > 1:
        return el("span", el("b", ", ".join(names)))
    said = list(dict.fromkeys(n for f in group if (n := numbers(f))))
    mark = DAGGER if any(f.evidence == "recalled" for f in group) else ""
    name = el("b", group[0].check.replace("-", " "), mark)
    if said:
        return el("span", name, ": ", "; ".join(said))
    return el("span", name, ": ", prose(sentence(group[0].why, unit, group[0].subject)))
