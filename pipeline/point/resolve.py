"""Which supplies and stages of a unit can be worked out, and of the others what is missing."""

from collections.abc import Mapping, Sequence, Set

from pipeline.catalogue import Figure
from pipeline.point.assembly import expected_plate_v, law_of
from pipeline.point.devices import regulator_volts, typical_draw
from pipeline.point.laws import SectionLaw
from pipeline.point.leads import Lead
from pipeline.point.readings import Readings
from pipeline.point.supply import SupplyState
from pipeline.point.wiring import Wired, driven, lead_ohms
from pipeline.records import OpenRecord, replace
from pipeline.unit import Unit


class Resolved(OpenRecord):
    """Supplies and sections that can be worked out together, and the sections that cannot, each saying why."""

    states: list[SupplyState]
    usable: list[tuple[Wired, SectionLaw | None]]
    incomplete: list[Wired]


def resolve(unit: Unit, states: Sequence[SupplyState], wired: Sequence[Wired], readings: Readings,
            allowances: Mapping[str, Figure]) -> Resolved:
    """Sort out what can be known; a supply that feeds a section which is not known is not known either.

    Marks the states that fall out with what is missing.
    """
    laws: list[tuple[Wired, SectionLaw | None]] = []
    incomplete: list[Wired] = []
    for one in wired:
        judged, law = _complete(one, unit, states, readings, allowances)
        (incomplete.append(judged) if judged.missing else laws.append((judged, law)))
    _loads(unit, states, wired)
    while True:
        known = {n.id for s in states if not s.missing for n in s.nodes}
        known |= {s.supply.minus for s in states if not s.missing and s.supply.minus}
        plates = {w.at for w, _ in laws if w.plate is not None}
        fallen = [(w, law) for w, law in laws if _off(w, known, states) or _hangs_loose(w, plates)]
        for one, law in fallen:
            laws.remove((one, law))
            off = _off(one, known, states)
            incomplete.append(replace(one, missing=off, mend=_mend(one, states)) if off else _loose(one, incomplete))
        changed = bool(fallen)
        for state in states:
            if not state.missing and (unknown := _unknown_load(state, incomplete, states)):
                state.missing, state.mend = unknown
                changed = True
        if not changed:
            return Resolved([s for s in states if not s.missing], laws, incomplete)


def _complete(one: Wired, unit: Unit, states: Sequence[SupplyState], readings: Readings,
              allowances: Mapping[str, Figure]) -> tuple[Wired, SectionLaw | None]:
    """The section with its law, or with what its own circuit or its type lacks."""
    if one.missing or one.part.ratings is None:
        return one, None
    for lead in one.leads[:3]:
        if lead.through is not None and lead_ohms(lead, unit, allowances) is None:
            ref = lead.through
            return replace(one, missing=f"the ohms of {ref}, in a lead of {one.place}, are not known",
                           mend=f"Measure {ref} cold and write its ohms in the marking or in `measured`."), None
    law = law_of(one, *expected_plate_v(one, states, unit))
    if law is None and not _current_read(one, readings):
        return replace(one, missing=f"no published operating point with its transconductance is known for "
                                    f"{one.part.called}" + (f", {one.section}" if one.section not in
                                                            ("whole", "each") else ""),
                       mend="Measure the volts across its cathode resistor, or add a point to operating_points."), None
    return one, law


def _current_read(one: Wired, readings: Readings) -> bool:
    read, across = readings.of(one.at), readings.across
    return bool((one.cathode.through and ("cathode_v" in read or one.cathode.through in across))
                or (one.plate and one.plate.through in across))


def _off(one: Wired, known: Set[str | None], states: Sequence[SupplyState]) -> str:
    """Which node of the section's leads is not known, in words; empty where all are."""
    for lead in (*one.leads,):
        if lead.to is not None and lead.to not in known:
            state = next((s for s in states if lead.to in s.node_ids or lead.to == s.supply.minus), None)
            return f"the volts at {lead.to} are not known" + (f": {state.missing}" if state else "")
    return ""


