"""One piece of equipment on the bench: its folder with `unit.toml` and `parts.csv` read, its parts named and rated."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from pipeline.catalogue import Catalogue, Figure, Ratings
from pipeline.notation.measured import read_measured
from pipeline.notation.names import normal
from pipeline.notation.read import read
from pipeline.notation.reading import Reading
from pipeline.notation.roles import read_role
from pipeline.textfile import BadRecord, Problem, decode, hint, printable, records
from pipeline.tomlfile import TomlFault, TomlFile

LONGEST_NAME = 12
"""A longer marking of a tube is more than a name."""
PART_COLUMNS = ("ref", "marking", "role", "at", "measured", "note")
MOST_PARTS = 20_000
"""More lines than any chassis has: beyond it the file is surely not a parts list."""


class UnitError(Exception):
    """A unit's files cannot be used; the message names file, line, what is wrong and how to mend it."""


UNREAD = Reading(kind=None, why="not read yet")


@dataclass(frozen=True)
class Part:
    """One line of the parts list; `reading` is what the marking means, `ratings` what the catalogue knows."""

    ref: str
    marking: str
    role: str | None = None
    at: str | None = None
    measured: dict[str, float] = field(default_factory=dict)
    note: str = ""
    line: int = 0
    reading: Reading = UNREAD
    ratings: Ratings | None = None

    @property
    def kind(self) -> str | None:
        return self.reading.kind

    @property
    def shown(self) -> str:
        """The marking fit to stand in a sentence: what does not print as �, and cut where it is long."""
        text = "".join(c if c.isprintable() else "�" for c in self.marking)
        return text if len(text) <= 40 else text[:37] + "..."

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


@dataclass(frozen=True)
class Winding:
    """A heater winding: volts at design mains, and the amps it is rated for (None: not known)."""

    id: str
    volts: float
    amps: float | None = None


@dataclass(frozen=True)
class HeaterString:
    """A series heater string, from the line side to the chassis side."""

    id: str
    amps: float
    order: tuple[str, ...] = ()
    dropper: str | None = None


@dataclass(frozen=True)
class Node:
    """A point of the B+ supply; the first node is the reservoir (or what follows the input choke)."""

    id: str
    source: str | None = None
    through: str | None = None
    capacitors: tuple[str, ...] = ()
    tubes: tuple[str, ...] = ()
    load_a: float | None = None
    load_ohm: float | None = None


@dataclass(frozen=True)
class Supply:
    """The B+ supply: rectifier, circuit, winding and nodes; volts at design mains, ohms measured cold."""

    rectifier: str
    circuit: str
    input: str
    secondary_v: float
    secondary_ohm: float | None
    secondary_a: float | None
    primary_ohm: float | None
    added_ohm: float
    nodes: tuple[Node, ...]


@dataclass(frozen=True)
class Unit:
    """A unit's files as read; `parts` maps ref to part, in the order of the list."""

    name: str
    folder: Path
    mains_v: float
    mains_hz: float
    design_mains_v: float
    mains_high_v: float | None
    mains_low_v: float | None
    windings: dict[str, Winding]
    strings: dict[str, HeaterString]
    supply: Supply | None
    parts: dict[str, Part]

    def with_part(self, part: Part) -> "Unit":
        """The same unit with `part` in the place of the part of that ref."""
        return replace(self, parts=self.parts | {part.ref: part})


def load(folder: Path, catalogue: Catalogue) -> Unit:
    """The unit in `folder`, its parts named and rated; raises UnitError with the one message a person needs."""
    if not folder.is_dir():
        raise UnitError(f"{folder}: no such unit folder: name a folder that holds unit.toml and parts.csv")
    toml = _toml(folder / "unit.toml")
    parts = _parts(folder / "parts.csv")
    try:
        unit = _unit(folder, toml, parts)
    except TomlFault as fault:
        raise UnitError(f"{folder / 'unit.toml'}:{fault.line}: {fault}") from None
    _places_known(unit)
    return identify(unit, catalogue)


def identify(unit: Unit, catalogue: Catalogue) -> Unit:
    """The unit with every marking read and every known type's ratings attached."""
    read_as = {ref: read_part(part, catalogue) for ref, part in unit.parts.items()}
    ratings = catalogue.ratings(reading.type for reading in read_as.values() if reading.type)
    return replace(unit, parts={
        ref: replace(part, reading=read_as[ref], ratings=ratings.get(read_as[ref].type or ""))
        for ref, part in unit.parts.items()})


def read_part(part: Part, catalogue: Catalogue) -> Reading:
    """What a part's marking means, its ref and role deciding where it could be two things."""
    return read(part.marking, names=catalogue.names, lamps=catalogue.lamps, diodes=catalogue.diodes,
                ref=part.ref, role=part.role)


