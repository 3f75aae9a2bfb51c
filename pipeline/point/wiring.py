"""The unit's tube sections as they are wired: which node feeds each electrode, through which part.

A `[[stage]]` says it; the roles of the parts list fill what it leaves out. A tube that only a node names, with a
cathode resistor among the parts, makes a stage of its own.
"""

from collections.abc import Iterator, Mapping, Sequence

from pipeline.catalogue import Figure
from pipeline.point.laws import catalogue_section, has_screen
from pipeline.point.leads import Lead, Ohms, end_to_end, ohms_of
from pipeline.records import Record, replace
from pipeline.unit import LETTERS, Part, Place, Stage, Unit

ROLES = {"cathode": "cathode", "plate": "plate load", "screen": "screen", "grid": "grid leak"}
"""Electrode → the role of the part between it and its supply."""
SINGLE_ENDED = ("parallel", "single")
GRID_LEAK_OHM = 1e6
"""A grid leak above this on a grounded cathode biases its tube by grid current."""


class Wired(Record):
    """One section of a tube as wired; `plate` None where no node is known to feed it."""

    place: Place
    part: Part
    section: str
    stage: Stage | None
    plate: Lead | None
    screen: Lead | None
    cathode: Lead
    grid: Lead
    grid_v: float | None = None
    grid_from: Place | None = None
    missing: str = ""
    mend: str = ""

    @property
    def at(self) -> tuple[str, str | None]:
        """Ref and section as the operating point names them; the section is None for a single one."""
        return self.place.ref, self.place.section

    @property
    def service(self) -> str:
        return (self.stage.service if self.stage else "").lower()

    @property
    def by_grid_current(self) -> bool:
        """Whether the stage says that it biases itself by grid current."""
        return any(word in self.service for word in ("grid leak", "grid current", "grid-leak", "contact"))

    @property
    def fixed_bias(self) -> bool:
        """Whether volts on its grid bias it, and not its own current; a few ohms to measure by change nothing."""
        return self.cathode.through is None or self.grid_v is not None or self.grid.to is not None

    @property
    def by_avc(self) -> bool:
        return "avc" in self.service or "agc" in self.service

    @property
    def leads(self) -> list[Lead]:
        return [lead for lead in (self.plate, self.screen, self.cathode, self.grid) if lead is not None]


def wire(unit: Unit) -> list[Wired]:
    """Every section that a stage, or a node and the roles of the parts, describe."""
    found = [w for stage in unit.stages for w in _of_stage(stage, unit)]
    known = {w.at for w in found}
    return found + [w for w in _implied(unit) if w.at not in known and (w.place.ref, None) not in known]


def sections_of(place: Place, part: Part) -> list[Place]:
    """The sections that a place means: every alike half where none is named, else the power section."""
    if place.section is not None or not part.sections:
        return [place]
    if part.sections[0] in LETTERS:
        return [Place(place.ref, letter) for letter in part.sections]
    return [Place(place.ref, part.power_section)]


def _of_stage(stage: Stage, unit: Unit) -> Iterator[Wired]:
    halves = 0
    for index, place in enumerate(stage.tubes):
        part = unit.parts[place.ref]
        for own in sections_of(place, part):
            yield _wired(stage, unit, part, own, index, halves)
            halves += 1


def _wired(stage: Stage, unit: Unit, part: Part, place: Place, index: int, half: int) -> Wired:
    section = catalogue_section(part, place.section)
    screened = has_screen(part, section)
    plate = Lead(stage.plate, _through(stage.plate_through, "plate", index, place, unit))
    if plate.through and _push_pull(stage, unit.parts[plate.through]):
        plate = plate._replace(half=half % 2)
    screen = _screen(stage, plate, index, place, unit) if screened else None
    cathode = Lead(stage.cathode_to, _through(stage.cathode_through, "cathode", index, place, unit))
    grid = Lead(stage.grid, _through(stage.grid_through, "grid", index, place, unit))
    wired = Wired(place, part, section, stage, plate, screen, cathode, grid, stage.grid_v, stage.grid_from)
    if part.ratings is None:
        return replace(wired, missing=f"the catalogue has no ratings for {part.ref}",
                       mend="Look the type up and add it with `tubewright add tubes`.")
    return wired


