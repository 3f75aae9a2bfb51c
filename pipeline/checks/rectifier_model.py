"""The unit's rectifier and what hangs on it, as numbers: drop, source resistance, currents drawn at each node."""

from dataclasses import dataclass, field

from pipeline.catalogue import Figure, point_name
from pipeline.unit import MainsSupply, Node, Part, Unit

SILICON_THRESHOLD = Figure("silicon diode", "drop_v", 0.8, "V", "practice", "", note="forward drop in mains service")
SELENIUM_CELL_V = Figure("selenium cell", "volts a cell", 26.0, "V", "quoted", "sams-metallic-rectifiers")
SELENIUM_CELL_DROP = Figure("selenium cell", "drop_v", 1.0, "V", "recalled", "", note="new; aged cells drop more")
SELENIUM_AGED_DROP = Figure("selenium cell", "drop_v when aged", 3.0, "V", "recalled", "",
                            note="15 to 20 V or more over five or six cells")
DROP_SPREAD = Figure("rectifier tube", "spread of the drop", 10.0, "%", "practice", "",
                     note="good tubes of one type differ by about as much; less drop means more volts and peaks")

PAIR = 1e4
"""Distance in volts put on push-pull points, so that a single-tube point is taken where there is one."""


_LEAST_DROP = (1 - DROP_SPREAD.value / 100) ** -1.5


@dataclass
class Device:
    """How the rectifier conducts: a tube by its perveance, a silicon or selenium one by its threshold."""

    part: Part
    kind: str
    perveance: float | None = None
    threshold_v: float = 0.0
    directly_heated: bool = False
    rests_on: tuple[Figure, ...] = ()
    missing: str = ""
    mend: str = ""
    aged_threshold_v: float | None = None

    @property
    def least_drop_perveance(self) -> float | None:
        """Perveance of a tube at the low end of the spread, which drops least."""
        return None if self.perveance is None else self.perveance * _LEAST_DROP


@dataclass
class Draw:
    """What a node's load takes: constant amps, ohms, or tubes as k·v^1.5; `missing` says what is not known."""

    load_a: float = 0.0
    load_ohm: float | None = None
    load_k: float = 0.0
    estimated: list[str] = field(default_factory=list)
    rests_on: tuple[Figure, ...] = ()
    missing: str = ""


def device_of(unit: Unit, supply: MainsSupply) -> Device:
    """The rectifier as the solver takes it."""
    part = unit.parts[supply.rectifier]
    if part.kind == "tube":
        return _tube(part)
    if part.kind == "diode":
        return _metal(part, supply, unit)
    return Device(part, "unknown", missing=f"the rectifier {part.ref} is not known", mend="Read its marking again.")


def _tube(part: Part) -> Device:
    heating = part.rating("tubes", "heating")
    direct = heating is None or heating.value != "heater"
    drop, at = (part.rating("rectifiers", n) for n in ("drop_v", "drop_at_a"))
    if not (drop and at):
        return Device(part, "tube", directly_heated=direct, missing=f"the drop of {part.called} is not known",
                      mend=f"Look up {part.called}'s drop at a stated plate current and add it to rectifiers.")
    return Device(part, "tube", at.value / drop.value**1.5, directly_heated=direct, rests_on=(drop, at, DROP_SPREAD))


