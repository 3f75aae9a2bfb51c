"""A collection of units checked in one go, on every core; one broken unit is a row of its own, never the end.

`check_batch` is the same work over Arrow batches, for an engine that spreads it over machines.
"""

import errno
import gc
import os
import sys
import threading
from collections import deque
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from multiprocessing import get_context
from pathlib import Path

import pyarrow as pa

from pipeline.bench.folders import shown_path
from pipeline.bench.portion import UNREADABLE, Row, check_portion, ready

__all__ = ["FINDINGS", "UNREADABLE", "check_batch", "check_many", "cores"]

FINDINGS = pa.schema([
    pa.field("folder", pa.string(), nullable=False), pa.field("name", pa.string()),
    pa.field("check", pa.string(), nullable=False), pa.field("subject", pa.string()),
    pa.field("verdict", pa.string(), nullable=False), pa.field("figure", pa.float64()),
    pa.field("limit", pa.float64()), pa.field("sense", pa.string()), pa.field("unit", pa.string()),
    pa.field("evidence", pa.string()), pa.field("why", pa.string()), pa.field("do", pa.string()),
    pa.field("sources", pa.string())])
"""Columns of the findings of many units: one row a finding."""

_PORTIONS, _LEAST, _MOST = 16, 192, 384
"""Into how many portions a collection is cut, and units in a portion at least and at most: few enough to keep every
core busy to the end, many enough for supplies of one topology to meet. A portion takes a seventh of a second, however
few its units."""
_WORTH_A_PROCESS = 128
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
    folders = batch.column("folder").to_pylist()
    return _table([row for part in _cut(folders) for row in check_portion(part, catalogue)])


def _table(rows: Sequence[Row]) -> pa.RecordBatch:
    rows = [(shown_path(row[0]), *row[1:]) for row in rows]
    columns = zip(*rows, strict=True) if rows else [()] * len(FINDINGS)
    return pa.RecordBatch.from_arrays(
        [pa.array(column, field.type) for column, field in zip(columns, FINDINGS, strict=True)], schema=FINDINGS)


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
    ChildProcessError
        The system has ended one of the processes.
    """
    parts = _cut([str(folder) for folder in folders])
    count = processes or (cores() if len(folders) >= _WORTH_A_PROCESS else 1)
    if count == 1:
        yield from (_table(check_portion(part, str(catalogue))) for part in parts)
        return
    yield from map(_table, _spread(parts, str(catalogue), count))
    gc.collect()  # frees the pool's semaphores now: the program ends without Python's own clearing-up


def _cut(folders: list[str]) -> list[list[str]]:
    """Portions of the folders; the same ones on whatever number of cores."""
    parts = max(-(-len(folders) // _MOST), min(_PORTIONS, -(-len(folders) // _LEAST)), 1)
    size = max(-(-len(folders) // parts), 1)
    return [folders[i:i + size] for i in range(0, len(folders), size)]


def _spread(parts: list[list[str]], catalogue: str, count: int) -> Iterator[list[Row]]:
    """Findings of each part in order, from `count` processes that stay only a few parts ahead."""
    pool = ProcessPoolExecutor(min(count, len(parts)), get_context(_way_to_start()), ready)
    waiting: deque[Future[list[Row]]] = deque()
    try:
        for part in parts:
            waiting.append(pool.submit(check_portion, part, catalogue))
            if len(waiting) > 3 * count:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    except BrokenProcessPool:
        raise ChildProcessError(errno.ECHILD, "the system has ended a process that checks units, perhaps for want of "
                                "memory: run it again, or fewer units at once") from None
    except BaseException:  # broken off: the processes end by themselves when this one does
        pool.shutdown(wait=False, cancel_futures=True)
        raise
    pool.shutdown()


def _way_to_start() -> str:
    """How a further process starts: as a copy of this one, all it needs already loaded, where that is safe.

    A lock that another thread holds would stay locked in the copy; Apple's libraries do not bear to be copied.
    """
    return "fork" if sys.platform == "linux" and threading.active_count() == 1 else "spawn"


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
