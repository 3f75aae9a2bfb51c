"""A file of meter readings: forgiving to read, every fault of it told where it cannot be."""

import re
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from pathlib import Path

from pipeline.notation.lexing import NUMBER
from pipeline.notation.measured import read_measured
from pipeline.textfile import hint, printable
from pipeline.unit.editing import EditedList
from pipeline.unit.faults import Faults, UnitError, raise_if_any
from pipeline.unit.lists import Columns, Row, rows_of, text_of
from pipeline.unit.model import Part, Place, Unit, UnitReading
from pipeline.unit.places import Names

COLUMNS = ("at", "reading", "value", "note", "date", "by", "condition", "mains")
BEYOND_PARTS = ("mains", "secondary", "primary", "supply")
"""Places that no file names."""
CONDITIONS = {"full": "full;full mains;on;working;normal;at work;full power;", "cold": "cold;off;unplugged",
              "lamp": "lamp;through a lamp;series lamp;lamp limiter;through lamp;behind a lamp",
              "half mains": "half mains;half;at half mains;half volts;variac half",
              "lowered": "lowered;lowered mains;on the variable transformer",
              "warming": "warming;warming up;first minutes"}
"""Condition → the words for it."""
_SAME = {"ref": "at", "node": "at", "place": "at", "where": "at", "part": "at", "node-or-ref": "at",
         "quantity": "reading", "what": "reading", "reads": "value", "measured": "value", "volts": "value"}
_WORDS = {
    "dc_v": "dc;b+;ht;dc v;dc volts;v dc;vdc;volts dc", "ac_v": "ac;ac v;ac volts;v ac;vac;ripple rms;ripple ac;hum",
    "ripple_v": "ripple;ripple p-p;ripple pp;ripple v", "cathode_v": "cathode;k;cathode volts;cathode v",
    "plate_v": "plate;anode;plate volts;plate v;a;p", "screen_v": "screen;g2;screen volts;screen v",
    "grid_v": "grid;g1;g;grid volts;grid v", "heater_v": "heater;filament;heater volts;heater v",
    "volts": "volts;across;drop;v", "ohms": "ohms;ohm;resistance;r", "uf": "uf;µf;mfd;capacitance",
    "leakage_a": "leakage;leak;leakage a", "esr_ohm": "esr;esr ohm", "dc_a": "dc_a;current;dc a;ma;load",
    "ac_a": "ac a;line current;ac current", "ohms_to_chassis": "to chassis;ohms to chassis",
}
_READINGS = {word: name for name, words in _WORDS.items() for word in (name, *words.split(";"))}
_TUBE = ("cathode_v", "plate_v", "screen_v", "grid_v", "heater_v")
_KINDS = {"ohms": "ohms", "uf": "uf", "leakage_a": "leakage_a", "esr_ohm": "ohms", "dc_a": "leakage_a",
          "ac_a": "leakage_a", "ohms_to_chassis": "ohms"}
_UNITS = {"ohms": "ohm", "uf": "uF", "leakage_a": "A", "volts": "V"}


_CONDITIONS = {word: name for name, words in CONDITIONS.items() for word in words.split(";")}
_READ = Columns(COLUMNS, ("at", "value"), _SAME, "readings")
_STEPS = ("step", "set_v", "wait_s", "expected", "low", "high", "unit", "why", "evidence")
_FILLED = Columns((*COLUMNS, *_STEPS), ("at", "value"), {"read": "value", "value": "expected", "title": "note"},
                  "readings")
"""What `bringup --format csv` writes: what was read stands under `read`, beside what was expected."""


def load_readings(path: Path, unit: Unit) -> list[UnitReading]:
    """The readings in a file with the columns at, reading, value, or in the file of steps that `bringup` wrote.

    Raises UnitError with every fault of it.
    """
    if not path.is_file():
        raise UnitError(f"{path}: no such file: readings are a CSV with the columns {','.join(COLUMNS[:4])}")
    faults = Faults(path)
    found = read_readings(faults, unit.parts, names_of(unit))
    raise_if_any(faults)
    return found


