"""Rules over rows and tables: what one cell alone cannot show to be wrong.

One rule, one id, one function: the function `retma_heater` is the rule `retma-heater`, its docstring says why.
A rule yields hits; the runner here makes faults of them. Rules about what the figures mean can be waived, type by
type, in the raw table `designation_exceptions`, with a reason; a waiver that nothing needs is itself a fault.
"""

from collections.abc import Callable, Iterable, Iterator, Set
from difflib import get_close_matches

from pipeline.build.audit import curves, links, names, operation, pins, rectifiers, sections, siblings
from pipeline.build.audit.ground import Ground, Hit, Typed
from pipeline.build.faults import Fault
from pipeline.build.normalise import Place

Rule = Callable[[Ground], Iterable[Hit]]


def _by_id(*rules: Rule) -> dict[str, Rule]:
    return {rule.__name__.replace("_", "-"): rule for rule in rules}


LINKS: dict[str, Rule] = _by_id(
    links.source_unknown, links.type_unknown, links.name_taken, links.name_of_two, links.name_own, links.name_a_word,
    links.name_twice, links.own_substitute, links.substitute_contradiction,
    pins.pin_unreadable, pins.pin_twice, pins.two_maps)
"""Rules that hold without exception."""

WAIVABLE: dict[str, Rule] = _by_id(
    names.retma_heater, names.european_heater, names.european_base, names.european_function,
    pins.pin_beyond_base, pins.pins_incomplete, pins.pins_against_function, pins.pins_against_code,
    pins.base_against_code, pins.heater_pins,
    sections.heater_watts, sections.plate_watts, sections.screen_watts, sections.mu_gm_rp,
    sections.heater_options_watts,
    operation.plate_dissipation, operation.screen_dissipation, operation.plate_volts, operation.screen_volts,
    operation.cathode_current, operation.cathode_bias, operation.output_power, operation.load,
    curves.bias_volts, curves.screen_share, curves.slope_per_ampere,
    siblings.ten_times, siblings.other_heater_sections, siblings.other_heater_watts,
    rectifiers.inverse_volts, rectifiers.rating_volts, rectifiers.peak_current, rectifiers.transient_current,
    rectifiers.rectifier_current, rectifiers.dc_volts)
"""Rules that `designation_exceptions` may waive for one type."""


def audit(typed: Typed, bad: Set[Place] = frozenset()) -> list[Fault]:
    """Every fault the rules find.

    `bad` names the cells that are faulty already: files in it are no ground for calling a source or a type
    unknown, and rows in it are not weighed by the rules about meaning, so that one slip gives one fault.
    """
    whole = Ground(typed, {file for file, _, _ in bad})
    faults = [fault for rule, found in LINKS.items() for fault in _faults(rule, found(whole))]
    lines = {(file, line) for file, line, _ in bad} | {(f.file, f.line) for f in faults}
    ground = whole.without(lines) if lines else whole
    hits = [(rule, hit) for rule, found in WAIVABLE.items() for hit in found(ground)]
    waived = _waivers(whole)
    faults += [fault for rule, hit in hits if (hit.about, rule) not in waived for fault in _faults(rule, [hit])]
    if not lines:
        faults += _idle_waivers(whole, {(hit.about, rule) for rule, hit in hits})
    return faults


def _faults(rule: str, hits: Iterable[Hit]) -> Iterator[Fault]:
    for row, column, what, mend, _ in hits:
        value = row.values[column]
        shown = "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
        yield Fault(rule, row.file, row.line, column, shown, what, mend)


def _waivers(ground: Ground) -> set[tuple[str, str]]:
    return {(str(r.values["type"]), str(r.values["rule"])) for r in ground.typed["designation_exceptions"]}


def _idle_waivers(ground: Ground, needed: set[tuple[str, str]]) -> list[Fault]:
    """`rule-unknown`: a waiver of no rule. `waiver-unused`: the rule finds nothing wrong with that type."""
    faults = []
    for row in ground.typed["designation_exceptions"]:
        about, rule = str(row.values["type"]), str(row.values["rule"])
        if rule not in WAIVABLE:
            near = get_close_matches(rule, WAIVABLE, 1)
            faults.append(Fault("rule-unknown", row.file, row.line, "rule", rule, "no such rule can be waived",
                                f"perhaps {near[0]}" if near else "the rules are " + ", ".join(WAIVABLE)))
        elif (about, rule) not in needed:
            faults.append(Fault("waiver-unused", row.file, row.line, "rule", rule,
                                f"{about} does not break this rule", "drop the row"))
    return faults


__all__ = ["LINKS", "WAIVABLE", "Ground", "Hit", "audit"]
