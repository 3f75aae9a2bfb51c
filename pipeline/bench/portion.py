"""What one process does of a collection: some units read, their supplies solved together, each checked.

Without pyarrow, and so without pandas, which pyarrow loads with its first array: the first process alone needs them.
"""

import gc
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from pipeline.bench.limits import TOGETHER_S, UNIT_S, TookTooLong, end_with_parent, within
from pipeline.catalogue import Catalogue, CatalogueError
from pipeline.checks.check import check
from pipeline.checks.findings import Finding, rounded
from pipeline.point.point import Point, operating_points
from pipeline.unit import Unit, UnitError, load

T = TypeVar("T")
Row = tuple[Any, ...]
"""Cells in the order of `collection.FINDINGS`."""

UNREADABLE = "unreadable-unit"
"""`check` of the one row that stands for a unit whose files cannot be used."""


def ready() -> None:
    """Make a further process ready: Ctrl-C is left to the first one, and when that ends, however, this one does.

    What a copy of the first process has from it is never cleared up: an open catalogue cannot be closed here.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    gc.freeze()
    end_with_parent()


def check_portion(folders: Sequence[str], catalogue: str | None = None) -> list[Row]:
    """Rows about the units in `folders`, in their order: one a finding, or one for a unit that cannot be used.

    The catalogue is opened once in each process. Raises CatalogueError where it cannot be read.
    """
    known = _opened(catalogue, os.getpid())
    with _without_collector():
        return list(_rows(folders, known))


@contextmanager
def _without_collector() -> Iterator[None]:
    """Python's search for cycles held off: there are next to none, and each search goes over all the units."""
    if not gc.isenabled():
        yield
        return
    gc.disable()
    try:
        yield
    finally:
        gc.enable()


@lru_cache(maxsize=2)  # its own and, in a copy of a process, that of the first one, which it must neither use nor close
def _opened(catalogue: str | None, _process: int) -> Catalogue:
    return Catalogue(Path(catalogue) if catalogue else None)


def _rows(folders: Sequence[str], known: Catalogue) -> Iterator[Row]:
    units = [_guarded(load, Path(folder), known) for folder in folders]
    points = _worked_out([unit for unit in units if isinstance(unit, Unit)], known)
    for folder, unit in zip(folders, units, strict=True):
        if isinstance(unit, str):
            yield _broken(folder, unit)
            continue
        found = _guarded(_findings, folder, unit, known, next(points))
        if isinstance(found, str):
            yield _broken(folder, found)
        else:
            yield from ((folder, unit.name, *_cells(finding)) for finding in found)


def _worked_out(units: Sequence[Unit], known: Catalogue) -> Iterator[Point | None]:
    """Each unit's point, worked out with the others; None for all where that fails: then each is tried alone."""
    found = _guarded(operating_points, units, known, seconds=UNIT_S + TOGETHER_S * len(units))
    return iter([None] * len(units) if isinstance(found, str) else found)


def _guarded(work: Callable[..., T], *given: Any, seconds: float = UNIT_S) -> T | str:
    """What `work` gives, or in words why it cannot: one broken unit must not cost the findings of the others."""
    try:
        with within(seconds):
            return work(*given)
    except CatalogueError:
        raise
    except TookTooLong:
        return f"{given[0]}: it takes more than {seconds:g} s: see whether it is one unit, and simplify its supply"
    except UnitError as error:
        return error.in_short
    except OSError as error:
        return f"{error.filename}: {error.strerror}" if error.filename else str(error)
    except Exception as error:  # a fault of ours
        return f"the check itself failed: {type(error).__name__}: {error}"


def _findings(_folder: str, unit: Unit, known: Catalogue, point: Point | None) -> list[Finding]:
    return check(unit, known, point).findings


def _cells(finding: Finding) -> Row:
    """A row from `check` on."""
    return (finding.check, finding.subject, finding.verdict, rounded(finding.figure), rounded(finding.limit),
            finding.sense, finding.unit, finding.evidence, finding.why, finding.do, "; ".join(finding.sources))


def _broken(folder: str, why: str) -> Row:
    why = why.encode("utf-8", "backslashreplace").decode()  # a folder's name may hold bytes that are no text
    return (folder, None, UNREADABLE, None, "unknown", None, None, None, None, None, why, "Mend its files.", None)
