"""The page of one type: what it is, what it bears and where that was read, what may stand in for it."""

from collections.abc import Iterable
from shlex import quote
from typing import NamedTuple

from pipeline.output.pages.curves import Drawn, plate_curves
from pipeline.output.pages.known import GRADES, Known, Row, slug
from pipeline.output.pages.rectifying import rectifier_curves
from pipeline.output.pages.shown import Block, Grid, Origin, Run, grid, origin, part_of, runs
from pipeline.output.pages.standing import Substitutes, substitutes
from pipeline.output.pages.wording import amount, heater
from pipeline.output.safe import Markup
from pipeline.output.svg.base import base_drawing

WHAT = ("function", "envelope", "base", "basing", "heating", "rating_system")
"""Columns of `tubes` that say what a tube is; the others are about its heater."""
GRIDS = ("heater_options", "operating_points", "rectifier_ratings", "rectifier_operation")
"""Tables shown with one row a subject; others that come to hold figures of tubes are shown too, by their key."""
APART = ("tubes", "sections", "rectifiers", "designations", "substitutes", "tube_pins", *GRIDS)
CAPTIONS = {"heater_options": "Heater as it may be wired", "operating_points": "Typical operation",
            "rectifier_ratings": "Rating chart, its corners", "rectifier_operation": "Typical operation as a rectifier",
            "resistance_coupled": "Resistance-coupled stages",
            "section_uses": "In one use only", "regulators": "As a regulator", "barretters": "As a current regulator",
            "ballasts": "As a ballast", "rectifier_curves": "Drop curve of one plate, its points",
            "rectifier_efficiency": "Rating by efficiency"}
NAMED_FIRST = 12
"""Other names that stand at the head of the page; the rest are in their table."""


class Differs(NamedTuple):
    """A figure that a document gives otherwise: what is taken and what that one says, with grade and document."""

    label: str
    taken: str
    taken_grade: str
    taken_document: str
    other: str
    other_grade: str
    other_document: str


class Name(NamedTuple):
    """Another name of the type: as printed, who gave it, whether every figure holds for it, and its grade."""

    printed: str
    system: str
    same: bool
    grade: str


class TypePage(NamedTuple):
    """All that stands on a type's page."""

    type: str
    title: str
    description: str
    what: str
    facts: list[tuple[str, str, str]]
    tally: list[tuple[int, str]]
    first_names: list[str]
    more_names: int
    base: Markup | None
    base_origin: Origin | None
    blocks: list[Block]
    grids: list[Grid]
    missing: list[str]
    substitutes: Substitutes | None
    differs: list[Differs]
    names: list[Name]
    confirmed: list[tuple[Origin, list[str]]]
    recalled: int
    others: Block | None
    sources: list[tuple[str, str]]
    curves: list[Drawn]
    questions: list[str]

    @property
    def command_type(self) -> str:
        """The type as one word of a command line."""
        return quote(self.type)


def type_page(known: Known, type_: str) -> TypePage:
    """Everything about one type, in the order of the page."""
    tube, tables = known.tubes[type_], known.by_type[type_]
    chosen = {name: [row for row in rows if row["chosen"]] for name, rows in tables.items()}
    every = [row for name, rows in chosen.items() if name != "designations" for row in rows]
    names = [Name(r["designation"], r["system"] or "", r["nearness"] == "same", r["evidence"])
             for r in known.names.get(type_, ())]
    same = [n.printed for n in names if n.same]
    blocks = [b for b in _blocks(known, tube, chosen) if b.runs]
    grids = [g for g in _grids(known, chosen) if g]
    drawn, drawn_from = _base(known, tube, chosen)
    return TypePage(
        type_, _title(tube, same), _description(tube, same), what(tube), _facts(known, tube), _tally(every),
        same[:NAMED_FIRST], max(len(names) - len(same[:NAMED_FIRST]), 0), drawn, drawn_from, blocks, grids,
        _missing(tube, chosen, drawn), substitutes(known, type_), differing(known, type_), names,
        _confirmed(known, every), sum(r["evidence"] == "recalled" and r["table"] not in ("substitutes", "tube_pins")
                                      for r in every),
        _others(known, tables), _sources(known, tables),
        [*plate_curves(known, type_), *rectifier_curves(known, type_)], questions(known, type_))


