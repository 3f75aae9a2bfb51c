"""Findings as a person reads them at the bench: what must stop first, what passed last, the cautions at the foot."""

from collections.abc import Iterable

from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import Finding
from pipeline.checks.parts import not_judged
from pipeline.output.page import CAUTIONS, clean, paint, short, table, wrapped

_HEADINGS = {"stop": "STOP", "unknown": "NOT KNOWN", "caution": "CAUTION"}


def report(checked: Checked, replacements: Iterable) -> str:
    """The whole report of `check`."""
    unit, mains = checked.unit, checked.mains
    head = f"{clean(unit.name)}: {mains.today_v:g} V {mains.hertz:g} Hz today, up to {mains.high_v:g} V"
    blocks = [paint(wrapped(head), "head") + "\n" + _summary(checked.findings)]
    for verdict in ("stop", "unknown", "caution"):
        found = [f for f in checked.findings if f.verdict == verdict]
        if found:
            blocks.append(paint(_HEADINGS[verdict], verdict) + "\n" + "\n".join(_joined(found)))
    passed = [f for f in checked.findings if f.verdict == "pass"]
    if passed:
        blocks.append(paint("PASSED", "pass") + "\n" + _passed(passed))
    blocks += [b for b in (_nodes(checked), _replacements(list(replacements)), _unjudged(checked),
                           _recalled(checked.recalled)) if b]
    return "\n\n".join([*blocks, wrapped(CAUTIONS)]) + "\n"


def _summary(findings: list[Finding]) -> str:
    counts = {v: sum(f.verdict == v for f in findings) for v in ("stop", "unknown", "caution", "pass")}
    words = {"stop": "to stop for", "unknown": "not known", "caution": "to be careful about", "pass": "passed"}
    return ", ".join(f"{n} {words[v]}" for v, n in counts.items() if n) or "nothing to check"


def _joined(found: list[Finding]) -> list[str]:
    """One paragraph for each finding; those that ask for the very same thing stand under one advice."""
    groups: dict[tuple[str, str], list[Finding]] = {}
    for f in found:
        groups.setdefault((f.check, f.do or f.why), []).append(f)
    return [_paragraph(group) for group in groups.values()]


def _paragraph(group: list[Finding]) -> str:
    lines = [wrapped(clean(f.why) + (_grade(f) if f is group[-1] else ""), 8, f"  {f.subject:<5} ") for f in group]
    if group[0].do:
        lines.append(wrapped("→ " + clean(group[0].do), 10, " " * 8))
    return "\n".join(lines)


def _grade(finding: Finding) -> str:
    words = {"recalled": "rests on a recalled figure", "practice": "rests on trade practice"}
    grade = finding.evidence
    return f" ({words[grade]})" if grade in words and finding.rests_on else ""


def _passed(findings: list[Finding]) -> str:
    rows = [(f.subject, f.check.replace("-", " "), _against(f), pass_words(f)) for f in findings]
    return table(rows)


def pass_words(finding: Finding) -> str:
    """`pass`, and what weak figure it rests on."""
    return {"recalled": "pass, on a recalled rating", "practice": "pass, by trade practice",
            "quoted": "pass, on a quoted rating"}.get(finding.evidence, "pass")


def _against(finding: Finding) -> str:
    if finding.figure is None or finding.limit is None:
        return ""
    if finding.unit == "ohm":
        return f"{finding.figure:.4g}, at least {finding.limit:.4g} ohm"
    return f"{finding.figure:.4g} of {finding.limit:.4g} {finding.unit}"


def _nodes(checked: Checked) -> str:
    state = checked.state
    if state is None:
        return ""
    if state.solved is None:
        return wrapped(f"B+: up to {state.crest_v(checked.mains.high):.0f} V at switch-on; volts under load are not "
                       f"known: {state.missing}. {state.mend}")
    rows = [("node", "today", "ripple", "at switch-on")]
    rows += [(n.id, f"{state.today_v(n.id):.0f} V", _ripple(state.ripple_v(n.id)),
              f"{state.cold_start_v(n.id):.0f} V") for n in state.nodes]
    note = ""
    if state.estimated:
        note = "\n" + wrapped(f"What {', '.join(state.estimated)} draw is estimated from typical operation; write "
                              "load_a for the node, or measured cathode volts, to make it sure.", 2, "  ")
    return paint("B+ WORKED OUT", "head") + "\n" + table(rows) + note


def _ripple(volts: float | None) -> str:
    if volts is None:
        return "not known"
    return f"{volts:.2g} V p-p" if volts >= 0.1 else f"{volts * 1000:.2g} mV p-p"


def _replacements(lines: list) -> str:
    if not lines:
        return ""
    rows = [("part", "marked", "buy", "")]
    for line in lines:
        rows.append((line.ref, short(line.marking), line.buy, f"{line.quantity} {line.arrangement}" if line.quantity > 1
                     else ""))
    unsure = [wrapped(f"{x.ref}: {clean(x.why)}", 8, "  ") for x in lines if x.verdict != "pass" or x.quantity > 1]
    return "\n".join([paint("NEW PARTS", "head"), table(rows), *unsure])


def _unjudged(checked: Checked) -> str:
    parts = not_judged(checked.unit)
    return wrapped("Not looked at: " + ", ".join(f"{p.ref} ({short(p.marking)})" for p in parts) + ".") if parts else ""


def _recalled(figures: list[Figure]) -> str:
    if not figures:
        return ""
    lines = [wrapped(f"{named(f)}: {f.value:g} {f.unit or ''}".rstrip() if isinstance(f.value, float)
                     else f"{named(f)}: {f.value}", 4, "  ") for f in figures]
    head = "RECALLED FIGURES THESE VERDICTS REST ON (look them up; `tubewright confirm TYPE` takes what you read)"
    return "\n".join([paint(head, "head"), *lines])


_WORDS = {
    "heater_v": "heater volts", "heater_a": "heater current", "piv_max_v": "peak inverse volts",
    "plate_peak_max_a": "peak plate current", "drop_v": "drop", "drop_at_a": "plate current at that drop",
    "input_capacitor_max_uf": "largest first capacitor", "dc_a": "DC output", "plate_a": "plate current",
    "screen_a": "screen current", "plate_dissipation_max_w": "plate dissipation", "high_v": "upper mains limit",
    "heater_cathode_negative_max_v": "heater-cathode volts, heater negative",
    "heater_cathode_positive_max_v": "heater-cathode volts, heater positive", "dc_output_max_a": "DC output",
    "ac_plate_max_v": "AC plate volts", "supply_ohm": "plate-supply impedance",
    "ripple_a": "rated ripple current",
    "supply_ohm_min": "plate-supply impedance", "plate_transient_max_a": "switch-on peak"}


def named(figure: Figure) -> str:
    """A figure in words: `5U4GB (capacitor, 450): DC output`."""
    type_, *rest = figure.subject.split("/") if figure.quantity in _WORDS else [figure.subject]
    return f"{type_}{' (' + ', '.join(rest) + ')' if rest else ''} {_WORDS.get(figure.quantity, figure.quantity)}"
