"""Rules of the capacitors of mains motors: volts above the line's, and microfarads that have gone."""

from collections.abc import Iterator

from pipeline.checks.rule import AT_LEAST, Measure
from pipeline.electrics.capacitors import motor_run_fails_below
from pipeline.electrics.drive import motor_capacitor_volts
from pipeline.point.point import Point
from pipeline.unit import Part


def motor_capacitors(point: Point) -> Iterator[Part]:
    """The capacitors of the unit's motors whose value can be read."""
    return (p for p in point.unit.parts.values() if p.kind == "capacitor" and p.role in ("motor run", "motor start")
            and p.reading.sections)


def motor_capacitor_voltage(point: Point) -> Iterator[Measure]:
    """The AC rating against the line's highest volts, and with care against what the auxiliary winding adds."""
    above, mains = point.allowances["motor capacitor over line"], point.mains
    for part in motor_capacitors(point):
        rated = part.reading.volts_ac
        if rated is None or point.unit.mains_v is None:
            continue
        low, high = (float(x) for x in motor_capacitor_volts(mains.high_v))
        yield Measure(
            part.ref, mains.high_v, rated, "V",
            f"{part.ref} is rated for {rated:g} V AC; across it usually stand {low:.0f} to {high:.0f} V at "
            f"{mains.at_high}, for the auxiliary winding adds to the line.",
            f"Fit one of the same microfarads for {high:.0f} V AC or more, or measure the volts across it while the "
            "motor runs.", above.value * mains.high_v, rests_on=(above, *mains.rests_on))


def motor_capacitor_value(point: Point) -> Iterator[Measure]:
    """Measured microfarads against what the standard calls failed, and with care against the part's own tolerance."""
    fails_by, own = point.allowances["motor capacitor drift"], point.allowances["motor capacitor tolerance"]
    for part in motor_capacitors(point):
        uf = part.measured.get("uf")
        if uf is None or len(part.reading.sections) != 1:
            continue
        marked, band = part.reading.sections[0].uf, part.reading.tolerance_band_pct or (-own.value, own.value)
        fails = float(motor_run_fails_below(marked, min(-band[0], 50.0) / 100))
        least = marked * (1 + band[0] / 100)
        failed = uf < fails
        yield Measure(
            part.ref, uf, fails if failed else least * 0.999, "µF",
            f"{part.ref} measures {uf:g} µF, marked {marked:g} µF; it counts as failed below {fails:.3g} µF.",
            "Fit a new one of the marked value: a weak one costs torque and heats the motor.", sense=AT_LEAST,
            gravest="stop" if failed else "caution",
            rests_on=(fails_by, None if part.reading.tolerance_band_pct else own))
