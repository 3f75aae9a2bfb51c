"""Findings on the sheet: what must stop first, what passed last in one table."""

from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.output.quantities import numbers
from pipeline.output.sheet.markup import Markup, el, join, note, own, prose, section, table
from pipeline.output.sheet.words import DAGGER, evidence, sentence, short_grade
from pipeline.unit import Unit

GRAVE = ("stop", "unknown", "caution")
WORDS = {"stop": "Stop", "unknown": "Not known", "caution": "Caution", "pass": "Passed"}
_TALLY = {"stop": "to stop for", "unknown": "not known", "caution": "to be careful about", "pass": "passed"}


def findings_section(checked: Checked) -> Markup:
    """Every finding: those to act on as paragraphs, those that passed as a table."""
    unit, found = checked.unit, checked.findings
    grave = [_group(group, unit) for verdict in GRAVE for group in alike([f for f in found if f.verdict == verdict])]
    passed = [f for f in found if f.verdict == "pass"]
    legend = note(f"{DAGGER} recalled: entered from memory. Look it up before you rely on it; "
                  "the list is near the end.")
    return section("findings", "Findings", legend, grave, _passed(passed) if passed else None)


def tally(found: list[Finding]) -> Markup:
    """How many findings of each verdict, in words."""
    said = [el("span", el("b", str(n)), f" {words}") for n, words in counted(found)]
    return Markup(", ".join(said) or "Nothing to check.")


def counted(found: list[Finding]) -> list[tuple[int, str]]:
    """(how many, in words) of each verdict that was given."""
    counts = {v: sum(f.verdict == v for f in found) for v in WORDS}
    return [(n, _TALLY[v]) for v, n in counts.items() if n]


def alike(found: list[Finding]) -> list[list[Finding]]:
    """Findings of one check that ask for the very same thing stand together, under one advice."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for f in found:
        groups.setdefault((f.check, f.do or f.why), []).append(f)
    return list(groups.values())


def _group(group: list[Finding], unit: Unit) -> Markup:
    first = group[0]
    head = el("h3", el("span", WORDS[first.verdict], class_="verdict"), " ", first.check.replace("-", " "))
    do = el("p", el("b", "Do: "), prose(first.do), class_="do") if first.do else None
    return el("article", head, [_one(f, unit) for f in group], do, class_=f"finding {first.verdict}")


def _one(finding: Finding, unit: Unit) -> Markup:
    said = numbers(finding)
    small = el("p", el("span", said, class_="numbers") if said else None, " · " if said else None,
               evidence(finding.rests_on), class_="basis")
    return el("div", el("p", own(finding.subject), class_="ref"),
              el("div", el("p", prose(sentence(finding.why, unit, finding.subject))), " ", small), class_="one")


def _passed(found: list[Finding]) -> Markup:
    """What passed, a row for each check, limit and grade: the parts with their figures in it."""
    same: dict[tuple[str, str, str], dict[str, str]] = {}
    for f in found:
        figure, _, limit = numbers(f).partition(", ")
        same.setdefault((f.check, limit or "by kind", short_grade(f.rests_on)), {}).setdefault(f.subject, figure)
    rows = [(check.replace("-", " "), join([_parts_of(parts), f"; {limit.replace(' ', chr(0xa0))}"]),
             el("span", grade, class_="n")) for (check, limit, grade), parts in same.items()]
    return table("Passed", ("Check", "Part, figure and limit", "Rests on"), rows, class_="passed")


def _parts_of(parts: dict[str, str]) -> Markup:
    return join([", " if i else "", el("b", own(ref)), f"\u00a0{figure.replace(' ', chr(0xa0))}" if figure else ""]
                for i, (ref, figure) in enumerate(parts.items()))
