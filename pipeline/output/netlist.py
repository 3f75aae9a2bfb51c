"""The unit as worked out, as a SPICE netlist: supplies, filters, leads and tubes, with a comment for each part.

Tubes and vacuum rectifiers are behavioural sources by the same laws the operating point uses; the run begins at the
volts that were worked out, so that a few cycles settle it, and measures the mean of every point.
"""

import math
import re
from collections.abc import Iterator

import numpy as np

from pipeline.electrics.stages import KNEE, TRIODE_KNEE_V
from pipeline.point.circuit import CHASSIS, OPEN_OHM, Circuit, Feed
from pipeline.point.point import Point
from pipeline.point.supply import SupplyState
from pipeline.records import Record
from pipeline.unit import Part

CYCLES, MEASURED = 40, 4
"""Mains cycles that the run lasts, and the last of them over which it measures."""
STEPS = 400
DIODE_SHARE = 0.05
"""Part of a path's resistance that a silicon diode is given: without any a simulator loses its way."""

LEAST_DIODE_OHM = 0.01


class NetlistError(Exception):
    """The unit cannot be written as a netlist; the message says what is missing."""


class _Job(Record):
    """A point at one corner, and the names of its circuit's points."""

    point: Point
    circuit: Circuit
    row: int
    names: dict[int, str]

    def at(self, value: object) -> float:
        """A figure at the corner."""
        return float(np.broadcast_to(np.asarray(value, float), (len(self.circuit.corners),))[self.row])

    def volts(self, node: int) -> float:
        found = self.point.volts
        return 0.0 if found is None else float(found[self.row, node])

    def between(self, a: int, b: int) -> str:
        """The volts from a to b as an expression."""
        return f"V({self.names[a]})" if b == CHASSIS else f"V({self.names[a]},{self.names[b]})"


def netlist(point: Point, corner: str = "today") -> str:
    """The netlist at one corner of the operating point.

    Parameters
    ----------
    point : Point
        Of a unit whose supplies are all known.
    corner : str
        today, high, light, design, strong, weak, or expect where the unit has readings.

    Raises
    ------
    NetlistError
        Where nothing is worked out, or there is no such corner.
    """
    circuit = point.circuit
    missing = next((s for s in point.states if s.missing), None)
    if circuit is None or point.volts is None:
        raise NetlistError(f"{point.unit.name}: nothing is worked out"
                           + (f": {missing.missing}. {missing.mend}" if missing else ": unit.toml describes no supply"))
    row = circuit.row(corner)
    if row is None:
        raise NetlistError(f"{corner}: no such corner: {', '.join(c.name for c in circuit.corners)}")
    job = _Job(point, circuit, row, _names(circuit))
    lines = [f"* {_plain(point.unit.name)}", f"* as worked out: {corner}; lethal voltages: a sum, no instruction"]
    lines += [*_supplies(job), *_leads(job), *_loads(job), *_tubes(job), *_left_out(job), *_run(job)]
    return "\n".join(lines) + "\n"


def vectors(point: Point) -> dict[str, int]:
    """Name in the netlist → number of the circuit's point, the chassis left out."""
    return {} if point.circuit is None else {
        name: number for number, name in _names(point.circuit).items() if number != CHASSIS}


def _names(circuit: Circuit) -> dict[int, str]:
    """A readable name for each point: the node's id, or the part whose far end it is."""
    found: dict[int, str] = {CHASSIS: "0"}
    for end, number in circuit.numbers.items():
        if number == CHASSIS:
            continue
        text = end if isinstance(end, str) else f"{end[0]}_{end[1] + 1}" if end else "0"
        name = re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_") or "n"
        while name in found.values() or name == "0":
            name += "x"
        found[number] = name
    return found


def _plain(text: str) -> str:
    """Text that cannot end a comment."""
    return "".join(c if c.isprintable() else " " for c in text)


def _comment(part: Part, what: str = "") -> str:
    return f"* {part.ref} {_plain(part.marking)}" + (f": {what}" if what else "")


