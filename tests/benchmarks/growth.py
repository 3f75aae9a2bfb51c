"""Build time, memory and query time as the raw tables grow. Run: python -m tests.benchmarks.growth [factors ...]

Every type is copied under new names, with everything said of it; the tables of parts stay as they are. Each build is a
process of its own: its time and memory include the import of the libraries. Without numbers: 1, 10 and 100.
"""

import csv
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from pipeline.build.read import table_folder
from pipeline.catalogue import Catalogue
from schemas.tables import TABLES

ROOT = Path(__file__).resolve().parents[2]
NAMES = ("type", "designation", "substitute", "basing")
"""Columns in which a copy bears another name."""
BUILD = "import sys; from pathlib import Path; from pipeline.build.run import build; build(*map(Path, sys.argv[1:3]))"


def grow(raw: Path, factor: int) -> int:
    """Write `factor` times the tables of types below `raw`; the number of raw rows in all."""
    count = 0
    for table in TABLES.values():
        for source in sorted(table_folder(ROOT / "data_raw", table).glob("*.csv")):
            target = table_folder(raw, table) / source.name
            target.parent.mkdir(parents=True, exist_ok=True)
            with source.open(encoding="utf-8", newline="") as file:
                rows = list(csv.DictReader(file))
            copies = factor if table.family in ("tubes", "rectifiers") else 1
            with target.open("w", encoding="utf-8", newline="") as file:
                writer = csv.DictWriter(file, table.columns, lineterminator="\n")
                writer.writeheader()
                for copy in range(copies):
                    kept = [_renamed(row, copy) for row in rows if copy == 0 or not _of_a_name(row)]
                    writer.writerows(kept)
                    count += len(kept)
    return count


def _renamed(row: dict[str, str], copy: int) -> dict[str, str]:
    """The same row of the `copy`-th family of types: `12AX7` becomes `QADQ 12AX7`, which no rule of naming reads."""
    return row if copy == 0 else {k: _family(v, copy) if k in NAMES and v else v for k, v in row.items()}


def _family(name: str, copy: int) -> str:
    """The name with its family before it, in letters of its own alphabet."""
    frame, first = ("Q", ord("A")) if name.isascii() else ("Щ", ord("А"))
    return f"{frame}{chr(first + copy // 26)}{chr(first + copy % 26)}{frame} {name}"


def _of_a_name(row: dict[str, str]) -> bool:
    """Whether the row waives a rule of naming, which the copy's name does not break."""
    return row.get("rule", "").startswith(("retma-", "european-"))


def built(raw: Path, out: Path) -> tuple[float, float]:
    """Seconds and megabytes of one build in a process of its own."""
    begin = time.perf_counter()
    process = subprocess.Popen([sys.executable, "-c", BUILD, str(raw), str(out)], cwd=ROOT)
    _, status, used = os.wait4(process.pid, 0)
    if status:
        raise SystemExit(f"the grown tables cannot be built (status {status})")
    return time.perf_counter() - begin, used.ru_maxrss / 1024


def query_ms(out: Path) -> tuple[float, float]:
    """Milliseconds to read the names, and to read the ratings of three types; medians of fresh catalogues."""
    names, ratings = [], []
    for _ in range(7):
        known = Catalogue(out)
        known.query("select 1")  # DuckDB's own start, the same for every size
        begin = time.perf_counter()
        known.ratings(["12AX7", "5AR4", "6V6GT"])
        ratings.append(time.perf_counter() - begin)
        begin = time.perf_counter()
        known.query("select type from {designations} where normal = 'ECC83'")
        names.append(time.perf_counter() - begin)
    return statistics.median(names) * 1000, statistics.median(ratings) * 1000


def main(factors: list[int]) -> None:
    """Print one line for each factor."""
    print(f"{'times':>5} {'raw rows':>9} {'figures':>9} {'build s':>8} {'MB':>6} {'again s':>8} {'name ms':>8} {'ratings ms':>10}")
    for factor in factors:
        with tempfile.TemporaryDirectory() as folder:
            raw, out = Path(folder) / "raw", Path(folder) / "out"
            rows = grow(raw, factor)
            seconds, memory = built(raw, out)
            again, _ = built(raw, out)
            figures = Catalogue(out).query("select count(*) from {figures}")[0][0]
            name, ratings = query_ms(out)
            print(f"{factor:>5} {rows:>9} {figures:>9} {seconds:>8.1f} {memory:>6.0f} {again:>8.2f} {name:>8.1f} "
                  f"{ratings:>10.1f}", flush=True)


if __name__ == "__main__":
    main([int(word) for word in sys.argv[1:]] or [1, 10, 100])
