"""Findings of many units: a summary on the terminal, or one CSV, JSON or Parquet of all of them."""

import errno
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePath
from typing import Protocol, TextIO

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from pipeline.bench.collection import FINDINGS, UNREADABLE, check_many
from pipeline.bench.folders import shown_path, unit_folders
from pipeline.catalogue import Catalogue
from pipeline.checks.findings import VERDICTS
from pipeline.output.page import clean, wrapped
from pipeline.output.tables import as_csv, in_ascii
from pipeline.output.waiting import CLEAR
from pipeline.writing.files import put, refuse
from pipeline.writing.folders import new_folder, put_folder, sweep
from pipeline.writing.lock import locked

MOST_NAMED = 50
"""Units that the summary names one by one."""


class Sink(Protocol):
    """Something that takes batches of findings."""

    def write(self, batch: pa.RecordBatch) -> None: ...

    def close(self) -> None: ...


def check_collection(known: Catalogue, root: Path, output: Path | None, partition: bool, format: str,
                     force: bool) -> tuple[int, str | None]:
    """Check every unit below `root`, write or print what was found.

    The exit status of the whole is 1 with a stop, 2 with a unit that cannot be read and no stop, 3 with something
    unknown, else 0. Where `output` cannot be written it is 2, with what is wrong, and nothing is left behind.
    """
    try:
        return _check_collection(known, root, output, partition, format, force), None
    except BrokenPipeError:
        raise
    except OSError as error:
        return 2, clean(f"{error.filename or output}: {error.strerror or str(error).splitlines()[0]}")
    except ValueError as error:
        return 2, clean(str(error))


def _check_collection(known: Catalogue, root: Path, output: Path | None, partition: bool, format: str,
                      force: bool) -> int:
    if partition and output is None:
        raise ValueError("--partition: name the folder to write with -o DIR")
    folders = unit_folders(root)
    if not folders:
        raise ValueError(f"{root}: holds no unit: a unit is a folder with unit.toml and parts.csv")
    counts: dict[str, Counter[str]] = {}
    with _sink(output, partition, format, force) as sink:
        for batch in _with_progress(check_many(folders, known.folder), len(folders), counts, root):
            sink.write(batch)
    if output is not None:
        print(f"{wrapped(_tally(counts), 4)}\n{clean(str(output))}")
    elif format == "text":
        print("\n".join(wrapped(line, 4) for line in _summary(counts, root)))
    return _status(counts)


def _with_progress(batches: Iterator[pa.RecordBatch], total: int, counts: dict[str, Counter[str]],
                   root: Path) -> Iterator[pa.RecordBatch]:
    """The batches with folders named from `root`, counted on the way; a bar on standard error of a terminal."""
    begin, shown, broken = time.monotonic(), sys.stderr.isatty(), 0
    for batch in batches:
        names = [PurePath(f).relative_to(shown_path(root)).as_posix() for f in batch.column("folder").to_pylist()]
        for name, check, verdict, why in zip(names, *(batch.column(c).to_pylist() for c in ("check", "verdict", "why")),
                                             strict=True):
            counts.setdefault(name, Counter())[UNREADABLE if check == UNREADABLE else verdict] += 1
            broken += check == UNREADABLE
            if check == UNREADABLE and broken <= MOST_NAMED:
                print(f"{CLEAR if shown else ''}{clean(why)}", file=sys.stderr)
        if shown:
            print(_bar(len(counts), total, time.monotonic() - begin), end="", file=sys.stderr, flush=True)
        yield batch.set_column(0, FINDINGS.field("folder"), pa.array(names, pa.string()))
    if shown:
        print(CLEAR, end="", file=sys.stderr, flush=True)
    if broken > MOST_NAMED:
        print(f"and {broken - MOST_NAMED} more units that cannot be read", file=sys.stderr)


def _bar(done: int, total: int, seconds: float) -> str:
    full = 30 * done // max(total, 1)
    speed = done / max(seconds, 1e-3)
    return f"{CLEAR}[{'#' * full}{' ' * (30 - full)}] {done} of {total} units, {speed:.0f} a second"


def _status(counts: dict[str, Counter[str]]) -> int:
    met = set().union(*counts.values()) if counts else set()
    return 1 if "stop" in met else 2 if UNREADABLE in met else 3 if "unknown" in met else 0


def _summary(counts: dict[str, Counter[str]], root: Path) -> Iterator[str]:
    """The units that need a look, the gravest first, then how to see more, then the sums."""
    grave = [n for n, c in counts.items() if c[UNREADABLE] or c["stop"] or c["unknown"]]
    grave.sort(key=lambda n: (-counts[n]["stop"], -counts[n][UNREADABLE], -counts[n]["unknown"], n))
    for name in grave[:MOST_NAMED]:
        yield f"{clean(name)}: " + ("its files cannot be read" if counts[name][UNREADABLE] else
                                    ", ".join(f"{counts[name][k]} {k}" for k in VERDICTS if counts[name][k]))
    if len(grave) > MOST_NAMED:
        yield f"and {len(grave) - MOST_NAMED} more units with a stop or something unknown: name a file with -o"
    if grave:
        yield f"`tubewright check {clean((root / grave[0]).as_posix())}` tells of one; -o FILE writes all findings"
    yield _tally(counts)


