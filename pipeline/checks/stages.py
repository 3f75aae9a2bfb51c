"""Rules of tube sections: what plates, screens, cathodes and grids bear, at the point where the unit works."""

from collections.abc import Iterator

from pipeline.amounts import amount
from pipeline.catalogue import Figure
from pipeline.checks.operations import Operation, held_by_maker
from pipeline.checks.rule import AT_LEAST, AT_MOST, Fact, Measure
from pipeline.point.laws import published_points, section_row
from pipeline.point.point import Point
from pipeline.point.quantities import Quantity
from pipeline.point.wiring import Wired

TELLS = (("dissipation", "plate_w", ("plate_dissipation_max_w",)), ("plate-voltage", "plate_v", ("plate_max_v",)),
         ("screen-voltage", "screen_v", ("screen_max_v", "screen_supply_max_v")),
         ("screen-dissipation", "screen_w", ("screen_dissipation_max_w",)))
"""The checks of a section that say why its quantity is not known, with its limits; the first that can tells for all."""


def plate_voltage(point: Point) -> Iterator[Measure]:
    """Plate volts from the cathode against the rating."""
    yield from _volts(point, "plate_v", ("plate_max_v",), "plate")


def screen_voltage(point: Point) -> Iterator[Measure]:
    """Screen volts from the cathode against the rating; where a sheet prints the screen's supply only, against that."""
    yield from _volts(point, "screen_v", ("screen_max_v", "screen_supply_max_v"), "screen")


def _volts(point: Point, name: str, limit_names: tuple[str, ...], electrode: str) -> Iterator[Measure]:
    for one in _sections(point):
        volts, cathode = _quantity(point, one, name), _quantity(point, one, "cathode_v")
        row = section_row(one.part, one.section)
        limit = next((row[each] for each in limit_names if each in row), None)
        if volts is None or cathode is None or limit is None:
            continue
        if volts.value is None and _said_already(point, one, f"{electrode}-voltage"):
            continue
        figure, adverse = _by_system(point, limit, one, volts.design, volts.value, volts.most)
        held = held_by_maker(point, one)
        less = cathode.value or 0.0
        what = f"{_name(one)}'s {electrode} stands {_say(_minus(volts.value, less))} above its cathode today" \
            if volts.value is not None else f"{_name(one)}: {volts.missing}"
        yield Measure(
            one.place.ref if one.place.section is None else str(one.place), _minus(figure, less), limit.value, "V",
            f"{what}; it may have {limit.value:g} V{_held_against(one, limit, _minus(volts.design, less), 'V')}"
            f"{_on_word(held)}.",
            volts.mend if volts.value is None else "Look for too high B+, or fit a type that bears it.",
            _minus(adverse, less), rests_on=(limit, *_rests(volts, held)), missing=volts.value is None,
            maker=_document(held), covers=(one.place.ref,))


def dissipation(point: Point) -> Iterator[Measure]:
    """Watts of each plate against its rating."""
    yield from _watts(point, "plate_w", "plate_dissipation_max_w", "plate")


def screen_dissipation(point: Point) -> Iterator[Measure]:
    """Watts of each screen against its rating."""
    yield from _watts(point, "screen_w", "screen_dissipation_max_w", "screen")


def _watts(point: Point, name: str, limit_name: str, electrode: str) -> Iterator[Measure]:
    for one in _sections(point):
        watts = _quantity(point, one, name)
        limit = section_row(one.part, one.section).get(limit_name)
        if watts is None or (limit is None and watts.value is None):
            continue
        if watts.value is None and _said_already(point, one, "dissipation" if electrode == "plate" else
                                                 "screen-dissipation"):
            continue
        figure, adverse = _by_system(point, limit, one, watts.design, watts.value, watts.most)
        held = held_by_maker(point, one)
        yield Measure(
            str(one.place), figure, limit.value if limit else None, "W",
            _watts_said(point, one, watts, limit, electrode) + f"{_on_word(held)}.", _watts_do(one, watts, limit),
            adverse, rests_on=(limit, *_rests(watts, held)), missing=watts.value is None, maker=_document(held),
            covers=(one.place.ref,))


