"""Findings as a person reads them at the bench: what must stop first, what passed in counts, the tally at the end."""

from collections import Counter
from collections.abc import Iterable, Sequence

from pipeline.bench.care import Care
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.output.caring import caring
from pipeline.output.operating import operating
from pipeline.output.page import CAUTIONS, paint, short, table, wrapped
from pipeline.output.quantities import named, numbers, value
from pipeline.output.unjudged import rows as unjudged_rows
from pipeline.output.unjudged import unjudged
from pipeline.point.supply import SupplyState

_HEADINGS = {"stop": "STOP", "unknown": "NOT KNOWN", "caution": "CAUTION"}
_TALLY = {"stop": "to stop for", "unknown": "not known", "caution": "to be careful about", "pass": "passed"}
MOST_NAMED = 2
"""Weak figures that are named under a finding; of the others only the count is given."""
SHORT_SUBJECT = 5
"""Letters of a subject that stand in a column of their own."""


def report(checked: Checked, replacements: Iterable, everything: bool = False, care: Sequence[Care] = ()) -> str:
    """The whole report of `check`; with `everything` what passed and what is recalled is listed, else counted."""
    unit, mains = checked.unit, checked.mains
    head = paint(wrapped(unit.name), "head")
    blocks = [f"{head}\n" + (f"batteries of {mains.today_v:g} V, fresh {mains.high_v:g} V" if mains.battery else
                              f"{mains.today_v:g} V {mains.hertz:g} Hz today, up to {mains.high_v:g} V")]
    for verdict in ("stop", "unknown", "caution"):
        found = [f for f in checked.findings if f.verdict == verdict]
        if found:
            blocks.append(paint(_HEADINGS[verdict], verdict) + "\n" + "\n".join(_joined(found)))
    passed = [f for f in checked.findings if f.verdict == "pass"]
    blocks += [b for b in (_passed(passed, everything), _nodes(checked), operating(checked, everything),
                           _replacements(list(replacements), everything), caring(care, everything),
                           unjudged(checked, everything), _recalled(checked.recalled, everything)) if b]
    beside = len(unjudged_rows(checked))
    last = tally(checked.findings) + (f", {_count(beside, 'part')} not judged" if beside else "")
    return "\n\n".join([*blocks, wrapped(CAUTIONS), paint(wrapped(last), "head")]) + "\n"


def tally(findings: Sequence[Finding]) -> str:
    """How many findings of each verdict, in words: `4 to stop for, 19 passed`."""
    counts = Counter(f.verdict for f in findings)
    return ", ".join(f"{counts[v]} {words}" for v, words in _TALLY.items() if counts[v]) or "nothing to check"


def _joined(found: list[Finding]) -> list[str]:
    """One paragraph for each finding; those that ask for the very same thing stand under one advice."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for f in found:
        groups.setdefault((f.check, f.do or f.why), []).append(f)
    return [_paragraph(group) for group in groups.values()]


def _paragraph(group: list[Finding]) -> str:
    """What is wrong, then what it rests on, then what to do; advice for several parts names them."""
    lines = []
    for f in group:
        named = len(f.subject) > SHORT_SUBJECT and f.why.startswith(f.subject)  # the sentence begins with it anyway
        lines.append(wrapped(f.why, 8, "  " if named else f"  {short(f.subject, 20):<{SHORT_SUBJECT}} "))
        if weak := _rests_on(f):
            lines.append(paint(wrapped(weak, 8, " " * 8), "quiet"))
    if group[0].do:
        whom = f"{', '.join(f.subject for f in group)}: " if len(group) > 1 else ""
        lines.append(wrapped(whom + group[0].do, 10, " " * 8 + "→ "))
    return "\n".join(lines)


def _rests_on(finding: Finding) -> str:
    """The weak figures a finding rests on, the first of them by name; nothing where all were read in a document."""
    if finding.evidence == "practice":
        return "Rests on trade practice."
    weak = list(dict.fromkeys(f"{named(f)} {value(f)}".rstrip() for f in finding.rests_on if f.evidence == "recalled"))
    if not weak:
        return ""
    more = f" and {len(weak) - MOST_NAMED} more" if len(weak) > MOST_NAMED else ""
    what = "a recalled figure" if len(weak) == 1 else "recalled figures"
    return f"Rests on {what}: {', '.join(weak[:MOST_NAMED])}{more}."


def _passed(findings: list[Finding], everything: bool) -> str:
    if not findings:
        return ""
    if everything:
        rows = [(f.subject, f.check.replace("-", " "), numbers(f), _grade(f)) for f in findings]
        return paint("PASSED", "pass") + "\n" + table(rows)
    grades = Counter(map(_grade, findings))
    how = "; ".join(f"{count} pass{', ' if words else ''}{words}" for words, count in grades.most_common())
    return paint("PASSED", "pass") + "\n" + wrapped(f"{_count(len(findings), 'check')}: {how} (--all lists them)", 2,
                                                    "  ")


def _count(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _grade(finding: Finding) -> str:
    """What weak figure a pass rests on; nothing where all were read in a document or measured."""
    return {"recalled": "on a recalled rating", "practice": "by trade practice",
            "quoted": "on a quoted rating"}.get(finding.evidence, "")


def _nodes(checked: Checked) -> str:
    """Volts of the supplies' nodes, and what is missing where they cannot be worked out."""
    return "\n\n".join(part for state in checked.point.states if (part := _supply(checked, state)))


