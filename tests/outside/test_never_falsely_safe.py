"""Never falsely safe: random units, each simulated in ngspice at the adverse corner, against what `check` says.

Outside source: ngspice (https://ngspice.sourceforge.io), the version printed with the result; for heaters plain
arithmetic, and the heater law i ~ v^0.54 that follows from R ~ T^1.2 and P ~ T^4 of tungsten (Jones and Langmuir,
General Electric Review, 1927, recalled). Surge volts of electrolytics: IEC 60384-4, 1.15 up to 315 V, 1.10 above.

The adverse corner: mains at its high limit, the first capacitor 20 % up; at switch-on no load on a filament or
silicon rectifier, half of it on a slow one. `TUBEWRIGHT_UNITS` and `TUBEWRIGHT_SEED` draw more and others.
"""

import math
import os
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cached_property
from pathlib import Path

import circuit
import numpy as np
import pytest
from electrics.ngspice import needed
from random_units import Drawn, Rated, Tables, draw

from pipeline.checks.check import check
from pipeline.unit import load

BUILT = Path(__file__).resolve().parents[2] / "data_built"
pytestmark = [pytest.mark.long, needed()]

SEED = int(os.environ.get("TUBEWRIGHT_SEED", "1935"))
UNITS = int(os.environ.get("TUBEWRIGHT_UNITS", "200" if os.environ.get("CI") == "true" else "40"))
CAPACITOR_UP = 1.2
WITHIN = {"rectifier-peak": 0.02, "largest-input-capacitor": 0.02}
"""The stated error of peaks, 2 %; of all else, 0.5 %."""
SOUND = 0.02
"""A `stop` is a false one where today's figure is at least this far below the limit."""
FALSE_STOPS = 0.01
LINE_HIGH = 1.1
"""Design-centre ratings bear a line 10 % high (RCA receiving tube manuals, recalled)."""
AT_DESIGN = ("rectifier-peak", "rectifier-output", "largest-input-capacitor")
"""Design-centre ratings of these are held at design mains with nominal parts: they leave room for line and spread."""
HEATER_EXPONENT = 0.7 / 1.3
INTO_CAPACITOR = 0.8
"""Makers of silicon rectifiers derate the mean current 20 % into a capacitor (1N4001 sheets, in the catalogue)."""


class Simulated:
    """One unit at one mains ratio; each simulation is run when it is first asked for.

    Amps that were read at a cathode today go with the mains: with cathode volts e and x = plate volts / mu a tube on
    its own cathode resistor follows them with the power 1.5 x / (x + 0.5 e), which is 1.0 or a little above (Child's
    law, i ~ (x - e)^1.5, differentiated).
    """

    def __init__(self, unit: Drawn, ratio: float, first: float, design: bool = False):
        stages = tuple(s._replace(load_a=s.load_a * ratio / unit.today) if s.read else s for s in unit.circuit.stages)
        unit = replace(unit, circuit=unit.circuit._replace(stages=stages))
        self.unit, self.ratio, self.first, self.design = unit, ratio, first, design

    @cached_property
    def loaded(self) -> circuit.Result:
        return circuit.steady(self.unit.circuit, self.ratio, self.first)

    @cached_property
    def idle(self) -> circuit.Result:
        return circuit.steady(self.unit.circuit, self.ratio, self.first, 0.0)

    @cached_property
    def starting(self) -> list[circuit.Result]:
        """What stands on the capacitors while the tubes warm; silicon charges a choke's capacitor past the crest."""
        if self.unit.slow:
            return [circuit.steady(self.unit.circuit, self.ratio, self.first, 0.5)]
        sudden = self.unit.circuit.silicon and any(s.henry for s in self.unit.circuit.stages)
        phases = (0.0, 90.0) if sudden else ()
        return [self.idle, *(circuit.switch_on(self.unit.circuit, self.ratio, self.first, p) for p in phases)]

    def crest_v(self, result: circuit.Result, node: int) -> float:
        """Most volts across each capacitor of the node within the run, DC and ripple together."""
        doubler = self.unit.circuit.circuit == "doubler" and node == 0
        return result.across_crest_v if doubler else float(result.crest_v[node])



def figures(finding, sim: Simulated) -> list[tuple[float, float]]:
    """(figure, limit) pairs of a finding by the simulation: none may be above its limit where it says `pass`."""
    return JUDGED[finding.check](finding, sim) if finding.check in JUDGED else []


def _peak(finding, sim):
    return [(sim.loaded.peak_a, sim.unit.limits["plate_peak_max_a"])]


def _inverse(finding, sim):
    return [(max(r.inverse_v for r in (sim.idle, sim.loaded)), sim.unit.limits["piv_max_v"])]