def _watts_said(point: Point, one: Wired, watts: Quantity, limit: Figure | None, electrode: str) -> str:
    if watts.value is None:
        return f"{_name(one)}: {watts.missing}"
    volts = _quantity(point, one, "plate_v" if electrode == "plate" else "screen_v")
    amps = _quantity(point, one, "plate_a" if electrode == "plate" else "screen_a")
    cathode = _quantity(point, one, "cathode_v")
    where = ""
    if volts and amps and cathode and volts.value is not None and amps.value is not None:
        where = f" ({volts.value:.3g} V on the {electrode}, {cathode.value or 0.0:.3g} V on the cathode, " \
                f"{amount(amps.value, 'A', digits=3)})"
    bears = f"; it may burn {limit.value:g} W" if limit else "; what it may burn is not known"
    if limit is not None:
        bears += _held_against(one, limit, watts.design, "W")
    return f"{_name(one)} burns {watts.value:.3g} W on its {electrode}{where}{bears}"


def _watts_do(one: Wired, watts: Quantity, limit: Figure | None) -> str:
    if watts.value is None:
        return watts.mend
    if limit is None:
        return "Look its dissipation up and add it to sections."
    return "Check the grid for positive volts (a leaking coupling capacitor), the bias or cathode resistor, and the " \
           "plate volts, before it runs for longer than the meter needs."


def cathode_current(point: Point) -> Iterator[Measure]:
    """Cathode current of each section against its rating."""
    for one in _sections(point):
        amps = _quantity(point, one, "cathode_a")
        limit = section_row(one.part, one.section).get("cathode_max_a")
        if amps is None or amps.value is None or limit is None:
            continue
        figure, adverse = _by_system(point, limit, one, amps.design, amps.value, amps.most)
        held = held_by_maker(point, one)
        yield Measure(
            str(one.place), figure, limit.value, "A",
            f"{_name(one)} draws {amount(amps.value, 'A', digits=3)}; its cathode gives {limit.value * 1000:g} mA"
            f"{_held_against(one, limit, amps.design, 'A')}{_on_word(held)}.", "Find what biases it too little.",
            adverse, rests_on=(limit, *_rests(amps, held)), maker=_document(held), covers=(one.place.ref,))


def grid_circuit(point: Point) -> Iterator[Measure]:
    """Ohms from each grid to its bias against the rating, which is lower for fixed bias."""
    for one in _sections(point):
        if one.grid.through is None:
            continue
        part, row = point.unit.parts[one.grid.through], section_row(one.part, one.section)
        name, biased = ("grid_circuit_leak_max_ohm", "grid-leak") if one.by_grid_current else \
            ("grid_circuit_fixed_max_ohm", "fixed") if one.fixed_bias else ("grid_circuit_max_ohm", "cathode")
        limit, ohms = row.get(name), part.measured.get("ohms") or part.reading.ohms
        if limit is None or ohms is None:
            continue
        yield Measure(
            str(one.place), ohms, limit.value, "ohm",
            f"{part.ref} ({part.shown}) holds {_name(one)}'s grid; with {biased} bias it may "
            f"have {amount(limit.value, 'ohm')} there, or grid current carries the bias away.",
            f"Fit {amount(limit.value, 'ohm')} or less, and a coupling capacitor in proportion larger.",
            gravest="caution", rests_on=(limit,), covers=(one.place.ref, part.ref))


def bias(point: Point) -> Iterator[Measure | Fact]:
    """Whether each fixed-bias grid has its negative volts, and what the tube would burn without them."""
    for one in _sections(point):
        if one.grid_v is not None or one.grid.to is not None:
            yield from _fixed(point, one)
        elif _bare(one):
            yield from _unbiased(point, one)
        yield from _beyond_the_law(point, one)


