"""Never falsely safe, stages too: whole random units in ngspice at the adverse end, against what `check` says.

Outside source: ngspice (https://ngspice.sourceforge.io) for volts and currents; the limits are read from the built
tables here, and what a part sees is reckoned here from the simulation. The adverse end: highest mains, a strong tube,
a bias supply that gives too little, every resistor at the low end of its tolerance; design-centre limits at design
mains, for their makers left the rest in them (RCA receiving tube manuals, recalled). `TUBEWRIGHT_UNITS` and
`TUBEWRIGHT_SEED` draw more and others.
"""

import os
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

import pytest
from circuit import version
from electrics.ngspice import needed
from random_stages import Whole, draw_whole
from random_units import Tables
from whole_units import Run, simulated

from pipeline.checks.check import Checked, check
from pipeline.output.netlist import netlist
from pipeline.unit import load

BUILT = Path(__file__).resolve().parents[2] / "data_built"
pytestmark = [pytest.mark.long, needed()]

SEED = int(os.environ.get("TUBEWRIGHT_SEED", "1948"))
UNITS = int(os.environ.get("TUBEWRIGHT_UNITS", "200" if os.environ.get("CI") == "true" else "20"))
WITHIN = 0.011
"""What the operating point may be off ngspice, and a hair."""
SOUND = 0.02
FALSE_STOPS = 0.01
LIMITS = {"plate-voltage": "plate_max_v", "screen-voltage": "screen_max_v", "dissipation": "plate_dissipation_max_w",
          "screen-dissipation": "screen_dissipation_max_w", "cathode-current": "cathode_max_a"}


JUDGED = (*LIMITS, "resistor-power", "capacitor-voltage", "grid-circuit", "bias")


class Simulated:
    """One unit at its corners; each is run when it is first asked for."""

    def __init__(self, unit: Whole, checked: Checked):
        self.unit, self.checked, self.runs = unit, checked, dict[str, Run]()
        circuit = checked.point.circuit
        self.index = {str(w.place): i for i, w in enumerate(circuit.wired)}
        self.names = {}
        for line in netlist(checked.point).splitlines():
            words = line.split()
            if words and words[0].startswith("Bplate"):
                drive = line.partition("uramp(")[2]
                grid = drive[2:drive.index(")")].split(",") if drive.startswith("V(") else ["0"]
                self.names[int(words[0][6:])] = (words[1], words[2], grid[0])
            elif words and words[0].startswith("Bscreen"):
                self.names[int(words[0][7:])] += (words[1],)

    def run(self, corner: str) -> Run:
        if corner not in self.runs:
            self.runs[corner] = simulated(netlist(self.checked.point, corner))
        return self.runs[corner]

    def volts(self, place: str, corner: str) -> dict[str, float]:
        """Volts to chassis of a section's electrodes."""
        index, run = self.index[place], self.run(corner)
        ends = dict(zip(("plate", "cathode", "grid", "screen"), self.names[index], strict=False))
        found = {k: run.volts.get(v, 0.0) if v != "0" else 0.0 for k, v in ends.items()}
        return {"screen": found["plate"], **found}

    def figure(self, check: str, place: str, corner: str) -> float:
        """What a rule of a section is about, by the simulation alone."""
        index, run, volts = self.index[place], self.run(corner), self.volts(place, corner)
        plate_a, screen_a = run.plate_a[index], run.screen_a.get(index, 0.0)
        return {"plate-voltage": volts["plate"] - volts["cathode"], "screen-voltage": volts["screen"] - volts["cathode"],
                "dissipation": (volts["plate"] - volts["cathode"]) * plate_a,
                "screen-dissipation": (volts["screen"] - volts["cathode"]) * screen_a,
                "cathode-current": plate_a + screen_a}[check]


class Judged(NamedTuple):
    """A finding's figure and its limit by the simulation."""

    figure: float
    limit: float


def judged(finding, sim: Simulated, corners: tuple[str, ...], design: bool) -> Iterator[Judged]:
    """Figure and limit of a finding at each corner; design-centre ratings at design mains where `design`."""
    if finding.check in LIMITS and finding.subject in sim.unit.sections:
        section = sim.unit.sections[finding.subject]
        if (limit := section.limits[LIMITS[finding.check]]) is not None:
            for corner in ("design",) if design and section.design_centre else corners:
                yield Judged(sim.figure(finding.check, finding.subject, corner), limit)
    elif finding.check == "resistor-power" and finding.subject in sim.unit.watts:
        for corner in corners:
            yield Judged(resistor_w(sim, finding.subject, corner), sim.unit.watts[finding.subject])
    elif finding.check == "capacitor-voltage" and finding.subject in sim.unit.capacitors:
        part = sim.unit.capacitors[finding.subject]
        for corner in corners:
            there = sim.volts(part.at, corner)[part.electrode]
            yield Judged(abs(there - (sim.volts(part.to, corner)["grid"] if part.to else 0.0)), part.volts)


    elif finding.check == "grid-circuit" and finding.subject in sim.unit.grids:
        ohm, fixed = sim.unit.grids[finding.subject]
        limits = sim.unit.sections[finding.subject].limits
        yield Judged(ohm, limits["grid_circuit_fixed_max_ohm" if fixed else "grid_circuit_max_ohm"])
    elif finding.check == "bias" and finding.subject in sim.unit.sections:
        for corner in corners:
            volts = sim.volts(finding.subject, corner)
            yield Judged(volts["grid"] - volts["cathode"], 0.0)


