"""A drawn power supply in ngspice: the steady state, and what its capacitors get at switch-on.

The source is ngspice (https://ngspice.sourceforge.io; `version` says which). Netlists are written here from the
unit's own numbers; nothing of `pipeline` is imported. A vacuum diode is the three-halves-power law through the
catalogue's drop point (Child 1911, Langmuir 1913); a silicon diode the exponential law through its drop point.
"""

import math
import os
import subprocess
import tempfile
from pathlib import Path
from typing import NamedTuple

import numpy as np
from electrics.ngspice import _resistor, load

SILICON_EMISSION = 1.8
"""Ideality of the exponential diode; SPICE models of the 1N4000 series have 1.7 to 2 (recalled)."""
THERMAL_V = 0.02585
SILICON_OHM = 0.03
"""Bulk resistance in those models is 0.03 to 0.05 ohm (recalled)."""
SETTLED = 2e-4
"""Change of every node over the eight cycles before the last two, of its size."""
OPTIONS = ".options reltol=1e-4 abstol=1e-9 vntol=1e-6 method=gear itl4=200\n"


class Stage(NamedTuple):
    """One node: the stage it is fed from (None: the rectifier), what feeds it, its capacitor, its load.

    `read` says that its amps were read across a cathode resistor with the mains as they are today.
    """

    parent: int | None
    ohm: float
    henry: float
    farad: float
    load_a: float = 0.0
    load_ohm: float | None = None
    load_k: float = 0.0
    read: bool = False


class Circuit(NamedTuple):
    """Rectifier and filter at design mains; `drop` is (volts, amps) of one plate or one silicon diode.

    In a doubler the first stage's capacitor is one of the two.
    """

    circuit: str
    choke_input: bool
    volts: float
    hertz: float
    source_ohm: float
    silicon: bool
    drop: tuple[float, float]
    stages: tuple[Stage, ...]


class Result(NamedTuple):
    """Over one cycle, once it repeats (at switch-on: over the whole run)."""

    dc_v: np.ndarray
    crest_v: np.ndarray
    across_v: float  # DC across one capacitor of a doubler; of others the first node
    across_crest_v: float  # most across either of the two
    peak_a: float
    load_a: float
    inverse_v: float
    out_v: np.ndarray  # of the first node, sample by sample
    sine: np.ndarray  # of the winding, -1 to 1, at the same moments


def version() -> str:
    """The ngspice that is installed, as `ngspice-39`."""
    said = subprocess.run(["ngspice", "--version"], capture_output=True, text=True, check=False).stdout
    return next((word for word in said.split() if word.startswith("ngspice-")), "ngspice")


def steady(circuit: Circuit, ratio: float = 1.0, first: float = 1.0, share: float = 1.0) -> Result:
    """The steady state at `ratio` of design mains, the first capacitor `first` times and loads `share` times theirs.

    `share` leaves resistances across nodes as they are: they draw before any tube is warm.
    """
    net = _Net(_scaled(circuit, ratio, first, share))
    state = net.guess()
    for cycles in (40, *[80] * 6):
        time, values, state = net.run(state, cycles, 100, seen=12)
        if net.drift(time, values) < SETTLED:
            break
    time, values, _ = net.run(state, 6, 500, seen=2)
    return net.result(time, values, 1)


def switch_on(circuit: Circuit, ratio: float, first: float = 1.0, phase_deg: float = 0.0) -> Result:
    """Everything empty and the load not yet warm: a cold start on a rectifier that conducts at once.

    `phase_deg` is where in the cycle the switch closes: 0 at the zero, 90 at the crest.
    """
    net = _Net(_scaled(circuit, ratio, first, 0.0), phase_deg)
    time, values, _ = net.run(dict.fromkeys(net.guess(), 0.0), 50, 100)
    return net.result(time, values, 50)


def _scaled(circuit: Circuit, ratio: float, first: float, share: float) -> Circuit:
    stages = [s._replace(load_a=s.load_a * share, load_k=s.load_k * share) for s in circuit.stages]
    stages[0] = stages[0]._replace(farad=stages[0].farad * first)
    return circuit._replace(volts=circuit.volts * ratio, stages=tuple(stages))


