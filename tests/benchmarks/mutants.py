"""Do the tests notice? Faults are put into the code, one at a time, and the tests of that storey are run.

    python -m tests.benchmarks.mutants 300 --seed 1 --workers 2
    python -m tests.benchmarks.mutants 40 --storey electrics

Each storey is held by the tests in the folder of its name: the fast part, with `--long` the long one too. A fault is
noticed by a test that fails, or that takes far longer than before (`noticing.py` runs them). What survives is listed;
where it does not matter, `mutants_excused.csv` says why. The exit status is 1 below the share asked for.
"""

import argparse
import csv
import json
import os
import queue
import shutil
import subprocess
import sys
import tempfile
import threading
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from tests.benchmarks.mutating import Mutant, chosen, mutants
from tests.benchmarks.noticing import start

ROOT = Path(__file__).resolve().parents[2]
STOREYS = ("electrics", "point", "checks", "bench", "build")
EXCUSED = Path(__file__).with_name("mutants_excused.csv")
COPIED = ("pipeline", "schemas", "tests", "data_raw", "data_built", "pyproject.toml", "README.md", "DEVELOPERS.md", "LICENSE")


def modules(storeys: tuple[str, ...]) -> dict[str, list[Mutant]]:
    """Module, as a path from the root → every fault that can be put into it."""
    paths = (p for s in storeys for p in sorted((ROOT / "pipeline" / s).rglob("*.py")))
    return {p.relative_to(ROOT).as_posix(): mutants(p.read_text(encoding="utf-8")) for p in paths}


class Copy:
    """A copy of the checkout in which one fault at a time stands, and the storeys' tests waiting in it."""

    def __init__(self, place: Path, parts: tuple[str, ...]):
        self.place, self.parts = place, parts
        self.servers: dict[tuple[str, str], subprocess.Popen] = {}
        for name in COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(ROOT / name, place / name, ignore=shutil.ignore_patterns("__pycache__"))
            elif (ROOT / name).is_file():
                shutil.copy(ROOT / name, place / name)

    def server(self, storey: str, part: str) -> subprocess.Popen:
        """The tests of a storey; ends the program where they fail without any fault."""
        if (storey, part) not in self.servers:
            self.servers[storey, part] = process = start(self.place, f"tests/{storey}", part)
            told = json.loads(process.stdout.readline() or '{"outcome": "nothing", "test": "", "tests": 0, "seconds": 0}')
            if told["outcome"] != "passed" and told["tests"]:
                raise SystemExit(f"tests/{storey} ({part}) fail as they are, mend them first: {told['outcome']} {told['test']}")
            without = f", without {' '.join(told['unfit'])}" if told.get("unfit") else ""
            print(f"\rtests/{storey}, {part}: {told['tests']} tests, {told['seconds']:.0f} s{without}", file=sys.stderr)
        return self.servers[storey, part]

    def noticed(self, module: str, mutant: Mutant) -> tuple[str, str]:
        """How the tests notice the fault, empty where none does; and which test does, or why none."""
        text = (self.place / module).read_text(encoding="utf-8")
        line = json.dumps({"module": module, "text": mutant.of(text)}) + "\n"
        for part in self.parts:
            server = self.server(module.split("/")[1], part)
            if server.poll() is None:
                server.stdin.write(line)
                server.stdin.flush()
                told = json.loads(server.stdout.readline())
                if told["how"]:
                    break
        return told["how"], told["test"]

    def close(self) -> None:
        for process in self.servers.values():
            process.stdin.close()
            process.wait()


def tried(picked: list[tuple[str, Mutant]], workers: int, parts: tuple[str, ...]) -> Iterator[tuple[str, Mutant, str, str]]:
    """Each fault with what noticed it, as they come; one storey after the other."""
    todo: queue.SimpleQueue = queue.SimpleQueue()
    done: queue.SimpleQueue = queue.SimpleQueue()
    for one in picked:
        todo.put(one)

    def work(place: Path) -> None:
        try:
            copy = Copy(place, parts)
            while True:
                module, mutant = todo.get_nowait()
                done.put((module, mutant, *copy.noticed(module, mutant)))
        except queue.Empty:
            copy.close()
        except BaseException as error:
            done.put(error)

    with tempfile.TemporaryDirectory() as folder:
        threads = [threading.Thread(target=work, args=(Path(folder, str(n)),), daemon=True) for n in range(workers)]
        for number, thread in enumerate(threads):
            Path(folder, str(number)).mkdir()
            thread.start()
        for _ in picked:
            found = done.get()
            if isinstance(found, BaseException):
                raise found
            yield found
        for thread in threads:
            thread.join()


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
    words.add_argument("--long", action="store_true", help="the long part of the tests too, for what the fast one does not notice")
    words.add_argument("--list", action="store_true", help="only say which faults are picked")
    given = words.parse_args()
    storeys = tuple(s for s in given.storey or STOREYS if (ROOT / "pipeline" / s).is_dir())
    picked = chosen(modules(storeys), given.count, given.seed)
    if given.list:
        print("\n".join(f"{module}:{m.line}: {m.function}: {m.before} -> {m.after}" for module, m in picked))
        return 0
    known, counts, lived = excused(), Counter[str](), Counter[str]()
    parts = ("not long", "long") if given.long else ("not long",)
    for number, (module, mutant, how, test) in enumerate(tried(picked, given.workers, parts), 1):
        storey = module.split("/")[1]
        counts[storey] += 1
        if not how:
            lived[storey] += 1
            why = known.get((module, mutant.function, mutant.before, mutant.after), "")
            print(f"{module}:{mutant.line}: {mutant.function}: {mutant.before} -> {mutant.after}"
                  + (f"  [{why or test}]" if why or test else ""), flush=True)
        print(f"\r{number} of {len(picked)}, {sum(lived.values())} live", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    for storey, count in sorted(counts.items()):
        print(f"{storey:<10} {count:>4} faults, {100 * (1 - lived[storey] / count):5.1f} % noticed")
    share = 100 * (1 - sum(lived.values()) / max(len(picked), 1))
    print(f"{'all':<10} {len(picked):>4} faults, {share:5.1f} % noticed")
    return 0 if share >= given.at_least else 1


if __name__ == "__main__":
    raise SystemExit(main())
