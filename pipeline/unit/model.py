"""What a unit is: its parts, windings, strings, supplies, stages and readings, as its files tell them."""

import re
from collections.abc import Iterator
from functools import cached_property
from pathlib import Path
from typing import NamedTuple

from pipeline.catalogue import Figure, Ratings
from pipeline.notation.names import normal
from pipeline.notation.reading import Reading
from pipeline.records import Record, field, replace

LONGEST_NAME = 12
"""A longer marking of a tube is more than a name."""
LETTERS = "ABCDEFGH"
"""Sections of a can, and alike halves of a tube, in their order."""
_COUNTS = {"twin": 2, "double": 2, "triple": 3, "quadruple": 4}
"""How many alike sections a tube's function names."""
CHASSIS_MINUS = "B-"
"""The negative node that a resistor or field coil in the minus lead of a supply makes."""
IN_PLACE = "in place of "
RENEWED = f"new, {IN_PLACE}"
"""How a note says that a part was renewed; what follows is what stood there before, and its note."""
_NEW = re.compile(r"(?i)\s*(?:new|renewed|replaced)\b(?!\s+(?:old|one|needed))(?![^;,]*\b19\d\d\b)")
UNREAD = Reading(kind=None, why="not read yet")


class Place(NamedTuple):
    """A part, node, winding or string, or one section of a part: a capacitor's or alike half's letter, or a name."""

    ref: str
    section: str | None = None

    def __str__(self) -> str:
        if self.section is None:
            return self.ref
        return f"{self.ref}{self.section}" if self.section in LETTERS else f"{self.ref} {self.section}"


class Part(Record):
    """One line of the parts list; `reading` is what the marking means, `ratings` what the catalogue knows.

    `measured` holds the readings of its `measured` cell, `measured_sections` those that name a section of it.
    """

    ref: str
    marking: str
    role: str | None = None
    at: tuple[Place, ...] = ()
    measured: dict[str, float] = field(default_factory=dict)
    note: str = ""
    line: int = 0
    reading: Reading = UNREAD
    ratings: Ratings | None = None
    kind_given: str | None = None
    measured_sections: dict[str, dict[str, float]] = field(default_factory=dict)

    @property
    def kind(self) -> str | None:
        return self.reading.kind

    @property
    def shown(self) -> str:
        """The marking fit to stand in a sentence: what does not print as �, and cut where it is long."""
        text = "".join(c if c.isprintable() else "�" for c in self.marking)
        return text if len(text) <= 40 else text[:37] + "..."

    @property
    def is_new(self) -> bool:
        """Whether its note begins by calling it new: it is not aged, whatever its kind."""
        return bool(_NEW.match(self.note))

    @property
    def said(self) -> str:
        """What marking and note say of the part as it is: not of the one that stood in its place before."""
        return f"{self.marking} {self.note.partition(IN_PLACE)[0]}"

    @property
    def called(self) -> str:
        """The type the catalogue rates, after another name of it that is printed on the part; else the marking."""
        if self.ratings is None:
            return self.shown
        printed, type_ = normal(self.marking), normal(self.ratings.type)
        other = type_ not in printed and len(self.marking) <= LONGEST_NAME and self.marking.isprintable()
        return f"{self.marking.strip()}/{self.ratings.type}" if other else self.ratings.type

    def rating(self, table: str, quantity: str) -> Figure | None:
        """What the catalogue has chosen for the part's type in a table with one row a type, or None."""
        return self.ratings.figure(table, quantity) if self.ratings else None

    @property
    def function(self) -> str | None:
        """What the catalogue says the tube is: twin triode, triode + power pentode."""
        found = self.rating("tubes", "function")
        return str(found.value) if found else None

    def is_at(self, name: str) -> bool:
        """Whether `name`, a part, node, winding or string, is among the places of the part."""
        return any(place.ref == name for place in self.at)

    @property
    def first_at(self) -> str:
        """The first of its places, or an empty text."""
        return self.at[0].ref if self.at else ""

    @cached_property
    def sections(self) -> tuple[str, ...]:
        """Its sections: letters of a can's or of a tube's alike halves, names of a tube's unlike ones, or none."""
        if self.kind == "capacitor":
            count = len(self.reading.sections)
            return tuple(LETTERS[:count]) if count > 1 else ()
        rows = self.ratings.rows("sections") if self.ratings else {}
        names = tuple(subject.partition("/")[2] for subject in rows)
        if "each" in names:
            return tuple(LETTERS[:_COUNTS.get((self.function or "").split(" ")[0], 2)])
        return names if len(names) > 1 else ()

    @property
    def power_section(self) -> str | None:
        """The section that a reading without one means: the one with the largest plate rating; None for an only one."""
        if not self.sections or self.kind == "capacitor" or self.ratings is None:
            return None
        rows = self.ratings.rows("sections")
        watts = {subject.partition("/")[2]: row["plate_dissipation_max_w"].value for subject, row in rows.items()
                 if "plate_dissipation_max_w" in row}
        most = max(watts, key=lambda name: watts[name], default=self.sections[0])
        return self.sections[0] if most == "each" else most

    def with_reading(self, name: str, value: float, section: str | None = None) -> "Part":
        """The part with one more reading of it, or of a section of it, in the place of an earlier one."""
        if section is None:
            return replace(self, measured=self.measured | {name: value})
        own = self.measured_sections.get(section, {}) | {name: value}
        return replace(self, measured_sections=self.measured_sections | {section: own})

    def measured_of(self, section: str | None) -> dict[str, float]:
        """The readings of one section; those that name none count for the tube's only, alike or power section."""
        own = self.measured_sections.get(section or "", {})
        return self.measured | own if section is None or section in LETTERS or section == self.power_section else own