class _Net:
    """The netlist of a circuit, run from a given state (volts of capacitors, amps of chokes)."""

    def __init__(self, circuit: Circuit, phase_deg: float = 0.0):
        self.c, self.peak, self.phase = circuit, math.sqrt(2) * circuit.volts, phase_deg
        self.diodes: list[str] = []
        self.chokes = [i for i, s in enumerate(circuit.stages) if s.henry]
        self.doubler = circuit.circuit.endswith("doubler")
        self.nodes = [f"n{i}" for i in range(len(circuit.stages))]

    def guess(self) -> dict[str, float]:
        """A state not far from the steady one: the crest less a tenth, less what the filter drops."""
        loaded = any(s.load_a or s.load_ohm or s.load_k for s in self.c.stages)
        share = 0.998 if not loaded else 0.62 if self.c.choke_input else 0.9
        level = self.peak * share * (2 if self.doubler else 1)
        volts, state = [], {}
        for i, stage in enumerate(self.c.stages):
            above = level if stage.parent is None else volts[stage.parent]
            volts.append(max(above - stage.ohm * self._through(i, level), 0.05 * level))
            state[f"c{i}"] = volts[i]
        for i in self.chokes:
            state[f"l{i}"] = self._through(i, level)
        if self.doubler:
            state["c0"], state["cx"] = level / 2, level / 2
        if self.c.circuit == "half-wave doubler":
            state["c0"] = level
        return state

    def _through(self, i: int, level: float) -> float:
        s = self.c.stages[i]
        own = s.load_a + (level / s.load_ohm if s.load_ohm else 0) + s.load_k * level**1.5
        return own + sum(self._through(j, level) for j, t in enumerate(self.c.stages) if t.parent == i)

    def text(self, state: dict[str, float]) -> str:
        self.diodes = []
        lines = self._rectifier(state)
        for i, stage in enumerate(self.c.stages):
            if i > 0 or self.c.choke_input:
                feed = "k" if stage.parent is None else f"n{stage.parent}"
                lines += _resistor(f"f{i}", feed, f"m{i}", stage.ohm)
                lines += f"L{i} m{i} n{i} {stage.henry:.9g} IC={state[f'l{i}']:.9g}\n" if stage.henry else \
                    f"Vm{i} m{i} n{i} 0\n"
                lines += f"C{i} n{i} 0 {stage.farad:.9g} IC={state[f'c{i}']:.9g}\n"
            lines += load(str(i), f"n{i}", self.peak, stage.load_ohm, stage.load_a, stage.load_k)
        return "* drawn unit\n" + lines + self._silicon() + OPTIONS

    def _silicon(self) -> str:
        if not self.c.silicon:
            return ""
        volts, amps = self.c.drop
        saturation = amps / math.exp((volts - amps * SILICON_OHM) / (SILICON_EMISSION * THERMAL_V))
        return f".model rect D(IS={saturation:.6g} N={SILICON_EMISSION} RS={SILICON_OHM})\n"

    def _diode(self, anode: str, cathode: str) -> str:
        name = f"d{len(self.diodes) + 1}"
        self.diodes.append(name)
        meter = f"V{name} {anode} {name}x 0\n"
        if self.c.silicon:
            return meter + f"D{name} {name}x {cathode} rect\n"
        perveance = self.c.drop[1] / self.c.drop[0] ** 1.5
        return meter + f"B{name} {name}x {cathode} I={perveance:.9g}*pow(uramp(V({name}x,{cathode})),1.5)\n"

    def _rectifier(self, state: dict[str, float]) -> str:
        kind, out = self.c.circuit, "k" if self.c.choke_input else "n0"
        wave = f"SIN(0 {self.peak:.9g} {self.c.hertz:.9g} 0 0 {self.phase:g})"
        farad = self.c.stages[0].farad
        store = "" if self.c.choke_input else f"C0 {out} 0 {farad:.9g} IC={state['c0']:.9g}\n"
        idle = "Rk k 0 1e7\n" if self.c.choke_input else ""
        winding = _resistor("s", "s", "a", self.c.source_ohm)
        if kind == "half-wave":
            return f"Vs s 0 {wave}\n" + winding + self._diode("a", out) + store + idle
        if kind == "full-wave":
            both = f"Vs s 0 {wave}\nVt 0 t {wave}\n" + winding + _resistor("t", "t", "b", self.c.source_ohm)
            return both + self._diode("a", out) + self._diode("b", out) + store + idle
        if kind == "bridge":
            ring = self._diode("a", out) + self._diode("b", out) + self._diode("0", "a") + self._diode("0", "b")
            return f"Vs s b {wave}\n" + winding + ring + store + idle + "Rb b 0 1e8\nRa a 0 1e8\n"
        if kind == "doubler":
            stack = f"C0 n0 b {farad:.9g} IC={state['c0']:.9g}\nCx b 0 {farad:.9g} IC={state['cx']:.9g}\n"
            return f"Vs s b {wave}\n" + winding + self._diode("a", "n0") + self._diode("0", "a") + stack
        series = _resistor("s", "s", "z", self.c.source_ohm) + f"Cx a z {farad:.9g} IC={state['cx']:.9g}\n"
        return f"Vs s 0 {wave}\n" + series + self._diode("a", "n0") + self._diode("0", "a") + store

    def vectors(self) -> list[str]:
        """What is written out, the last four: volts back across the first diode; of a doubler its second diode
        (half-wave) or second capacitor (full-wave); across its first capacitor; the winding.
        """
        out, kind = "k" if self.c.choke_input else "n0", self.c.circuit
        across = {"doubler": "v(n0,b)", "half-wave doubler": "v(a,z)"}.get(kind, f"v({out})")
        other = {"doubler": "v(b)", "half-wave doubler": "v(a)"}.get(kind, f"v({out},a)")
        source = {"bridge": "v(s,b)", "doubler": "v(s,b)"}.get(kind, "v(s)")
        return [*(f"v({n})" for n in self.nodes), *(f"i(v{d})" for d in self.diodes),
                *(f"i(l{i})" for i in self.chokes), f"v({out},a)", other, across, source]

    def run(self, state: dict[str, float], cycles: int, steps: int, seen: int | None = None):
        """(time, values, state at the end); the values of the last `seen` cycles, else of all."""
        period = 1.0 / self.c.hertz
        text = self.text(state)
        step, stop = period / steps, cycles * period
        begin = 0.0 if seen is None else stop - (seen + 0.1) * period
        time, values = _ngspice(text + f".tran {step:.9g} {stop:.12g} {begin:.12g} {step:.9g} UIC\n", self.vectors())
        last = values[:, -1]
        count, plates = len(self.nodes), len(self.diodes)
        after = {f"c{i}": last[i] for i in range(count)}
        after |= {f"l{i}": last[count + plates + k] for k, i in enumerate(self.chokes)}
        if self.doubler:
            after["cx"] = last[-2]
        if self.c.circuit == "doubler":
            after["c0"], after["cx"] = last[-2], last[0] - last[-2]
        return time, values, after

    def drift(self, time: np.ndarray, values: np.ndarray) -> float:
        """How far the nodes still go: the change over the last 8 cycles, of their size."""
        period = 1.0 / self.c.hertz
        late, early = (np.array([_mean(*_cut(time, row, end - 2 * period, end)) for row in values[:len(self.nodes)]])
                       for end in (time[-1], time[-1] - 8 * period))
        return float(np.max(abs(late - early) / np.maximum(abs(late), 1e-3 * self.peak)))

    def result(self, time: np.ndarray, values: np.ndarray, cycles: int) -> Result:
        """Figures over the last `cycles` cycles."""
        begin = time[-1] - cycles / self.c.hertz
        cut = [_cut(time, row, begin, time[-1]) for row in values]
        count, plates = len(self.nodes), len(self.diodes)
        dc = np.array([_mean(*row) for row in cut[:count]])
        crest = np.array([row[1].max() for row in cut[:count]])
        amps = sum(self._load(i, *cut[i]) for i in range(count))
        peak = max(row[1].max() for row in cut[count:count + plates])
        inverse, crests = [cut[-4][1].max()], [cut[-2][1].max()]
        if self.c.circuit == "half-wave doubler":
            inverse.append(cut[-3][1].max())
        if self.c.circuit == "doubler":
            crests.append(cut[-3][1].max())
        return Result(dc, crest, _mean(*cut[-2]), float(max(crests)), float(peak), amps, float(max(inverse)),
                      cut[0][1], cut[-1][1] / self.peak)

    def _load(self, i: int, time: np.ndarray, volts: np.ndarray) -> float:
        s = self.c.stages[i]
        amps = s.load_k * np.maximum(volts, 0) ** 1.5 + s.load_a * np.clip(volts / (1e-3 * self.peak), 0, 1)
        return _mean(time, amps + (volts / s.load_ohm if s.load_ohm else 0.0))