def _supply(checked: Checked, state: SupplyState) -> str:
    if not state.nodes:
        return ""
    if state.missing:
        return wrapped(f"{state.id}: up to {state.crest_v(checked.mains.high):.0f} V at switch-on; volts under load "
                       f"are not known: {state.missing}. {state.mend}")
    rows = [("node", "today", "ripple", "at switch-on")]
    rows += [(n.id, _volts(checked, n.id, "dc_v"), _ripple(state.ripple_v(n.id)), _volts(checked, n.id, "cold_start_v"))
             for n in state.nodes]
    note = ""
    if state.estimated:
        note = "\n" + wrapped(f"What {', '.join(state.estimated)} draw is estimated from typical operation; describe "
                              "their stages, or write load_a for the node, to make it sure.", 2, "  ")
    return paint(f"{state.id} WORKED OUT", "head") + "\n" + table(rows) + note


def _volts(checked: Checked, node: str, quantity: str) -> str:
    found = checked.point.get(node, quantity)
    return "" if found is None or found.value is None else f"{found.value:.3g} V" if abs(found.value) < 100 \
        else f"{found.value:.0f} V"


def _ripple(volts: float | None) -> str:
    if volts is None:
        return "not known"
    return f"{volts:.2g} V p-p" if volts >= 0.1 else f"{volts * 1000:.2g} mV p-p"


def _replacements(lines: list, everything: bool) -> str:
    """The new parts as a table; under it what cannot be bought yet, or with `everything` the reasons of each."""
    if not lines:
        return ""
    rows = [("part", "marked", "buy")]
    for line in lines:
        several = line.quantity > 1
        rows.append((line.ref, "" if " " in line.ref else short(line.marking),
                     (f"{line.quantity} × " if several else "") + line.buy
                     + (f", {line.arrangement}" if several and line.arrangement else "")))
    said = [x for x in lines if x.verdict != "pass" or (everything and x.why)]
    whys = [wrapped(f"{x.ref}: {x.why if everything else x.why.partition(' Replaced because:')[0]}", 8, "  ")
            for x in said]
    more = [] if everything else [wrapped("`tubewright order` writes them as one list, with the reasons.", 2, "  ")]
    return "\n".join([paint("NEW PARTS", "head"), table(rows), *whys, *more])


def _recalled(figures: list[Figure], everything: bool) -> str:
    """The recalled figures the verdicts rest on, or how many there are and of what."""
    if not figures:
        return ""
    head = paint("RECALLED", "head")
    if everything:
        lines = [wrapped(f"{named(f)}: {value(f)}", 4, "  ") for f in figures]
        return "\n".join([head, wrapped("Figures from memory these verdicts rest on: look them up, `tubewright confirm "
                                        "TYPE` takes what you read.", 2, "  "), *lines])
    counts = Counter(f.subject.partition("/")[0] for f in figures)
    of = ", ".join(f"{name} ({count})" for name, count in counts.most_common())
    return head + "\n" + wrapped(f"{_count(len(figures), 'figure')} from memory, of {of}: --all lists them, "
                                 "`tubewright confirm TYPE` takes what you read.", 2, "  ")
