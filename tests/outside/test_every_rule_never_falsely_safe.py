"""Never falsely safe, the rules of all that hangs on a supply besides: random units in ngspice against what `check` says.

Outside source: ngspice (https://ngspice.sourceforge.io) for volts and amperes, Ohm's law and 2 pi f C V for what follows
from them. Limits are read from the built tables or stand here: volts of carbon resistors by MIL-R-11 (recalled); touch
current 0.5 mA, 5 mA where it injures, 60 V after 60 s (IEC 62368-1, recalled here). The adverse corner is that of
`test_never_falsely_safe`; a regulator is held to the lowest line and to the volts at the ends of its type as well.
`TUBEWRIGHT_UNITS` and `TUBEWRIGHT_SEED` draw more and others.
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
import test_never_falsely_safe as supplies
import test_stages_never_falsely_safe as stages
from electrics.ngspice import needed
from random_furnished import Furnished, draw_furnished
from random_units import Tables
from test_never_falsely_safe import Simulated, string_volts

from pipeline.checks.check import check
from pipeline.checks.register import RULES
from pipeline.unit import load

BUILT = Path(__file__).resolve().parents[2] / "data_built"
SEED = int(os.environ.get("TUBEWRIGHT_SEED", "1957"))
UNITS = int(os.environ.get("TUBEWRIGHT_UNITS", "200" if os.environ.get("CI") == "true" else "40"))
CAPACITOR_UP = 1.2
WITHIN = {"fuse": 0.25, "reading": 0.02, "capacitor-ripple": 0.03, "rectifier-transient": 0.02, "stored-energy": 0.02,
          "regulator-current": 0.03}
"""What each may be off: the draw from the wall is a stated estimate; of all else 1 %."""
SOUND = 0.02
FALSE_STOPS = 0.01
BORNE_V = {0.25: 250, 0.5: 350, 1: 500, 2: 500}
TOUCH_A, INJURES_A, SAFE_V, SAFE_S = 0.0005, 0.005, 60.0, 60.0
FUSE_OVER = 4.0
DESIGN_FIRST = ("rectifier-transient",)
NOT_JUDGED = {
    "unknown-part": "says that a marking cannot be read: no figure",
    "capacitor-kind": "which kinds serve in a role: a table of words",
    "replacement": "what should go altogether: words on the list, no figure",
    "capacitor-value": "a motor's capacitor: no circuit; its standard's figures stand in tests/checks/test_motors.py",
}
"""Checks that no random unit judges, and why."""


class Adverse(Simulated):
    """A furnished unit at one mains ratio, its regulator with the ohms and volts at one end (`side` -1 draws most)."""

    def __init__(self, more: Furnished, ratio: float, first: float, side: int = -1, design: bool = False):
        super().__init__(more.drawn, ratio, first, design)
        self.more, self.side = more, side

    @cached_property
    def whole(self) -> circuit.Circuit:
        """The circuit with its regulator lit: what that draws is a straight line in the volts of the node before it."""
        glow = self.more.glow
        if glow is None:
            return self.unit.circuit
        parts = list(self.unit.circuit.stages)
        own, ohm = parts[glow.parent], glow.ohm * (1 + self.side * glow.within) + self.slope
        parts[glow.parent] = own._replace(load_a=own.load_a + (glow.load_a * self.slope - self.held_v) / ohm,
                                          load_ohm=ohm if own.load_ohm is None else 1 / (1 / own.load_ohm + 1 / ohm))
        return self.unit.circuit._replace(stages=tuple(parts))

    @cached_property
    def lit(self) -> circuit.Result:
        return circuit.steady(self.whole, self.ratio, self.first)

    @property
    def slope(self) -> float:
        row = self.more.glow.row
        return (row["regulation_v"] or 0.0) / (row["greatest_a"] - row["least_a"])

    @property
    def held_v(self) -> float:
        row, name = self.more.glow.row, {-1: "operating_low_v", 0: "operating_v", 1: "operating_high_v"}[self.side]
        return row[name] or row["operating_v"]

    @property
    def glow_a(self) -> float:
        """Amperes of the regulator: what its resistor passes from the node before it, less its load."""
        glow = self.more.glow
        ohm = glow.ohm * (1 + self.side * glow.within)
        return (float(self.lit.dc_v[glow.parent]) - self.held_v - glow.load_a * ohm) / (ohm + self.slope)

    def parent_v(self, i: int) -> float:
        """Volts of the node that feeds node i."""
        return float(self.lit.dc_v[self.unit.circuit.stages[i].parent])

    def through_a(self, i: int) -> float:
        """DC amperes into node i."""
        stage = self.unit.circuit.stages[i]
        return self.lit.load_a if stage.parent is None else (self.parent_v(i) - float(self.lit.dc_v[i])) / stage.ohm

    def waves(self) -> tuple[np.ndarray, np.ndarray, circuit._Net]:
        """Time and every vector over the last two cycles of the steady state."""
        net = circuit._Net(circuit._scaled(self.whole, self.ratio, self.first, 1.0))
        _, _, state = net.run(net.guess(), 120, 100, seen=2)
        return (*net.run(state, 6, 1000, seen=2)[:2], net)


def _transient(finding, sim):
    """The first moment at the crest with everything empty; without a rating, the ohms that the maker asks."""
    unit = sim.unit
    limit = unit.limits.get("plate_transient_max_a") or unit.limits.get("surge_max_a")
    if limit is None:
        corners = sorted((r["ac_v"], r["supply_ohm"]) for r in _tables().rows(
            "rectifier_ratings", f"type = '{unit.rectifier}' and input = 'capacitor' and supply_ohm > 0"))
        if single := unit.limits.get("supply_ohm_min"):
            corners = sorted([*corners, (unit.limits["ac_plate_max_v"], single)])
        return [(float(np.interp(unit.circuit.volts, *zip(*corners, strict=True))), unit.circuit.source_ohm)]
    net = circuit._Net(circuit._scaled(unit.circuit, sim.ratio, sim.first, 0.0), 90.0)
    _, values, _ = net.run(dict.fromkeys(net.guess(), 0.0), 1, 4000)
    rows = values[len(net.nodes):len(net.nodes) + len(net.diodes)]
    return [(float(rows.max()), limit)]


def _ripple(finding, sim):
    """C dV/dt over a cycle, against what stocked parts of 350 to 500 V bear."""
    c = sim.unit.circuit
    if c.circuit.endswith("doubler"):
        return []
    time, values, net = sim.waves()
    farad = net.c.stages[0].farad
    amps = farad * np.gradient(values[0], time)
    rms = math.sqrt(circuit._mean(time, amps**2))
    rows = sorted({(r["uf"], r["ripple_a"]) for r in _tables().rows(
        "capacitor_stock", "kind = 'electrolytic' and ripple_a > 0 and volts between 350 and 500")})
    return [(rms, float(np.interp(c.stages[0].farad * 1e6, *zip(*rows, strict=True))))]


def _resistor_w(finding, sim):
    more, ref = sim.more, finding.subject
    if ref in more.bleeders:
        node, ohm = more.bleeders[ref]
        return [(float(sim.lit.dc_v[node]) ** 2 / (0.95 * ohm), more.watts[ref][1])]
    if ref in more.balances:
        return [((float(sim.lit.dc_v[0]) / 2) ** 2 / (0.98 * more.balances[ref]), more.watts[ref][1])]
    if ref in more.series:
        i, ohm, watts = more.series[ref]
        return [((sim.parent_v(i) - float(sim.lit.dc_v[i])) ** 2 / ohm, watts)]
    if ref == "R90" and more.dropper_w:
        amps, members, ohm = sim.unit.string
        line = sim.unit.design_v * sim.ratio - sum(string_volts(sim))
        return [(line**2 / ohm, more.dropper_w)]
    if ref == "R85":
        glow = more.glow
        return [((float(sim.lit.dc_v[glow.parent]) - sim.held_v) ** 2 / (glow.ohm * (1 - glow.within)), 20.0)]
    return []


def _resistor_v(finding, sim):
    ref, more = finding.subject, sim.more
    if ref not in more.bleeders and ref not in more.balances:
        return []
    volts = float(sim.lit.dc_v[more.bleeders[ref][0]]) if ref in more.bleeders else float(sim.lit.dc_v[0]) / 2
    return [(volts, BORNE_V[more.watts[ref][1]])]


def _choke(finding, sim):
    i, amps = sim.more.chokes[finding.subject]
    return [(sim.through_a(i), amps)]


def _regulator(finding, sim):
    """Most at the high line, least at the lowest; and whether it lights there at switch-on."""
    glow = sim.more.glow
    if finding.sense == "at most":
        return [(sim.glow_a, glow.row["greatest_a"])]
    low = Adverse(sim.more, sim.unit.low if sim.ratio > sim.unit.today else sim.ratio, 1.0, side=1)
    if finding.unit == "A":
        return [(glow.row["least_a"], max(low.glow_a, 1e-9))]
    if sim.unit.slow:
        half = circuit.steady(sim.unit.circuit, low.ratio, 1.0, 0.5)
        volts = float(half.dc_v[glow.parent]) - 0.5 * glow.load_a * glow.ohm
    else:
        volts = float(low.idle.dc_v[glow.parent])
    return [(glow.row["start_v"], volts)]


def _leakage(finding, sim):
    amps = 2 * math.pi * sim.unit.circuit.hertz * sim.more.leaks[finding.subject] * sim.unit.design_v * sim.ratio
    return [(amps, INJURES_A if finding.verdict == "stop" else TOUCH_A)]


def _stored(finding, sim):
    """Seconds in which the node falls to 60 V from the crest without load, through the resistors there are."""
    stages, node = sim.unit.circuit.stages, int(finding.subject[1:]) - 1
    if not any(s.load_ohm for s in stages):
        return [(float(sim.idle.dc_v[node]), SAFE_V)]
    total = sum(s.farad for s in stages)
    ohm = sum(s.load_ohm or 0.0 for s in stages) + sum(s.ohm for s in stages)
    text = "* discharge\n"
    for i, s in enumerate(stages):
        farad = s.farad / 2 if i == 0 and sim.unit.circuit.circuit == "doubler" else s.farad
        text += f"C{i} n{i} 0 {farad:.9g} IC={sim.idle.dc_v[i]:.9g}\n"
        text += f"R{i} n{s.parent} n{i} {max(s.ohm, 0.01):.9g}\n" if s.parent is not None else ""
        text += f"Rl{i} n{i} 0 {s.load_ohm:.9g}\n" if s.load_ohm else ""
    stop = min(6 * total * ohm, 10 * SAFE_S)
    time, values = circuit._ngspice(text + f".tran {stop / 2000:.9g} {stop:.9g} 0 {stop / 2000:.9g} UIC\n", [f"v(n{node})"])
    below = time[values[0] < SAFE_V]
    return [(float(below[0]) if below.size else stop, SAFE_S)]


def _fuse(finding, sim):
    """Rms of the line's current: heaters in phase, and the winding's pulses by its ratio of turns."""
    today = Adverse(sim.more, sim.unit.today, 1.0)
    time, values, net = today.waves()
    c, count = sim.unit.circuit, len(net.nodes)
    diodes = values[count:count + len(net.diodes)]
    other = {"half-wave": None, "full-wave": 1, "bridge": 2}.get(c.circuit, 1)
    winding = diodes[0] - (diodes[other] if other is not None else 0.0)
    heaters = sim.more.heater_w / sim.unit.design_v * sim.unit.today
    heaters += sim.unit.string[0] if sim.unit.string else 0.0
    line = math.sqrt(2) * heaters * values[-1] / net.peak + winding * c.volts / sim.unit.design_v
    rms, fuse = math.sqrt(circuit._mean(time, line**2)), sim.more.fuse_a
    return [(fuse, FUSE_OVER * rms)] if finding.sense == "at most" else [(fuse, FUSE_OVER * rms), (rms, fuse)]


JUDGED = {"rectifier-transient": _transient, "capacitor-ripple": _ripple, "resistor-power": _resistor_w,
          "resistor-voltage": _resistor_v, "choke-current": _choke, "regulator-current": _regulator,
          "leakage-current": _leakage, "stored-energy": _stored, "fuse": _fuse}
"""Check → (figure, limit) pairs of a finding by the simulation: none may be above its limit where it says `pass`."""
WITH_GLOW = ("capacitor-ripple", "resistor-power", "resistor-voltage", "choke-current", "fuse")
READ = ("reading",)
"""Judged apart: a reading of the first node, typed in near what the simulation gives or far from it."""


def _tables() -> Tables:
    return Tables(BUILT)


def pairs(finding, sim: Adverse) -> list[tuple[float, float]]:
    """Figures and limits of a finding; none where its volts rest on a regulator that is out in the simulation."""
    if finding.check in WITH_GLOW and sim.more.glow is not None and sim.glow_a <= 0:
        return []
    return JUDGED[finding.check](finding, sim) if finding.check in JUDGED else []


def told(more: Furnished, finding, pair: tuple[float, float], when: str) -> str:
    unit = more.drawn
    return (f"unit {unit.number} ({unit.rectifier} {unit.circuit.circuit}): {finding.check} {finding.subject}: {finding.verdict} "
            f"with {finding.figure:.4g} of {finding.limit:.4g}; {when} {pair[0]:.4g} of {pair[1]:.4g}")


def accusations(more: Furnished, findings) -> tuple[list[str], Counter]:
    """Every `pass` that the adverse corner refutes, and how many of each check were judged."""
    unit, said, count = more.drawn, [], Counter()
    high, design = Adverse(more, unit.high, CAPACITOR_UP), Adverse(more, 1.0, 1.0, side=0, design=True)
    centre = unit.limits.get("rating_system") == "design-centre" and unit.today <= supplies.LINE_HIGH
    for finding in findings:
        if finding.verdict != "pass" or "maker publishes" in finding.why:
            continue
        found = pairs(finding, design if centre and finding.check in DESIGN_FIRST else high)
        count[finding.check] += bool(found)
        for pair in found:
            if pair[0] > pair[1] * (1 + WITHIN.get(finding.check, 0.01)):
                said.append(told(more, finding, pair, "at the adverse corner"))
    return said, count


def false_stops(more: Furnished, findings) -> list[str]:
    """Every `stop` whose figures are all well within their limits as the unit stands today."""
    sim, said = Adverse(more, more.drawn.today, 1.0, side=0), []
    for finding in findings:
        found = pairs(finding, sim) if finding.verdict == "stop" else []
        sound = 1 - max(SOUND, WITHIN.get(finding.check, 0.0))
        if found and all(pair[0] <= pair[1] * sound for pair in found):
            said.append(told(more, finding, found[0], "today"))
    return said


def misread(folder: Path, catalogue, more: Furnished) -> list[str]:
    """A reading of the first node far from what the simulation gives today, and yet passed.

    Where a tube's own reading is in the list, what is expected without it is another thing than the simulation.
    """
    unit = more.drawn
    if any(s.read for s in more.stages):
        return []
    off = float(np.random.default_rng([SEED, unit.number, 13]).uniform(-0.45, 0.45))
    volts = float(Adverse(more, unit.today, 1.0, side=0).lit.dc_v[0]) * (1 + off)
    (folder / "readings.csv").write_text(f"at,reading,value,condition\nB1,dc_v,{volts:.1f},full\n", encoding="utf-8")
    band = 0.2 if any(s.load_k for s in more.stages) else 0.1
    found = [f for f in check(load(folder, catalogue), catalogue).findings if f.check == "reading" and f.subject == "B1"]
    wrong = [f for f in found if f.verdict == "pass" and abs(off) > band + WITHIN["reading"]]
    return [told(more, f, (abs(off), band), "off the simulation") for f in wrong]


def _judged(folder: Path, catalogue, more: Furnished):
    return more, check(load(more.drawn.write(folder / str(more.drawn.number)), catalogue), catalogue).findings


@pytest.mark.long
@needed()
def test_no_pass_of_these_is_false(tmp_path, catalogue, capsys):
    """No pass stands where the simulation exceeds the limit; stops on sound units are at most 1 in 100 units."""
    tables = Tables(BUILT)
    judged = [_judged(tmp_path, catalogue, draw_furnished(SEED, i, tables)) for i in range(UNITS)]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        accused = list(pool.map(lambda pair: accusations(*pair), judged))
        stopped = list(pool.map(lambda pair: false_stops(*pair), judged))
    readings = [line for more, _ in judged for line in misread(tmp_path / str(more.drawn.number), catalogue, more)]
    counted = sum((count for _, count in accused), Counter())
    verdicts = Counter(f.verdict for _, found in judged for f in found if f.check in JUDGED)
    false, stops = [a for said, _ in accused for a in said] + readings, [s for said in stopped for s in said]
    with capsys.disabled():
        print(f"\n{UNITS} furnished units, seed {SEED}, {circuit.version()}: {dict(verdicts)}; passes judged {dict(counted)}; "
              f"{len(false)} false passes; {sum(map(bool, stopped))} units with a false stop", *false, *stops, sep="\n  ")
    assert not false, f"{len(false)} passes refuted by {circuit.version()}"
    assert sum(map(bool, stopped)) <= max(FALSE_STOPS * UNITS, 1), stops
    assert UNITS < 100 or set(JUDGED) <= set(counted), "every one of these checks has passes that were judged"


def test_every_check_is_judged_by_a_random_unit_or_says_why_not():
    """A new rule needs its simulation in one of the three tests, or its reason here."""
    judged = {*supplies.JUDGED, *stages.JUDGED, *JUDGED, *READ}
    registered = {rule.check for rule in RULES}
    assert registered == judged | set(NOT_JUDGED), registered ^ (judged | set(NOT_JUDGED))
    assert not judged & set(NOT_JUDGED) and all(NOT_JUDGED.values())


@pytest.mark.long
@needed()
def test_a_false_pass_is_accused(tmp_path, catalogue):
    """With every limit put below what the simulation gives, the same passes are accused: the test can fail."""
    tables, said, wanted = Tables(BUILT), set(), {"choke-current", "resistor-power", "leakage-current", "fuse"}
    for number in range(60):
        more, findings = _judged(tmp_path, catalogue, draw_furnished(SEED, number, tables))
        mine = [f for f in findings if f.check in wanted - said]
        assert not accusations(more, mine)[0]
        more = replace(more, chokes={k: (i, 1e-6) for k, (i, _) in more.chokes.items()}, watts={k: (o, 1e-6) for k, (o, _) in more.watts.items()},
                       series={k: (i, o, 1e-6) for k, (i, o, _) in more.series.items()}, leaks=dict.fromkeys(more.leaks, 1e-3),
                       fuse_a=1000.0, dropper_w=1e-6 if more.dropper_w else None)
        said |= {line.split(": ")[1].split(" ")[0] for line in accusations(more, mine)[0]}
        if said == wanted:
            return
    raise AssertionError(wanted - said)
