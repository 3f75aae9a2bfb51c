"""A small driver for ngspice: writes a rectifier's netlist, runs it until it repeats, reads the waveforms back.

ngspice (https://ngspice.sourceforge.io) shares nothing with our solver but the circuit, so agreement means
something. It starts with empty capacitors and runs as many cycles as it takes for two cycles to agree.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np
import pytest

STEPS_PER_CYCLE = 1000


def needed():
    """A mark that skips where ngspice is missing, but lets the test fail in continuous integration."""
    missing = shutil.which("ngspice") is None and os.environ.get("CI") != "true"
    return pytest.mark.skipif(missing, reason="ngspice is not installed; it is the outside check of the solver")


def run(netlist: str, vectors: list[str], timeout_s: float = 120.0) -> tuple[np.ndarray, np.ndarray]:
    """Run a netlist with one .tran line; returns time (T,) and the vectors (len(vectors), T)."""
    with tempfile.TemporaryDirectory() as folder:
        deck, out = Path(folder, "deck.cir"), Path(folder, "out.txt")
        control = f".control\nset wr_singlescale\nrun\nwrdata {out} {' '.join(vectors)}\nquit\n.endc\n.end\n"
        deck.write_text(netlist + control)
        done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=timeout_s)
        if not out.exists():
            raise RuntimeError(f"ngspice gave no result:\n{done.stdout[-2000:]}\n{done.stderr[-2000:]}\n{netlist}")
        table = np.loadtxt(out)
    return table[:, 0], table[:, 1:].T


def _diode(name: str, anode: str, cathode: str, perveance: float | None, threshold_v: float, ohm: float) -> str:
    """A vacuum diode, or one that is `ohm` beyond its threshold, with an ammeter V<name> in series."""
    meter = f"V{name} {anode} {name}x 0\n"
    if perveance is not None:
        return meter + f"B{name} {name}x {cathode} I={perveance:.9g}*pow(uramp(V({name}x,{cathode})),1.5)\n"
    return meter + f"B{name} {name}x {cathode} I=uramp(V({name}x,{cathode})-{threshold_v:.9g})/{ohm:.9g}\n"


def diode_ohm(source_ohm: float) -> float:
    """The part of the path's resistance that a silicon diode is given; without any, ngspice loses its way."""
    return max(0.05 * source_ohm, 1e-6)


def _resistor(name: str, one: str, two: str, ohm: float) -> str:
    return f"R{name} {one} {two} {ohm:.9g}\n" if ohm > 0 else f"V{name} {one} {two} 0\n"


def rectifier(circuit, v_rms, frequency_hz, source_ohm, perveance, threshold_v, reservoir_f, output="out"):
    """Source, diodes and reservoir (none if zero); returns the lines and the names of the diodes."""
    peak, ron = np.sqrt(2) * v_rms, diode_ohm(source_ohm)
    if perveance is None:
        source_ohm -= (2 if circuit == "bridge" else 1) * ron

    def diode(name, anode, cathode):
        return _diode(name, anode, cathode, perveance, threshold_v, ron)

    wave = f"SIN(0 {peak:.9g} {frequency_hz:.9g})"
    store = f"C0 {output} 0 {reservoir_f:.9g} IC=0\n" if reservoir_f else ""
    if circuit == "half-wave":
        return f"Vs s 0 {wave}\n" + _resistor("s", "s", "a", source_ohm) + diode("d1", "a", output) + store, ["d1"]
    if circuit == "full-wave":
        lines = f"Vs s 0 {wave}\nVt 0 t {wave}\n" + _resistor("s", "s", "a", source_ohm)
        lines += _resistor("t", "t", "b", source_ohm)
        return lines + diode("d1", "a", output) + diode("d2", "b", output) + store, ["d1", "d2"]
    lines = f"Vs s b {wave}\n" + _resistor("s", "s", "a", source_ohm)
    if circuit == "bridge":
        lines += diode("d1", "a", output) + diode("d2", "b", output) + diode("d3", "0", "a") + diode("d4", "0", "b")
        return lines + store + "Rb b 0 1e8\nRa a 0 1e8\n", ["d1", "d2", "d3", "d4"]
    if circuit == "doubler":
        lines += diode("d1", "a", output) + diode("d2", "0", "a")
        return lines + f"C0 {output} b {reservoir_f:.9g} IC=0\nC1 b 0 {reservoir_f:.9g} IC=0\n", ["d1", "d2"]
    lines = f"Vs s 0 {wave}\n" + _resistor("s", "s", "c", source_ohm) + f"C1 c a {reservoir_f:.9g} IC=0\n"
    return lines + diode("d1", "a", output) + diode("d2", "0", "a") + store, ["d1", "d2"]