def _hangs_loose(one: Wired, plates: Set[tuple[str, str | None]]) -> bool:
    """Whether the section's grid hangs on a plate of which nothing is known."""
    return one.grid_from is not None and (one.grid_from.ref, one.grid_from.section) not in plates


def _loose(one: Wired, incomplete: Sequence[Wired]) -> Wired:
    """The section with what is not known of the plate that its grid hangs on."""
    before = next((w for w in incomplete if one.grid_from is not None
                   and w.at == (one.grid_from.ref, one.grid_from.section)), None)
    why = f": {before.missing}" if before else ""
    return replace(one, missing=f"the volts on {one.grid_from}'s plate, where its grid hangs, are not known{why}",
                   mend=before.mend if before else f"Describe the stage of {one.grid_from} in unit.toml.")


def _mend(one: Wired, states: Sequence[SupplyState]) -> str:
    nodes = [lead.to for lead in one.leads if lead.to is not None]
    return next((s.mend for s in states if s.missing and any(n in s.node_ids for n in nodes)),
                "Describe its supply in unit.toml.")


def _loads(unit: Unit, states: Sequence[SupplyState], wired: Sequence[Wired]) -> None:
    """Mark supplies of which it is not said what they feed, or what a tube without a stage draws."""
    alone = {place for place in driven(unit, wired)}
    for state in states:
        if state.missing:
            continue
        for branch in state.tree:
            for place in branch.node.tubes:
                if place not in alone:
                    continue
                if (found := typical_draw(unit.parts[place.ref], state.about_v)) is None:
                    state.missing = f"what {place.ref} draws is not known"
                    state.mend = "Write load_a for its node in unit.toml, or the tube's measured cathode volts."
                    break
                state.estimated.append(place.ref)
                state.drawn += found[1]
        if not state.missing and not _feeds_something(state, unit, states, wired):
            state.missing = "no node says what it feeds"
            state.mend = "Write load_a for its node in unit.toml, or the tube's measured cathode volts."


def _feeds_something(state: SupplyState, unit: Unit, states: Sequence[SupplyState], wired: Sequence[Wired]) -> bool:
    """Whether anything is said to draw on it: loads, tubes, bleeders, regulators, heaters; a bias may feed none."""
    nodes = set(state.node_ids)
    own = any(b.node.load_a or b.node.load_ohm or b.node.tubes or b.node.regulator for b in state.tree)
    leads = [w for w in wired if any(_to(lead, nodes) for lead in w.leads)]
    other = any(s.supply.origin in nodes for s in states)
    resistive = any(p.role == "bleeder" and any(p.is_at(n) for n in nodes) for p in unit.parts.values())
    return own or bool(leads) or other or resistive or state.supply.heats is not None or state.sign < 0


def _to(lead: Lead | None, nodes: set[str]) -> bool:
    return lead is not None and lead.to in nodes


def _unknown_load(state: SupplyState, incomplete: Sequence[Wired],
                  states: Sequence[SupplyState]) -> tuple[str, str] | None:
    """(what is missing, what to do) where a section that is not known draws on the supply, or its origin fell out."""
    nodes = set(state.node_ids)
    for one in incomplete:
        if any(_to(lead, nodes) for lead in (one.plate, one.screen)):
            return f"what {one.place} draws is not known: {one.missing}", one.mend
    for branch in state.tree:
        for ref in branch.node.regulator:
            if regulator_volts(state.unit.parts[ref]) is None:
                return f"the volts that {ref} holds are not known", "Look the regulator up, or write its volts."
    origin = next((s for s in states if state.supply.origin in [n.id for n in s.nodes]), None)
    if state.supply.source == "node" and (origin is None or origin.missing):
        return f"the volts at {state.supply.origin} are not known", origin.mend if origin else ""
    minus = state.supply.minus_through
    part = state.unit.parts.get(minus or "")
    if part is not None and not (part.measured.get("ohms") or part.reading.ohms):
        return f"the ohms of {minus} are not known", f"Measure {minus} cold."
    return None
