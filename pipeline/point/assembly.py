"""A unit put together as one circuit: its supplies' nodes and filters, its tubes with their leads, its readings."""

from collections.abc import Mapping, Sequence

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.circuit import Draw, Regulator, Resistor, Tube
from pipeline.point.circuit import (
    CHASSIS,
    Circuit,
    Feed,
    bare_law,
    spread_of,
    strengths,
)
from pipeline.point.corners import Corner
from pipeline.point.devices import heater_draw, regulator_volts, typical_draw
from pipeline.point.laws import SectionLaw, section_law
from pipeline.point.leads import Lead, Ohms, ohms_of
from pipeline.point.mains import Mains
from pipeline.point.readings import Readings
from pipeline.point.supply import SupplyState
from pipeline.point.tree import balanced
from pipeline.point.wiring import Wired, lead_ohms
from pipeline.records import OpenRecord
from pipeline.unit import Node, Place, Unit

GRID_BIAS_BAND = 0.5
"""Share of the volts of a grid-current bias by which they differ from tube to tube."""
RESISTIVE_OHM = 5_000.0
"""A plate load of this many ohms takes much of the supply's volts: the plate is expected at half of them."""
SLIGHT = 0.1
"""Share of its current that AVC leaves a tube at least, for the low end of its band."""


class Assembly(OpenRecord):
    """What is needed to put one unit together."""

    unit: Unit
    mains: Mains
    allowances: Mapping[str, Figure]
    readings: Readings
    states: Sequence[SupplyState]
    circuit: Circuit

    @property
    def corners(self) -> tuple[Corner, ...]:
        return self.circuit.corners

    def flat(self, value: float) -> np.ndarray:
        return np.full(len(self.corners), value)


def assemble(unit: Unit, mains: Mains, allowances: Mapping[str, Figure], readings: Readings,
             states: Sequence[SupplyState], wired: Sequence[tuple[Wired, SectionLaw | None]],
             corners: tuple[Corner, ...]) -> Circuit:
    """The circuit of all supplies that are known and of the sections given, each with its law.

    A section without a law must have a measured current: it is then taken to rise as the plate's volts to the 1.5.
    """
    circuit = Circuit(unit, mains, corners, [w for w, _ in wired], [law for _, law in wired])
    job = Assembly(unit, mains, allowances, readings, states, circuit)
    for state in states:
        _feed(job, state)
    for state in states:
        for node in state.nodes:
            _node(job, state, node)
    for one, law in wired:
        _section(job, one, law)
    for name, volts in readings.nodes.items():
        if name in circuit.numbers and name not in _sources(states):
            circuit.clamp(circuit.numbers[name], volts)
    return circuit


def _sources(states: Sequence[SupplyState]) -> set[str]:
    """First nodes of supplies: a reading there sets the supply itself, see `settle`."""
    return {s.nodes[0].id for s in states if s.supply.source != "node"}


def _feed(job: Assembly, state: SupplyState) -> None:
    """Number a supply's nodes; a source for its first, or the way to it from the node of another."""
    circuit, supply = job.circuit, state.supply
    for node in state.nodes:
        circuit.number(node.id)
    first = state.nodes[0]
    if supply.source == "node":
        return
    minus = CHASSIS
    if supply.minus_through and (ohms := ohms_of(job.unit.parts[supply.minus_through], job.allowances)):
        minus = circuit.number(supply.minus)
        circuit.between(supply.minus_through, minus, CHASSIS, ohms)
    circuit.feeds.append(Feed(supply.id, circuit.number(first.id), minus))