def what(tube: Row) -> str:
    """What the tube is, in one line: `twin triode, noval base, heater 12.6 V 0.15 A`."""
    kind = "filament" if tube["heating"] == "filament" else "heater"
    found = heater(tube)
    words = [tube["function"], f"{tube['base']} base" if tube["base"] else None,
             f"{kind} {found}" if found else "cold cathode" if tube["heating"] == "cold" else None]
    return ", ".join(w for w in words if w) or "a tube of which nothing but its name is known"


def _title(tube: Row, same: list[str]) -> str:
    names = " / ".join([tube["type"], *same[:3]])
    return f"{names}: {tube['function'] or 'tube'}"


def _description(tube: Row, same: list[str]) -> str:
    other = f" Also printed as {', '.join(same[:8])}." if same else ""
    return f"{tube['type']}: {what(tube)}. Base from below, limits, typical operation and substitutes, each figure " \
           f"with its document.{other}"


def _facts(known: Known, tube: Row) -> list[tuple[str, str, str]]:
    """What the tube is, line by line: name, value, and the list of types alike where there is one."""
    kind = "Filament" if tube["heating"] == "filament" else "Heater"
    options = [f"{heater(o)} {o['arrangement']}" for o in known.heater_options.get(tube["type"], ())
               if o["arrangement"] in ("series", "parallel")]
    base = ", basing ".join(x for x in (tube["base"], tube["basing"]) if x)
    alike = {name: f"{name}/{slug(tube[name])}.html" if tube[name] else "" for name in ("function", "base")}
    facts = [("Function", tube["function"], alike["function"]), ("Base", base, alike["base"]),
             (kind, " or ".join(options) or heater(tube), ""), ("Bulb", tube["envelope"], ""),
             ("Limits are", tube["rating_system"], ""), ("Met often", known.common.get(tube["type"]), "")]
    return [(name, value, link) for name, value, link in facts if value]


def _tally(rows: list[Row]) -> list[tuple[int, str]]:
    counts = [(sum(r["evidence"] == grade for r in rows), grade) for grade in GRADES]
    return [(n, grade) for n, grade in counts if n]


def _blocks(known: Known, tube: Row, chosen: dict[str, list[Row]]) -> Iterable[Block]:
    parts: dict[str, list[Row]] = {}
    for row in chosen.get("sections", ()):
        parts.setdefault(part_of(row), []).append(row)
    system = f"; limits are {tube['rating_system']} values" if tube["rating_system"] else ""
    for part, rows in parts.items():
        yield Block(_section(part, len(parts)) + system, runs(known, rows))
    yield Block("As a rectifier" + system, runs(known, chosen.get("rectifiers", ())))
    for table in (t for t, key in known.of_tubes.items() if t not in APART and not key):
        yield Block(_title_of(known, table), runs(known, chosen.get(table, ())))
    own = chosen.get("tubes", [])
    kind = "Filament" if tube["heating"] == "filament" else "Heater"
    heating = runs(known, [r for r in own if r["quantity"] not in WHAT])
    yield Block(kind, [_of_filament(run) for run in heating] if kind == "Filament" else heating)
    yield Block("The tube", runs(known, [r for r in own if r["quantity"] in WHAT]))


def _of_filament(run: Run) -> Run:
    """The run with what is said of a heater said of a filament."""
    return run._replace(lines=[line._replace(label=line.label.replace("heater", "filament")) for line in run.lines])


def _section(part: str, count: int) -> str:
    if part == "each":
        return "Each section, alike"
    return f"{part[:1].upper()}{part[1:]} section" if part != "whole" or count > 1 else "Limits and characteristics"


def _grids(known: Known, chosen: dict[str, list[Row]]) -> Iterable[Grid | None]:
    for table in (*GRIDS, *(t for t, key in known.of_tubes.items() if t not in APART and key)):
        rows = chosen.get(table, ())
        whole = all(part_of(r).partition("/")[0] == "whole" for r in rows)
        yield grid(known, table, rows, _title_of(known, table), ("section",) if whole else ())


