"""Rules of capacitors: is each the kind its role asks for, and does it bear the volts at work and at switch-on."""

import math
from collections.abc import Iterator

from pipeline.amounts import written
from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.findings import VERDICTS
from pipeline.checks.rule import Fact, Measure, verdict
from pipeline.electrics.capacitors import surge_voltage
from pipeline.point.point import Point
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.unit import Part, Place

SURGE = Figure("electrolytic capacitor", "surge_voltage", "1.15 up to 315 V, 1.10 above", "UR", "quoted",
               "iec-60384-4")
AC_ROLES = ("motor run", "motor start", "crossover", "line to line", "line to chassis", "snubber")
"""Roles in which the volts swing both ways."""
ON_LINE = ("line to line", "line to chassis")
MOTOR = ("motor run", "motor start")
"""Their volts stand above the line's: see `motors`; only one without an AC rating is judged here."""
CLASS_NAMES = {"X": "line to line", "Y": "line to chassis"}


Role = dict[str, Figure]


def roles_of(catalogue: Catalogue) -> dict[str, Role]:
    """Role → the figures of its row of `capacitor_roles`."""
    return catalogue.chosen("capacitor_roles")


def capacitor_kind(point: Point) -> Iterator[Fact]:
    """Whether each capacitor whose role is given is of a kind that may serve in it."""
    for part in point.unit.parts.values():
        if part.kind == "capacitor" and part.role and part.role in point.roles:
            yield kind_of(part, point.roles[part.role])


def kind_of(part: Part, role: Role) -> Fact:
    """Whether the part is of a kind that may serve in its role."""
    name, kinds = role["kinds"].subject, role["kinds"].value.replace(";", " or ")
    reading, polar = part.reading, role["polarised_allowed"].value == "yes"

    def fact(holds: bool | None, why: str, do: str = "") -> Fact:
        return Fact(part.ref, holds, f"{part.ref} ({part.shown}) {why}", do, rests_on=(role["kinds"],))

    if not polar and reading.polarised:
        danger = "it heats, vents and can burst" if name in AC_ROLES else "it leaks and is destroyed"
        return fact(False, f"is a polarised electrolytic in the role {name}: {danger}.",
                    f"Fit {_article(kinds)}; never an electrolytic.")
    if "safety_class" in role:
        return _class_fact(fact, part, role["safety_class"].value[0])
    if name in ("motor run", "motor start") and reading.volts_ac is None:
        return fact(None, "shows no AC rating, and a motor capacitor needs one.",
                    f"Fit {_article(kinds)} rated for AC of at least the mains.")
    if not polar and reading.polarised is None and _uf(part) >= 1:
        return fact(None, f"does not show whether it is polarised, and {name} must not be.",
                    "Look for a plus or minus sign or the maker's series; if in doubt replace it.")
    return fact(True, f"may serve as {name}.")


def _class_fact(fact, part: Part, letter: str) -> Fact:
    have = part.reading.safety_class or ""
    if letter in have or (letter == "X" and "Y" in have):
        return fact(True, f"is of class {have}, as {CLASS_NAMES[letter]} asks.")
    what = f"is of class {have}" if have else "shows no safety class"
    harm = "if it fails short the chassis is live" if letter == "Y" else "if it fails short it burns across the line"
    return fact(False, f"{what}; {CLASS_NAMES[letter]} takes class {letter}: {harm}.",
                f"Fit a class {letter}2 part (or {letter}1) of the same value.")


def capacitor_voltage(point: Point) -> Iterator[Measure]:
    """Every capacitor whose volts can be known: on a node, on the line, on a tube."""
    on_node = set()
    for state in point.states:
        for place, node, share in state.capacitors():
            on_node.add(place.ref)
            yield node_voltage(point.unit.parts[place.ref], place, node, share, state)
    for part in point.unit.parts.values():
        if part.kind == "capacitor" and part.ref not in on_node:
            motor = part.role in MOTOR
            if motor and part.reading.volts_ac is not None:
                continue
            yield from line_voltage(part, point) if motor or part.role in ON_LINE else _on_tube(part, point)


def line_voltage(part: Part, point: Point) -> Iterator[Measure]:
    """The AC rating against the highest mains; a DC rating only tells when it is below the crest."""
    rated_ac, mains = part.reading.volts_ac, point.mains
    dc = [s.volts_dc for s in part.reading.sections if s.volts_dc]
    if rated_ac is not None:
        yield Measure(part.ref, mains.high_v, rated_ac, "V",
                      f"{part.ref} sees up to {mains.high_v:g} V AC and is rated for {rated_ac:g} V AC.",
                      "Fit one rated for more AC volts.", rests_on=mains.rests_on)
    elif dc and not part.reading.polarised and min(dc) < math.sqrt(2) * mains.high_v:
        crest = math.sqrt(2) * mains.high_v
        yield Measure(part.ref, crest, min(dc), "V",
                      f"{part.ref} sees crests of {crest:.0f} V and is rated for {min(dc):g} V DC.",
                      "Fit a part with an AC rating.", rests_on=mains.rests_on)


