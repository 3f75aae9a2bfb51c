"""Time and size of the catalogue as pages. Run: python -m tests.benchmarks.pages [runs]

Whole processes of `tubewright pages` into a fresh folder: median seconds on the wall, the processor's own seconds (which
a busy machine does not lengthen), the folder's size and the largest page.
"""

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = [sys.executable, "-c", "from pipeline.cli import main; main()", "pages", "-o"]
ALLOWED_S, ALLOWED_MB, ALLOWED_PAGE_KB = 15, 60, 100


def run(out: Path) -> tuple[float, float]:
    """Seconds on the wall and of the processor for one run into `out`."""
    begin, before = time.perf_counter(), os.times()
    subprocess.run([*PROGRAM, str(out)], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)
    after = os.times()
    spent = after.children_user + after.children_system - before.children_user - before.children_system
    return time.perf_counter() - begin, spent


def main(runs: int) -> None:
    """Print one line for each figure, with what is allowed."""
    with tempfile.TemporaryDirectory() as folder:
        times = [run(Path(folder, f"pages-{i}")) for i in range(runs)]
        files = [p for p in Path(folder, "pages-0").rglob("*") if p.is_file()]
        sizes = {p: p.stat().st_size for p in files}
    pages = {p: size for p, size in sizes.items() if p.suffix == ".html"}
    types = sum(p.parent.name == "type" for p in pages)
    largest = max(pages, key=lambda p: pages[p])
    print(f"pages              {len(pages):>8}  of which {types} of types")
    print(f"wall, median       {statistics.median(t for t, _ in times):>8.1f} s   allowed {ALLOWED_S}")
    print(f"processor, median  {statistics.median(t for _, t in times):>8.1f} s")
    print(f"folder             {sum(sizes.values()) / 1e6:>8.1f} MB  allowed {ALLOWED_MB}")
    print(f"largest page       {pages[largest] / 1e3:>8.1f} kB  allowed {ALLOWED_PAGE_KB}, {largest.name}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
