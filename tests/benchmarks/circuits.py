"""DC operating points of random circuits of tubes beside ngspice: errors and times.

Run: python -m tests.benchmarks.circuits [circuits]. Each circuit (cascades, long-tailed pairs, followers, shared
cathodes, dropped screens, fixed bias, regulators) is solved by both, alone; then in a batch of 4096 whose supply
differs from row to row. Times of ours are those the processor spent, of ngspice the whole of its run.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from pipeline.electrics.circuit import operating_point
from tests.electrics import ngspice
from tests.electrics.circuits import netlist, random_circuit

BATCH = 4096


def measure(seed: int) -> tuple[float, float, float, float]:
    """Greatest error of a node (share, of volts and 20 mV more), seconds alone, a row of a batch, and of ngspice."""
    wiring = random_circuit(seed)
    begin = time.process_time()
    found = operating_point(wiring.nodes, **wiring.elements)
    alone = time.process_time() - begin
    begin = time.perf_counter()
    wanted = ngspice.operating_point(netlist(wiring), [f"v(n{i})" for i in range(1, wiring.nodes)])
    theirs = time.perf_counter() - begin
    first, *others = wiring.elements["sources"]
    wiring.elements["sources"] = [first._replace(volts=first.volts * np.linspace(0.8, 1.1, BATCH)), *others]
    begin = time.process_time()
    operating_point(wiring.nodes, **wiring.elements)
    row = (time.process_time() - begin) / BATCH
    if wanted is None or not found.settled:
        return np.nan, alone, row, theirs
    return float(np.max(np.abs(found.volts[1:] - wanted) / (np.abs(wanted) + 0.02))), alone, row, theirs


def main(count: int) -> None:
    """Print the errors, and the median times."""
    errors, alone, row, theirs = np.array([measure(seed) for seed in range(count)]).T
    known = errors[np.isfinite(errors)]
    print(f"{count} circuits, {known.size} solved by both")
    print(f"error: median {100 * np.median(known):.6f} %, 99 in 100 within {100 * np.quantile(known, 0.99):.4f} %, "
          f"worst {100 * known.max():.4f} %")
    print(f"time: alone {1e3 * np.median(alone):.2f} ms, a row of a batch {1e6 * np.median(row):.0f} us, "
          f"ngspice {1e3 * np.median(theirs):.0f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
