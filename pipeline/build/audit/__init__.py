"""Rules over rows and tables: what one cell alone cannot show to be wrong.

One rule, one id, one function: the function `retma_heater` is the rule `retma-heater`, its docstring says why.
A rule yields hits; the runner here makes faults of them. Rules about what the figures mean can be waived, type by
type, in the raw table `designation_exceptions`, with a reason; a waiver that nothing needs is itself a fault.
"""

from collections.abc import Callable, Iterable, Iterator, Set
from difflib import get_close_matches

from pipeline.build.audit import curves, links, names, operation, pins, rectifiers, sections, siblings
from pipeline.build.audit.ground import Ground, Hit, Typed, lost_tables
from pipeline.build.faults import Fault
from pipeline.build.normalise import Place

Rule = Callable[[Ground], Iterable[Hit]]


def _by_id(*rules: Rule) -> dict[str, Rule]:
    return {rule.__name__.replace("_", "-"): rule for rule in rules}


LINKS: dict[str, Rule] = _by_id(
    links.source_unknown, links.published_nowhere, links.published_by_many,
    links.type_unknown, links.link_unknown, links.type_stroke, links.name_taken,
    links.name_of_two, links.name_own, links.name_a_word, links.name_twice, links.own_substitute,
    links.substitute_contradiction,
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


_POINTERS = ("source-unknown", "type-unknown", "link-unknown")
"""Rules that look at one cell and need every row that can be pointed to, the faulty ones too."""

_ACQUITTING = {
    **dict.fromkeys(("retma-heater", "european-base", "european-function", "other-heater-watts",
                     "heater-options-watts"), {"tubes"}),
    "european-heater": {"tubes", "heater_options"},
    **dict.fromkeys(("pins-incomplete", "pins-against-function", "heater-pins"), {"tube_pins"}),
    **dict.fromkeys(("plate-dissipation", "screen-dissipation", "plate-volts", "screen-volts", "cathode-current",
                     "bias-volts", "slope-per-ampere"), {"sections"}),
    "other-heater-sections": {"tubes", "sections", "rectifiers"},
    **dict.fromkeys(("rating-volts", "rectifier-current"), {"rectifiers"}),
}
"""Rule → tables of which one more row of the type can show that nothing is wrong: where such a row is faulty itself,
the rule is silent about the type."""


def audit(typed: Typed, bad: Set[Place] = frozenset()) -> list[Fault]:
    """Every fault the rules find.

    `bad` names the cells that are faulty already: rows in it are not weighed, and are not missed by those that point
    to them, so that one slip gives one fault.
    """
    whole = Ground(typed, lost_tables(bad))
    lines = {(file, line) for file, line, _ in bad}
    sound = whole.without(lines) if lines else whole
    faults = [fault for rule, found in LINKS.items()
              for fault in _faults(rule, found(whole if rule in _POINTERS else sound))]
    lines |= {(f.file, f.line) for f in faults}
    ground = whole.without(lines) if lines else whole
    hits = [(rule, hit) for rule, found in WAIVABLE.items() for hit in found(ground)]
    waived, unknown = _waivers(whole)
    silent = _unsure(typed, whole.lost, lines) if lines else {}
    faults += [fault for rule, hit in hits if (hit.about, rule) not in waived and hit.about not in unknown
               and not {hit.about, ""} & silent.get(rule, set()) for fault in _faults(rule, [hit])]
    faults += _unknown_waivers(sound)
    if not lines:
        faults += _idle_waivers(whole, {(hit.about, rule) for rule, hit in hits})
    return faults


def _unsure(typed: Typed, lost: Set[str], lines: Set[tuple[str, int]]) -> dict[str, set[str]]:
    """Rule → types of which a row that could acquit them is faulty; the type "" stands for all."""
    types = {name: {str(r.values.get("type") or "") for r in typed[name] if (r.file, r.line) in lines}
             | ({""} if name in lost else set()) for name in typed}
    return {rule: set().union(*(types[name] for name in names)) for rule, names in _ACQUITTING.items()}


def _faults(rule: str, hits: Iterable[Hit]) -> Iterator[Fault]:
    for row, column, what, mend, _ in hits:
        value = row.values[column]
        shown = "" if value is None else f"{value:.15g}" if isinstance(value, float) else str(value)
        yield Fault(rule, row.file, row.line, column, shown, what, mend)


def _waivers(ground: Ground) -> tuple[set[tuple[str, str]], set[str]]:
    """What is waived, as (type, rule), and the types for which an unknown rule is waived."""
    waived = {(str(r.values["type"]), str(r.values["rule"])) for r in ground.typed["designation_exceptions"]}
    return waived, {about for about, rule in waived if rule not in WAIVABLE}


def _unknown_waivers(ground: Ground) -> Iterator[Fault]:
    """`rule-unknown`: a waiver of no rule."""
    for row in ground.typed["designation_exceptions"]:
        rule = str(row.values["rule"])
        if rule not in WAIVABLE:
            near = get_close_matches(rule, WAIVABLE, 1)
            yield Fault("rule-unknown", row.file, row.line, "rule", rule, "no such rule can be waived",
                        f"perhaps {near[0]}" if near else "the rules are " + ", ".join(WAIVABLE))


def _idle_waivers(ground: Ground, needed: set[tuple[str, str]]) -> Iterator[Fault]:
    """`waiver-unused`: the rule finds nothing wrong with that type."""
    for row in ground.typed["designation_exceptions"]:
        about, rule = str(row.values["type"]), str(row.values["rule"])
        if rule in WAIVABLE and (about, rule) not in needed:
            yield Fault("waiver-unused", row.file, row.line, "rule", rule, f"{about} does not break this rule",
                        "drop the row")


__all__ = ["LINKS", "WAIVABLE", "Ground", "Hit", "audit"]
