"""The operating point of a unit, or of many at once: what is judged, bought, printed or compared is a view of it."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from pipeline.catalogue import Catalogue, Figure
from pipeline.point import corners as at
from pipeline.point.assembly import Assembly, assemble, law_of, measured_amps
from pipeline.point.circuit import Circuit, spread_of
from pipeline.point.corners import Corner
from pipeline.point.drafting import drafted
from pipeline.point.electrodes import Electrodes, missing_section, read_section, section_quantities
from pipeline.point.figures import Over, band_of
from pipeline.point.heating import Insulation, heater_quantities, insulation, main_supply
from pipeline.point.ladder import find_largest
from pipeline.point.laws import SectionLaw
from pipeline.point.loads import set_loads
from pipeline.point.mains import Mains, mains_of
from pipeline.point.nodes import missing_nodes, node_quantities
from pipeline.point.passives import balance_quantities, capacitor_quantities, read_resistors, resistor_quantities
from pipeline.point.quantities import Quantities, Quantity
from pipeline.point.readings import Readings, joined, readings_of
from pipeline.point.resolve import Resolved, resolve
from pipeline.point.settle import Settled, mended, settle_again, settle_today, settle_together
from pipeline.point.signal import Signal, signal_of
from pipeline.point.strings import StringState, settled_string
from pipeline.point.supply import SupplyState
from pipeline.point.waves import solve_together
from pipeline.point.wiring import Wired, read_alone, wire
from pipeline.records import OpenRecord, Record
from pipeline.unit import Unit


class Point(Record):
    """A unit worked out once: its mains, supplies, tube sections as wired, and every quantity of it."""

    unit: Unit
    mains: Mains
    allowances: Mapping[str, Figure]
    states: tuple[SupplyState, ...]
    wired: tuple[Wired, ...]
    readings: Readings
    quantities: Quantities
    circuit: Circuit | None
    roles: Mapping[str, dict[str, Figure]]
    stock: Sequence[Mapping[str, Any]]
    strings: Mapping[str, StringState]
    insulated: tuple[Insulation, ...]
    settled: Settled | None = None

    def state_of(self, node: str) -> SupplyState | None:
        """The supply in whose tree a node stands, or None."""
        found = next((s for s in self.states if node in s.node_ids), None)
        return None if found is None else found.trunk()

    def supply(self, id_: str) -> SupplyState | None:
        return next((s for s in self.states if s.id == id_), None)

    @property
    def main(self) -> SupplyState | None:
        """The first positive supply from the mains."""
        return main_supply(self.states)

    @property
    def volts(self) -> np.ndarray | None:
        """Volts (corners, points) of the circuit; None where it did not settle."""
        found = self.settled.point if self.settled else None
        return None if found is None or not found.settled.all() else found.volts

    def feed_amps(self, supply: str, corner: int) -> float:
        """Amps that a supply gives at one corner, without their sign."""
        if self.settled is None:
            return 0.0
        return float(self.settled.feed_a[[s.id for s in self.settled.feeds].index(supply), corner])

    def fixed_amps(self, index: int, corner: int) -> float | None:
        """Cathode amps of a section whose current was read, as they count at a corner; None where the law gives it."""
        amps = self.settled.measured[index] if self.settled else None
        if amps is None or self.circuit is None or not self.circuit.corners[corner].readings:
            return None
        ratio = self.circuit.ratio
        return amps * float(ratio[corner] / ratio[self.circuit.row("today") or 0])

    def get(self, at: str, quantity: str, section: str | None = None) -> Quantity | None:
        return self.quantities.get(at, quantity, section)


class _Job(OpenRecord):
    """One unit on its way to its point."""

    unit: Unit
    mains: Mains
    allowances: Mapping[str, Figure]
    states: list[SupplyState]
    alone: list[Wired]
    readings: Readings
    resolved: Resolved
    corners: tuple[Corner, ...]
    settled: Settled | None = None

    def assembled(self, laws: Sequence[tuple[Wired, SectionLaw | None]]) -> Settled:
        """The unit as a circuit ready to be settled."""
        circuit = assemble(self.unit, self.mains, self.allowances, self.readings, self.resolved.states, laws,
                           self.corners)
        job = Assembly(self.unit, self.mains, self.allowances, self.readings, self.resolved.states, circuit)
        feeds = [s for s in self.resolved.states if s.supply.source != "node"]
        return Settled(circuit, feeds, [measured_amps(job, w, law) for w, law in laws],
                       [s.cathode_a if s else None for s in self.signals(laws)])

    def signals(self, laws: Sequence[tuple[Wired, SectionLaw | None]]) -> list[Signal | None]:
        """What each section draws at full output, where it draws more than at rest."""
        wired = [w for w, _ in laws]
        return [signal_of(w, law, wired, self.resolved.states) for w, law in laws]


def operating_point(unit: Unit, catalogue: Catalogue) -> Point:
    """The unit worked out; what cannot be known is unknown and says what to measure."""
    return next(iter(operating_points([unit], catalogue)))


def operating_points(units: Sequence[Unit], catalogue: Catalogue) -> list[Point]:
    """The units worked out together, those alike in one batch: a unit's volts are those it has alone."""
    jobs = [_begun(unit, catalogue) for unit in units]
    for job in jobs:
        if job.resolved.states:
            job.settled = job.assembled(job.resolved.usable)
    _settle(jobs)
    for job in jobs:
        if job.settled is not None and job.settled.point is not None:
            for state in job.resolved.states:
                if state.feeder is None:
                    set_loads(state, job.settled)
    states = [s for job in jobs for s in job.resolved.states if s.loads and s.rectified]
    solve_together(states)
    find_largest(states)
    _mend(jobs)
    return [_pointed(job, catalogue) for job in jobs]