def _tally(counts: dict[str, Counter[str]]) -> str:
    """The sums over all units in one line."""
    total = Counter[str]()
    for each in counts.values():
        total.update(each)
    units = "1 unit" if len(counts) == 1 else f"{len(counts)} units"
    return f"{units}: {sum(1 for c in counts.values() if c['stop'])} with a stop; findings: " + \
        ", ".join(f"{total[k]} {k}" for k in (UNREADABLE, *VERDICTS) if total[k])


@contextmanager
def _sink(output: Path | None, partition: bool, format: str, force: bool) -> Iterator[Sink]:
    """Where the findings go; a file or folder appears only when it is whole."""
    if output is None:
        sink = _stream_sink(format)
        yield sink
        sink.close()
        return
    output = output.absolute()
    _may_write(output, partition, force)
    output.parent.mkdir(parents=True, exist_ok=True)
    with locked(output, "run"):
        sweep(output)
        with new_folder(output) as fresh:
            made = fresh / ("all" if partition else output.name)
            sink = _Parted(made) if partition else _file_sink(made)
            try:
                yield sink
            finally:
                sink.close()
            _may_write(output, partition, force)
            if partition:
                put_folder(made, output)
            else:
                put(made, output, force=force)


def _may_write(output: Path, partition: bool, force: bool) -> None:
    """Raise OSError where the findings would take the place of something else."""
    if partition and output.exists() and not output.is_dir():
        raise FileExistsError(errno.EEXIST, "is no folder: name another one", str(output))
    if not partition or not output.exists():
        return refuse(output, force=force)
    if not force:
        raise FileExistsError(errno.EEXIST, "is there already: give --force to write over it, or another name",
                              str(output))
    if any(p.is_symlink() or not (p.is_dir() and p.name.startswith("verdict=")) for p in output.iterdir()):
        raise FileExistsError(errno.EEXIST, "holds other things than findings: name another folder", str(output))


def _stream_sink(format: str) -> Sink:
    if format == "csv":
        return _Csv(sys.stdout)
    return _Json(sys.stdout) if format == "json" else _Nothing()


def _file_sink(path: Path) -> Sink:
    if path.suffix == ".parquet":
        return _Parquet(path)
    if path.suffix == ".csv":
        return _Csv(path.open("w", encoding="utf-8", newline=""))
    raise ValueError(f"{path.name}: findings are written as .csv or .parquet, or with --partition as a folder")


class _Nothing:
    def write(self, batch: pa.RecordBatch) -> None: ...

    def close(self) -> None: ...


class _Csv:
    def __init__(self, stream: TextIO):
        self.stream, self.first = stream, True

    def write(self, batch: pa.RecordBatch) -> None:
        text = as_csv(batch.to_pylist(), FINDINGS.names)
        self.stream.write(text if self.first else text.split("\n", 1)[1])
        self.first = False

    def close(self) -> None:
        if self.stream is not sys.stdout:
            self.stream.close()


class _Json:
    def __init__(self, stream: TextIO):
        self.stream, self.before = stream, "["

    def write(self, batch: pa.RecordBatch) -> None:
        for row in batch.to_pylist():
            self.stream.write(f"{self.before}\n  {json.dumps(row, ensure_ascii=in_ascii(), allow_nan=False)}")
            self.before = ","

    def close(self) -> None:
        self.stream.write("[]\n" if self.before == "[" else "\n]\n")


class _Parquet:
    def __init__(self, path: Path, without: str = ""):
        self.schema = pa.schema([field for field in FINDINGS if field.name != without])
        self.writer = pq.ParquetWriter(path, self.schema, compression="zstd")

    def write(self, batch: pa.RecordBatch) -> None:
        self.writer.write_batch(batch.select(self.schema.names))

    def close(self) -> None:
        self.writer.close()


class _Parted:
    """A folder of Parquet files parted by verdict, `verdict=stop/part-0.parquet`, as Hive, Spark and Dask read it."""

    def __init__(self, folder: Path):
        self.folder = folder
        self.parts: dict[str, _Parquet] = {}
        folder.mkdir()

    def write(self, batch: pa.RecordBatch) -> None:
        for verdict in VERDICTS:
            part = batch.filter(pc.equal(batch.column("verdict"), verdict))
            if part.num_rows:
                if verdict not in self.parts:
                    place = self.folder / f"verdict={verdict}"
                    place.mkdir()
                    self.parts[verdict] = _Parquet(place / "part-0.parquet", "verdict")
                self.parts[verdict].write(part)

    def close(self) -> None:
        for part in self.parts.values():
            part.close()