def load(name: str, node: str, peak: float, load_ohm: float | None, load_a: float, load_k: float = 0.0) -> str:
    """A load that takes no current from an empty capacitor."""
    lines = f"Rl{name} {node} 0 {load_ohm:.9g}\n" if load_ohm else ""
    if load_a:
        lines += f"Bl{name} {node} 0 I={load_a:.9g}*min(V({node})/{1e-3 * peak:.9g},1)\n"
    return lines + (f"Bk{name} {node} 0 I={load_k:.9g}*pow(uramp(V({node})),1.5)\n" if load_k else "")


def settled(netlist: str, vectors: list[str], frequency_hz: float, cycles: int = 30, rise_s: float = 1.0,
            tolerance: float = 5e-6):  # fmt: skip
    """Time and vectors over the last cycle, once the mean of every voltage repeats to `tolerance` of its size.

    `rise_s` is the time the current takes to rise at turn-on, which the steps must not jump over.
    """
    period = 1.0 / frequency_hz
    step = max(min(period / STEPS_PER_CYCLE, rise_s / 3), period / 50000)
    volts = np.array([name.startswith("v(") for name in vectors])  # currents are noisier than the tolerance
    while cycles < 20000:
        stop = cycles * period
        options = ".options reltol=1e-4 abstol=1e-9 vntol=1e-6 method=gear\n"
        line = f".tran {step:.9g} {stop:.12g} {stop - 2.1 * period:.12g} {step:.9g} UIC\n"
        time, values = run(f"* rectifier\n{netlist}{options}{line}", vectors)
        before = _between(time, values, stop - 2 * period, stop - period)
        last = _between(time, values, stop - period, stop)
        moved = abs(_means(*last) - _means(*before))
        if np.all((moved <= tolerance * abs(values).max(axis=1))[volts]):
            return last
        cycles *= 3
    raise RuntimeError("ngspice did not settle")


def _between(time, values, begin, end):
    """The samples from `begin` to `end`, the two ends interpolated."""
    inside = np.concatenate([[begin], time[(time > begin) & (time < end)], [end]])
    return inside, np.array([np.interp(inside, time, row) for row in values])


def _means(time, values):
    return np.trapezoid(values, time) / np.ptp(time)


def _rms(time, values):
    return np.sqrt(np.trapezoid(values**2, time) / np.ptp(time))


def capacitor_input(circuit, v_rms, frequency_hz, source_ohm, reservoir_f, *, perveance=None, threshold_v=0.0,
                    load_ohm=None, load_a=0.0, load_k=0.0, cycles=30):  # fmt: skip
    """The same figures as pipeline.electrics.capacitor_input, as a dict, from ngspice."""
    lines, diodes = rectifier(circuit, v_rms, frequency_hz, source_ohm, perveance, threshold_v, reservoir_f)
    lines += load("1", "out", np.sqrt(2) * v_rms, load_ohm, load_a, load_k)
    top = "v(out)-v(b)" if circuit == "doubler" else "v(out)"
    vectors = ["v(out)", "v(out,a)", "v(a)", top, *(f"i(v{name})" for name in diodes)]
    time, values = settled(lines, vectors, frequency_hz, cycles, source_ohm * reservoir_f)
    volts, back, across, currents = values[0], values[1], values[3], values[4:]
    if circuit.endswith("doubler"):
        back = np.maximum(back, values[2])
    if perveance is None and circuit not in ("half-wave", "full-wave"):
        # taken off: what the conducting neighbour drops across its part of the path's resistance
        back = back - diode_ohm(source_ohm) * currents.max(axis=0)
    level = _means(time, values[0])
    drawn = (volts / load_ohm if load_ohm else 0.0) + load_k * np.maximum(volts, 0) ** 1.5
    drawn += load_a * np.minimum(volts / (1e-3 * np.sqrt(2) * v_rms), 1)
    into = currents[0] + (currents[1] if circuit == "full-wave" or circuit == "bridge" else 0.0) - drawn
    return {
        "dc_v": level,
        "ripple_pp_v": np.ptp(volts),
        "ripple_rms_v": _rms(time, volts - level),
        "plate_peak_a": currents.max(),
        "plate_rms_a": max(_rms(time, current) for current in currents),
        "capacitor_rms_a": _rms(time, into),
        "inverse_peak_v": back.max(),
        "dc_across_first_v": _means(time, across),
        "peak_across_first_v": across.max(),
    }


def filter_lines(sections, peak, choke_input, first="k"):
    """Sections behind the rectifier, `first` the node ahead of an input choke, all empty; `rectifier` has the reservoir."""
    lines = f"R{first} {first} 0 1e7\n" if choke_input else ""
    for i, part in enumerate(sections):
        if i > 0 or choke_input:
            feed = first if i == 0 else f"n{part.get('parent', i - 1)}"
            lines += _resistor(f"r{i}", feed, f"m{i}", part.get("series_ohm", 0.0))
            henry = part.get("series_h", 0.0)
            lines += f"L{i} m{i} n{i} {henry:.9g} IC=0\n" if henry else f"Vm{i} m{i} n{i} 0\n"
            lines += f"Cn{i} n{i} 0 {part['capacitance_f']:.9g} IC=0\n"
        lines += load(str(i), f"n{i}", peak, part.get("load_ohm"), part.get("load_a", 0.0), part.get("load_k", 0.0))
    return lines


