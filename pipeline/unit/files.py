"""A unit's folder read: every file of it, every fault of them told in one run."""

import os
import re
from pathlib import Path
from typing import NamedTuple

import tomli

from pipeline.catalogue import Catalogue
from pipeline.records import replace
from pipeline.tomlfile import TomlFile
from pipeline.unit.faults import Faults, UnitError, raise_if_any
from pipeline.unit.general import KEYS, Strings, mains_of, name_of, windings_of
from pipeline.unit.identify import identified
from pipeline.unit.lists import text_of
from pipeline.unit.model import HeaterString, Part, Unit, UnitReading, Winding
from pipeline.unit.parts import PartsList, placed, read_parts
from pipeline.unit.places import Names
from pipeline.unit.readings import read_readings, with_own
from pipeline.unit.stages import stages_of
from pipeline.unit.supplies import Supplies, assembled

TOML, PARTS, READINGS = "unit.toml", "parts.csv", "readings.csv"


def load(folder: Path, catalogue: Catalogue) -> Unit:
    """The unit in `folder`, its parts named and rated; raises UnitError with every fault of its files."""
    try:
        return _load(folder, catalogue)
    except OSError as error:  # no leave to look into the folder, a disk that fails
        raise UnitError(f"{error.filename or folder}: cannot be read: {error.strerror or error}") from None


def _load(folder: Path, catalogue: Catalogue) -> Unit:
    if not folder.is_dir():
        raise UnitError(f"{folder}: no such unit folder: name a folder that holds {TOML} and {PARTS}")
    if not any((folder / name).exists() for name in (TOML, PARTS)):
        raise UnitError(f"{folder}: holds neither {TOML} nor {PARTS}: `tubewright start` makes both")
    files = [Faults(folder / name) for name in (TOML, PARTS, READINGS)]
    toml, listed = _toml(files[0]), _parts(files[1])
    parts = identified(listed.parts, catalogue)
    names = Names(parts, complete=listed.complete and toml is not None)
    unit = None if toml is None else _unit(folder, toml, names)
    parts = {ref: placed(part, listed.rows[ref], names, files[1]) for ref, part in parts.items()}
    if toml is not None:
        for line, message in toml.faults:
            files[0].add(line, message)
    readings = read_readings(files[2], parts, names) if os.path.lexists(files[2].path) else []
    raise_if_any(*files)
    assert unit is not None, "a unit without unit.toml has a fault"
    return _whole(unit, parts, readings)


class Listed(NamedTuple):
    """What a text in the place of parts.csv would be: its parts, every name of the unit, and the faults by file."""

    parts: dict[str, Part]
    names: Names
    heating: dict[str, Winding | HeaterString]
    faults: tuple[str, ...]
    elsewhere: tuple[str, ...]
    """Faults of unit.toml, such as a part it names that is not listed yet."""


def listed(folder: Path, catalogue: Catalogue, text: str, toml_text: str | None = None) -> Listed:
    """The parts of a text as those of the unit in `folder`, whatever else is still missing there.

    `toml_text` stands for what its unit.toml would be.
    """
    files = [Faults(folder / name) for name in (TOML, PARTS)]
    toml, found = _toml(files[0], toml_text), read_parts(text, files[1])
    parts = identified(found.parts, catalogue)
    names = Names(parts)
    heating: dict[str, Winding | HeaterString] = {}
    if toml is not None:
        unit = _unit(folder, toml, names)
        heating = {**unit.windings, **unit.strings}
        for line, message in toml.faults:
            files[0].add(line, message)
    parts = {ref: placed(part, found.rows[ref], names, files[1]) for ref, part in parts.items()}
    return Listed(parts, names, heating, tuple(files[1].told()), tuple(files[0].told()))


def _whole(unit: Unit, parts: dict[str, Part], readings: list[UnitReading]) -> Unit:
    """The unit with its parts and readings, and the capacitors that only the parts list puts at a node."""
    parts = with_own(parts, readings)
    return replace(unit, parts=parts, supplies=assembled(unit.supplies, unit.stages, parts), readings=tuple(readings))


def _text(faults: Faults) -> str | None:
    """The text of a file; None, and a fault, where there is none."""
    if not faults.path.exists():
        faults.add(1, f"no such file: a unit is a folder with {TOML} and {PARTS}")
        return None
    text = text_of(faults)
    if text is not None and not text.strip():
        faults.add(1, "the file is empty: `tubewright start` makes a commented one")
        return None
    return text


def _toml(faults: Faults, text: str | None = None) -> TomlFile | None:
    text = _text(faults) if text is None else text
    if text is None:
        return None
    try:
        return TomlFile(text)
    except tomli.TOMLDecodeError as error:
        line, what = _line_of(error, text), str(error).split(" (at")[0].lower()
        lines = text.split("\n")
        faults.add(line, f"not valid TOML: {what}: {_mend(what, ''.join(lines[line - 1:line]))}")
        return None


def _mend(what: str, line: str) -> str:
    """What to do about a line that is no TOML: decimal commas, curled quotation marks and repeats are usual slips."""
    if what == "cannot overwrite a value":
        table = re.match(r"\s*\[+\s*([\w.-]+)", line)
        return f"it stands twice: where there are several, write each as [[{table[1]}]]" if table else \
            "it stands twice: keep one"
    if match := re.search(r"=\s*(-?\d+),(\d+)\b", line):
        return f"write a decimal point, {match[1]}.{match[2]}"
    if re.search("[\u2018-\u201f\u00ab\u00bb]", line):
        return "write straight quotation marks"
    return "write key = value, words in double quotes"


def _line_of(error: tomli.TOMLDecodeError, text: str) -> int:
    message = str(error)
    if "at line " in message:
        return int(message.split("at line ")[1].split(",")[0])
    return text.count("\n")


def _parts(faults: Faults) -> PartsList:
    text = _text(faults)
    return PartsList({}, {}, complete=False) if text is None else read_parts(text, faults)


def _unit(folder: Path, toml: TomlFile, names: Names) -> Unit:
    """What unit.toml holds; its ids are entered first, so that nothing depends on the order of its tables."""
    top = toml.top(KEYS)
    windings, strings, supplies = windings_of(top, names), Strings(top, names), Supplies(top, names)
    names.complete &= not toml.lost
    mains = mains_of(top, needed=not supplies.without_mains)
    return Unit(
        name=name_of(top, folder), folder=folder, mains_v=mains.volts, mains_hz=mains.hertz,
        design_mains_v=mains.design_v, mains_high_v=mains.high_v, mains_low_v=mains.low_v, windings=windings,
        strings=strings.read(names), supplies=supplies.read(windings), parts={}, stages=stages_of(top, names))