def _metal(part: Part, supply: MainsSupply, unit: Unit) -> Device:
    kind = part.rating("diodes", "kind")
    selenium = (kind is not None and kind.value == "selenium") or "selen" in part.marking.lower()
    if not selenium:
        drop = part.rating("diodes", "drop_v")
        threshold = min(drop.value, 1.1) if drop else SILICON_THRESHOLD.value
        return Device(part, "silicon", None, threshold, True, (drop or SILICON_THRESHOLD,))
    cells = max(1, -(-supply.secondary_v // SELENIUM_CELL_V.value))
    return Device(part, "selenium", None, cells * SELENIUM_CELL_DROP.value, True,
                  (SELENIUM_CELL_V, SELENIUM_CELL_DROP), aged_threshold_v=cells * SELENIUM_AGED_DROP.value)


def source_ohm(unit: Unit, supply: MainsSupply) -> float | None:
    """Resistance behind each plate: winding, primary by the square of the turns, and any added resistor."""
    if supply.secondary_ohm is None:
        return None
    turns = supply.secondary_v / (unit.design_mains_v or supply.secondary_v)
    return supply.secondary_ohm + (supply.primary_ohm or 0.0) * turns**2 + supply.added_ohm


def draw_of(node: Node, unit: Unit, about_v: float) -> Draw:
    """The node's load: given amps or ohms, and its tubes by measured bias or published typical operation."""
    draw = Draw(load_a=node.load_a or 0.0, load_ohm=node.load_ohm)
    for place in node.tubes:
        _add_tube(draw, unit.parts[place.ref], unit, about_v)
    return draw


def _add_tube(draw: Draw, part: Part, unit: Unit, about_v: float) -> None:
    measured = measured_current(part, unit)
    if measured is not None:
        draw.load_a += measured
        return
    found = typical_draw(part, about_v)
    if found is None:
        draw.missing = draw.missing or f"what {part.ref} draws is not known"
        return
    k, rests_on = found
    draw.load_k += k
    draw.rests_on += rests_on
    draw.estimated.append(part.ref)


def measured_current(part: Part, unit: Unit) -> float | None:
    """Cathode amps from the tube's measured cathode volts and its cathode resistor, or None."""
    volts = part.measured.get("cathode_v")
    ohms = [p.measured.get("ohms") or p.reading.ohms for p in unit.parts.values()
            if p.role == "cathode" and p.is_at(part.ref) and p.reading and p.kind == "resistor"]
    return volts / ohms[0] if volts and ohms and ohms[0] else None


def typical_rows(part: Part) -> list[tuple[str, dict[str, Figure]]]:
    """(section, figures) of the type's typical operation with a plate current, in the order of the catalogue.

    Points with the screen joined to plate or transformer are left out: nothing says that the unit is so wired.
    """
    rows = part.ratings.rows("operating_points") if part.ratings else {}
    found = [(point_name(subject), row) for subject, row in rows.items() if "plate_a" in row and "connected" not in row]
    return [(name.section, row) for name, row in sorted(found, key=lambda pair: pair[0].number) if name.plate_v]


def sections_count(part: Part) -> int:
    """How many alike sections the tube's section `each` stands for."""
    function = part.rating("tubes", "function")
    return 2 if function and str(function.value).startswith("twin") else 1


def typical_draw(part: Part, about_v: float) -> tuple[float, tuple[Figure, ...]] | None:
    """k of k·v^1.5 (A/V^1.5) from the typical operation nearest `about_v`, summed over the sections; and its figures.

    The 3/2 law is the rule of the conversion factors in the RCA receiving tube manuals (recalled).
    """
    best: dict[str, tuple[float, dict[str, Figure]]] = {}
    for section, row in typical_rows(part):
        pair = "tube_count" in row and row["tube_count"].value > 1
        distance = abs(_plate_v(row) - about_v) + (PAIR if pair else 0)
        if section not in best or distance < best[section][0]:
            best[section] = (distance, row)
    k, rests_on = 0.0, []
    for section, (distance, row) in best.items():
        amps = row["plate_a"].value + (row["screen_a"].value if "screen_a" in row else 0.0)
        each = (sections_count(part) if section == "each" else 1) / (2 if distance >= PAIR else 1)
        k += each * amps / _plate_v(row) ** 1.5
        rests_on += [row[name] for name in ("plate_a", "screen_a") if name in row]
    return (k, tuple(rests_on)) if best else None


def _plate_v(row: dict[str, Figure]) -> float:
    return point_name(row["plate_a"].subject).plate_v or 0.0