def _node(job: Assembly, state: SupplyState, node: Node) -> None:
    """What joins a node to the one before it, and what hangs on it."""
    circuit, here = job.circuit, job.circuit.number(node.id)
    before = node.source or (state.supply.origin if node is state.nodes[0] else None)
    if before is not None:
        ohms = ohms_of(job.unit.parts[node.through], job.allowances) if node.through else None
        circuit.between(node.through or f"wire to {node.id}", circuit.number(before), here,
                        ohms or Ohms(0.0, 0.0, 0.0))
    if node.load_a:
        _draw(job, here, node.id, None, amps=state.sign * node.load_a)
    if node.load_ohm:
        circuit.resistors.append(Resistor(here, CHASSIS, job.flat(node.load_ohm)))
    for part in job.unit.parts_at(node.id, "bleeder"):
        ends = [circuit.numbers[p.ref] for p in part.at if p.ref in circuit.numbers]
        ohms = ohms_of(part, job.allowances)
        if ohms and ends[0] == here:
            circuit.between(part.ref, here, ends[1] if len(ends) > 1 else CHASSIS, ohms)
    _balanced(job, state, node, here)
    _regulated(job, state, node, here)
    if node is state.nodes[-1] and state.supply.heats:
        volts, amps = heater_draw(job.unit, state.supply.heats)
        if volts and amps:
            circuit.resistors.append(Resistor(here, CHASSIS, job.flat(volts / amps)))
    in_stage = {w.place.ref for w in circuit.wired}
    for place in node.tubes:
        if place.ref not in in_stage and (found := typical_draw(job.unit.parts[place.ref], state.about_v)):
            _draw(job, here, node.id, place, k=found[0])


def _balanced(job: Assembly, state: SupplyState, node: Node, here: int) -> None:
    """Balance resistors across capacitors in series: one after the other from the node down."""
    circuit, first = job.circuit, node is state.nodes[0]
    minus = next((f.minus for f in circuit.feeds if f.supply == state.id and first), CHASSIS)
    for parts in balanced(state.supply, node, job.unit):
        above = here
        for part in parts:
            below = minus if part is parts[-1] else circuit.number((f"below {part.ref}", 0))
            circuit.between(part.ref, above, below, ohms_of(part, job.allowances) or Ohms(0.0, 0.0, 0.0))
            above = below


def _draw(job: Assembly, here: int, node: str, place: Place | None, amps: float = 0.0, k: float = 0.0) -> None:
    job.circuit.draws.append(Draw(here, job.flat(amps), job.flat(k)))
    job.circuit.drawn_by.append((node, place))


def _regulated(job: Assembly, state: SupplyState, node: Node, here: int) -> None:
    """The regulator tubes of a node in series to chassis, conducting above the sum of their volts.

    With resistors at their low end they hold the least volts of their type, which draws most, and the other way round.
    """
    volts = [regulator_volts(job.unit.parts[ref]) for ref in node.regulator]
    if not volts or None in volts:
        return
    slope = sum(v.slope_ohm for v in volts if v)
    total = np.array([sum((v.low_v, v.volts, v.high_v)[1 + c.ohms] for v in volts if v) for c in job.corners])
    ends = (here, CHASSIS) if state.sign > 0 else (CHASSIS, here)
    job.circuit.regulators.append(Regulator(*ends, total, job.flat(max(slope, 1.0))))
    job.circuit.regulated.append((node.id, node.regulator))


def _section(job: Assembly, one: Wired, law: SectionLaw | None) -> None:
    """A tube's section with the leads of its electrodes."""
    circuit, at = job.circuit, one.place
    read = job.readings.of((at.ref, at.section))
    ends = {name: _lead(job, lead) for name, lead in (("plate", one.plate), ("screen", one.screen),
                                                      ("cathode", one.cathode)) if lead is not None}
    amps = measured_amps(job, one, law)
    about = abs(next((s.about_v for s in job.states for n in s.nodes if one.plate and n.id == one.plate.to), 250.0))
    spread, error, _ = spread_of(job.allowances, one.fixed_bias)
    factor = strengths(job.corners, spread, error)
    if one.by_avc:
        factor = np.where([c.tube < 0 for c in job.corners], SLIGHT, factor)
    circuit.tubes.append(Tube(
        ends["plate"], ends.get("screen"), _grid(job, one, read), ends["cathode"],
        law.law if law else bare_law(amps or 0.0, about), strength=factor))
    for name in ("plate", "screen"):
        lead = getattr(one, name)
        if lead is not None and lead.through and f"{name}_v" in read and not circuit.held(lead.end):
            circuit.clamp(ends[name], read[f"{name}_v"])