OF_THE_PART = ("leakage_a", "uf", "esr_ohm", "ohms")
"""Readings that are a part's own, whatever the rest of the unit does."""


def with_own(parts: dict[str, Part], readings: Iterable[UnitReading]) -> dict[str, Part]:
    """The parts with what the record's latest day says of themselves; one without a date is the oldest."""
    parts = dict(parts)
    for r in sorted(readings, key=lambda r: r.date or ""):
        if r.at in parts and r.reading in OF_THE_PART and r.condition in ("full", "cold"):
            parts[r.at] = parts[r.at].with_reading(r.reading, r.value, r.section)
    return parts


def with_added(path: Path, unit: Unit, readings: Iterable[UnitReading]) -> str:
    """The text of a record with readings added as its last lines, everything else as it stands.

    Raises UnitError where it cannot be read, and for a reading that stands there already.
    """
    faults = Faults(path)
    text = text_of(faults) if path.exists() else ""
    raise_if_any(faults)
    if text and _is_filled(text):
        raise UnitError(f"{path}:1: it is a file of steps: give it another name, and compare it from there")
    record = EditedList(text or "", COLUMNS, len(COLUMNS), _SAME)
    for r in readings:
        record.add({"at": str(Place(r.at, r.section)), "reading": r.reading, "value": record.number(r.value),
                    "note": r.note, "date": r.date or "", "by": r.by,
                    "condition": "" if r.condition == "full" else r.condition,
                    "mains": record.number(r.mains) if r.mains else ""})
    _from_text(record.text, faults, unit.parts, names_of(unit))
    raise_if_any(faults)
    return record.text


def names_of(unit: Unit) -> Names:
    """Every place of a unit that is read already."""
    names = Names(unit.parts)
    nodes = [*unit.nodes, *(s.minus for s in unit.supplies if s.minus)]
    for kind, ids in (("winding", [*unit.windings]), ("string", [*unit.strings]), ("node", nodes)):
        for id_ in ids:
            names.claim(id_, kind)
    return names


def read_readings(faults: Faults, parts: Mapping[str, Part], names: Names) -> list[UnitReading]:
    """The readings of the file that `faults` is of."""
    text = text_of(faults)
    if text is not None and not text.strip():
        faults.add(1, f"the file is empty: give it the header {','.join(COLUMNS[:4])}")
    return _from_text(text, faults, parts, names) if text and text.strip() else []


def _is_filled(text: str) -> bool:
    """Whether it is what `bringup --format csv` wrote."""
    return {"step", "low", "high", "read"} <= set(re.split("[,;\t]", text.split("\n", 1)[0].strip().lower()))


def _from_text(text: str, faults: Faults, parts: Mapping[str, Part], names: Names) -> list[UnitReading]:
    filled = _is_filled(text)
    found: dict[tuple, UnitReading] = {}
    for row in rows_of(text, _FILLED if filled else _READ, faults) or ():
        if filled and not row["value"]:
            continue  # nobody has measured there
        reading = _read(row, parts, names, faults)
        if reading is None:
            continue
        key = (reading.at, reading.section, reading.reading, reading.date, reading.condition,
               reading.note if filled or reading.condition != "full" else "")
        if key in found:
            where = Place(reading.at, reading.section)
            faults.add(row.line, f"{where} {reading.reading} stands already on line {found[key].line}: keep one, or "
                                 "give each its date")
        found[key] = reading
    if filled and not found and not faults:
        faults.add(1, "nothing is filled in: write what the meter shows into the column `read`")
    return list(found.values())