def _begun(unit: Unit, catalogue: Catalogue) -> _Job:
    mains, allowances = mains_of(unit, catalogue), catalogue.allowances
    states = [drafted(unit, supply, mains, allowances) for supply in unit.supplies]
    for state in states:
        if state.supply.source == "node" and state.nodes:
            state.feeder = next((s for s in states if s.supply.source != "node" and state.nodes[0].id in s.node_ids),
                                None)
    wired = wire(unit)
    alone = read_alone(unit, wired)
    readings = joined(readings_of(unit, [w.place for w in (*wired, *alone)]), wired)
    for state in states:
        state.held = {n: v for n, v in readings.nodes.items() if n in state.node_ids}
    resolved = resolve(unit, states, wired, readings, allowances)
    job = _Job(unit, mains, allowances, states, alone, readings, resolved, _corners(unit, readings, resolved))
    if any(job.signals(resolved.usable)):
        job.corners += (at.SIGNAL, at.SIGNAL_HIGH)
    for state in resolved.states:
        state.drawn += tuple(f for s, (w, _) in zip(job.signals(resolved.usable), resolved.usable, strict=True)
                             if s and w.plate and w.plate.to in state.node_ids for f in s.rests_on)
    return job


def _corners(unit: Unit, readings: Readings, resolved: Resolved) -> tuple[Corner, ...]:
    """The corners this unit asks for: fewer are quicker."""
    found = list(at.ALWAYS)
    if readings.any:
        found.append(at.EXPECT)
    negative = {n.id for s in resolved.states if s.sign < 0 for n in s.nodes}
    negative |= {s.supply.minus for s in resolved.states if s.supply.minus}
    if any(w.grid_v is not None or w.grid.to in negative for w, _ in resolved.usable):
        found.append(at.LOST)
    if any(n.regulator for s in resolved.states for n in s.nodes):
        found.append(at.LOW)
    return tuple(found)


