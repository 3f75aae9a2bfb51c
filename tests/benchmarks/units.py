"""Units a second, memory, and growth with the number of units. Run: python -m tests.benchmarks.units [units ...]

The units are the demo units with other mains, windings, capacitors and loads, no two alike; every second capacitor
marked with its volts bears a marking that no other unit has. Without numbers: 100, 1000 and 10000; 100000 takes
minutes. `units/core-s` counts only the time the cores spent on it, whatever else the machine does. Memory is that of
the first process and for each core that of the largest of the others.
"""

import os
import random
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pipeline.bench.folders import unit_folders

ROOT = Path(__file__).resolve().parents[2]
_NUMBERS = re.compile(r"^(mains_v|secondary_v|secondary_ohm|primary_ohm|load_a|added_ohm) = ([0-9.]+)", re.MULTILINE)


_MARKING = re.compile(r"^(C[0-9]+[A-Z]?,[^,\"\n]+[Vv](?:DC)?)(?=,)", re.MULTILINE)


def generate(root: Path, count: int, seed: int = 1) -> None:
    """Write `count` unit folders below `root`, a hundred to a folder."""
    rng = random.Random(seed)
    demos = [[(folder / name).read_text(encoding="utf-8") for name in ("unit.toml", "parts.csv")]
             for folder in unit_folders(ROOT / "data_raw" / "units")]
    for n in range(count):
        toml, parts = rng.choice(demos)
        toml = _NUMBERS.sub(lambda m: f"{m[1]} = {float(m[2]) * rng.uniform(0.93, 1.03):.5g}", toml)
        parts = parts.replace("40 mfd", f"{rng.choice((16, 20, 30, 32, 40, 50))} mfd")
        parts = _MARKING.sub(lambda m: m[1] if rng.random() < 0.5 else f"{m[1]} {_maker(rng)}", parts)
        folder = root / f"{n // 100:04d}" / f"unit-{n:06d}"
        folder.mkdir(parents=True)
        (folder / "unit.toml").write_text(toml, encoding="utf-8")
        (folder / "parts.csv").write_text(parts, encoding="utf-8")


def _maker(rng: random.Random) -> str:
    """An invented maker's name."""
    return "".join(rng.choice("BCDFGKLMNPRST") + rng.choice("aeiou") for _ in range(4)) + "x"


def measure(count: int) -> str:
    """Check `count` units: units, findings, seconds, units a second, units a core-second, megabytes."""
    from pipeline.bench.collection import check_many, cores  # not for the processes it starts, which import this file

    with tempfile.TemporaryDirectory() as folder:
        generate(Path(folder), count)
        begin, busy = time.perf_counter(), sum(os.times()[:4])
        rows = sum(b.num_rows for b in check_many(unit_folders(Path(folder)), ROOT / "data_built"))
        spent, busy = time.perf_counter() - begin, sum(os.times()[:4]) - busy
    own, other = (resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return (f"{count:>8} {rows:>9} {spent:>8.1f} {count / spent:>8.0f} {count / busy:>12.0f} "
            f"{own + cores() * other:>6.0f}")


def main(counts: list[int]) -> None:
    """Print one line for each number of units, each measured in a program of its own."""
    print(f"{'units':>8} {'findings':>9} {'seconds':>8} {'units/s':>8} {'units/core-s':>12} {'MB':>6}", flush=True)
    for count in counts:
        subprocess.run([sys.executable, "-m", "tests.benchmarks.units", "--one", str(count)], cwd=ROOT, check=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--one"]:
        print(measure(int(sys.argv[2])), flush=True)
    else:
        main([int(word) for word in sys.argv[1:]] or [100, 1000, 10_000])