def _supplies(job: _Job) -> Iterator[str]:
    for feed in job.circuit.feeds:
        state = job.point.supply(feed.supply)
        if state is not None:
            yield from _source(job, feed, state)
            yield from _capacitors(job, state)


def _source(job: _Job, feed: Feed, state: SupplyState) -> Iterator[str]:
    """What feeds a supply's first node: battery, square wave, or winding and rectifier."""
    name, corner = job.names[feed.node], job.circuit.corners[job.row]
    mains = state.mains
    ratio = {"today": mains.today, "high": mains.high, "low": mains.low, "design": 1.0}[corner.mains]
    if state.device.part is not None:
        yield _comment(state.device.part, f"rectifier of {state.id}")
    if not state.rectified:
        volts = state.cells_v(corner.mains)
        yield f"V{name} {name}s {job.names[feed.minus]} {state.sign * volts:.9g}"
        end = name if state.device.part is None else f"{name}a"
        yield f"R{name}s {name}s {end} {max(state.source_ohm or 0.0, 0.1):.9g}"
        if state.device.part is not None:
            yield _conducting(state, f"{name}d", end, name, corner.adverse, LEAST_DIODE_OHM)
        return
    side = 0 if corner.bias is None else corner.bias
    tolerance = 1 + side * state.allowances["bias supply tolerance"].value / 100 if state.sign < 0 else 1.0
    peak = math.sqrt(2) * state.winding_v * ratio * tolerance
    choke = state.supply.input == "choke"
    out = f"{name}k" if choke else name
    yield from _rectifier(job, feed, state, out, peak, corner.adverse)
    if choke:
        branch = state.tree[0]
        yield f"R{name}k {out} {name}m {max(branch.ohms, 1e-3):.9g}"
        amps = state.sign * job.point.feed_amps(feed.supply, job.row)
        yield f"L{name} {name}m {name} {branch.henries:.9g} IC={amps:.6g}"
        yield f"R{name}b {out} 0 1e7"


def _rectifier(job: _Job, feed: Feed, state: SupplyState, out: str, peak: float, least_drop: bool) -> Iterator[str]:
    """Winding, its resistance, and the diodes of the circuit, towards `out`; from it where the supply is negative."""
    name, common = job.names[feed.node], job.names[feed.minus]
    ohm, share = state.source_ohm or 0.0, DIODE_SHARE * (state.source_ohm or 0.0)
    if state.device.perveance is None:
        ohm = max(ohm - share * (2 if state.circuit == "bridge" else 1), 1e-3)

    def diode(index: int, anode: str, cathode: str) -> str:
        return _conducting(state, f"{name}d{index}", anode, cathode, least_drop, max(share, 1e-6))

    wave = f"SIN(0 {peak:.9g} {state.mains.hertz:.9g})"
    if state.circuit == "half-wave":
        yield f"V{name}w {name}w {common} {wave}"
        yield f"R{name}w {name}w {name}a {max(ohm, 1e-3):.9g}"
        yield diode(1, f"{name}a", out)
    elif state.circuit == "full-wave":
        for index, (plus, minus) in enumerate(((f"{name}w", common), (common, f"{name}v")), 1):
            end = plus if index == 1 else minus
            yield f"V{name}w{index} {plus} {minus} {wave}"
            yield f"R{name}w{index} {end} {name}a{index} {max(ohm, 1e-3):.9g}"
            yield diode(index, f"{name}a{index}", out)
    else:
        yield from _two_way(name, common, out, state.circuit, wave, ohm, diode)


def _conducting(state: SupplyState, name: str, anode: str, cathode: str, least_drop: bool, ohm: float) -> str:
    """One diode towards the supply's first node; from it where the supply is negative."""
    perveance = state.device.least_drop_perveance if least_drop else state.device.perveance
    a, k = (anode, cathode) if state.sign > 0 else (cathode, anode)
    drive = f"uramp(V({a},{k}))" if perveance is not None else f"uramp(V({a},{k})-{state.device.threshold_v:.9g})"
    law = f"{perveance:.9g}*pow({drive},1.5)" if perveance is not None else f"{drive}/{ohm:.9g}"
    return f"B{name} {a} {k} I={law}"