def _text(path: Path) -> str:
    if not path.is_file():
        raise UnitError(f"{path}: no such file: a unit is a folder with unit.toml and parts.csv")
    text = decode(path.read_bytes())
    if isinstance(text, Problem):
        raise UnitError(f"{path}:{text.line}: {text.what}: {text.mend}")
    if not text.strip():
        raise UnitError(f"{path}:1: the file is empty: `tubewright start` makes a commented one")
    return text


def _toml(path: Path) -> TomlFile:
    text = _text(path)
    try:
        return TomlFile(text)
    except tomllib.TOMLDecodeError as error:
        raise UnitError(f"{path}:{_toml_line(error, text)}: not valid TOML: {_toml_what(error)}: "
                        "write key = value, words in double quotes") from None


def _toml_line(error: tomllib.TOMLDecodeError, text: str) -> int:
    message = str(error)
    if "at line " in message:
        return int(message.split("at line ")[1].split(",")[0])
    return text.count("\n")


def _toml_what(error: tomllib.TOMLDecodeError) -> str:
    return str(error).split(" (at")[0].lower()


def _parts(path: Path) -> dict[str, Part]:
    text = _text(path)
    try:
        lines = records(text)
    except BadRecord as error:
        raise UnitError(f"{path}:{error.line}: not CSV: {error.what}: mend its quotation marks") from None
    lines = [(n, cells) for n, cells in lines if any(c.strip() for c in cells)]
    if not lines:
        raise UnitError(f"{path}:1: no row holds anything: give it the header {','.join(PART_COLUMNS)}")
    header = header_of(path, *lines[0], PART_COLUMNS, ("ref", "marking"))
    if len(lines) > MOST_PARTS:
        raise UnitError(f"{path}:{lines[MOST_PARTS][0]}: more than {MOST_PARTS} parts: is this one unit's list?")
    parts: dict[str, Part] = {}
    for line, cells in lines[1:]:
        if len(cells) > len(header):
            raise UnitError(f"{path}:{line}: {len(cells)} cells under {len(header)} columns: "
                            "put quotation marks round a cell that holds a comma")
        part = _part(path, line, dict(zip(header, [c.strip() for c in cells], strict=False)))
        if part.ref in parts:
            raise UnitError(f"{path}:{line}: ref: {part.ref} stands already on line {parts[part.ref].line}: "
                            "give each part its own ref")
        parts[part.ref] = part
    return parts


def header_of(path: Path, line: int, cells: list[str], columns: Sequence[str], must: Sequence[str],
              same: Mapping[str, str] | None = None) -> list[str]:
    """Column names of a list a person typed, in lower case; `same` maps other words to a column.

    Raises UnitError for semicolons, a missing column of `must`, a column twice, and one that is none of `columns`.
    """
    header = [cell.strip().lower() for cell in cells]
    header = [(same or {}).get(name, name) for name in header]
    if len(header) == 1 and ";" in header[0]:
        raise UnitError(f"{path}:{line}: the cells are parted by semicolons: save the list as comma-separated CSV")
    for name in must:
        if name not in header:
            raise UnitError(f"{path}:{line}: the column {name} is missing: the header is {','.join(columns)}")
    for name in header:
        if header.count(name) > 1:
            raise UnitError(f"{path}:{line}: the column {printable(name[:40])} stands twice: keep one")
        if name not in columns:
            near = hint(name, columns, "the columns are " + ",".join(columns))
            raise UnitError(f"{path}:{line}: unknown column {name[:40]!r}: {near}")
    return header


def _part(path: Path, line: int, cells: dict[str, str]) -> Part:
    ref = cells.get("ref", "")
    if not ref:
        raise UnitError(f"{path}:{line}: ref: empty: every part needs a ref such as V1 or C3")
    if len(ref) > 20 or not ref.isprintable():
        raise UnitError(f"{path}:{line}: ref: {ref[:20]!r}: too long or unprintable: use one such as V1 or C3")
    if not cells.get("marking"):
        raise UnitError(f"{path}:{line}: marking: empty for {ref}: type what is printed on the part, or ?")
    try:
        role = read_role(cells["role"]) if cells.get("role") else None
    except ValueError as error:
        raise UnitError(f"{path}:{line}: role: {error}") from None
    try:
        measured = read_measured(cells["measured"]) if cells.get("measured") else {}
    except ValueError as error:
        raise UnitError(f"{path}:{line}: measured: {error}") from None
    return Part(ref, cells["marking"], role, cells.get("at") or None, measured, cells.get("note", ""), line)


