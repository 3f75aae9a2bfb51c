"""Capacitor findings: is it the kind its role asks for, and does it bear the volts at work and at switch-on."""

import math
from collections.abc import Iterator

from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.findings import Finding, in_order, judge
from pipeline.checks.mains import Mains
from pipeline.checks.supply import HIGH, TODAY, SupplyState
from pipeline.electrics.capacitors import surge_voltage
from pipeline.unit import Part, Unit

SURGE = Figure("electrolytic capacitor", "surge_voltage", "1.15 up to 315 V, 1.10 above", "UR", "quoted",
               "iec-60384-4")
AC_ROLES = ("motor run", "motor start", "crossover", "line to line", "line to chassis", "snubber")
"""Roles in which the volts swing both ways."""
CLASS_NAMES = {"X": "line to line", "Y": "line to chassis"}


Role = dict[str, Figure]


def roles_of(catalogue: Catalogue) -> dict[str, Role]:
    """Role → the figures of its row of `capacitor_roles`."""
    return catalogue.chosen("capacitor_roles")


def kind_findings(unit: Unit, roles: dict[str, Role]) -> Iterator[Finding]:
    """`capacitor-kind` of every capacitor whose role is given."""
    for part in unit.parts.values():
        if part.kind == "capacitor" and part.role in roles:
            yield kind_finding(part, roles[part.role])


def kind_finding(part: Part, role: Role) -> Finding:
    """Whether the part is of a kind that may serve in its role."""
    name, kinds = role["kinds"].subject, role["kinds"].value.replace(";", " or ")
    reading, polar = part.reading, role["polarised_allowed"].value == "yes"

    def finding(verdict: str, why: str, do: str = "") -> Finding:
        return Finding("capacitor-kind", part.ref, verdict, None, None, None, f"{part.ref} ({part.shown}) {why}", do,
                       (role["kinds"],))

    if not polar and reading.polarised:
        danger = "it heats, vents and can burst" if name in AC_ROLES else "it leaks and is destroyed"
        return finding("stop", f"is a polarised electrolytic in the role {name}: {danger}.",
                       f"Fit {_article(kinds)}; never an electrolytic.")
    if "safety_class" in role:
        return _class_finding(finding, part, role["safety_class"].value[0])
    if name in ("motor run", "motor start") and reading.volts_ac is None:
        return finding("unknown", "shows no AC rating, and a motor capacitor needs one.",
                       f"Fit {_article(kinds)} rated for AC of at least the mains.")
    if not polar and reading.polarised is None and _uf(part) >= 1:
        return finding("unknown", f"does not show whether it is polarised, and {name} must not be.",
                       "Look for a plus or minus sign or the maker's series; if in doubt replace it.")
    return finding("pass", f"may serve as {name}.")


def _class_finding(finding, part: Part, letter: str) -> Finding:
    have = part.reading.safety_class or ""
    if letter in have or (letter == "X" and "Y" in have):
        return finding("pass", f"is of class {have}, as {CLASS_NAMES[letter]} asks.")
    what = f"is of class {have}" if have else "shows no safety class"
    harm = "if it fails short the chassis is live" if letter == "Y" else "if it fails short it burns across the line"
    return finding("stop", f"{what}; {CLASS_NAMES[letter]} takes class {letter}: {harm}.",
                   f"Fit a class {letter}2 part (or {letter}1) of the same value.")


def voltage_findings(unit: Unit, state: SupplyState | None, mains: Mains) -> Iterator[Finding]:
    """`capacitor-voltage` of every capacitor whose volts can be known: on a node, on the line, at a cathode."""
    for part in unit.parts.values():
        if part.kind != "capacitor":
            continue
        if part.role in ("line to line", "line to chassis", "motor run", "motor start"):
            yield from line_voltage(part, mains)
        elif state is not None:
            for section, node in state.sections_of(part):
                yield node_voltage(part, section, node, state)
        if part.role == "cathode bypass":
            yield from cathode_voltage(part, unit)


def line_voltage(part: Part, mains: Mains) -> Iterator[Finding]:
    """The AC rating against the highest mains; a DC rating only tells when it is below the crest."""
    rated_ac = part.reading.volts_ac
    dc = [s.volts_dc for s in part.reading.sections if s.volts_dc]
    if rated_ac is not None:
        verdict = "pass" if rated_ac >= mains.high_v else "stop"
        yield Finding("capacitor-voltage", part.ref, verdict, mains.high_v, rated_ac, "V",
                      f"{part.ref} sees up to {mains.high_v:g} V AC and is rated for {rated_ac:g} V AC.",
                      "" if verdict == "pass" else "Fit one rated for more AC volts.", mains.rests_on)
    elif dc and not part.reading.polarised and min(dc) < math.sqrt(2) * mains.high_v:
        crest = math.sqrt(2) * mains.high_v
        yield Finding("capacitor-voltage", part.ref, "stop", crest, min(dc), "V",
                      f"{part.ref} sees crests of {crest:.0f} V and is rated for {min(dc):g} V DC.",
                      "Fit a part with an AC rating.", mains.rests_on)


