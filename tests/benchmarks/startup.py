"""Start-up of the commands against what they stand on. Run: python -m tests.benchmarks.startup [runs [python]]

With the interpreter of an environment that holds the installed wheel it is that which is measured, from a folder outside
the checkout. Compiled modules are kept, as they are after an installation.

Whole processes, medians; the commands take turns with what they are compared with, so that a busy machine disturbs
all alike. `--version` and `--help` are measured in bare interpreters, `show` and `find` in the bare import of typer and
duckdb, an unchanged `build` in the import of the libraries that a build needs.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = [sys.executable, "-c", "from pipeline.cli import main; main()"]
ENVIRONMENT = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
BARE = {"bare interpreter": "pass", "import typer, duckdb": "import typer, duckdb",
        "import the build's libraries": "import typer, pandas, pandera.pandas, pyarrow.parquet"}
COMMANDS = (
    (("--version",), "bare interpreter", 6.0), (("--help",), "bare interpreter", 8.0),
    (("show", "12AX7"), "import typer, duckdb", 1.3), (("find", "--base", "noval"), "import typer, duckdb", 1.3),
    (("check", "data_raw/units/record-player"), "import typer, duckdb", None),
    (("build", "--raw", "data_raw", "--out", "BUILT"), "import the build's libraries", 1.2),
)
"""Command, what it is compared with, and the greatest ratio allowed."""


def wall(words: list[str], place: Path) -> float:
    """Seconds of one process that is started in `place`."""
    begin = time.perf_counter()
    subprocess.run(words, cwd=place, env=ENVIRONMENT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False)
    return time.perf_counter() - begin


def main(runs: int, python: str = "") -> None:
    """Print one line for each command."""
    interpreter = python or sys.executable
    with tempfile.TemporaryDirectory() as folder:
        built = str(Path(folder) / "built")
        subprocess.run([*PROGRAM, "build", "--out", built], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
        place = Path(folder) if python else ROOT
        processes = {name: [interpreter, "-c", code] for name, code in BARE.items()}
        processes |= {" ".join(words): [interpreter, *PROGRAM[1:], *(built if w == "BUILT" else str(ROOT / w) if w.startswith("data_raw") else w for w in words)]
                      for words, _, _ in COMMANDS}
        times: dict[str, list[float]] = {name: [] for name in processes}
        for _ in range(runs):
            for name, words in processes.items():
                times[name].append(wall(words, place))
    middle = {name: statistics.median(found) for name, found in times.items()}
    print(f"{'process':<36} {'median':>8} {'ratio':>6} {'allowed':>8}  to")
    for name in BARE:
        print(f"{name:<36} {middle[name] * 1000:>6.0f}ms")
    for words, to, allowed in COMMANDS:
        name = " ".join(words)
        print(f"{name:<36} {middle[name] * 1000:>6.0f}ms {middle[name] / middle[to]:>6.2f} {allowed or '':>8}  {to}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 11, *sys.argv[2:3])
