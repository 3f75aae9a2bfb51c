"""A collection of units checked in one go, on every core; one broken unit is a row of its own, never the end.

`check_batch` is the same work over Arrow batches, for an engine that spreads it over machines.
"""

import gc
import os
import signal
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import pyarrow as pa

from pipeline.catalogue import Catalogue, CatalogueError
from pipeline.checks.check import check
from pipeline.unit import UnitError, load

UNREADABLE = "unreadable-unit"
"""`check` of the one row that stands for a unit whose files cannot be used."""

FINDINGS = pa.schema([
    pa.field("folder", pa.string(), nullable=False), pa.field("name", pa.string()),
    pa.field("check", pa.string(), nullable=False), pa.field("subject", pa.string()),
    pa.field("verdict", pa.string(), nullable=False), pa.field("figure", pa.float64()),
    pa.field("limit", pa.float64()), pa.field("unit", pa.string()), pa.field("evidence", pa.string()),
    pa.field("why", pa.string()), pa.field("do", pa.string()), pa.field("sources", pa.string())])
"""Columns of the findings of many units: one row a finding."""

_AT_ONCE = 32
"""Units that one process takes at a time."""
_WORTH_A_PROCESS = 48
"""Fewer units than this are checked before a second process has started."""


def check_batch(batch: pa.RecordBatch, catalogue: str | None = None) -> pa.RecordBatch:
    """Findings of the units whose folders stand in the column `folder`.

    Parameters
    ----------
    batch : pyarrow.RecordBatch
        Its column `folder` holds paths of unit folders that this process can read.
    catalogue : str, optional
        Folder of a built catalogue; without it the usual one. It is opened once in each process.

    Returns
    -------
    pyarrow.RecordBatch
        Of schema `FINDINGS`.

    Raises
    ------
    CatalogueError
        There is no catalogue, or it cannot be read.
    """
    known = _opened(catalogue)
    rows = [row for folder in batch.column("folder").to_pylist() for row in _rows(Path(folder), folder, known)]
    return pa.RecordBatch.from_pylist(rows, FINDINGS)


@lru_cache(maxsize=1)
def _opened(catalogue: str | None) -> Catalogue:
    return Catalogue(Path(catalogue) if catalogue else None)


def _rows(folder: Path, name: str, known: Catalogue) -> list[dict[str, Any]]:
    try:
        checked = check(load(folder, known), known)
    except CatalogueError:
        raise
    except (UnitError, OSError) as error:
        return [_broken(name, str(error))]
    except Exception as error:  # a fault of ours in one unit must not cost the findings of the others
        return [_broken(name, f"the check itself failed: {type(error).__name__}: {error}")]
    rows = []
    for finding in checked.findings:
        row = finding.as_dict()
        rows.append(row | {"folder": name, "name": checked.unit.name, "sources": "; ".join(row["sources"])})
    return rows


def _broken(name: str, why: str) -> dict[str, Any]:
    return {"folder": name, "check": UNREADABLE, "verdict": "unknown", "why": why, "do": "Mend its files."}


def check_many(folders: Sequence[Path], catalogue: Path, processes: int | None = None) -> Iterator[pa.RecordBatch]:
    """Findings of the units in `folders`, some units a batch, in their order.

    Parameters
    ----------
    folders : sequence of Path
    catalogue : Path
        Folder of the built catalogue.
    processes : int, optional
        How many to use; without it one for each core, or none beside this one where the units are few.

    Raises
    ------
    CatalogueError
        The catalogue cannot be read.
    """
    parts = [[str(f) for f in folders[i:i + _AT_ONCE]] for i in range(0, len(folders), _AT_ONCE)]
    count = processes or (cores() if len(folders) >= _WORTH_A_PROCESS else 1)
    if count == 1:
        yield from (_check_part(part, str(catalogue)) for part in parts)
        return
    yield from _spread(parts, str(catalogue), count)
    gc.collect()  # frees the pool's semaphores now: the program ends without Python's own clearing-up


def _spread(parts: list[list[str]], catalogue: str, count: int) -> Iterator[pa.RecordBatch]:
    """Findings of each part in order, from `count` processes that stay only a few parts ahead."""
    pool = ProcessPoolExecutor(count, get_context("spawn"), _calm)
    waiting: deque[Future[pa.RecordBatch]] = deque()
    try:
        for part in parts:
            waiting.append(pool.submit(_check_part, part, catalogue))
            if len(waiting) > 3 * count:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(cancel_futures=True)


def _check_part(folders: list[str], catalogue: str) -> pa.RecordBatch:
    return check_batch(pa.RecordBatch.from_pydict({"folder": pa.array(folders, pa.string())}), catalogue)


def _calm() -> None:
    """Leave Ctrl-C to the first process, which ends the others."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
