"""Published operation of stages: inside a maker's own typical operation a tube passes on the maker's word."""

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.catalogue import Figure, Ratings, point_name
from pipeline.point.point import Point
from pipeline.point.quantities import Quantity
from pipeline.point.wiring import Wired, lead_ohms

WORDS = ("published", "quoted", "measured")
"""Evidence that a maker's word must have: what somebody read."""


class Operation(NamedTuple):
    """One published operation of a tube; volts from the cathode, amperes and ohms of one tube of it.

    `plate_v` None where only the supply's volts are printed; `cathode_ohm` is what the bias implies where it is not.
    """

    plate_v: float | None
    supply_v: float | None
    screen_v: float | None
    screen_supply_v: float | None
    grid_v: float | None
    cathode_ohm: float | None
    connected: str
    figures: tuple[Figure, ...]

    @property
    def said(self) -> str:
        """The operation in words."""
        volts = f"{self.plate_v or self.supply_v:g} V"
        bias = f"{self.grid_v:g} V" if self.grid_v is not None else f"{self.cathode_ohm:.0f} ohm a tube"
        return f"{volts}, {bias}"


class _Design(NamedTuple):
    """Volts of a section's electrodes at design mains; None where not known."""

    plate: float | None
    screen: float | None
    cathode: float | None
    grid: float | None


def held_by_maker(point: Point, one: Wired) -> Operation | None:
    """The published operation inside which the section works at design mains, or None.

    Its plate and screen volts are at least the unit's, and its bias or its cathode resistor holds no more current.
    None too where the section's current was measured, or where today's line is higher than makers allow for.
    """
    amps, plate = _of(point, one, "cathode_a"), _of(point, one, "plate_v")
    if amps is None or amps.origin == "measured" or plate is None or plate.origin == "measured" \
            or point.mains.today > 1 + point.allowances["line variation"].value / 100:
        return None
    connected, volts = _connected(one), _Design(*(_design(point, one, f"{name}_v") for name in _Design._fields))
    near = _near(point)
    return next((o for o in operations(one) if o.connected == connected and _volts_within(volts, o, near)
                 and _biased_as_much(point, one, volts, o, near)), None)


def operations(one: Wired) -> tuple[Operation, ...]:
    """Every published operation of the section that somebody read and that says its bias, pairs among them."""
    ratings, section = one.part.ratings, one.section
    return ratings.once(("operations", section), lambda: tuple(_operations(ratings, section))) if ratings else ()


def _operations(ratings: Ratings, section: str) -> Iterator[Operation]:
    for subject, row in ratings.rows("operating_points").items():
        named = point_name(subject)
        if named.section != section or not named.service.startswith(("class", "rf")) or "plate_a" not in row:
            continue
        if (found := _operation(named.plate_v, row)) is not None and all(f.evidence in WORDS for f in found.figures):
            yield found


def _operation(plate_v: float | None, row: dict[str, Figure]) -> Operation | None:
    def value(name: str) -> float | None:
        return row[name].value if name in row else None

    count = value("tube_count") or 1
    amps = (row["plate_a"].value + (value("screen_a") or 0.0)) / count
    bias, ohm = value("bias_v"), value("cathode_ohm")
    if (bias is None and ohm is None) or not (plate_v or value("supply_v")) or not amps:
        return None
    per_tube = "per valve" in (row["cathode_ohm"].note or "") if "cathode_ohm" in row else True
    each = abs(bias) / amps if ohm is None and bias else (ohm or 0.0) * (1 if per_tube else count)
    used = tuple(row[n] for n in ("plate_a", "screen_a", "screen_v", "bias_v", "cathode_ohm") if n in row)
    connected = str(row["connected"].value) if "connected" in row else ""
    return Operation(plate_v, value("supply_v"), value("screen_v"), value("screen_supply_v"),
                     -abs(bias) if bias is not None else None, each or None, connected, used)


def _connected(one: Wired) -> str:
    """How the screen goes: with the plate, to a tap of its winding, or neither."""
    if one.stage is not None and one.stage.screen_tap is not None:
        return "ultralinear"
    return "triode" if one.stage is not None and one.stage.screen == "plate" and one.screen is not None else ""


def _volts_within(volts: _Design, found: Operation, near: float) -> bool:
    plate, screen, cathode = volts.plate, volts.screen, volts.cathode or 0.0
    if plate is None:
        return False
    within = plate - cathode <= found.plate_v * (1 + near) if found.plate_v else \
        plate <= (found.supply_v or 0.0) * (1 + near)
    if screen is None or found.connected:
        return within
    most = found.screen_v or found.screen_supply_v or found.plate_v or found.supply_v or 0.0
    return within and screen - (cathode if found.screen_v else 0.0) <= most * (1 + near)


def _biased_as_much(point: Point, one: Wired, volts: _Design, found: Operation, near: float) -> bool:
    cathode, grid = volts.cathode, volts.grid
    if cathode is None or grid is None:
        return False
    if found.grid_v is not None and grid - cathode <= found.grid_v * (1 - near):
        return True
    ohms = _own_ohms(point, one)
    return bool(found.cathode_ohm and ohms and abs(grid) < abs(cathode) * near
                and ohms >= found.cathode_ohm * (1 - near))


def _own_ohms(point: Point, one: Wired) -> float | None:
    """Cathode ohms that each section of the stage stands for: a shared resistor counts for each that shares it."""
    if one.cathode.through is None or one.cathode.to is not None:
        return None
    ohms = lead_ohms(one.cathode, point.unit, point.allowances)
    sharing = [w for w in point.wired if w.cathode == one.cathode]
    alike = all(w.stage is one.stage for w in sharing)
    return ohms.nominal * len(sharing) if ohms and alike else None


def _of(point: Point, one: Wired, name: str) -> Quantity | None:
    return point.get(one.place.ref, name, one.place.section)


def _design(point: Point, one: Wired, name: str) -> float | None:
    found = _of(point, one, name)
    return None if found is None else found.design


def _near(point: Point) -> float:
    """Share by which a unit may pass a published figure and still be the maker's own operation."""
    return float(point.allowances["maker's operation"].value) / 100
