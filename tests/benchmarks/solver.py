"""Accuracy and speed of the rectifier solver beside ngspice. Run: python -m tests.benchmarks.solver [circuits]

Each circuit is solved by both. ngspice starts with empty capacitors and runs until two cycles agree to 5e-6; its time
is that of the one run which reached that, the shorter ones before it not counted. Ours is timed as a batch.
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


def compare(circuit: str, vacuum: bool, count: int) -> tuple[np.ndarray, float]:
    """Relative errors (count, figures) against ngspice, and seconds of ngspice's settled run, the median."""
    given = circuits(np.random.default_rng(7), count, vacuum)
    ours = capacitor_input(circuit, **given)
    errors, seconds = [], []
    for i in range(count):
        one = {name: float(value[i]) for name, value in given.items()}
        spent = []
        original = ngspice.run

        def run(*args, spent=spent, original=original):
            result, took = timed(original, *args)
            spent.append(took)
            return result

        ngspice.run = run
        try:
            theirs = ngspice.capacitor_input(circuit, **one)
        finally:
            ngspice.run = original
        errors.append([getattr(ours, name)[i] / theirs[name] - 1 for name in FIGURES])
        seconds.append(spent[-1])
    return np.array(errors), float(np.median(seconds))


def main(count: int) -> None:
    print(f"{'circuit':18s} {'diode':8s} {'greatest error, %: ' + ' '.join(FIGURES)}")
    ratios = []
    for circuit in KINDS:
        for vacuum in (False, True):
            errors, spice = compare(circuit, vacuum, count)
            many = circuits(np.random.default_rng(8), BATCH, vacuum)
            one = {name: value[0] for name, value in many.items()}
            batch = best(lambda circuit=circuit, many=many: capacitor_input(circuit, **many), 3) / BATCH
            single = best(lambda circuit=circuit, one=one: capacitor_input(circuit, **one), 5)
            ratios.append(spice / batch)
            worst = " ".join(f"{100 * value:6.3f}" for value in np.abs(errors).max(axis=0))
            print(
                f"{circuit:18s} {'vacuum' if vacuum else 'silicon':8s} {worst} | ngspice {1e3 * spice:7.1f} ms, "
                f"batch {1e6 * batch:6.1f} us a circuit, alone {1e3 * single:4.1f} ms, ratio {spice / batch:7.0f}"
            )
    print(f"ratio of ngspice's time to ours in a batch: {min(ratios):.0f} to {max(ratios):.0f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
