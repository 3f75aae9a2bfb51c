"""Volts, currents and watts of every tube section, from the settled circuit."""

from collections.abc import Iterator

import numpy as np

from pipeline.catalogue import Figure
from pipeline.point.assembly import law_of
from pipeline.point.circuit import Circuit
from pipeline.point.figures import Over, unknown
from pipeline.point.quantities import Quantity
from pipeline.point.readings import Readings
from pipeline.point.settle import Settled
from pipeline.point.wiring import Wired
from pipeline.records import Record, replace
from pipeline.unit import LETTERS, Unit

OF_TRIODE = ("plate_v", "cathode_v", "grid_v", "plate_a", "cathode_a", "plate_w")
OF_SCREENED = (*OF_TRIODE, "screen_v", "screen_a", "screen_w")


class Electrodes(Record):
    """What is needed to read one section off the settled circuit."""

    settled: Settled
    readings: Readings
    over: Over
    figures: tuple[Figure, ...]

    @property
    def circuit(self) -> Circuit:
        return self.settled.circuit

    def volts(self, node: int) -> np.ndarray:
        assert self.settled.point is not None
        return self.settled.point.volts[:, node]


def section_quantities(job: Electrodes, index: int) -> Iterator[Quantity]:
    """Every quantity of the section that is number `index` of the circuit's tubes."""
    one, tube, found = job.circuit.wired[index], job.circuit.tubes[index], job.settled.point
    assert found is not None
    at, section = one.at
    read = job.readings.of(one.at)
    law = job.circuit.laws[index]
    rests_on = (*job.figures, *(law.rests_on if law else ()), *_lead_figures(job, one))
    given = "given" if one.grid_v is not None else "solved"
    plate, cathode = job.volts(tube.plate), job.volts(tube.cathode)
    screen = plate if tube.screen is None else job.volts(tube.screen)
    grid = job.volts(tube.grid)
    current = job.settled.measured[index] is not None
    for name, values, origin in (("plate_v", plate, "solved"), ("cathode_v", cathode, "solved"),
                                 ("grid_v", grid, given), *((("screen_v", screen, "solved"),) if one.screen else ())):
        yield job.over.quantity(at, section, name, values, measured=read.get(name), origin=origin, rests_on=rests_on)
    plate_a, screen_a = found.plate_a[:, index], found.screen_a[:, index]
    amounts = {"plate_a": plate_a, "cathode_a": plate_a + screen_a, "plate_w": (plate - cathode) * plate_a}
    if one.screen is not None:
        amounts |= {"screen_a": screen_a, "screen_w": (screen - cathode) * screen_a}
    for name, values in amounts.items():
        quantity = job.over.quantity(at, section, name, values, rests_on=rests_on)
        yield measured_by(quantity) if current and (name == "cathode_a" or one.screen is None) else quantity


def measured_by(quantity: Quantity) -> Quantity:
    """A current that follows from a reading across a known resistor: as good as measured."""
    return replace(quantity, low=quantity.value, high=quantity.value, origin="measured", rests_on=())


def read_section(one: Wired, unit: Unit, readings: Readings) -> Iterator[Quantity]:
    """Quantities of a section that is in no circuit, from its readings alone: its current is its resistor's."""
    read, (at, section) = readings.of(one.at), one.at
    for name, value in read.items():
        yield _read(at, section, name, value)
    part = unit.parts[one.cathode.through or ""]
    ohms = part.measured.get("ohms") or part.reading.ohms
    if not ohms:
        yield from unknown(at, section, ("plate_w",), f"the ohms of {part.ref} are not known", f"Measure {part.ref}.")
        return
    halves = len(one.part.sections) if section is not None and section in LETTERS else 1
    cathode_a = abs(read["cathode_v"]) / ohms / halves
    law = law_of(one, read["plate_v"], read.get("screen_v", read["plate_v"]))
    share = float(np.asarray(law.law.screen_share)) if law else 0.0
    rests_on = law.rests_on if law and share else ()
    plate_a = cathode_a * (1 - share)
    for name, value in (("cathode_a", cathode_a), ("plate_a", plate_a),
                        ("plate_w", max(read["plate_v"] - read["cathode_v"], 0.0) * plate_a)):
        yield replace(_read(at, section, name, value), rests_on=rests_on)
    yield from (_read(part.ref, None, name, value) for name, value in (
        ("resistor_v", abs(read["cathode_v"])), ("resistor_w", read["cathode_v"] ** 2 / ohms)))


def _read(at: str, section: str | None, name: str, value: float) -> Quantity:
    return Quantity(at, section, name, value, value, value, "measured", least=value, most=value, design=value)


def missing_section(one: Wired) -> Iterator[Quantity]:
    """Rows of a section whose stage is not complete: all unknown."""
    yield from unknown(*one.at, OF_SCREENED if one.screen else OF_TRIODE, one.missing, one.mend)


def _lead_figures(job: Electrodes, one: Wired) -> tuple[Figure, ...]:
    return tuple(f for lead in one.leads if (at := job.circuit.lead_at(lead)) for f in at.rests_on)