def _two_way(name: str, common: str, out: str, circuit: str, wave: str, ohm: float, diode) -> Iterator[str]:
    """A bridge, or one of the doublers."""
    far = {"bridge": f"{name}v", "doubler": f"{name}mid", "half-wave doubler": common}[circuit]
    yield f"V{name}w {name}w {far} {wave}"
    if circuit == "half-wave doubler":
        yield f"R{name}w {name}w {name}c {max(ohm, 1e-3):.9g}"
    else:
        yield f"R{name}w {name}w {name}a {max(ohm, 1e-3):.9g}"
    yield diode(1, f"{name}a", out)
    if circuit == "bridge":
        yield diode(2, far, out)
        yield diode(3, common, f"{name}a")
        yield diode(4, common, far)
        yield f"R{name}l1 {far} {common} 1e8"
        yield f"R{name}l2 {name}a {common} 1e8"
    else:
        yield diode(2, common, f"{name}a")


def _capacitors(job: _Job, state: SupplyState) -> Iterator[str]:
    """What hangs on each node of the supply's tree; the first of a doubler as its two halves.

    The first one stands at the supply's minus, ahead of what lies in the minus lead.
    """
    first, minus = state.tree[0].node.id, next(f.minus for f in job.circuit.feeds if f.supply == state.id)
    upper = state.upper if job.circuit.corners[job.row].adverse else 1.0
    for branch, farad in zip(state.tree, state.farads(), strict=True):
        node = job.circuit.numbers[branch.node.id]
        name, volts, size = job.names[node], job.volts(node), farad * (upper if branch.node.id == first else 1.0)
        for ref in dict.fromkeys(p.ref for chain in branch.node.capacitors for p in chain):
            yield _comment(job.point.unit.parts[ref], f"on {branch.node.id}")
        if not farad:
            continue
        other = job.names[minus] if branch.node.id == first else "0"
        volts -= job.volts(minus) if branch.node.id == first else 0.0
        if branch.node.id == first and state.circuit == "doubler" and state.rectified:
            yield f"C{name}1 {name} {name}mid {size:.9g} IC={volts / 2:.6g}"
            yield f"C{name}2 {name}mid {other} {size:.9g} IC={volts / 2:.6g}"
        else:
            yield f"C{name} {name} {other} {size:.9g} IC={volts:.6g}"
            if branch.node.id == first and state.circuit == "half-wave doubler" and state.rectified:
                yield f"C{name}2 {name}c {name}a {size:.9g} IC={-volts / 2:.6g}"


def _leads(job: _Job) -> Iterator[str]:
    """Every part with resistance between two points; chokes with their inductance."""
    henries = {(b.node.id): b.henries for s in job.point.states for b in s.tree if b.parent is not None}
    known = {lead.element: lead for lead in job.circuit.leads}
    ids = {number: end for end, number in job.circuit.numbers.items()}
    for index, resistor in enumerate(job.circuit.resistors):
        a, b, ohms = job.names[resistor.a], job.names[resistor.b], max(job.at(resistor.ohms), 1e-3)
        lead = known.get(index)
        part = job.point.unit.parts.get(lead.ref) if lead else None
        if part is not None:
            yield _comment(part)
        henry = henries.get(str(ids.get(resistor.b)), 0.0) if lead else 0.0
        if henry:
            amps = (job.volts(resistor.a) - job.volts(resistor.b)) / ohms
            yield f"R{index} {a} x{index} {ohms:.9g}"
            yield f"L{index} x{index} {b} {henry:.9g} IC={amps:.6g}"
        else:
            yield f"R{index} {a} {b} {ohms:.9g}"