def supply(circuit, v_rms, frequency_hz, source_ohm, sections, *, input="capacitor", perveance=None, threshold_v=0.0,
           cycles=60):  # fmt: skip
    """Figures of pipeline.electrics.supply from ngspice; `sections` are mappings, a parent counted from 0."""
    choke_input = input == "choke"
    first = "k" if choke_input else "n0"
    reservoir = 0.0 if choke_input else sections[0]["capacitance_f"]
    lines, diodes = rectifier(
        circuit, v_rms, frequency_hz, source_ohm, perveance, threshold_v, reservoir, first
    )
    lines += filter_lines(sections, np.sqrt(2) * v_rms, choke_input)
    vectors = [f"v(n{i})" for i in range(len(sections))] + [f"i(v{name})" for name in diodes]
    rise = 1.0 if choke_input else source_ohm * reservoir
    time, values = settled(lines, vectors, frequency_hz, cycles, rise)
    nodes, currents = values[: len(sections)], values[len(sections) :]
    level = _means(time, nodes)
    return {
        "dc_v": level,
        "ripple_pp_v": np.ptp(nodes, axis=1),
        "peak_v": nodes.max(axis=1),
        "ripple_rms_v": np.array([_rms(time, row - mean) for row, mean in zip(nodes, level, strict=True)]),
        "plate_peak_a": currents.max(),
        "plate_rms_a": max(_rms(time, current) for current in currents),
    }


def switch_on(circuit, v_rms, frequency_hz, source_ohm, sections, *, input="capacitor", threshold_v=0.0,
              phases_deg=(90, 0, 270, 180), seconds=0.7):  # fmt: skip
    """Greatest volts of each node, and across each of a doubler's first capacitors, over the phases of switching on."""
    choke_input = input == "choke"
    reservoir = 0.0 if choke_input else sections[0]["capacitance_f"]
    lines, _ = rectifier(
        circuit, v_rms, frequency_hz, source_ohm, None, threshold_v, reservoir, "k" if choke_input else "n0"
    )
    lines += filter_lines(sections, np.sqrt(2) * v_rms, choke_input)
    vectors = [f"v(n{i})" for i in range(len(sections))]
    vectors += {"doubler": ["v(n0,b)", "v(b)"], "half-wave doubler": ["v(a,c)", "v(n0)"]}.get(circuit, [])
    most = []
    for phase in phases_deg:
        turned = re.sub(r"SIN\((.*)\)", rf"SIN(\1 0 0 {phase:.9g})", lines)
        turned += f".options method=gear\n.tran 5e-5 {seconds:.9g} 0 5e-5 UIC\n"
        most.append(run(f"* switching on\n{turned}", vectors)[1].max(axis=1))
    return np.max(most, axis=0)[: len(sections)], np.max(most, axis=0)[len(sections) :]


def hot_switching(circuit, v_rms, frequency_hz, source_ohm, reservoir_f, *, perveance=None, threshold_v=0.0,
                  phase_deg=90.0):  # fmt: skip
    """Greatest diode current of the first two cycles, switched on at `phase_deg` with everything empty."""
    lines, diodes = rectifier(circuit, v_rms, frequency_hz, source_ohm, perveance, threshold_v, reservoir_f)
    lines = re.sub(r"SIN\((.*)\)", rf"SIN(\1 0 0 {phase_deg:.9g})", lines)
    step = min(source_ohm * reservoir_f / 50, 1 / frequency_hz / 2000)
    lines += f"Rout out 0 1e9\n.tran {step:.9g} {2 / frequency_hz:.9g} 0 {step:.9g} UIC\n"
    return run(f"* switching\n{lines}", [f"i(v{name})" for name in diodes])[1].max()


def operating_point(netlist: str, vectors: list[str], timeout_s: float = 60.0) -> np.ndarray | None:
    """The vectors at the DC operating point; None where ngspice finds none."""
    with tempfile.TemporaryDirectory() as folder:
        deck = Path(folder, "deck.cir")
        shown = "".join(f"print {vector}\n" for vector in vectors)
        options = ".options reltol=1e-7 abstol=1e-13 vntol=1e-8 itl1=500 gmin=1e-12\n"
        deck.write_text(f"* point\n{netlist}{options}.control\nset numdgt=12\nop\n{shown}quit\n.endc\n.end\n")
        done = subprocess.run(["ngspice", "-b", str(deck)], capture_output=True, text=True, timeout=timeout_s)
    found = dict(re.findall(r"^(\S+) = (\S+)$", done.stdout, re.M))
    wanted = [found.get(vector.lower()) for vector in vectors]
    return None if None in wanted else np.array(wanted, float)
