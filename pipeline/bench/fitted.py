"""The unit as it will stand with the new parts in their places: its files, and the unit they are read as."""

import tempfile
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from pipeline.bench.parts import IN_PARALLEL, IN_SERIES, Leave, Replacement, shown_value
from pipeline.bench.resistors import SAME_OHMS, drift_pct, made_of
from pipeline.bench.rewriting import add_ohms, fed_by, rename_capacitors
from pipeline.catalogue import Catalogue
from pipeline.checks.rectifier import TWO_IN_ARM
from pipeline.notation.reading import Reading, Section
from pipeline.notation.write import write
from pipeline.records import replace
from pipeline.unit import LETTERS, Part, Unit, load
from pipeline.unit.editing import EditedList
from pipeline.unit.files import PARTS, READINGS, TOML
from pipeline.unit.model import RENEWED

RESISTOR_REF = "R"


def with_new_parts(unit: Unit, lines: Sequence[Replacement], catalogue: Catalogue,
                   out: Iterable[Leave] = ()) -> Unit:
    """The unit with every line that is known fitted, read from the very files that `fitted_files` makes.

    `out` are parts that go without a new one. Raises UnitError where those files cannot be read.
    """
    with tempfile.TemporaryDirectory() as folder:
        for name, text in fitted_files(unit, lines, out).items():
            (Path(folder) / name).write_text(text, encoding="utf-8", newline="")
        return replace(load(Path(folder), catalogue), folder=unit.folder)


def fitted_files(unit: Unit, lines: Sequence[Replacement], out: Iterable[Leave] = ()) -> dict[str, str]:
    """The unit's files by name with every line that is known fitted; readings of the old parts are dropped."""
    texts = {name: (unit.folder / name).read_bytes().decode("utf-8-sig") for name in (TOML, PARTS, READINGS)
             if (unit.folder / name).is_file()}
    fitting = _Fitting(unit, {line.ref: line for line in lines if line.verdict in ("pass", "caution")}, texts)
    for part in unit.parts.values():
        fitting.part(part)
    for gone in out:
        fitting.drop(gone.ref)
    texts[PARTS] = fitting.list.text
    texts[TOML] = fitting.toml
    if READINGS in texts:
        texts[READINGS] = _without_readings(texts[READINGS], fitting.touched)
    return texts