class Winding(Record):
    """A heater winding: volts at design mains, and the amps it is rated for (None: not known)."""

    id: str
    volts: float
    amps: float | None = None


class HeaterString(Record):
    """A series heater string, from the line side to the chassis side."""

    id: str
    amps: float
    order: tuple[str, ...] = ()
    dropper: str | None = None


class Node(Record):
    """A point of a supply; the first node is the reservoir (or what follows the input choke).

    Each of `capacitors` is a chain in series from the node to chassis, a single one a chain of one. In a full-wave
    doubler the two halves of the first node stand as two chains of one.
    """

    id: str
    source: str | None = None
    through: str | None = None
    capacitors: tuple[tuple[Place, ...], ...] = ()
    tubes: tuple[Place, ...] = ()
    load_a: float | None = None
    load_ohm: float | None = None
    regulator: tuple[str, ...] = ()
    standby: str | None = None

    @property
    def capacitor_names(self) -> list[str]:
        """Each chain as it is written in `unit.toml`: C3A, C4A+C4B."""
        return ["+".join(map(str, chain)) for chain in self.capacitors]

    def feeds(self, ref: str) -> bool:
        """Whether the tube, or a section of it, is among those that draw here."""
        return any(place.ref == ref for place in self.tubes)


class Supply(Record):
    """A supply: where it comes from, rectifier, circuit, winding and nodes; volts at design mains, ohms cold.

    `source` is mains, node (`origin` names it), battery (`volts`, `ohms`) or vibrator (`volts` of the square wave at
    each half of the secondary, `hertz`; without `rectifier` it is synchronous). `high_v` and `low_v` are a battery's
    fresh and flat volts, where they are given.
    """

    rectifier: str | None = None
    circuit: str | None = None
    input: str = "capacitor"
    secondary_v: float | None = None
    secondary_ohm: float | None = None
    secondary_a: float | None = None
    primary_ohm: float | None = None
    added_ohm: float = 0.0
    nodes: tuple[Node, ...] = ()
    id: str = "B+"
    polarity: str = "positive"
    source: str = "mains"
    origin: str | None = None
    winding: str | None = None
    volts: float | None = None
    high_v: float | None = None
    low_v: float | None = None
    ohms: float = 0.0
    hertz: float | None = None
    heats: str | None = None
    minus_through: str | None = None
    line: int = 0

    @property
    def minus(self) -> str | None:
        """The negative node that its minus lead makes, where a part stands in it."""
        return CHASSIS_MINUS if self.minus_through else None