def above_heater(result: Result, end_v: float) -> float:
    """Most that the first node stands above a heater's end at `end_v` rms on the same line."""
    return float((result.out_v - math.sqrt(2) * end_v * result.sine).max())


def _ngspice(text: str, vectors: list[str]) -> tuple[np.ndarray, np.ndarray]:
    with tempfile.TemporaryDirectory() as folder:
        deck, out = Path(folder, "deck.cir"), Path(folder, "out.txt")
        control = f".control\nset wr_singlescale\nrun\nwrdata {out} {' '.join(vectors)}\nquit\n.endc\n.end\n"
        deck.write_text(text + control, encoding="ascii")
        done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=120, check=False,
                              env={**os.environ, "OMP_NUM_THREADS": "1"})
        if not out.exists():
            raise RuntimeError(f"ngspice gave no result:\n{done.stderr[-2000:]}\n{text}")
        table = np.fromstring(out.read_text(), sep=" ").reshape(-1, len(vectors) + 1)
    return table[:, 0], table[:, 1:].T


def _cut(time: np.ndarray, row: np.ndarray, begin: float, end: float) -> tuple[np.ndarray, np.ndarray]:
    inside = np.concatenate([[begin], time[(time > begin) & (time < end)], [end]])
    return inside, np.interp(inside, time, row)


def _mean(time: np.ndarray, values: np.ndarray) -> float:
    return float(np.trapezoid(values, time) / np.ptp(time))