def _fixed(point: Point, one: Wired) -> Iterator[Fact]:
    watts, grid = _quantity(point, one, "plate_w"), _quantity(point, one, "grid_v")
    limit = section_row(one.part, one.section).get("plate_dissipation_max_w")
    covers = (one.place.ref,)
    if grid is None or grid.value is None:
        missing, mend = (grid.missing, grid.mend) if grid else (one.missing, one.mend)
        yield Fact(str(one.place), None, f"{_name(one)}'s bias is not known: {missing}.", mend, covers=covers)
        return
    burns = f"; without them it would burn about {watts.lost:.3g} W on its plate" if watts and watts.lost else ""
    bears = f" of the {limit.value:g} W it bears" if burns and limit else ""
    cathode = _quantity(point, one, "cathode_v")
    held = grid.value < (cathode.value or 0.0 if cathode else 0.0)
    yield Fact(
        str(one.place), held, f"{_name(one)} has {grid.value:.3g} V on its grid{burns}{bears}.",
        "Find why the negative volts are missing before the tube goes in: it burns out within minutes.",
        rests_on=(limit, *grid.rests_on, *(watts.rests_on if watts else ())), covers=covers)


def _beyond_the_law(point: Point, one: Wired) -> Iterator[Fact]:
    """A grid above its cathode, or a plate that is not: there the sum of the stage does not hold."""
    grid, cathode, plate = (_quantity(point, one, f"{name}_v") for name in ("grid", "cathode", "plate"))
    if grid is None or cathode is None or plate is None or None in (grid.value, cathode.value, plate.value):
        return
    above, slight = (grid.value or 0.0) - (cathode.value or 0.0), point.allowances["positive grid"]
    fixed = one.grid_v is not None or one.grid.to is not None  # then it is a stop already
    if above > slight.value and not fixed and "class b" not in one.service and "oscillator" not in one.service:
        yield Fact(
            str(one.place), None, f"{_name(one)}'s grid comes out {above:.3g} V above its cathode: it then draws "
            "current, which this sum leaves out, so that its volts and watts, and those of the stage before it, are "
            "not known.",
            "Measure grid, cathode and plate, and write them in `measured`; check what sets the grid's volts.",
            rests_on=(slight, *grid.rests_on), covers=(one.place.ref,))
    if (plate.value or 0.0) - (cathode.value or 0.0) < slight.value:
        yield Fact(
            str(one.place), None, f"{_name(one)}'s plate does not come out above its cathode ({plate.value:.3g} and "
            f"{cathode.value:.3g} V): so connected it does not conduct.",
            "Check the nodes of its stage in unit.toml: plate, cathode_to.", rests_on=plate.rests_on,
            covers=(one.place.ref,))


def _bare(one: Wired) -> bool:
    """Whether neither a cathode resistor nor anything on the grid biases the section."""
    return one.cathode.through is None and one.cathode.to is None and one.grid_v is None and one.grid.to is None \
        and one.grid_from is None and not one.by_grid_current and "class b" not in one.service


def _unbiased(point: Point, one: Wired) -> Iterator[Measure]:
    """A section that needs volts on its grid and has none."""
    watts = _quantity(point, one, "plate_w")
    limit = section_row(one.part, one.section).get("plate_dissipation_max_w")
    usual = published_points(one.part, one.section)
    if watts is not None and watts.value is not None and limit is not None and usual \
            and min(p.grid_v for p in usual) < -2 and "grid_v" not in point.readings.of(one.at):
        yield Measure(
            str(one.place), watts.value, limit.value, "W",
            f"{_name(one)} has neither a cathode resistor nor negative volts on its grid: it would burn about "
            f"{watts.value:.3g} W of the {limit.value:g} W it bears.",
            "Describe its bias (grid, cathode_through) in its stage, or find why it has none.",
            rests_on=(limit, *watts.rests_on), covers=(one.place.ref,))


