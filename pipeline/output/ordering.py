"""The `order` command: units read and checked, the order made, refused or written."""

import errno
from pathlib import Path

from pipeline.bench.fitted import fitted_files
from pipeline.bench.order import Order, labels, make_order, read_spares
from pipeline.catalogue import Catalogue
from pipeline.checks.check import check
from pipeline.output.order import format_of, refusal, refused_json, render
from pipeline.output.waiting import waiting
from pipeline.unit import Unit, UnitError, load
from pipeline.unit.files import READINGS, TOML
from pipeline.writing.files import write_all, write_whole
from pipeline.writing.folders import refuse_full


def write_order(catalogue: Catalogue, units: list[Path], depth: str, spares: str, output: Path | None,
                format: str | None, draft: bool, force: bool, after: Path | None = None) -> tuple[int, str]:
    """Print or write the order; (exit status, message for standard error or nothing).

    With `after` the units as they will stand are written there too: one as that folder, several each as a folder in it.
    """
    try:
        if after is not None:
            refuse_full(after, "the unit in it", force)
        kind = format_of(output, format)
        if kind == "xlsx" and output is None:
            return 2, "--format xlsx: name the file to write with -o FILE.xlsx"
        named = list(zip(labels(units), units, strict=True))
        percent = read_spares(spares)
    except ValueError as error:
        return 2, str(error)
    except OSError as error:
        return 2, f"{error.filename}: {error.strerror}"
    try:
        read = _read(named, catalogue)
    except UnitError as error:
        return 2, str(error)
    with waiting("checking the units") as told:
        checked = []
        for name, unit in read:
            checked.append((name, check(unit, catalogue)))
            told(len(checked), len(read))
        made = make_order(checked, catalogue, depth, percent)
    if made.blocked and not draft:
        if kind == "json" and output is None:
            print(refused_json(made), end="")
        return (1 if any(b.verdict == "stop" for b in made.blocked) else 3), refusal(made)
    data = render(made, kind, draft)
    try:
        if after is not None:
            write_after(made, after, force)
        if output is not None:
            write_whole(output, data, force=force)
    except OSError as error:
        return 2, f"{error.filename or output or after}: {error.strerror or error}"
    if output is None:
        print(data.decode(), end="")
    else:
        print(output)
    stands = f"{after}: as it will stand with the new parts: `tubewright check {after}` shows it"
    return 0, "" if after is None else stands


def write_after(made: Order, after: Path, force: bool) -> None:
    """The units of an order as they will stand, written as folders; raises OSError where they cannot be.

    `force` replaces the files of a unit that is there, and nothing else.
    """
    for name, closed in zip(made.units, made.closed, strict=True):
        folder = after if len(made.units) == 1 else after / name.replace("/", "-")
        files = fitted_files(closed.before.unit, closed.advice.buy, closed.advice.out)
        _refuse_other(folder, closed.before.unit.folder)
        folder.mkdir(parents=True, exist_ok=True)
        write_all({folder / file: text.encode() for file, text in files.items()}, force=force)
        if READINGS not in files:
            (folder / READINGS).unlink(missing_ok=True)


def _refuse_other(folder: Path, unit: Path) -> None:
    """Raise FileExistsError where `folder` is the unit itself, or is full and no unit."""
    if folder.resolve() == unit.resolve():
        raise FileExistsError(errno.EEXIST, "is the unit itself, which stays as the record: name another folder",
                              str(folder))
    if folder.is_dir() and any(folder.iterdir()) and not (folder / TOML).is_file():
        raise FileExistsError(errno.EEXIST, "holds something that is no unit: name another folder", str(folder))


def _read(named: list[tuple[str, Path]], catalogue: Catalogue) -> list[tuple[str, Unit]]:
    """The units with their labels; raises UnitError with the faults of all of them."""
    read: list[tuple[str, Unit]] = []
    messages: list[str] = []
    for name, folder in named:
        try:
            read.append((name, load(folder, catalogue)))
        except UnitError as error:
            messages += error.messages
    if messages:
        raise UnitError(*messages)
    return read
