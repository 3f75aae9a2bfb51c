"""What `start` asks and says."""

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import NamedTuple, TypeVar

from pipeline.bench.start import (
    KINDS,
    WITHOUT_MAINS,
    Answers,
    Region,
    checked,
    fitting,
    read_kind,
    read_region,
    region_for,
    regions_of,
    start,
)
from pipeline.catalogue import Catalogue
from pipeline.textfile import printable

T = TypeVar("T")
USUAL = "USA"
"""The region taken where nothing says which, and nobody can be asked."""


class Given(NamedTuple):
    """What the command line says, None where it says nothing."""

    name: str
    kind: str | None
    region: str | None
    mains_v: float | None
    mains_hz: float | None
    design_mains_v: float | None


def start_asked(catalogue: Catalogue, folder: Path, given: Given) -> str | None:
    """Make the folder, asking on a terminal for what is not given; None when done, else what is wrong."""
    try:
        regions = regions_of(catalogue)
        kind = read_kind(given.kind) if given.kind else None
        region = read_region(given.region, regions) if given.region else None
        answers = checked(Answers(given.name, kind or "radio", region, *given[3:]))
        if sys.stdin.isatty() and not (kind and (region or given.mains_v)):
            answers = _asked(answers, kind, regions)
        answers = _settled(answers, regions)
        for path in start(folder, answers):
            print(path)
    except ValueError as error:
        return str(error)
    except OSError as error:
        return printable(f"{error.filename or folder}: {error.strerror or error}")
    if given.kind is None or (answers.region and not given.region and given.mains_v is None):
        where = f" in {answers.region.name}" if answers.region and answers.kind not in WITHOUT_MAINS else ""
        print(f"made for: {answers.kind}{where}; --kind and --region make it for another", file=sys.stderr)
    return None


def _settled(answers: Answers, regions: Mapping[str, Region]) -> Answers:
    """The answers with a region, by the outlet's volts where it is not named; raises ValueError where both differ."""
    if answers.kind in WITHOUT_MAINS:
        return answers
    if answers.region is not None:
        return fitting(answers)
    if answers.mains_v is not None:
        return answers._replace(region=region_for(answers.mains_v, answers.mains_hz, regions))
    return answers._replace(region=regions.get(USUAL))


def _asked(answers: Answers, kind: str | None, regions: Mapping[str, Region]) -> Answers:
    """The answers with what a person says to each question; raises ValueError where they break off."""
    if kind is None:
        answers = answers._replace(kind=_ask(f"Kind of set ({', '.join(KINDS)})", read_kind, "radio"))
    if answers.kind in WITHOUT_MAINS:
        return answers
    if answers.region is None and answers.mains_v is None:
        words = f"Region ({', '.join(regions)})"
        answers = answers._replace(region=_ask(words, lambda text: read_region(text, regions), None))
    if answers.mains_v is None and answers.region is not None:
        nominal = answers.region.nominal_v
        answers = _ask("Volts at the outlet today", lambda text: fitting(_with(answers, "mains_v", text)),
                       answers._replace(mains_v=nominal), f"{nominal:g}")
    if answers.design_mains_v is None:
        answers = _ask("Volts on the nameplate, empty where they are not known",
                       lambda text: _with(answers, "design_mains_v", text), answers, "")
    return answers


def _with(answers: Answers, field: str, text: str) -> Answers:
    """The answers with a number that a person typed; raises ValueError where it is none or cannot be right."""
    try:
        value = float(text.lower().removesuffix("v").strip().replace(",", "."))
    except ValueError:
        raise ValueError(f"{printable(text[:40])!r} is no number: write for example 121") from None
    return checked(answers._replace(mains_v=value) if field == "mains_v" else answers._replace(design_mains_v=value))


def _ask(question: str, read: Callable[[str], T], default: T, shown: str | None = None) -> T:
    """Ask until the answer can be read; an empty one takes the default, where there is one."""
    offer = default if shown is None else shown
    while True:
        print(f"{question}{f' [{offer}]' if offer else ''}: ", end="", file=sys.stderr, flush=True)
        line = sys.stdin.readline()
        if not line:
            raise ValueError("the questions were broken off: nothing was written")
        if not line.strip() and default is not None:
            return default
        try:
            return read(line.strip())
        except ValueError as error:
            print(f"  {error}", file=sys.stderr)