def _screen(stage: Stage, plate: Lead, index: int, place: Place, unit: Unit) -> Lead:
    """The screen's lead: with the plate in triode connection; a tap of the plate's winding is taken as its node."""
    if stage.screen == "plate" and stage.screen_tap is None:
        return plate
    node = stage.plate if stage.screen in (None, "plate") else stage.screen
    return Lead(node, _through(stage.screen_through, "screen", index, place, unit))


def _push_pull(stage: Stage, part: Part) -> bool:
    """Whether the stage's plates stand at the two ends of this part: tubes of a stage on one transformer."""
    return len(stage.tubes) > 1 and part.kind not in ("resistor", "choke") \
        and not any(word in stage.service.lower() for word in SINGLE_ENDED)


def _through(given: Sequence[str], electrode: str, index: int, place: Place, unit: Unit) -> str | None:
    """The part between an electrode and its supply: one for all, one for each, or the one whose role says so."""
    if given:
        return given[index] if 1 < len(given) > index else given[0]
    found = parts_at(place, ROLES[electrode], unit)
    own = unit.parts[place.ref].sections
    if len(found) > 1 and place.section in own and len(found) == len(own):
        return found[own.index(place.section)].ref
    return found[0].ref if found else None


def parts_at(place: Place, role: str, unit: Unit) -> list[Part]:
    """Parts of a role that hang on the tube or its section, in the order of the list."""
    return [p for p in unit.parts_at(place.ref, role)
            if any(a.ref == place.ref and a.section in (None, place.section) for a in p.at)]


def read_alone(unit: Unit, wired: Sequence[Wired]) -> list[Wired]:
    """Sections of which nobody says what feeds them, but of which plate and cathode were read."""
    known = {w.place.ref for w in wired}
    found = []
    for part in unit.parts.values():
        place = Place(part.ref, part.power_section)
        if part.kind != "tube" or part.ref in known or part.ratings is None \
                or not {"plate_v", "cathode_v"} <= part.measured_of(part.power_section).keys():
            continue
        resistors = parts_at(place, "cathode", unit)
        one = Wired(place, part, catalogue_section(part, place.section), None, None, None,
                    Lead(None, resistors[0].ref if resistors else None), Lead(None))
        found.append(one if resistors else replace(
            one, missing="its cathode resistor is not in the list, so its current is not known",
            mend=f"Add the resistor with role cathode and at {part.ref}."))
    return found


def _implied(unit: Unit) -> Iterator[Wired]:
    """Tubes that a node names, with a cathode resistor among the parts and no stage of their own."""
    for supply in unit.supplies:
        for node in supply.nodes:
            for place in node.tubes:
                part = unit.parts[place.ref]
                if part.kind != "tube" or not parts_at(place, "cathode", unit):
                    continue
                yield from _of_stage(Stage(tubes=(place,), plate=node.id), unit)


def lead_ohms(lead: Lead, unit: Unit, allowances: Mapping[str, Figure], halves: bool = False) -> Ohms | None:
    """Resistance in a lead, 0 where nothing lies in it; of one half of a winding where `halves` share it.

    Ohms marked on a transformer are of each half, except where it says that they are from end to end.
    """
    if lead.through is None:
        return Ohms(0.0, 0.0, 0.0)
    part = unit.parts[lead.through]
    return ohms_of(part, allowances, 0.5 if halves and end_to_end(part) else 1.0)


def driven(unit: Unit, wired: Sequence[Wired]) -> list[Place]:
    """Places that a node names and that are in no stage: what they draw is taken from typical operation."""
    known = {w.place.ref for w in wired}
    return [place for supply in unit.supplies for node in supply.nodes for place in node.tubes
            if place.ref not in known]