def _lead(job: Assembly, lead: Lead) -> int:
    halves = len({other.half for w in job.circuit.wired for other in w.leads if other.through == lead.through}) > 1
    ohms = lead_ohms(lead, job.unit, job.allowances, halves)
    return job.circuit.add_lead(lead, ohms or Ohms(0.0, 0.0, 0.0))


def _grid(job: Assembly, one: Wired, read: dict[str, float]) -> int:
    """The point at a section's grid: a node, another tube's plate, given or measured volts, or the chassis."""
    circuit, name = job.circuit, (f"grid {one.place}", 0)
    if one.grid_from is not None:
        other = next(w for w in circuit.wired if w.at == (one.grid_from.ref, one.grid_from.section))
        return circuit.number(other.plate.end if other.plate else None)
    volts: np.ndarray | None = None
    if one.grid_v is not None:
        volts = _biased(job, one.grid_v)
    elif one.by_grid_current:
        usual = job.allowances["grid-current bias"].value
        volts = np.array([-usual * (1 - GRID_BIAS_BAND * c.tube) for c in job.corners])
    if "grid_v" in read and one.grid.to is None:
        given = np.zeros(len(job.corners)) if volts is None else volts
        volts = np.where([c.name == "today" for c in job.corners], read["grid_v"], given)
    if volts is None:
        return circuit.number(one.grid.to)
    return circuit.volts_source(name, volts)


def _biased(job: Assembly, volts: float) -> np.ndarray:
    """Given grid volts at each corner: less by their tolerance at the low end, none where the bias is lost."""
    pct = job.allowances["bias supply tolerance"].value / 100
    return np.array([0.0 if c.bias is None else volts * (1 + c.bias * pct) for c in job.corners])


def measured_amps(job: Assembly, one: Wired, law: SectionLaw | None) -> float | None:
    """Cathode amps of one section from a reading across its cathode resistor or a resistive plate load, or None.

    Sections that share the resistor are taken to share its current equally.
    """
    read = job.readings.of(one.at)
    for lead, name in ((one.cathode, "cathode"), (one.plate, "plate")):
        if lead is None or lead.through is None:
            continue
        ohms = lead_ohms(lead, job.unit, job.allowances)
        volts = job.readings.across.get(lead.through)
        if name == "cathode" and volts is None and lead.to is None:
            volts = read.get("cathode_v")
        if volts is None or ohms is None or not ohms.nominal or (name == "plate" and ohms.nominal < RESISTIVE_OHM):
            continue
        sharing = sum(w.plate == lead if name == "plate" else w.cathode == lead for w in job.circuit.wired)
        share = 1.0 - (float(np.asarray(law.law.screen_share)) if law else 0.0) if name == "plate" else 1.0
        return volts / ohms.nominal / max(sharing, 1) / share
    return None


def expected_plate_v(one: Wired, states: Sequence[SupplyState], unit: Unit) -> tuple[float, float]:
    """Plate and screen volts about which a section is expected to work, for the choice of its published point."""
    known = {n.id: abs(s.about_v) for s in states for n in s.nodes}
    plate = known.get(one.plate.to or "", 250.0) if one.plate else 250.0
    load = unit.parts[one.plate.through] if one.plate and one.plate.through else None
    if load is not None and load.kind == "resistor" and (load.reading.ohms or 0.0) >= RESISTIVE_OHM:
        plate /= 2
    screen = known.get(one.screen.to or "", plate) if one.screen else plate
    return plate, screen / 2 if one.screen and one.screen.through and one.screen != one.plate else screen


def law_of(one: Wired, plate_v: float, screen_v: float) -> SectionLaw | None:
    """The section's law anchored near these volts from the cathode."""
    return section_law(one.part, one.section, plate_v, screen_v if one.screen else None)