def _on_tube(part: Part, point: Point) -> Iterator[Measure]:
    """A bypass or coupling capacitor at the point where its tube works, and while the tubes are cold."""
    rated = min((s.volts_dc for s in part.reading.sections if s.volts_dc), default=None)
    volts = point.get(part.ref, "capacitor_v")
    if volts is None or volts.value is None or (rated is None and part.reading.volts_ac):
        return
    most = max(volts.most or 0.0, volts.value)
    upto = f", up to {written(most, 3)} V" if most > volts.value * 1.01 else ""
    yield Measure(
        part.ref, volts.value, rated, "V", f"{part.ref} stands at {written(volts.value, 3)} V{upto}; "
        + (f"it is rated for {rated:g} V." if rated else "it shows no DC volts."),
        f"Fit one for {most:.0f} V or more; check the tube's bias first.", most, rests_on=volts.rests_on)


def node_voltage(part: Part, place: Place, node: str, share: float, state: SupplyState) -> Measure:
    """Working volts against the rating, volts at switch-on against the surge rating, crests of both: the graver one.

    DC volts and the crest of the ripple together must stay within the rating: IEC 60384-4 (recalled).
    """
    name, section = str(place), part.reading.sections[part.sections.index(place.section) if place.section in
                                                      part.sections else 0]
    rated, cold = section.volts_dc, state.capacitor_start_v(node)
    cold = None if cold is None else cold * share
    loaded = state.rests_on
    unloaded = loaded if state.cold_start_rests_on_load(node) else (SURGE, *state.mains.rests_on)
    if rated is None:
        return Measure(name, cold, None, "V", f"{name} shows no DC volts; {node} reaches {_v(cold)} at switch-on.",
                       f"Take it as unfit: a new part needs {_v(cold)} or more.", rests_on=unloaded)
    if cold is None:
        return Measure(name, None, rated, "V", f"The volts at {node} are not known: {state.missing}.", state.mend,
                       rests_on=unloaded)
    found = [m for m in (_at_work(name, node, share, rated, cold, state),
                         _at_start(name, node, share, rated, cold, state, unloaded)) if m is not None]
    return min(found, key=lambda m: (VERDICTS.index(verdict(m)), -(m.figure or 0.0) / (m.limit or 1.0)))


def _at_work(name: str, node: str, share: float, rated: float, cold: float, state: SupplyState) -> Measure | None:
    today, work = (state.capacitor_v(node, row) for row in (TODAY, HIGH))
    if today is None or work is None:
        return None
    today, work = today * share, work * share
    return Measure(
        name, today, rated, "V",
        f"{name} works at up to {_v(work)}, ripple counted, at {state.at_high}, {_v(cold)} at "
        f"switch-on; it is rated for {rated:g} V.", f"Fit at least {_v(max(work, cold))}.", work,
        rests_on=state.rests_on)


def _at_start(name: str, node: str, share: float, rated: float, cold: float, state: SupplyState,
              rests_on: tuple[Figure, ...]) -> Measure:
    """At switch-on: against the surge rating; above the rated volts it is to be careful about, and so is no load."""
    surge, today = float(surge_voltage(rated)), (state.capacitor_start_today_v(node) or 0.0) * share
    no_load = state.no_load_v(node) * state.share(node) * share
    do = f"Fit at least {_v(cold)}."
    if cold > surge:
        why = f"{name} gets {_v(cold)} at switch-on at {state.at_high}, before the tubes draw; rated " \
              f"{rated:g} V, it bears a surge of {surge:.0f} V."
    elif cold > rated:
        why = f"{name} gets {_v(cold)} at switch-on, above its {rated:g} V but within its surge rating of " \
              f"{surge:.0f} V."
        return Measure(name, min(today, rated), rated, "V", why, f"A new part is better at {_v(cold)} or more.", cold,
                       gravest="caution", rests_on=rests_on)
    elif no_load > surge:
        why = f"{name} would see {_v(no_load)} with the output tube out or dead; rated {rated:g} V, it bears " \
              f"{surge:.0f} V."
        return Measure(name, cold, surge, "V", why, "Do not run the set with tubes pulled.", no_load,
                       gravest="caution", rests_on=rests_on)
    else:
        why = f"{name} never sees more than {_v(cold)} of its {rated:g} V, whatever the load."
        return Measure(name, min(today, rated), rated, "V", why, do, cold, rests_on=rests_on)
    return Measure(name, today, surge, "V", why, do, cold, rests_on=rests_on)


def _v(volts: float | None) -> str:
    return "unknown volts" if volts is None else f"{volts:.0f} V"


def _uf(part: Part) -> float:
    return max((s.uf for s in part.reading.sections), default=0.0)


def _article(kinds: str) -> str:
    return f"{'an' if kinds[0] in 'aeio' else 'a'} {kinds} capacitor"
