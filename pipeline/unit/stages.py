"""The stages, as `unit.toml` tells them: what feeds each tube, and what stands in its leads."""

import math
import re
from collections import Counter

from pipeline.textfile import printable
from pipeline.tomlfile import Section, too_many
from pipeline.unit.model import Place, Stage
from pipeline.unit.places import Names

MOST_STAGES = 200
_KEYS = ("tubes plate plate_through screen screen_through cathode_through cathode_to grid grid_through service "
         "signal_a")
_PLATE = r"(?i)(.+?)\s+(?:plate|anode)"
_TAP = r"(?i)(?:plate|anode)\s*(?:at\s*)?(\d{1,2}(?:[.,]\d+)?)\s*%"


def stages_of(top: Section, names: Names) -> tuple[Stage, ...]:
    """The stages, in the order of the file."""
    found: list[Stage] = []
    where: dict[Place, int] = {}
    tables = list(top.tables("stage", _KEYS))
    too_many(tables, MOST_STAGES, "stages")
    for table in tables[:MOST_STAGES]:
        stage = _stage(table, names)
        for place in dict.fromkeys(stage.tubes):
            sections = names.parts[place.ref].sections if place.section is None else ()
            covered = [Place(place.ref, section) for section in sections] or [place]
            if (line := next((where[p] for p in covered if p in where), None)) is not None:
                table.fault("tubes", f"{place} has its stage already on line {line}",
                            "name each tube, or each of its sections, once")
            where |= dict.fromkeys(covered, table.line)
        found.append(stage)
    _no_loops(found, tables)
    return tuple(found)


def _no_loops(stages: list[Stage], tables: list[Section]) -> None:
    """No grid hangs on its own tube's plate, be it by way of others: such a stage has no working point to be found."""
    at = {place: i for i, stage in enumerate(stages) for place in stage.tubes}
    feeds = [None if (place := stage.grid_from) is None else at.get(place, at.get(Place(place.ref)))
             for stage in stages]
    told: set[int] = set()
    for i in range(len(stages)):
        ring, next_ = [i], feeds[i]
        while next_ is not None and next_ not in ring:
            ring.append(next_)
            next_ = feeds[next_]
        if next_ != i or told.intersection(ring):
            continue
        told.update(ring)
        names = " and ".join(str(stages[k].grid_from) for k in reversed(ring))
        tables[i].fault("grid", f"hangs on {names} plate, its own tube's" if len(ring) == 1 else
                        f"hangs in a ring: the plates of {names} feed each other's grids",
                        "name the plate of the tube before it; a capacitor between them joins no volts")


def _stage(table: Section, names: Names) -> Stage:
    tubes = _tubes(table, names)
    for key in ("tubes", "plate"):
        if key not in table.data:
            table.missing(key, 'name its tubes, as tubes = ["V3"]' if key == "tubes" else
                          'name the node that feeds the plate, as plate = "B1"')
    screen, tap = _screen(table, names)
    grid, grid_v, grid_from = _grid(table, names)
    return Stage(
        tubes, names.name(table, "plate", "node") or "", _leads(table, "plate_through", tubes, names), screen, tap,
        _leads(table, "screen_through", tubes, names), _leads(table, "cathode_through", tubes, names),
        names.name(table, "cathode_to", "node"), grid, grid_v, grid_from, _leads(table, "grid_through", tubes, names),
        table.text("service", ""), table.amps("signal_a", 0, 5), table.line)


def _tubes(table: Section, names: Names) -> tuple[Place, ...]:
    """The stage's tubes; each must be one, or not known yet."""
    places = names.sections(table, "tubes")
    names.of_kinds(table, "tubes", places, "tube")
    for place in [p for p, count in Counter(places).items() if count > 1]:
        table.fault("tubes", f"{place} stands twice", "name each once")
    return places


def _leads(table: Section, key: str, tubes: tuple[Place, ...], names: Names) -> tuple[str, ...]:
    """The parts in a lead: one shared by all tubes, or one to each."""
    refs = names.part_refs(table, key)
    given = table.data.get(key)
    if isinstance(given, list) and len(given) == len(refs) > 1 and tubes and len(refs) != len(tubes):
        table.fault(key, f"lists {len(refs)} parts for {len(tubes)} tube{'s' if len(tubes) > 1 else ''}",
                    "name one that they share, or one for each")
    return refs


def _plate_of(table: Section, names: Names, said: str) -> Place | None:
    """The tube, or section of one, on whose plate a grid hangs; of several sections it must be said which."""
    place = names.part_place(table, "grid", said)
    if place is None:
        return None
    names.of_kinds(table, "grid", [place], "tube")
    sections = names.parts[place.ref].sections if place.section is None else ()
    if sections:
        written = [f'"{Place(place.ref, section)} plate"' for section in sections]
        table.fault("grid", f"{place} has {len(sections)} sections", f"write {' or '.join(written)}")
    return place


def _screen(table: Section, names: Names) -> tuple[str | None, float | None]:
    """(node or `plate`, share of the primary up to the tap) of a screen."""
    said = str(table.text("screen", ""))
    if said.lower() in ("plate", "anode"):
        return "plate", None
    if match := re.fullmatch(_TAP, said):
        return "plate", float(match[1].replace(",", ".")) / 100
    if said and names.find(said, "node") is None:
        if names.complete:
            table.fault("screen", f"no node {printable(said[:40])!r}",
                        'name the node that feeds it, "plate", or a tap as "plate 43 %"')
        return None, None
    return names.find(said, "node"), None


def _grid(table: Section, names: Names) -> tuple[str | None, float | None, Place | None]:
    """(node, volts, tube whose plate it hangs on) of a grid; all None where it returns to chassis."""
    given = table.data.get("grid")
    if isinstance(given, int | float) and not isinstance(given, bool):
        volts = table.number("grid", -500, 500)
        return None, (None if math.isnan(volts) else volts), None
    said = str(table.text("grid", ""))
    if said.lower() in ("", "chassis"):
        return None, None, None
    if names.find(said, "node") is None and (match := re.fullmatch(_PLATE, said)):
        return None, None, _plate_of(table, names, match[1])
    if re.fullmatch(r"[-+]?[\d.,]+\s*V?", said, re.IGNORECASE):
        table.fault("grid", f"{said[:40]!r} is text", "write volts without quotation marks, as grid = -38")
        return None, None, None
    return names.name(table, "grid", "node"), None, None