def _unit(folder: Path, toml: TomlFile, parts: dict[str, Part]) -> Unit:
    top = toml.table("", "name mains_v mains_high_v mains_low_v mains_hz design_mains_v winding string supply")
    mains_v = top.number("mains_v", 80, 480)
    unit = Unit(
        name=top.text("name", folder.name), folder=folder, mains_v=mains_v,
        mains_hz=top.number("mains_hz", 15, 500), design_mains_v=top.number("design_mains_v", 80, 480, mains_v),
        mains_high_v=top.optional("mains_high_v", 80, 520), mains_low_v=top.optional("mains_low_v", 60, 480),
        windings=_windings(toml), strings=_strings(toml, parts), supply=_supply(toml, parts), parts=parts)
    if unit.mains_high_v is not None and unit.mains_high_v < mains_v:
        top.fault("mains_high_v", "is below mains_v", "it is the most the outlet ever gives")
    if unit.mains_low_v is not None and unit.mains_low_v > mains_v:
        top.fault("mains_low_v", "is above mains_v", "it is the least the outlet ever gives")
    return unit


def _windings(toml: TomlFile) -> dict[str, Winding]:
    windings: dict[str, Winding] = {}
    for table in toml.tables("winding", "id volts amps"):
        winding = Winding(table.text("id"), table.number("volts", 0.5, 150), table.optional("amps", 0.01, 100))
        if winding.id in windings:
            table.fault("id", f"{winding.id} stands twice", "give each winding its own id")
        windings[winding.id] = winding
    return windings


def _strings(toml: TomlFile, parts: dict[str, Part]) -> dict[str, HeaterString]:
    strings: dict[str, HeaterString] = {}
    for table in toml.tables("string", "id amps order dropper"):
        string = HeaterString(table.text("id"), table.number("amps", 0.02, 5), table.refs("order", parts),
                              table.ref("dropper", parts))
        if string.id in strings:
            table.fault("id", f"{string.id} stands twice", "give each string its own id")
        strings[string.id] = string
    return strings


def _supply(toml: TomlFile, parts: dict[str, Part]) -> Supply | None:
    if not toml.has("supply"):
        return None
    table = toml.table("supply", "rectifier circuit input secondary_v secondary_ohm secondary_a primary_ohm "
                                 "added_ohm node")
    rectifier = table.ref("rectifier", parts)
    if rectifier is None:
        table.fault("rectifier", "is missing", 'name the rectifier\'s ref, as rectifier = "V5"')
    return Supply(
        rectifier=rectifier,
        circuit=table.choice("circuit", ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")),
        input=table.choice("input", ("capacitor", "choke"), "capacitor"),
        secondary_v=table.number("secondary_v", 2, 10_000),
        secondary_ohm=table.optional("secondary_ohm", 0, 20_000),
        secondary_a=table.optional("secondary_a", 0.0005, 50),
        primary_ohm=table.optional("primary_ohm", 0, 5_000),
        added_ohm=table.number("added_ohm", 0, 20_000, 0.0),
        nodes=_nodes(toml, parts))


def _nodes(toml: TomlFile, parts: dict[str, Part]) -> tuple[Node, ...]:
    nodes: list[Node] = []
    for table in toml.tables("supply.node", "id from through capacitors tubes load_a load_ohm"):
        known = [n.id for n in nodes]
        node = Node(table.text("id"), table.text("from", None), table.ref("through", parts),
                    table.refs("capacitors", parts, sections=True), table.refs("tubes", parts),
                    table.optional("load_a", 0, 50), table.optional("load_ohm", 1, 1e8))
        if node.id in known:
            table.fault("id", f"{node.id} stands twice", "give each node its own id")
        if node.source is not None and node.source not in known:
            table.fault("from", f"{node.source} is no node above this one", "list the nodes from the rectifier on")
        if nodes and node.source is None:
            table.fault("from", "is missing", f'say which node feeds it, as from = "{known[-1]}"')
        nodes.append(node)
    return tuple(nodes)


def _places_known(unit: Unit) -> None:
    """Every `at` names a winding, a string, a node or a part."""
    nodes = [n.id for n in unit.supply.nodes] if unit.supply else []
    places = [*unit.windings, *unit.strings, *nodes, *unit.parts]
    for part in unit.parts.values():
        if part.at is not None and part.at not in places:
            near = hint(part.at, places, "define it in unit.toml as a [[winding]], [[string]] or [[supply.node]]")
            raise UnitError(f"{unit.folder / 'parts.csv'}:{part.line}: at: {part.at[:40]!r} is no winding, string, "
                            f"node or part: {near}")