def reading(point: Point) -> Iterator[Measure]:
    """Readings that the sum does not explain: outside the band of what is expected without them."""
    for quantity in point.quantities:
        if quantity.origin != "measured" or quantity.expected is None or quantity.quantity not in (
                "dc_v", "plate_v", "screen_v", "cathode_v", "grid_v", "resistor_v") or quantity.value is None:
            continue
        low, high = quantity.expected_low, quantity.expected_high
        if low is None or high is None:
            continue
        above = quantity.value > quantity.expected
        word = quantity.quantity.removesuffix("_v").replace("dc", "").replace("resistor", "").strip()
        yield Measure(
            quantity.place, quantity.value, high if above else low, "V",
            f"{quantity.place}{' ' + word if word else ''} reads {quantity.value:.3g} V; the sum expects "
            f"{quantity.expected:.3g} V, {low:.3g} to {high:.3g} V.",
            "Measure again; then look for a leaking capacitor, a resistor that has drifted, a weak or wrong tube.",
            sense=AT_MOST if above else AT_LEAST, gravest="caution",
            rests_on=point_rests(point, quantity), covers=(quantity.at,))


def point_rests(point: Point, quantity: Quantity) -> tuple[Figure, ...]:
    """What the expected value of a measured place rests on: its supplies and the spread of tubes."""
    states = tuple(f for s in point.states if not s.missing for f in s.rests_on)
    return tuple(dict.fromkeys((*quantity.rests_on, *states, point.allowances["tube spread"])))


def _sections(point: Point) -> Iterator[Wired]:
    return (one for one in point.wired if one.part.ratings is not None)


def _quantity(point: Point, one: Wired, name: str) -> Quantity | None:
    return point.get(one.place.ref, name, one.place.section)


def _name(one: Wired) -> str:
    return f"{one.place} ({one.part.called})"


def _by_system(point: Point, limit: Figure | None, one: Wired, design: float | None, today: float | None,
               most: float | None) -> tuple[float | None, float | None]:
    """(figure, adverse figure) that a limit is held against.

    Design-centre limits allow for the line and for the spread of parts: they are held against design mains and
    nominal parts. Design-maximum, absolute and unnamed ones are held against today and against the adverse end.
    """
    if limit is not None and rating_system(one, limit) == "design-centre" and design is not None:
        allowed = 1 + point.allowances["line variation"].value / 100
        return design, today if point.mains.today > allowed else None
    return today, most


def rating_system(one: Wired, limit: Figure) -> str | None:
    """The rating system of a section's limit: its row's own, else the type's; None where neither is known."""
    row = section_row(one.part, one.section)
    own = row.get("rating_system") or one.part.rating("tubes", "rating_system")
    return str(own.value) if own else None


def _held_against(one: Wired, limit: Figure, design: float | None, unit: str) -> str:
    """In words what a design-centre limit is held against; nothing of the others, which hold today."""
    if design is None or rating_system(one, limit) != "design-centre":
        return ""
    return f" as a design-centre limit, held against {amount(design, unit, digits=3)} at design mains"


def _said_already(point: Point, one: Wired, check: str) -> bool:
    """Whether another check tells already why nothing is known of the section: one reason is told once.

    The first of its checks with a limit tells it, its dissipation before all.
    """
    row = section_row(one.part, one.section)
    for name, quantity, limits in TELLS:
        found = _quantity(point, one, quantity)
        if found is not None and found.value is None and any(each in row for each in limits):
            return name != check
    return False


def _document(held: Operation | None) -> str:
    return held.figures[0].source_id if held else ""


def _on_word(held: Operation | None) -> str:
    return f"; the maker publishes {held.said} as typical operation" if held else ""


def _rests(quantity: Quantity, held: Operation | None) -> tuple[Figure, ...]:
    return (*(held.figures if held else ()), *quantity.rests_on)


def _minus(value: float | None, less: float) -> float | None:
    return None if value is None else value - less


def _say(volts: float | None) -> str:
    return "unknown volts" if volts is None else f"{volts:.0f} V"