def _title_of(known: Known, table: str) -> str:
    return CAPTIONS.get(table) or known.resources[table].get("title", table)


def _base(known: Known, tube: Row, chosen: dict[str, list[Row]]) -> tuple[Markup | None, Origin | None]:
    pins = known.pins.get(tube["type"], [])
    drawn = base_drawing(tube["type"], tube["base"], pins, key="page")
    figure = next((r for r in chosen.get("tube_pins", ()) if r["quantity"] == "pins"), None) \
        or known.basings.get(tube["basing"] or "")
    return (Markup(drawn), origin(known, [figure]) if figure else None) if drawn else (None, None)


def _missing(tube: Row, chosen: dict[str, list[Row]], drawn: Markup | None) -> list[str]:
    """What a restorer would look for and the catalogue does not hold."""
    cold = tube["heating"] == "cold"
    found = {"which pin is which": drawn, "the heater's volts and current": cold or heater(tube),
             "limits": chosen.get("sections") or chosen.get("rectifiers"),
             "typical operation": chosen.get("operating_points") or chosen.get("rectifier_operation"),
             "how the limits are meant (design-centre, design-maximum, absolute)": tube["rating_system"]}
    return [name for name, held in found.items() if not held]


def differing(known: Known, type_: str) -> list[Differs]:
    """What documents give otherwise than the figure taken."""
    return [differing_of(known, row) for row in known.disagreements_of.get(type_, ())]


def questions(known: Known, type_: str) -> list[str]:
    """Figures of the type that cannot be right beside another of its own, a sentence each."""
    found = []
    for row in known.questions.get(type_, ()):
        value = amount(row["quantity"], row["value"], known.unit(row["table"], row["quantity"]))
        found.append(f"{_differing_name(known, row)} {value}: {row['what']}.")
    return found


def differing_of(known: Known, row: Row) -> Differs:
    """One disagreement in words."""
    return Differs(_differing_name(known, row), *_side(known, row, "chosen"), *_side(known, row, "other"))


def _differing_name(known: Known, row: Row) -> str:
    """The figure in words: `plate volts (pentode)`, `substitute 5751: what must hold`."""
    part = row["subject"][len(row["type"] or row["subject"]) + 1:].replace("/", ", ").replace("#", ", point ")
    name = known.label(row["table"], row["quantity"])
    if row["table"] == "substitutes":
        return f"substitute {part}: {name}"
    return f"{name} ({part})" if part else name


def _side(known: Known, row: Row, side: str) -> tuple[str, str, str]:
    try:
        value: float | str = float(row[f"{side}_value"]) if row["unit"] else row[f"{side}_value"]
    except ValueError:
        value = row[f"{side}_value"]
    return (amount(row["quantity"], value, row["unit"]), row[f"{side}_evidence"],
            known.document(row[f"{side}_source"]))


def _confirmed(known: Known, every: list[Row]) -> list[tuple[Origin, list[str]]]:
    """Documents in which figures were read, with what was read there."""
    places: dict[tuple, list[Row]] = {}
    for row in every:
        if row["evidence"] in ("published", "quoted") and row["table"] != "substitutes":
            places.setdefault((row["evidence"], row["source_id"], row["locator"]), []).append(row)
    return [(origin(known, rows[:1]), list(dict.fromkeys(known.label(r["table"], r["quantity"]) for r in rows)))
            for rows in places.values()]


def _others(known: Known, tables: dict[str, list[Row]]) -> Block | None:
    """Readings that were not taken, because a stronger or newer one stands before them."""
    rows = [r for name, many in tables.items() if name not in ("designations", "substitutes") for r in many
            if not r["chosen"]]
    return Block("Other readings of these figures", runs(known, rows, named=True)) if rows else None


def _sources(known: Known, tables: dict[str, list[Row]]) -> list[tuple[str, str]]:
    ids = {row["source_id"] for rows in tables.values() for row in rows}
    return sorted(((id_, known.document(id_)) for id_ in ids), key=lambda pair: pair[1].lower())
