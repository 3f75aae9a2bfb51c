"""Rules of resistors and chokes: watts and amperes at the operating point."""

from collections.abc import Iterator, Sequence

from pipeline.amounts import amount, written
from pipeline.catalogue import Figure
from pipeline.checks.rule import Measure
from pipeline.point.point import Point
from pipeline.point.quantities import Quantity
from pipeline.unit import Part

ACROSS = ("balance", "bleeder")
"""Roles of resistors that stand across a supply, or a part of it."""
BORNE = "volts on a resistor of "
"""How the names of the allowances begin that say what volts a size bears."""
NEAR = 1.3
"""A resistor of so many times a size's watts still counts as of that size: 0.6 W as a half watt."""


def resistor_power(point: Point) -> Iterator[Measure]:
    """Watts in every resistor whose current or volts are known, against its marked rating."""
    over = point.allowances["new resistor watts"]
    for watts in point.quantities.of("resistor_w"):
        part, volts = point.unit.parts[watts.at], point.get(watts.at, "resistor_v")
        rated, read = part.reading.watts, volts is not None and volts.origin == "measured"
        if watts.value is None or part.kind not in ("resistor", "potentiometer", None):
            continue
        burnt = f"burns {written(watts.value, 3)} W"
        burns = f"{part.ref} ({part.shown}) has {written(volts.value, 3)} V across it and {burnt}" \
            if volts is not None and volts.value is not None else f"{part.ref} {burnt}"
        recommended = f"{written(over.value * watts.value, 2)} W"
        if rated is None:
            if read:
                yield Measure(part.ref, watts.value, None, "W", f"{burns}; its rating is not marked.",
                              f"Fit one of {recommended} or more.", rests_on=watts.rests_on)
            continue
        yield _against(point, part, watts, rated, burns, recommended)


def _against(point: Point, part: Part, watts: Quantity, rated: float, burns: str, recommended: str) -> Measure:
    margin = point.allowances["old resistor margin"]
    value, most = watts.value or 0.0, max(watts.most or 0.0, watts.value or 0.0)
    warm = value > rated * margin.value
    return Measure(
        part.ref, value, rated, "W", f"{burns}; it is rated {rated:g} W" + (
            f", and above {margin.value * 100:.0f} % of that an old one drifts." if warm else "."),
        f"Find what draws too much; a new one should bear {recommended}.",
        most, rests_on=(*watts.rests_on, margin if warm else None), careful=warm)


def resistor_voltage(point: Point) -> Iterator[Measure]:
    """Volts on small resistors against what their size bears: of balances and bleeders, else where it is passed."""
    sizes = sorted((float(name.removeprefix(BORNE).removesuffix(" W")), figure)
                   for name, figure in point.allowances.items() if name.startswith(BORNE))
    for volts in point.quantities.of("resistor_v"):
        part = point.unit.parts[volts.at]
        limit = borne_v(part, sizes)
        if volts.value is None or limit is None:
            continue
        most = max(volts.most or 0.0, volts.value)
        if part.role in ACROSS or most > limit.value:
            yield Measure(
                part.ref, volts.value, limit.value, "V",
                f"{part.ref} ({part.shown}) has {written(volts.value, 3)} V across it, up to {written(most, 3)} V; "
                f"one of its size bears about {limit.value:g} V, whatever its watts.",
                "Fit one of more watts, or two of half the ohms in series.", most, gravest="caution",
                rests_on=(limit, *volts.rests_on))


def borne_v(part: Part, sizes: Sequence[tuple[float, Figure]]) -> Figure | None:
    """Volts that a carbon resistor of its watts bears; None above the sizes, and where its watts are not marked."""
    watts = part.reading.watts if part.kind == "resistor" else None
    return None if watts is None else next((figure for size, figure in sizes if watts <= size * NEAR), None)


def choke_current(point: Point) -> Iterator[Measure]:
    """DC amperes through chokes and windings whose marking rates them."""
    far = point.allowances["choke far over"]
    for amps in point.quantities.of("resistor_a"):
        part = point.unit.parts[amps.at]
        if part.kind == "choke" and part.reading.amps and amps.value is not None:
            yield Measure(
                part.ref, amps.value, part.reading.amps, "A",
                f"{part.ref} ({part.shown}) carries {amount(amps.value, 'A', digits=3)}; it is marked for "
                f"{part.reading.amps * 1000:g} mA, beyond which it saturates and overheats.",
                "Find what draws too much.", amps.most, gravest="caution" if amps.value < far.value * part.reading.amps
                else "stop", rests_on=(far, *amps.rests_on))