def _output(finding, sim):
    """Mean amps of the rectifier, of each diode or plate where one carries all of it; and a tube's AC volts.

    The chart's volts are nominal ones and leave 10 % for a high line, so it is read at today's volts.
    """
    unit, c = sim.unit, sim.unit.circuit
    inputs = "choke" if c.choke_input else "capacitor"
    if c.silicon:
        each = 2 if c.circuit in ("full-wave", "bridge") else 1
        return [(sim.loaded.load_a / each, unit.limits["forward_max_a"] * (1 if c.choke_input else INTO_CAPACITOR))]
    corners = unit.limits.get(inputs) or [(unit.limits["ac_plate_max_v"], unit.limits["dc_output_max_a"])]
    held = 1.0 if sim.design else unit.today
    limit = float(np.interp(c.volts * held, *zip(*corners, strict=True)))
    alone = unit.limits["connection"] == "two half-wave" and c.circuit.endswith("doubler")
    return [(sim.loaded.load_a, limit / 2 if alone else limit), (c.volts * sim.ratio, LINE_HIGH * corners[-1][0])]


def _largest(finding, sim):
    found = []
    if most := sim.unit.limits.get("input_capacitor_max_uf"):
        # a hair more than the maker's figure is allowed: 40.0 µF is not above 40
        found.append((sim.unit.circuit.stages[0].farad * 1e6 / (1 + WITHIN[finding.check]), most))
    if peak := sim.unit.limits.get("plate_peak_max_a"):
        found.append((sim.loaded.peak_a, peak))
    return found


def _capacitor(finding, sim):
    """At work and at switch-on, crests as IEC 60384-4 counts them (recalled); what stops is above the rating at work or above the surge volts at switch-on."""
    node, rated = sim.unit.capacitors[finding.subject]
    surge = rated * (1.15 if rated <= 315 else 1.10)
    cold = surge if finding.verdict == "stop" else rated
    return [(sim.crest_v(sim.loaded, node), rated), (max(sim.crest_v(r, node) for r in sim.starting), cold)]


def _winding(finding, sim):
    return [(sim.loaded.load_a, sim.unit.winding_a)]


def _heater_load(finding, sim):
    _, amps, heaters = sim.unit.windings[finding.subject]
    return [(sum(h.amps for h in heaters), amps)]


def _heater_voltage(finding, sim):
    volts, _, heaters = sim.unit.windings[finding.subject]
    return [(volts * sim.ratio, h.volts * (1 + h.within)) for h in heaters]


def _heater_string(finding, sim):
    _, members, _ = sim.unit.string
    return [(volts, h.volts * 1.1) for volts, h in zip(string_volts(sim), members, strict=True)]


def string_volts(sim: Simulated) -> list[float]:
    """Volts of each member of the string, by halving the interval of currents."""
    amps, members, ohm = sim.unit.string
    line, low, high = sim.unit.design_v * sim.ratio, 0.0, 10 * amps

    def volts(current):
        return [h.volts * (current / h.amps) ** (1 / HEATER_EXPONENT) for h in members]

    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if sum(volts(middle)) + middle * ohm < line else (low, middle)
    return volts(low)


def _heater_cathode(finding, sim):
    found = []
    if sim.unit.string:
        members, volts = sim.unit.string[1], string_volts(sim)
        at = [h.ref for h in members].index(finding.subject)
        end, mine = sum(volts[at:]), members[at]
        below = circuit.above_heater(sim.loaded, end) if finding.subject == "V1" else math.sqrt(2) * end
        found = [(below, mine.negative_v)]
        if finding.subject != "V1":
            found.append((math.sqrt(2) * end, mine.positive_v))
    elif finding.subject == "V1":
        volts, _, heaters = sim.unit.windings["H1"]
        mine = next(h for h in heaters if h.ref == "V1")
        found = [(sim.starting[0].crest_v[0] + math.sqrt(2) * volts * sim.ratio, mine.negative_v)]
    return [(figure, limit) for figure, limit in found if limit]


JUDGED = {
    "rectifier-peak": _peak, "rectifier-inverse": _inverse, "rectifier-output": _output,
    "largest-input-capacitor": _largest, "capacitor-voltage": _capacitor, "winding-current": _winding,
    "heater-load": _heater_load, "heater-voltage": _heater_voltage, "heater-string": _heater_string,
    "heater-cathode": _heater_cathode}
"""Check → figures of its findings."""


def worst(finding, sim: Simulated) -> tuple[float, float] | None:
    """The figure nearest to its limit, or furthest above it."""
    return max(figures(finding, sim), key=lambda pair: pair[0] / pair[1], default=None)


def told(unit: Drawn, finding, pair: tuple[float, float], when: str) -> str:
    return (f"unit {unit.number} ({unit.rectifier} {unit.circuit.circuit}): {finding.check} {finding.subject}: "
            f"{finding.verdict} with {finding.figure:.4g} of {finding.limit:.4g}; "
            f"{when} {pair[0]:.4g} of {pair[1]:.4g}")