class _Fitting:
    """The files as they change, line by line of the order."""

    def __init__(self, unit: Unit, known: Mapping[str, Replacement], texts: Mapping[str, str]):
        self.unit, self.known = unit, known
        self.list, self.toml = EditedList(texts[PARTS]), texts[TOML]
        self.touched: set[str] = set()

    def part(self, part: Part) -> None:
        """Fit what is ordered for one part."""
        if part.kind == "capacitor" or f"{part.ref} balance" in self.known:
            self._capacitor(part)
        elif line := self.known.get(part.ref):
            self._other(part, line)
        if line := self.known.get(f"{part.ref} series"):
            self.toml = add_ohms(self.toml, part.ref, line.value or 0.0)
            self._resistor(line, "", "", f"in series with {part.ref}, counted in unit.toml as added_ohm")

    def drop(self, ref: str) -> None:
        """Take a part out for good."""
        self.touched.add(ref)
        self.list.drop(ref)
        self.toml = rename_capacitors(self.toml, {ref: []})

    def _capacitor(self, part: Part) -> None:
        refs = [f"{part.ref}{letter}" for letter in LETTERS[:len(part.reading.sections)]] \
            if len(part.reading.sections) > 1 else [part.ref]
        lines = [self.known.get(ref) for ref in refs]
        fitted = [(ref, line) for ref, line in zip(refs, lines, strict=True) if line is not None]
        if not fitted or len(fitted) < len(refs):
            return  # a can of which a section has no new part yet stays as it is
        self.touched.update((part.ref, *refs))
        if part.role == "coupling" and part.measured.get("leakage_a"):  # what it let through drove the next grid
            self._forget_tubes(place.ref for place in part.at)
        made = {ref: self._places_of(ref, line) for ref, line in fitted}
        cells, before = dict(self.list.find(part.ref) or {}), _renewed(part)
        if [part.ref] != list(made) or len(made[part.ref]) > 1:
            self._renamed(part, made)
        for i, (ref, line) in enumerate(fitted):
            at = self._at(part, i, cells.get("at", ""))
            for new in made[ref]:
                self.list.put({**cells, "ref": new, "marking": marking_of(line), "measured": "", "at": at,
                               "note": before})
                if balance := self.known.get(f"{ref} balance"):
                    self._resistor(balance, "balance", new, f"across {new}")

    @staticmethod
    def _places_of(ref: str, line: Replacement) -> list[str]:
        """Refs of the new parts in one place: two where they share its volts or its current."""
        two = line.arrangement in (IN_SERIES, IN_PARALLEL) and line.quantity > 1
        return [f"{ref}-{n + 1}" for n in range(line.quantity)] if two else [ref]

    def _renamed(self, part: Part, made: Mapping[str, list[str]]) -> None:
        """Name the new parts in unit.toml in the old one's place, and put those in series into a chain."""
        written = {ref: ["+".join(new)] if self.known[ref].arrangement == IN_SERIES else new
                   for ref, new in made.items()}
        whole = [name for names in written.values() for name in names]
        toml = rename_capacitors(self.toml, {part.ref: whole, **written})
        if toml == self.toml and any("+" in name for name in whole):
            nodes = [place.ref for place in part.at if place.ref in self.unit.nodes]
            for node in nodes[:1]:
                toml = fed_by(toml, node, whole)
        self.toml = toml
        self.list.drop(part.ref)

    def _at(self, part: Part, index: int, cell: str) -> str:
        """The place of one section of a can: its own node where the can stands at as many as it has sections."""
        nodes = [place.ref for place in part.at if place.ref in self.unit.nodes]
        several = len(part.reading.sections)
        return nodes[index] if several > 1 and len(nodes) == several else cell

    def _other(self, part: Part, line: Replacement) -> None:
        cells = {"ref": part.ref, "note": _renewed(part)}
        wired = f"{line.quantity} of {shown_value(line.value, line.unit)} {line.arrangement}" \
            if line.unit == "ohm" and line.arrangement in (IN_SERIES, IN_PARALLEL) else ""
        if line.arrangement == TWO_IN_ARM or wired:
            cells["note"] = f"new, {wired or TWO_IN_ARM}, {_renewed(part).removeprefix('new, ')}"
        marking = marking_of(line)
        if marking:
            cells |= {"marking": marking, "measured": self._kept(part)}
            self._forget(part, line)
            self.touched.add(part.ref)
        self.list.put(cells)

    def _forget(self, part: Part, line: Replacement) -> None:
        """Drop the readings of the tubes in whose leads a resistor of other ohms now stands: they held with the old."""
        was = part.measured.get("ohms") or part.reading.ohms
        now = made_of(line)[0] if line.unit == "ohm" else 0.0
        if not was or not now or max(now / was, was / now) < SAME_OHMS:
            return
        staged = {tube.ref for stage in self.unit.stages for tube in stage.tubes if part.ref in (
            *stage.plate_through, *stage.screen_through, *stage.cathode_through)}
        self._forget_tubes(staged | {place.ref for place in part.at})

    def _forget_tubes(self, refs: Iterable[str]) -> None:
        """Drop the readings of these tubes."""
        for ref in refs:
            if ref in self.unit.parts and self.unit.parts[ref].kind == "tube":
                self.list.put({"ref": ref, "measured": ""})
                self.touched.add(ref)

    def _kept(self, part: Part) -> str:
        """What is still true of the readings: volts across a resistor whose ohms had not drifted."""
        drifted = drift_pct(part) is not None
        return "" if part.kind != "resistor" or drifted else (self.list.find(part.ref) or {}).get("measured", "")

    def _resistor(self, line: Replacement, role: str, at: str, note: str) -> None:
        numbers = [int(row["ref"][1:]) for row in self.list.rows
                   if row.get("ref", "")[:1].upper() == RESISTOR_REF and row["ref"][1:].isdigit()]
        self.list.put({"ref": f"{RESISTOR_REF}{max(numbers, default=0) + 1}", "marking": marking_of(line),
                       "role": role, "at": at, "note": f"new, {note}"})


def _renewed(part: Part) -> str:
    """The note of a new part: what stood there before, and what was said of that."""
    return f"{RENEWED}{part.marking}: {part.note}" if part.note else f"{RENEWED}{part.marking}"


def marking_of(line: Replacement) -> str:
    """What is printed on the new part, so that it reads back as what was ordered; empty where the old one's stays."""
    if line.unit == "µF" and line.value:
        section = Section(line.value, None if line.is_ac else line.volts)
        marking = write(Reading(kind="capacitor", sections=(section,), volts_ac=line.volts if line.is_ac else None,
                                polarised=line.kind == "electrolytic", safety_class=line.safety_class))
        return f"{line.kind} {marking}" if line.kind in ("film", "ceramic") else marking
    if line.unit == "ohm" and line.value:
        ohms, watts = made_of(line)
        return write(Reading(kind="resistor", ohms=ohms, watts=watts, tolerance_pct=line.tolerance_pct))
    if line.kind == "fuse":
        return write(Reading(kind="fuse", amps=line.value, speed=line.speed))
    if line.kind == "cord":
        return line.words
    if line.kind == "lamp":
        return f"#{line.type}" if line.type else ""
    return line.type or ""


def _without_readings(text: str, refs: set[str]) -> str:
    """The readings but for those taken on parts that are no longer there."""
    listing = EditedList(text)
    listing.rows = [row for row in listing.rows if row.get("at", "") not in refs]
    return listing.text