def _loads(job: _Job) -> Iterator[str]:
    """Given and estimated loads, regulators, and what holds grids and readings."""
    for index, (draw, (node, place)) in enumerate(zip(job.circuit.draws, job.circuit.drawn_by, strict=True)):
        volts, amps, k = job.between(draw.node, CHASSIS), job.at(draw.amps), job.at(draw.k)
        yield f"* load on {node}" + (f": {place}, by typical operation" if place else ", as given")
        turn, name = -1 if amps < 0 else 1, job.names[draw.node]
        yield f"Bload{index} {name} 0 I={amps:.9g}*min({turn}*{volts},1)+{k:.9g}*pow(uramp({volts}),1.5)"
    for index, glow in enumerate(job.circuit.regulators):
        volts, level, ohms = job.between(glow.a, glow.b), job.at(glow.volts), max(job.at(glow.ohms), 1e-3)
        yield "* regulator"
        yield f"Bglow{index} {job.names[glow.a]} {job.names[glow.b]} I=uramp({volts}-{level:.9g})/{ohms:.9g}"
    for index, held in enumerate(job.circuit.clamps):
        if job.at(held.ohms) < OPEN_OHM:
            yield f"V{index}held h{index} 0 {job.at(held.volts):.9g}"
            yield f"R{index}held h{index} {job.names[held.node]} {max(job.at(held.ohms), 1e-3):.9g}"


def _tubes(job: _Job) -> Iterator[str]:
    for index, (wired, tube) in enumerate(zip(job.circuit.wired, job.circuit.tubes, strict=True)):
        yield _comment(wired.part, str(wired.place))
        screen = tube.plate if tube.screen is None else tube.screen
        plate_v, screen_v, grid_v = (job.between(pin, tube.cathode) for pin in (tube.plate, screen, tube.grid))
        law, cathode = tube.law, job.names[tube.cathode]
        mu, mu_screen, share = (job.at(x) for x in (law.mu, law.mu_screen, law.screen_share))
        drive = f"{grid_v}+{job.at(law.offset_v):.12g}"
        drive += f"+{plate_v}/{mu:.12g}" if np.isfinite(mu) else ""
        triode = not np.isfinite(mu_screen)
        drive += "" if triode else f"+{screen_v}/{mu_screen:.12g}"
        fixed = job.point.fixed_amps(index, job.row)
        amps = f"{fixed:.12g}" if fixed is not None else \
            f"{job.at(law.perveance) * job.at(tube.strength):.12g}*pow(uramp({drive}),1.5)"
        knee = f"{TRIODE_KNEE_V}" if triode else f"({KNEE}*max({screen_v},1))"
        part = f"{1 - share:.12g}*(1-exp(-uramp({plate_v})/{knee}))"
        yield f"Bplate{index} {job.names[tube.plate]} {cathode} I={amps}*{part}"
        if not triode:
            yield f"Bscreen{index} {job.names[screen]} {cathode} I={amps}*(1-{part})"


def _left_out(job: _Job) -> Iterator[str]:
    """Parts that no current of this picture flows through, each in a comment."""
    told = {lead.ref for lead in job.circuit.leads} | {w.part.ref for w in job.circuit.wired}
    told |= {p.ref for s in job.point.states for b in s.tree for chain in b.node.capacitors for p in chain}
    told |= {s.device.ref for s in job.point.states}
    for part in job.point.unit.parts.values():
        if part.ref not in told:
            yield _comment(part, "not in this picture")


def _run(job: _Job) -> Iterator[str]:
    """How long to run, and what to measure."""
    hertz = max((s.mains.hertz for s in job.point.states if s.rectified), default=50.0)
    stop, begin = CYCLES / hertz, (CYCLES - MEASURED) / hertz
    yield ".options reltol=1e-4 abstol=1e-9 vntol=1e-6 method=gear"
    yield f".tran {1 / hertz / STEPS:.9g} {stop:.9g} {begin:.9g} {1 / hertz / STEPS:.9g} UIC"
    for number, name in job.names.items():
        if number != CHASSIS:
            yield f".meas tran mean_{name} avg v({name}) from={begin:.9g} to={stop:.9g}"
    yield ".end"
