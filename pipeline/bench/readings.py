"""A file of meter readings: forgiving to read, one clear message where it cannot be."""

import re
from pathlib import Path
from typing import NamedTuple, NoReturn

from pipeline.notation.lexing import NUMBER
from pipeline.notation.measured import read_measured
from pipeline.textfile import BadRecord, Problem, decode, hint, records
from pipeline.unit import Unit, UnitError, header_of

COLUMNS = ("at", "reading", "value", "note")
MOST_READINGS = 20_000
_SAME = {"ref": "at", "node": "at", "place": "at", "where": "at", "part": "at", "node-or-ref": "at",
         "quantity": "reading", "what": "reading", "reads": "value", "measured": "value", "volts": "value"}
_WORDS = {
    "dc_v": "dc;b+;ht;dc v;dc volts;v dc;vdc;volts dc", "ac_v": "ac;ac v;ac volts;v ac;vac;ripple rms;ripple ac;hum",
    "ripple_v": "ripple;ripple p-p;ripple pp;ripple v", "cathode_v": "cathode;k;cathode volts;cathode v",
    "plate_v": "plate;anode;plate volts;plate v;a;p", "screen_v": "screen;g2;screen volts;screen v",
    "grid_v": "grid;g1;g;grid volts;grid v", "heater_v": "heater;filament;heater volts;heater v",
    "volts": "volts;across;drop;v", "ohms": "ohms;ohm;resistance;r", "uf": "uf;µf;mfd;capacitance",
    "leakage_a": "leakage;leak;leakage a", "esr_ohm": "esr;esr ohm", "dc_a": "dc_a;current;dc a;ma;load",
}
_READINGS = {word: name for name, words in _WORDS.items() for word in (name, *words.split(";"))}
_TUBE = ("cathode_v", "plate_v", "screen_v", "grid_v", "heater_v")
_KINDS = {"ohms": "ohms", "uf": "uf", "leakage_a": "leakage_a", "esr_ohm": "ohms", "dc_a": "leakage_a"}
_UNITS = {"ohms": "ohm", "uf": "uF", "leakage_a": "A", "volts": "V"}


class MeterReading(NamedTuple):
    """One reading: place (node, ref, winding, mains, secondary, primary, supply), what, value in SI (µF), its line."""

    at: str
    reading: str
    value: float
    line: int


def places(unit: Unit) -> dict[str, str]:
    """Everything a reading may name, in small letters, and its own spelling."""
    nodes = [n.id for n in unit.supply.nodes] if unit.supply else []
    names = [*unit.parts, *nodes, *unit.windings, "mains", "secondary", "primary", "supply"]
    return {name.lower(): name for name in reversed(names)}


def load_readings(path: Path, unit: Unit) -> list[MeterReading]:
    """The readings in a file with the columns at, reading, value; raises UnitError with file and line."""
    if not path.is_file():
        raise UnitError(f"{path}: no such file: readings are a CSV with the columns {','.join(COLUMNS)}")
    text = decode(path.read_bytes().removeprefix(b"\xef\xbb\xbf"))
    if isinstance(text, Problem):
        raise UnitError(f"{path}:{text.line}: {text.what}: {text.mend}")
    try:
        lines = [(n, cells) for n, cells in records(text) if any(c.strip() for c in cells)]
    except BadRecord as error:
        raise UnitError(f"{path}:{error.line}: not CSV: {error.what}: mend its quotation marks") from None
    if not lines:
        raise UnitError(f"{path}:1: the file is empty: give it the header {','.join(COLUMNS)}")
    if len(lines) > MOST_READINGS:
        raise UnitError(f"{path}:{lines[MOST_READINGS][0]}: more than {MOST_READINGS} readings: is this one unit's?")
    header = header_of(path, *lines[0], COLUMNS, ("at", "value"), _SAME)
    found: dict[tuple[str, str], MeterReading] = {}
    known = places(unit)
    for line, cells in lines[1:]:
        read = _read(path, line, cells, header, unit, known)
        key = (read.at, read.reading)
        if key in found:
            raise UnitError(f"{path}:{line}: {read.at} {read.reading} stands already on line {found[key].line}: "
                            "keep one")
        found[key] = read
    return list(found.values())


def _read(path: Path, line: int, cells: list[str], header: list[str], unit: Unit,
          known: dict[str, str]) -> MeterReading:
    def refuse(column: str, why: str) -> NoReturn:
        raise UnitError(f"{path}:{line}: {column}: {why}")

    if len(cells) > len(header):
        refuse("value", f"{len(cells)} cells under {len(header)} columns: put quotation marks round 0,38 and the like")
    row = dict(zip(header, (c.strip() for c in cells), strict=False))
    at = known.get(row.get("at", "").lower())
    if at is None:
        said = row.get("at", "")
        refuse("at", f"{said[:20]!r} is no node, winding or part of this unit: "
                     + hint(said, known.values(), "also known are mains, secondary, primary, supply"))
    word = " ".join(row.get("reading", "").lower().replace("_", " ").split())
    name = _READINGS.get(row.get("reading", "").strip().lower()) or _READINGS.get(word)
    if word and name is None:
        refuse("reading", f"{word[:20]!r} is not known: {hint(word, _READINGS, 'known are ' + ', '.join(_WORDS))}")
    if not row.get("value"):
        refuse("value", "empty: write the reading, such as 412 V")
    try:
        kind, value, label = _value(row["value"], name)
    except ValueError as error:
        refuse("value", str(error))
    name = label or (name if name != "volts" else None) or _by_place(at, kind, unit)
    if _KINDS.get(name, "volts") != kind:
        refuse("value", f"{row['value'][:20]!r} cannot be {name}: look at the unit")
    return MeterReading(at, name, value, line)


def _value(text: str, name: str | None) -> tuple[str, float, str | None]:
    """(kind of unit, value, reading named in the cell) of `412 V`, `0,38 mA`, `cathode 12.5 V`, a named number."""
    if re.fullmatch(rf"[-+]?\s*{NUMBER}", text):
        if name is None:
            raise ValueError(f"{text[:20]!r}: no unit: write for example {text[:10]} V")
        text = f"{text} {_UNITS[_KINDS.get(name, 'volts')]}"
    found = read_measured(text)
    if len(found) != 1:
        raise ValueError(f"{text[:20]!r}: one reading a line")
    label, value = next(iter(found.items()))
    if label in _TUBE or label == "esr_ohm":
        return ("ohms" if label == "esr_ohm" else "volts"), value, label
    return label, value, None


def _by_place(at: str, kind: str, unit: Unit) -> str:
    """What a value without a named reading must be: volts at a node are DC, at a winding AC."""
    if kind != "volts":
        return "dc_a" if kind == "leakage_a" and at == "supply" else kind
    if unit.supply and at in [n.id for n in unit.supply.nodes]:
        return "dc_v"
    if at in unit.windings or at in ("mains", "secondary"):
        return "ac_v"
    return "volts"