def _read(row: Row, parts: Mapping[str, Part], names: Names, faults: Faults) -> UnitReading | None:
    """One reading; None where a cell of it is wrong, which is noted."""
    before = len(faults)

    def refuse(column: str, why: str) -> None:
        faults.add(row.line, f"{column}: {why}")

    at = _place(row["at"], names, refuse)
    word = " ".join(row["reading"].lower().replace("_", " ").split())
    name = _READINGS.get(row["reading"].lower()) or _READINGS.get(word)
    if word and name is None:
        refuse("reading", f"{printable(word[:20])!r} is not known: "
                          f"{hint(word, _READINGS, 'known are ' + ', '.join(_WORDS))}")
    said = (_date(row["date"], refuse), _condition(row["condition"], refuse), _mains(row["mains"], refuse))
    value = _quantity(row["value"], name, at, names, refuse) if not word or name else None
    if len(faults) > before or at is None or value is None:
        return None
    return UnitReading(at.ref, *value, row.line, at.section, said[0], row["by"], said[1], said[2], row["note"])


def _place(text: str, names: Names, refuse) -> Place | None:
    if text.lower() in BEYOND_PARTS and names.find(text) is None:
        return Place(text.lower())
    place = names.place(text) if text else ""
    if isinstance(place, Place):
        return place
    if place.endswith("[[supply.node]]") or " is no winding" in place or not text:
        known = [*names.kinds, *BEYOND_PARTS]
        place = f"{printable(text[:20])!r} is no node, winding or part of this unit: " \
                + hint(text, known, "also known are " + ", ".join(BEYOND_PARTS))
    if place:
        refuse("at", place)
    return None


def _quantity(text: str, name: str | None, at: Place | None, names: Names, refuse) -> tuple[str, float] | None:
    """(what was read, its value) of the cell `value`; None where it cannot be read."""
    if not text:
        return refuse("value", "empty: write the reading, such as 412 V")
    try:
        kind, value, label = _value(text, name)
    except ValueError as error:
        return refuse("value", str(error))
    if at is None:
        return None
    name = label or (name if name != "volts" else None) or _by_place(at.ref, kind, names)
    if _KINDS.get(name, "volts") != kind:
        return refuse("value", f"{text[:20]!r} cannot be {name}: look at the unit")
    return name, value


def _date(text: str, refuse) -> str | None:
    """A day in ISO 8601, of `2026-11-28` or `28.11.2026`."""
    if not text:
        return None
    iso = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})", text)
    european = re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", text)
    figures = iso.groups() if iso else european.groups()[::-1] if european else ("0", "0", "0")
    try:
        return date(*map(int, figures)).isoformat()
    except ValueError:
        return refuse("date", f"{printable(text[:20])!r} is no day: write it as 2026-11-28")


def _condition(text: str, refuse) -> str:
    found = _CONDITIONS.get(" ".join(text.lower().replace("-", " ").split()))
    if found is None:
        refuse("condition", f"{printable(text[:20])!r} is not known: one of {', '.join(CONDITIONS)}")
    return found or "full"


def _mains(text: str, refuse) -> float | None:
    """The outlet's volts, with or without their unit."""
    if not text:
        return None
    try:
        kind, value, _ = _value(text, "volts")
    except ValueError as error:
        return refuse("mains", str(error))
    if kind != "volts" or not 0 <= value <= 520:
        return refuse("mains", f"{printable(text[:20])!r} cannot be right: expected the outlet's volts")
    return value


def _value(text: str, name: str | None) -> tuple[str, float, str | None]:
    """(kind of unit, value, reading named in the cell) of `412 V`, `0,38 mA`, `cathode 12.5 V`, a named number."""
    if re.fullmatch(r"[-+]?\d+(?:[.,]\d+)?[eE][-+]?\d{1,2}", text):
        text = format(Decimal(text.replace(",", ".")), "f")  # as a spreadsheet shows a small number
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


def _by_place(at: str, kind: str, names: Names) -> str:
    """What a value without a named reading must be: volts at a node are DC, at a winding AC."""
    if kind != "volts":
        return "dc_a" if kind == "leakage_a" and at == "supply" else kind
    if names.kinds.get(at) == "node":
        return "dc_v"
    if names.kinds.get(at) == "winding" or at in ("mains", "secondary"):
        return "ac_v"
    return "volts"
