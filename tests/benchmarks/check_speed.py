"""`check` on every demo unit against the bare import of the libraries it stands on: at most 1.8 times its processor time.

Run it with `python -m tests.benchmarks.check_speed [runs [python]]`; with the interpreter of an environment that holds
the installed wheel it is that which is measured, from a folder outside the checkout. Whole processes, user and system
time; the commands and the import take turns, so that a busy machine disturbs all alike. Prints medians, and their ratios
to the import; seconds on the clock stand beside them.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
BARE = "import typer, duckdb, numpy"
PROGRAM = "from pipeline.cli import main; main()"
ALLOWED = 1.8
UNITS = sorted(path.parent for path in (ROOT / "data_raw/units").glob("*/unit.toml"))
ENVIRONMENT = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
"""Compiled modules are kept, as they are after an installation."""


def spent(words: list[str], place: Path) -> tuple[float, float]:
    """Seconds of processor and of the clock of one process that is started in `place`."""
    begin = time.perf_counter()
    process = subprocess.Popen(words, cwd=place, env=ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, _, used = os.wait4(process.pid, 0)
    process.returncode = 0
    return used.ru_utime + used.ru_stime, time.perf_counter() - begin


def main(runs: int, python: str = "") -> None:
    """Print one line for each unit, and the worst ratio."""
    interpreter = python or sys.executable
    processes = {BARE: [interpreter, "-c", BARE]}
    processes |= {f"check {unit.name}": [interpreter, "-c", PROGRAM, "check", str(unit)] for unit in UNITS}
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in processes}
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(runs):
            for name, words in processes.items():
                times[name].append(spent(words, Path(folder) if python else ROOT))
    middle = {name: [statistics.median(each) for each in zip(*found, strict=True)] for name, found in times.items()}
    print(f"{'process':<32} {'processor':>10} {'ratio':>6} {'clock':>8} {'ratio':>6}")
    for name, (used, clock) in middle.items():
        print(f"{name:<32} {used * 1000:>8.0f}ms {used / middle[BARE][0]:>6.2f} {clock * 1000:>6.0f}ms "
              f"{clock / middle[BARE][1]:>6.2f}")
    print(f"worst {max(used for used, _ in middle.values()) / middle[BARE][0]:.2f}, allowed {ALLOWED}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 15, *sys.argv[2:3])