def cathode_voltage(part: Part, unit: Unit) -> Iterator[Finding]:
    """A bypass capacitor against the measured cathode volts of its tube."""
    tube = unit.parts.get(part.first_at)
    if tube is None:
        return
    volts = tube.measured.get("cathode_v")
    rated = min((s.volts_dc for s in part.reading.sections if s.volts_dc), default=None)
    if volts is not None and rated is not None:
        verdict = "stop" if volts > rated else "pass"
        yield Finding("capacitor-voltage", part.ref, verdict, volts, rated, "V",
                      f"{part.ref} stands at {volts:g} V on {tube.ref}'s cathode and is rated for {rated:g} V.",
                      "" if verdict == "pass" else "Fit a higher rating; check the tube's bias first.")


def node_voltage(part: Part, section: int, node: str, state: SupplyState) -> Finding:
    """Working volts at high mains against the rating, cold-start volts against the surge rating; crests of both.

    DC volts and the crest of the ripple together must stay within the rating: IEC 60384-4 (recalled).
    """
    name = part.ref if len(part.reading.sections) == 1 else f"{part.ref}{'ABCDEFGH'[section]}"
    name = part.ref if name in state.refs_on(node) and len(part.reading.sections) == 1 else name
    rated = part.reading.sections[section].volts_dc
    work, cold = state.capacitor_v(node, HIGH), state.capacitor_start_v(node)
    no_load = state.no_load_v(node) * state.share(node)
    loaded = state.rests_on
    unloaded = loaded if state.cold_start_rests_on_load else (SURGE, *state.mains.rests_on)

    def finding(verdict: str, figure: float | None, limit: float | None, why: str, do: str = "",
                rests_on: tuple[Figure, ...] = unloaded) -> Finding:
        return Finding("capacitor-voltage", name, verdict, figure, limit, "V", why, do, rests_on)

    if rated is None:
        return finding("unknown", cold, None, f"{name} shows no DC volts; {node} reaches {_v(cold)} at switch-on.",
                       f"Take it as unfit: a new part needs {_v(cold)} or more.")
    if cold is None:
        return finding("unknown", None, rated, f"The volts at {node} are not known: {state.missing}.", state.mend)
    surge, passed = float(surge_voltage(rated)), []
    if work is not None and work > rated:
        passed.append(finding(
            judge(state.capacitor_v(node, TODAY) or 0.0, work, rated), work, rated,
            f"{name} works at up to {_v(work)}, ripple counted, at {state.mains.high_v:g} V mains; it is rated for "
            f"{rated:g} V.", f"Fit at least {_v(max(work, cold))}.", loaded))
    if cold > surge:
        passed.append(finding(
            judge(state.capacitor_start_today_v(node) or 0.0, cold, surge), cold, surge,
            f"{name} gets {_v(cold)} at switch-on at {state.mains.high_v:g} V mains, before the tubes draw; rated "
            f"{rated:g} V, it bears a surge of {surge:.0f} V.", f"Fit at least {_v(max(work or 0.0, cold))}."))
    if passed:
        return in_order(passed)[0]
    if cold > rated:
        return finding("caution", cold, rated, f"{name} gets {_v(cold)} at switch-on, above its {rated:g} V but "
                       f"within its surge rating of {surge:.0f} V.", f"A new part is better at {_v(cold)} or more.")
    if no_load > surge:
        return finding("caution", no_load, surge, f"{name} would see {_v(no_load)} with the output tube out or dead; "
                       f"rated {rated:g} V, it bears {surge:.0f} V.", "Do not run the set with tubes pulled.")
    if work is None:
        return finding("pass", cold, rated, f"{name} never sees more than {_v(cold)} of its {rated:g} V, whatever "
                       "the load.")
    return finding("pass", max(work, cold), rated, f"{name} works at up to {_v(work)}, {_v(cold)} at switch-on; rated "
                   f"{rated:g} V.", rests_on=unloaded if cold >= work else loaded)


def _v(volts: float | None) -> str:
    return "unknown volts" if volts is None else f"{volts:.0f} V"


def _uf(part: Part) -> float:
    return max((s.uf for s in part.reading.sections), default=0.0)


def _article(kinds: str) -> str:
    return f"{'an' if kinds[0] in 'aeio' else 'a'} {kinds} capacitor"
