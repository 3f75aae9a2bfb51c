"""Rules about typical operation: a published point lies within the tube's own limits and obeys Ohm's law."""

from collections.abc import Iterator

from pipeline.build.audit.ground import Ground, Hit, hit
from pipeline.build.normalise import TypedRow

DISSIPATION_MARGIN = 1.15
"""A typical point may pass the rated dissipation by this: makers printed points at or just above the limit."""
VOLTS_MARGIN = 1.01
CURRENT_MARGIN = 1.05
BIAS_TOLERANCE = 0.3
CLASS_A_EFFICIENCY = 0.65
"""Most output for each watt of plate input at no signal: theory allows 0.5 of the input at full signal, and pentode
points draw up to a quarter more plate current there (7591: 60 to 75 mA)."""
LOAD_RATIO = (0.2, 5.0)
"""Load times plate current over plate volts, single-ended class A power stage."""

_SLIP = "look for a slipped decimal point, or for the current of two tubes"


def _tubes_of(row: TypedRow) -> int | None:
    """How many tubes the currents are for; None for services whose plate input is not dissipation."""
    service = str(row.values["service"] or "").lower()
    if "class c" in service or "class b" in service or "frequency" in service or "oscillator" in service:
        return None
    return int(row.number("tube_count") or 1)


def _points(ground: Ground) -> Iterator[tuple[TypedRow, int]]:
    for row in ground.typed["operating_points"]:
        tubes = _tubes_of(row)
        if tubes is not None:
            yield row, tubes


def _watts(row: TypedRow, electrode: str) -> float | None:
    """Watts that all tubes of the point take; with a cathode resistor the volts are the supply's, bias included."""
    volts, amps = row.values[f"{electrode}_v"], row.values[f"{electrode}_a"]
    if volts is None or amps is None:
        return None
    cathode = float(row.values["cathode_ohm"] or 0.0) * float(row.values["plate_a"] or 0.0)
    return (float(volts) - cathode) * float(amps)


def _dissipation(ground: Ground, electrode: str) -> Iterator[Hit]:
    for row, tubes in _points(ground):
        all_watts = _watts(row, electrode)
        watts = None if all_watts is None or row.values["service"] == "static" else all_watts / tubes
        limit = ground.largest_of(row, f"{electrode}_dissipation_max_w")
        if watts is not None and limit is not None and watts > DISSIPATION_MARGIN * limit:
            yield hit(row, f"{electrode}_a", f"at {row.values[electrode + '_v']:g} V that is {watts:.3g} W on the "
                      f"{electrode}, rated {limit:g} W", _SLIP)


def plate_dissipation(ground: Ground) -> Iterator[Hit]:
    """Plate volts times plate current at no signal stay within the plate's dissipation.

    Static characteristics are left out: makers took them in short pulses, above what the plate bears for long.
    """
    return _dissipation(ground, "plate")


def screen_dissipation(ground: Ground) -> Iterator[Hit]:
    """Screen volts times screen current at no signal stay within the screen's dissipation."""
    return _dissipation(ground, "screen")


def _volts(ground: Ground, electrode: str) -> Iterator[Hit]:
    for row in ground.typed["operating_points"]:
        volts, limit = row.values[f"{electrode}_v"], ground.largest_of(row, f"{electrode}_max_v")
        if volts is not None and limit is not None and float(volts) > VOLTS_MARGIN * limit:
            yield hit(row, f"{electrode}_v", f"above the {electrode}'s {limit:g} V", "mend the point or the limit")


def plate_volts(ground: Ground) -> Iterator[Hit]:
    """Plate volts at a typical point stay within the largest plate volts."""
    return _volts(ground, "plate")


def screen_volts(ground: Ground) -> Iterator[Hit]:
    """Screen volts at a typical point stay within the largest screen volts."""
    return _volts(ground, "screen")


def cathode_current(ground: Ground) -> Iterator[Hit]:
    """Plate and screen current together stay within the largest cathode current.

    Static characteristics are left out: makers took them in short pulses.
    """
    for row, tubes in _points(ground):
        if row.values["service"] == "static":
            continue
        limit, plate = ground.largest_of(row, "cathode_max_a"), row.values["plate_a"]
        if limit is not None and plate is not None:
            total = (float(plate) + float(row.values["screen_a"] or 0.0)) / tubes
            if total > CURRENT_MARGIN * limit:
                yield hit(row, "plate_a", f"{total:.3g} A with the screen, the cathode is rated {limit:g} A", _SLIP)


def cathode_bias(ground: Ground) -> Iterator[Hit]:
    """Cathode resistor times cathode current is the bias, where all are given.

    A screen current that is not given leaves room for a quarter of the plate's; a pair may share its resistor.
    """
    for row, tubes in _points(ground):
        bias, ohm, plate, screen = (row.values[n] for n in ("bias_v", "cathode_ohm", "plate_a", "screen_a"))
        if not bias or ohm is None or plate is None:
            continue
        amps = float(plate) + float(screen or 0.0)
        most = amps if screen is not None or row.values["screen_v"] is None else 1.25 * amps
        low, high = (1 - BIAS_TOLERANCE) * amps * float(ohm) / tubes, (1 + BIAS_TOLERANCE) * most * float(ohm)
        if not low <= abs(float(bias)) <= high:
            yield hit(row, "cathode_ohm", f"{amps:.3g} A through it makes {amps * float(ohm):.3g} V, the bias is "
                      f"{bias:g} V", _SLIP)


def _single_power(ground: Ground) -> Iterator[tuple[TypedRow, float, float]]:
    """Single-ended class A points with output power, their plate input in watts, and that power."""
    for row, tubes in _points(ground):
        service = str(row.values["service"] or "").lower()
        watts, power = _watts(row, "plate"), row.number("power_w")
        if tubes == 1 and service.startswith("class a") and "ab" not in service and power and watts:
            yield row, watts, power


def output_power(ground: Ground) -> Iterator[Hit]:
    """A class A stage turns at most half of its plate input into output."""
    for row, watts, power in _single_power(ground):
        if power > CLASS_A_EFFICIENCY * watts:
            yield hit(row, "power_w", f"more than half of the plate's {watts:.3g} W", _SLIP)


def load(ground: Ground) -> Iterator[Hit]:
    """The load of a single output tube is near its plate volts over its plate current."""
    for row, _, _ in _single_power(ground):
        ohm, volts, amps = (row.number(name) for name in ("load_ohm", "plate_v", "plate_a"))
        if ohm is not None and volts is not None and amps is not None:
            near = volts / amps
            if not LOAD_RATIO[0] <= ohm / near <= LOAD_RATIO[1]:
                yield hit(row, "load_ohm", f"plate volts over plate current make {near:.3g} ohm", _SLIP)