class MainsSupply(Supply):
    """A supply from the mains, of which rectifier, circuit and volts are known."""

    rectifier: str = ""
    circuit: str = "full-wave"
    secondary_v: float = 0.0


class Stage(Record):
    """The circuit of one tube section, or of several alike ones: what feeds it, and what stands in each lead.

    A lead's parts are one, shared by the stage's tubes, or one for each. `screen` is a node or `plate`.
    """

    tubes: tuple[Place, ...]
    plate: str
    plate_through: tuple[str, ...] = ()
    screen: str | None = None
    screen_tap: float | None = None
    screen_through: tuple[str, ...] = ()
    cathode_through: tuple[str, ...] = ()
    cathode_to: str | None = None
    grid: str | None = None
    grid_v: float | None = None
    grid_from: Place | None = None
    grid_through: tuple[str, ...] = ()
    service: str = ""
    signal_a: float | None = None
    line: int = 0


class UnitReading(NamedTuple):
    """One meter reading: place (node, ref, winding, mains, secondary, primary, supply), what, value in SI (µF).

    `date` is ISO 8601; `condition` one of cold, lamp, half mains, lowered, warming,
    full; `mains` the outlet's volts of that day.
    """

    at: str
    reading: str
    value: float
    line: int
    section: str | None = None
    date: str | None = None
    by: str = ""
    condition: str = "full"
    mains: float | None = None
    note: str = ""


class Unit(Record):
    """A unit's files as read; `parts` maps ref to part, in the order of the list. Without mains the volts are None."""

    name: str
    folder: Path
    mains_v: float | None
    mains_hz: float | None
    design_mains_v: float | None
    mains_high_v: float | None
    mains_low_v: float | None
    windings: dict[str, Winding]
    strings: dict[str, HeaterString]
    supplies: tuple[Supply, ...]
    parts: dict[str, Part]
    stages: tuple[Stage, ...] = ()
    readings: tuple[UnitReading, ...] = ()

    @property
    def supply(self) -> MainsSupply | None:
        """The first positive supply from the mains, the only one that is worked out so far."""
        return next((s for s in self.supplies if isinstance(s, MainsSupply) and s.polarity == "positive"), None)

    @cached_property
    def nodes(self) -> dict[str, Node]:
        """Every node of every supply by its id."""
        return {node.id: node for supply in self.supplies for node in supply.nodes}

    def winding_of(self, part: Part) -> Winding | None:
        """The heater winding that the part is at."""
        return next((self.windings[place.ref] for place in part.at if place.ref in self.windings), None)

    def string_of(self, part: Part) -> HeaterString | None:
        """The heater string that the part is at."""
        return next((self.strings[place.ref] for place in part.at if place.ref in self.strings), None)

    def with_part(self, part: Part) -> "Unit":
        """The same unit with `part` in the place of the part of that ref."""
        return replace(self, parts=self.parts | {part.ref: part})

    def with_supply(self, supply: Supply) -> "Unit":
        """The same unit with `supply` in the place of the supply of that id."""
        return replace(self, supplies=tuple(supply if s.id == supply.id else s for s in self.supplies))

    def part_of(self, name: str) -> Part | None:
        """The part that a name such as a finding's subject speaks of, be it a section's: `C1A`, `V2 pentode`."""
        if name in self.parts:
            return self.parts[name]
        part = self.parts.get(name[:-1]) or self.parts.get(name.partition(" ")[0])
        return part if part is not None and name in [str(Place(part.ref, s)) for s in part.sections] else None

    def parts_at(self, name: str, *roles: str) -> Iterator[Part]:
        """The parts at a place, of these roles where any are given."""
        return (p for ref in self._at.get(name, ()) if (p := self.parts[ref]) and (not roles or p.role in roles))

    @cached_property
    def _at(self) -> dict[str, list[str]]:
        """Place → refs of the parts at it, in the order of the list."""
        found: dict[str, list[str]] = {}
        for part in self.parts.values():
            for name in dict.fromkeys(place.ref for place in part.at):
                found.setdefault(name, []).append(part.ref)
        return found
