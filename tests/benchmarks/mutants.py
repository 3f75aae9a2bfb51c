"""Do the tests notice? Faults are put into the code, one at a time, and the tests of that storey are run.

    python -m tests.benchmarks.mutants 300 --seed 1 --workers 2
    python -m tests.benchmarks.mutants 40 --storey electrics

Each storey is held by the tests in the folder of its name; those named after the module come first, the fast part
before the long one. A fault is killed by a test that fails, or that takes far longer than before. What survives is
listed; where it does not matter, `mutants_excused.csv` says why. The exit status is 1 below the share asked for.
"""

import argparse
import contextlib
import csv
import os
import queue
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.mutating import Mutant, chosen, mutants

ROOT = Path(__file__).resolve().parents[2]
STOREYS = ("electrics", "point", "checks", "bench", "build")
EXCUSED = Path(__file__).with_name("mutants_excused.csv")
COPIED = ("pipeline", "schemas", "tests", "data_raw", "data_built", "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE")
PATIENCE = 4.0
"""A fault is noticed too where the tests take this many times as long as without it."""
LEAST_S = 60.0


def modules(storeys: tuple[str, ...]) -> dict[str, list[Mutant]]:
    """Module, as a path from the root → every fault that can be put into it."""
    paths = (p for s in storeys for p in sorted((ROOT / "pipeline" / s).rglob("*.py")))
    return {p.relative_to(ROOT).as_posix(): mutants(p.read_text(encoding="utf-8")) for p in paths}


def held_by(module: str) -> list[str]:
    """What to run for a module: the tests that bear its name, then all of its storey."""
    storey, stem = module.split("/")[1], Path(module).stem.strip("_")
    folder = Path("tests", storey)
    names = sorted(p.relative_to(ROOT) for p in (ROOT / folder).glob(f"test_*{stem}*.py")) if stem != "init" else []
    return [*map(str, names), str(folder)]


class Copy:
    """A copy of the checkout in which one fault at a time stands."""

    def __init__(self, place: Path):
        self.place = place
        for name in COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
            elif (ROOT / name).is_file():
                shutil.copy(ROOT / name, place / name)

    def run(self, tests: list[str], part: str, seconds: float) -> str:
        """`passed`, `failed` or `late`."""
        words = [sys.executable, "-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", "-p", "no:randomly",
                 "-m", part, *tests]
        more = {"PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(self.place)}
        with subprocess.Popen(words, cwd=self.place, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                              stdin=subprocess.DEVNULL, env=os.environ | more, start_new_session=True) as process:
            try:
                return "passed" if process.wait(seconds) in (0, 5) else "failed"  # 5: no test of that part
            except subprocess.TimeoutExpired:
                return "late"
            finally:
                if hasattr(os, "killpg"):
                    with contextlib.suppress(ProcessLookupError):
                        os.killpg(process.pid, 9)

    def noticed(self, module: str, mutant: Mutant, patience: dict[tuple[str, str], float]) -> str:
        """Which part of the tests notices the fault and how; empty where none does."""
        path, storey = self.place / module, module.split("/")[1]
        text = path.read_text(encoding="utf-8")
        path.write_text(mutant.of(text), encoding="utf-8")
        try:
            for part in ("not long", "long"):
                outcome = self.run(held_by(module), part, patience[storey, part])
                if outcome != "passed":
                    return f"{part}: {outcome}"
            return ""
        finally:
            path.write_text(text, encoding="utf-8")


def baseline(copy: Copy, storeys: set[str]) -> dict[tuple[str, str], float]:
    """How long to wait for each storey's tests; ends the program where they fail without any fault."""
    found = {}
    for storey in sorted(storeys):
        for part in ("not long", "long"):
            begin = time.monotonic()
            if copy.run([f"tests/{storey}"], part, 3600) != "passed":
                raise SystemExit(f"tests/{storey} ({part}) fail as they are: mend them first")
            took = time.monotonic() - begin
            found[storey, part] = max(LEAST_S, PATIENCE * took)
            print(f"tests/{storey}, {part}: {took:.0f} s", file=sys.stderr)
    return found


def tried(picked: list[tuple[str, Mutant]], workers: int) -> Iterator[tuple[str, Mutant, str]]:
    """Each fault with what noticed it, as they come."""
    with tempfile.TemporaryDirectory() as folder:
        copies = []
        for number in range(workers):
            (Path(folder) / str(number)).mkdir()
            copies.append(Copy(Path(folder) / str(number)))
        patience = baseline(copies[0], {module.split("/")[1] for module, _ in picked})
        todo: queue.SimpleQueue = queue.SimpleQueue()
        done: queue.SimpleQueue = queue.SimpleQueue()
        for one in picked:
            todo.put(one)

        def work(copy: Copy) -> None:
            while not todo.empty():
                try:
                    module, mutant = todo.get_nowait()
                except queue.Empty:
                    return
                done.put((module, mutant, copy.noticed(module, mutant, patience)))

        for copy in copies:
            threading.Thread(target=work, args=(copy,), daemon=True).start()
        for _ in picked:
            yield done.get()


def excused() -> dict[tuple[str, str, str, str], str]:
    """(module, function, before, after) → why the fault does not matter."""
    if not EXCUSED.is_file():
        return {}
    with EXCUSED.open(encoding="utf-8", newline="") as file:
        return {(r["module"], r["function"], r["before"], r["after"]): r["why"] for r in csv.DictReader(file)}


def main() -> int:
    """Command line; see the module's own words."""
    words = argparse.ArgumentParser(description="Faults in the code, and whether its tests notice")
    words.add_argument("count", type=int, nargs="?", default=300)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--storey", action="append", choices=STOREYS)
    words.add_argument("--workers", type=int, default=len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else 1)
    words.add_argument("--at-least", type=float, default=85.0, help="percent of the faults that must be noticed")
    words.add_argument("--list", action="store_true", help="only say which faults are picked")
    given = words.parse_args()
    storeys = tuple(s for s in given.storey or STOREYS if (ROOT / "pipeline" / s).is_dir())
    picked = chosen(modules(storeys), given.count, given.seed)
    if given.list:
        print("\n".join(f"{module}:{m.line}: {m.function}: {m.before} -> {m.after}" for module, m in picked))
        return 0
    known, counts, lived = excused(), Counter[str](), Counter[str]()
    for number, (module, mutant, how) in enumerate(tried(picked, given.workers), 1):
        storey = module.split("/")[1]
        counts[storey] += 1
        if not how:
            lived[storey] += 1
            why = known.get((module, mutant.function, mutant.before, mutant.after), "")
            print(f"{module}:{mutant.line}: {mutant.function}: {mutant.before} -> {mutant.after}" + (f"  [{why}]" if why else ""),
                  flush=True)
        print(f"\r{number} of {len(picked)}, {sum(lived.values())} live", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for storey, count in sorted(counts.items()):
        print(f"{storey:<10} {count:>4} faults, {100 * (1 - lived[storey] / count):5.1f} % noticed")
    share = 100 * (1 - sum(lived.values()) / max(len(picked), 1))
    print(f"{'all':<10} {len(picked):>4} faults, {share:5.1f} % noticed")
    return 0 if share >= given.at_least else 1


if __name__ == "__main__":
    raise SystemExit(main())