def _settle(jobs: Sequence[_Job]) -> None:
    """Settle today's corner, then all, each section anchored at the published point nearest to where it works today."""
    those = [job for job in jobs if job.settled is not None]
    settle_today([job.settled for job in those if job.settled])
    for job in those:
        assert job.settled is not None
        laws = [(w, _nearest(job.settled, i, w, law)) for i, (w, law) in enumerate(job.resolved.usable)]
        if any(new is not old for (_, new), (_, old) in zip(laws, job.resolved.usable, strict=True)):
            job.resolved.usable = laws
            begun, job.settled = job.settled, job.assembled(laws)
            job.settled.today_v, job.settled.feed_a = begun.today_v, begun.feed_a
    settle_together([job.settled for job in those if job.settled])


def _mend(jobs: Sequence[_Job]) -> None:
    """Settle once more where the waveforms show that the rounds' coarse supply was off."""
    again = []
    for job in jobs:
        if job.settled is not None and job.settled.point is not None and mended(job.settled):
            again.append(job.settled)
    settle_again(again)


def _nearest(settled: Settled, index: int, one: Wired, law: SectionLaw | None) -> SectionLaw | None:
    """The law anchored at the point nearest the settled volts: the same one where that point is the same."""
    assert settled.today_v is not None
    tube, volts = settled.circuit.tubes[index], settled.today_v
    plate = float(volts[tube.plate] - volts[tube.cathode])
    screen = plate if tube.screen is None else float(volts[tube.screen] - volts[tube.cathode])
    if law is None or not np.isfinite(plate) or plate <= 0:
        return law
    new = law_of(one, plate, screen)
    return law if new is None or new.point == law.point else new


def _pointed(job: _Job, catalogue: Catalogue) -> Point:
    known = Quantities(_quantities(job))
    known.add(read_resistors(job.unit, job.readings, {q.at for q in known.of("resistor_v")}))
    wired = [*(w for w, _ in job.resolved.usable), *job.resolved.incomplete, *job.alone]
    known.add(capacitor_quantities(job.unit, job.states, wired, known))
    known.add(balance_quantities(job.unit, known))
    main = main_supply(job.states)
    strings = {s.id: state for s in job.unit.strings.values()
               if (state := settled_string(s, job.unit, job.mains, main))}
    insulated = insulation(job.unit, job.mains, job.states, strings, known)
    known.add(heater_quantities(job.unit, job.mains, job.allowances, job.states, strings, known, insulated))
    return Point(job.unit, job.mains, job.allowances, tuple(job.states), tuple(wired), job.readings, known,
                 job.settled.circuit if job.settled else None, catalogue.chosen("capacitor_roles"), catalogue.stock,
                 strings, insulated, job.settled)


def _quantities(job: _Job) -> Iterator[Quantity]:
    settled = job.settled
    solved = settled is not None and settled.point is not None and bool(settled.point.settled[0])
    for state in job.states:
        if state.missing or not solved or settled is None:
            yield from missing_nodes(state)
        else:
            yield from node_quantities(state, settled, _over(job, bool(state.estimated)), job.readings)
    for one in (*job.resolved.incomplete, *(w for w in job.alone if w.missing)):
        yield from missing_section(one)
    for one in job.alone:
        if not one.missing:
            yield from read_section(one, job.unit, job.readings)
    if settled is None or not solved:
        return
    over = _over(job, any(s.estimated for s in job.resolved.states))
    rests_on = tuple(dict.fromkeys(f for s in job.resolved.states for f in s.rests_on))
    for index, (one, _) in enumerate(job.resolved.usable):
        spread = spread_of(job.allowances, one.fixed_bias)[2]
        yield from section_quantities(Electrodes(settled, job.readings, over, (*rests_on, *spread)), index)
    yield from resistor_quantities(settled, over, job.readings, rests_on)


def _over(job: _Job, estimated: bool) -> Over:
    band = band_of(job.allowances, estimated)
    return Over(job.corners, band.value, (band,))