def resistor_w(sim: Simulated, ref: str, corner: str) -> float:
    """Watts of a resistor from the volts at its ends and the ohms that the netlist gives it."""
    lines = netlist(sim.checked.point, corner).splitlines()
    at = next(i for i, line in enumerate(lines) if line.startswith(f"* {ref} "))
    _, a, b, ohms = lines[at + 1].split()[:4]
    volts = sim.run(corner).volts
    across = volts.get(a, 0.0) - volts.get(b, 0.0)
    return across**2 / float(ohms)


def told(unit: Whole, finding, pair: Judged, when: str) -> str:
    return (f"unit {unit.number} ({unit.kind}): {finding.check} {finding.subject}: {finding.verdict} with "
            f"{finding.figure} of {finding.limit}; {when} {pair.figure:.4g} of {pair.limit:.4g}")


def accusations(unit: Whole, checked: Checked) -> list[str]:
    """Every `pass` that the adverse end refutes."""
    sim = Simulated(unit, checked)
    return [told(unit, f, pair, "at the adverse end") for f in checked.findings
            if f.verdict == "pass" and "maker publishes" not in f.why
            for pair in judged(f, sim, ("high", "light", "today"), True) if pair.figure > pair.limit * (1 + WITHIN)]


def false_stops(unit: Whole, checked: Checked) -> list[str]:
    """Every `stop` whose figures are all well within their limits as the unit stands today."""
    sim, said = Simulated(unit, checked), []
    for finding in checked.findings:
        stopped = finding.verdict == "stop" and finding.check != "bias"
        pairs = list(judged(finding, sim, ("today",), False)) if stopped else []
        if pairs and all(p.figure <= p.limit * (1 - SOUND) for p in pairs):
            said.append(told(unit, finding, pairs[0], "today"))
    return said


def _judged(folder: Path, catalogue, unit: Whole) -> tuple[Whole, Checked]:
    return unit, check(load(unit.write(folder / str(unit.number)), catalogue), catalogue)


def test_no_pass_of_a_stage_is_false(tmp_path, catalogue, capsys):
    """No pass stands where ngspice exceeds the limit; stops on sound units are at most 1 in 100 units."""
    tables = Tables(BUILT)
    units = [_judged(tmp_path, catalogue, draw_whole(SEED, i, tables)) for i in range(UNITS)]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        accused = list(pool.map(lambda pair: accusations(*pair), units))
        stopped = list(pool.map(lambda pair: false_stops(*pair), units))
    verdicts = Counter(f.verdict for _, checked in units for f in checked.findings if f.check in JUDGED)
    false, stops = [a for said in accused for a in said], [s for said in stopped for s in said]
    with capsys.disabled():
        print(f"\n{UNITS} whole units, seed {SEED}, {version()}: {dict(verdicts)}; {len(false)} false passes; "
              f"{sum(map(bool, stopped))} units with a false stop", *false, *stops, sep="\n  ")
    assert not false, f"{len(false)} passes refuted by {version()}"
    assert sum(map(bool, stopped)) <= max(FALSE_STOPS * UNITS, 1), stops


def test_a_false_pass_is_accused(tmp_path, catalogue):
    """With the limits put below what the simulation gives, the same passes are accused: the test can fail."""
    tables = Tables(BUILT)
    unit, checked = _judged(tmp_path, catalogue, draw_whole(SEED, 0, tables))
    assert not accusations(unit, checked)
    unit.watts = dict.fromkeys(unit.watts, 1e-6)
    unit.sections = {k: s._replace(limits={name: 1e-6 for name in s.limits}) for k, s in unit.sections.items()}
    unit.capacitors = {k: c._replace(volts=1e-3) for k, c in unit.capacitors.items()}
    unit.grids = {k: (1e9, fixed) for k, (_, fixed) in unit.grids.items()}
    said = {line.split(": ")[1].split(" ")[0] for line in accusations(unit, checked)}
    assert {"plate-voltage", "dissipation", "resistor-power", "capacitor-voltage"} <= said
