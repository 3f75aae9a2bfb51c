"""Accuracy and speed of the rectifier solver beside ngspice. Run: python -m tests.benchmarks.solver [circuits]

Each circuit is solved by both. ngspice starts with empty capacitors and runs until two cycles agree to 5e-6; its time
is that of the one run which reached that, the shorter ones before it not counted. Ours is timed as a batch, once
after each circuit of ngspice's, so that both meet the same load of the machine; of both the median counts.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from pipeline.electrics import capacitor_input
from tests.electrics import ngspice

KINDS = ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")
FIGURES = ("dc_v", "ripple_pp_v", "ripple_rms_v", "plate_peak_a", "plate_rms_a", "capacitor_rms_a", "inverse_peak_v")
BATCH = 4096


def circuits(rng: np.random.Generator, count: int, vacuum: bool) -> dict[str, np.ndarray]:
    """Supplies of radios and amplifiers: 100 to 500 V, 20 to 250 mA, 50 to 300 ohm or a stiff source, 8 to 100 uF."""
    volts, amps = rng.uniform(100, 500, count), rng.uniform(0.02, 0.25, count)
    source = np.where(rng.random(count) < 0.8, rng.uniform(30, 300, count), volts / amps / rng.uniform(1e3, 1e4, count))
    given = {
        "v_rms": volts,
        "frequency_hz": rng.choice([50.0, 60.0], count),
        "source_ohm": source,
        "reservoir_f": rng.uniform(8e-6, 100e-6, count),
        "load_a": amps,
    }
    diode = {"perveance": 10 ** rng.uniform(-3.5, -2.3, count)} if vacuum else {"threshold_v": np.full(count, 0.8)}
    return given | diode


def timed(function, *args, **kwargs):
    begin = time.perf_counter()
    result = function(*args, **kwargs)
    return result, time.perf_counter() - begin


def best(function, repeats: int) -> float:
    return min(timed(function)[1] for _ in range(repeats))


def settled_seconds(circuit: str, one: dict[str, float]) -> tuple[dict[str, float], float]:
    """Figures of one circuit by ngspice, and the seconds of the run that had settled."""
    spent, original = [], ngspice.run

    def run(*args):
        result, took = timed(original, *args)
        spent.append(took)
        return result

    ngspice.run = run
    try:
        figures = ngspice.capacitor_input(circuit, **one)
        return figures, spent[-1]
    finally:
        ngspice.run = original


def compare(circuit: str, vacuum: bool, count: int) -> tuple[np.ndarray, float, float]:
    """Relative errors (count, figures) against ngspice, and seconds a circuit of ngspice and of our batch."""
    given = circuits(np.random.default_rng(7), count, vacuum)
    many = circuits(np.random.default_rng(8), BATCH, vacuum)
    ours = capacitor_input(circuit, **given)
    errors, theirs_s, ours_s = [], [], []
    for i in range(count):
        theirs, seconds = settled_seconds(circuit, {name: float(value[i]) for name, value in given.items()})
        errors.append([getattr(ours, name)[i] / theirs[name] - 1 for name in FIGURES])
        theirs_s.append(seconds)
        ours_s.append(timed(capacitor_input, circuit, **many)[1] / BATCH)
    return np.array(errors), float(np.median(theirs_s)), float(np.median(ours_s))


def main(count: int) -> None:
    print(f"{'circuit':18s} {'diode':8s} {'greatest error, %: ' + ' '.join(FIGURES)}")
    ratios = []
    for circuit in KINDS:
        for vacuum in (False, True):
            errors, spice, batch = compare(circuit, vacuum, count)
            one = {name: value[0] for name, value in circuits(np.random.default_rng(8), 1, vacuum).items()}
            single = best(lambda circuit=circuit, one=one: capacitor_input(circuit, **one), 5)
            ratios.append(spice / batch)
            worst = " ".join(f"{100 * value:6.3f}" for value in np.abs(errors).max(axis=0))
            print(
                f"{circuit:18s} {'vacuum' if vacuum else 'silicon':8s} {worst} | ngspice {1e3 * spice:7.1f} ms, "
                f"batch {1e6 * batch:6.1f} us a circuit, alone {1e3 * single:4.1f} ms, ratio {spice / batch:7.0f}",
                flush=True,
            )
    print(f"ratio of ngspice's time to ours in a batch: {min(ratios):.0f} to {max(ratios):.0f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