def accusations(unit: Drawn, findings) -> list[str]:
    """Every `pass` that the adverse corner refutes."""
    high, design, said = Simulated(unit, unit.high, CAPACITOR_UP), Simulated(unit, 1.0, 1.0, design=True), []
    centre = unit.limits.get("rating_system") == "design-centre" and unit.today <= LINE_HIGH
    for finding in findings:
        held = "maker publishes" in finding.why  # his conditions are those of the unit at design mains
        sim = design if held or (centre and finding.check in AT_DESIGN) else high
        pair = worst(finding, sim) if finding.verdict == "pass" else None
        if pair and pair[0] > pair[1] * (1 + WITHIN.get(finding.check, 0.005)):
            said.append(told(unit, finding, pair, "at the adverse corner"))
    return said


def false_stops(unit: Drawn, findings) -> list[str]:
    """Every `stop` whose figures are all well within their limits as the unit stands today."""
    sim, said = Simulated(unit, unit.today, 1.0), []
    for finding in findings:
        pair = worst(finding, sim) if finding.verdict == "stop" else None
        if pair and pair[0] <= pair[1] * (1 - SOUND):
            said.append(told(unit, finding, pair, "today"))
    return said


def _judged(folder: Path, catalogue, unit: Drawn):
    return unit, check(load(unit.write(folder / str(unit.number)), catalogue), catalogue).findings


def test_no_pass_is_false(tmp_path, catalogue, capsys):
    """No pass stands where the simulation exceeds the limit; stops on sound units are at most 1 in 100 units."""
    tables = Tables(BUILT)
    judged = [_judged(tmp_path, catalogue, draw(SEED, i, tables)) for i in range(UNITS)]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        accused = list(pool.map(lambda pair: accusations(*pair), judged))
        stopped = list(pool.map(lambda pair: false_stops(*pair), judged))
    verdicts = Counter(f.verdict for _, found in judged for f in found)
    false, stops = [a for said in accused for a in said], [s for said in stopped for s in said]
    wrongly = sum(map(bool, stopped))
    with capsys.disabled():
        print(f"\n{UNITS} random units, seed {SEED}, {circuit.version()}: {dict(verdicts)}; "
              f"{len(false)} false passes; {wrongly} units with a false stop", *false, *stops, sep="\n  ")
    assert not false, f"{len(false)} passes refuted by {circuit.version()}"
    assert wrongly <= FALSE_STOPS * UNITS, stops


@pytest.fixture
def one(tmp_path, catalogue):
    """A drawn tube unit with a passing reservoir, and its findings."""
    tables = Tables(BUILT)
    for number in range(100):
        unit, findings = _judged(tmp_path, catalogue, draw(SEED, number, tables))
        passing = {f.check for f in findings if f.verdict == "pass" and f.subject in ("V1", "C1", "H2")}
        if {"capacitor-voltage", "rectifier-peak", "rectifier-inverse", "heater-voltage"} <= passing:
            return unit, findings
    raise AssertionError("no such unit among a hundred")


@pytest.mark.parametrize("what", ["capacitor-voltage", "rectifier-peak", "rectifier-inverse", "heater-voltage"])
def test_a_false_pass_is_accused(one, what):
    """With the limit put below what the simulation gives, the same pass is accused: the test can fail."""
    unit, findings = one
    mine = [f for f in findings if f.check == what]
    assert not accusations(unit, mine)
    unit.capacitors = {ref: Rated(c.node, 100.0) for ref, c in unit.capacitors.items()}
    unit.limits |= {"plate_peak_max_a": 0.01, "piv_max_v": 100.0}
    unit.windings = {w: (1.2 * volts, amps, heaters) for w, (volts, amps, heaters) in unit.windings.items()}
    assert accusations(unit, mine)


@pytest.mark.parametrize("kind", ["half-wave", "full-wave", "bridge", "doubler", "half-wave doubler"])
def test_simulation_without_load_reaches_the_crest(kind):
    """Theory: without load the reservoir charges to the crest, twice in a doubler; inverse volts follow from it."""
    bare = circuit.Circuit(kind, False, 200.0, 50.0, 40.0, True, (1.1, 1.0), (circuit.Stage(None, 0, 0, 2e-5),))
    result, crest = circuit.steady(bare), 200 * math.sqrt(2)
    stacked = 2 if kind.endswith("doubler") else 1
    assert result.dc_v[0] == pytest.approx(stacked * crest, rel=0.01)
    assert result.inverse_v == pytest.approx(crest * (1 if kind == "bridge" else 2), rel=0.01)


def test_simulation_of_a_choke_input():
    """Theory: a full-wave choke input above critical inductance gives 2 sqrt 2 / pi of the rms volts, less drops."""
    stage = circuit.Stage(None, 100.0, 20.0, 4e-5, load_a=0.1)
    result = circuit.steady(circuit.Circuit("full-wave", True, 300.0, 50.0, 0.1, True, (1.1, 1.0), (stage,)))
    assert result.dc_v[0] == pytest.approx(2 * math.sqrt(2) / math.pi * 300 - 10 - 0.9, rel=0.004)
    assert result.load_a == pytest.approx(0.1, rel=1e-3)
