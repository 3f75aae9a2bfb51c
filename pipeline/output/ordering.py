"""The `order` command: units read and checked, the order made, refused or written."""

from pathlib import Path

from pipeline.bench.order import labels, make_order, read_spares
from pipeline.catalogue import Catalogue
from pipeline.checks.check import check
from pipeline.output.order import format_of, refusal, refused_json, render
from pipeline.output.waiting import waiting
from pipeline.unit import Unit, UnitError, load
from pipeline.writing.files import write_whole


def write_order(catalogue: Catalogue, units: list[Path], depth: str, spares: str, output: Path | None,
                format: str | None, draft: bool, force: bool) -> tuple[int, str]:
    """Print or write the order; (exit status, message for standard error or nothing)."""
    try:
        kind = format_of(output, format)
        if kind == "xlsx" and output is None:
            return 2, "--format xlsx: name the file to write with -o FILE.xlsx"
        named = list(zip(labels(units), units, strict=True))
        percent = read_spares(spares)
    except ValueError as error:
        return 2, str(error)
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
        return 1, refusal(made)
    data = render(made, kind, draft)
    if output is None:
        print(data.decode(), end="")
        return 0, ""
    try:
        write_whole(output, data, force=force)
    except OSError as error:
        return 2, f"{output}: {error.strerror or error}"
    print(output)
    return 0, ""


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
