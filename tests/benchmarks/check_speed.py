"""Whole-process time of the reading commands against the bare import of the libraries they stand on.

Run it with `python tests/benchmarks/check_speed.py [runs]`; the commands and the import take turns, so that a noisy
machine disturbs both alike. Prints medians (wall) and their ratio.
"""

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BARE = "import typer, duckdb, numpy"
COMMANDS = (["check", "data_raw/units/hall-amplifier"], ["check", "data_raw/units/table-radio"], ["show", "5AR4"],
            ["find", "--base", "noval"], ["read", "16 by 450"], ["--version"])


def wall(words: list[str]) -> float:
    """Seconds of one run."""
    begin = time.perf_counter()
    subprocess.run(words, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    return time.perf_counter() - begin


def main(runs: int) -> None:
    program = [sys.executable, "-c", "from pipeline.cli import main; main()"]
    times: dict[str, list[float]] = {}
    for _ in range(runs):
        times.setdefault(BARE, []).append(wall([sys.executable, "-c", BARE]))
        for command in COMMANDS:
            times.setdefault(" ".join(command), []).append(wall([*program, *command]))
    bare = statistics.median(times[BARE])
    print(f"{'command':<40} {'median':>8} {'ratio':>6}")
    for name, found in times.items():
        middle = statistics.median(found)
        print(f"{name:<40} {middle * 1000:>6.0f}ms {middle / bare:>6.2f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15)
