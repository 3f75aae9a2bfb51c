"""Rules about one tube's own figures: heater watts, dissipation, amplification."""

from collections.abc import Iterator

from pipeline.build.audit.ground import Ground, Hit, hit, where
from pipeline.build.normalise import TypedRow

_SLIP = "look for a slipped decimal point or another unit"

POWER = ("power triode", "twin power triode", "beam power tetrode", "power pentode", "twin power pentode",
         "triode + power pentode", "triode + power tetrode", "double diode + power pentode",
         "triode + twin power pentode", "rectifier + power pentode", "rectifier + beam power tetrode",
         "pentode + power pentode", "pentode + power tetrode", "diode triode + power pentode")
RECTIFIERS = ("full-wave rectifier", "half-wave rectifier", "twin half-wave rectifier", "damper diode",
              "gas rectifier", "thyratron")
COMPOUND = ("twin triode", "triple triode", "twin pentode", "triode-pentode", "triode-hexode", "triode-heptode")

HEATER_WATTS = {
    ("filament", "power"): (0.04, 45.0), ("filament", "rectifier"): (0.1, 60.0), ("filament", "small"): (0.008, 2.0),
    ("heater", "power"): (0.9, 45.0), ("heater", "rectifier"): (0.3, 60.0), ("heater", "compound"): (0.7, 17.0),
    ("heater", "small"): (0.4, 7.0),
}
"""(heating, class) → least and most heater watts; the width holds every receiving type known to the trade's
tables (1B3GT 0.25 W, 6S33S 42 W, 872A 38 W) and is narrow enough that most ten-times slips fall out of it."""

DISSIPATION_PER_HEATER_WATT = {"power": (0.2, 8.0), "compound": (0.02, 4.0), "small": (0.02, 6.0)}
"""Class → least and most watts on a section's plate for each heater watt (6AB8's triode, EL32's 6.3); the lower
bound of a power tube holds for its output section only."""
MU_TOLERANCE = 0.3


def class_of(function: object) -> str:
    """`power`, `rectifier`, `compound` or `small`: how much heater a function needs."""
    if function in POWER:
        return "power"
    if function in RECTIFIERS:
        return "rectifier"
    return "compound" if function in COMPOUND else "small"


def watts_of(row: TypedRow) -> float | None:
    """Heater watts of a row of `tubes` or `heater_options`, None where volts or amps are not given."""
    volts, amps = row.values["heater_v"], row.values["heater_a"]
    return None if volts is None or amps is None else float(volts) * float(amps)


def heater_watts(ground: Ground) -> Iterator[Hit]:
    """Heater watts are plausible for what the tube does: a small pentode takes no 20 W."""
    for row in ground.typed["tubes"]:
        watts = watts_of(row)
        span = HEATER_WATTS.get((str(row.values["heating"]), class_of(row.values["function"])))
        if watts is not None and span and not span[0] <= watts <= span[1]:
            yield hit(row, "heater_a", f"{row.values['heater_v']:g} V makes {watts:.3g} W, where a "
                      f"{row.values['function']} takes {span[0]:g} to {span[1]:g} W", _SLIP)


def heater_options_watts(ground: Ground) -> Iterator[Hit]:
    """The halves of a tapped heater take the same watts in series and in parallel."""
    for type_, rows in ground.heater_options.items():
        whole = [w for r in ground.tubes.get(type_, ()) if (w := watts_of(r)) is not None]
        for row in rows:
            watts = watts_of(row) if row.values["arrangement"] in ("series", "parallel") else None
            if watts is not None and whole and not any(abs(watts - w) <= 0.06 * w for w in whole):
                yield hit(row, "heater_a", f"{watts:.3g} W here, {whole[0]:.3g} W for the tube", _SLIP)


def plate_watts(ground: Ground) -> Iterator[Hit]:
    """Plate dissipation stands in a plausible ratio to heater watts: emission costs heat.

    Small battery filaments are left out: they are cheaper than any heater.
    """
    for row in ground.typed["sections"]:
        dissipation, type_ = row.number("plate_dissipation_max_w"), str(row.values["type"])
        tubes = [t for t in ground.tubes.get(type_, ()) if watts_of(t) and t.values["heating"] == "heater"]
        if dissipation is None:
            continue
        for tube in tubes[:1]:
            watts = watts_of(tube) or 0.0
            low, high = _dissipation_span(row.values["kind"], class_of(tube.values["function"]))
            if not low * watts <= dissipation <= high * watts:
                yield hit(row, "plate_dissipation_max_w", f"a heater of {watts:.3g} W at {where(tube)} speaks for "
                          f"{low * watts:.2g} to {high * watts:.2g} W", _SLIP)


def _dissipation_span(kind: object, class_: str) -> tuple[float, float]:
    low, high = DISSIPATION_PER_HEATER_WATT.get(class_, (0.02, 8.0))
    return (low, high) if kind in ("power pentode", "beam tetrode", "power triode") else (0.02, high)


def screen_watts(ground: Ground) -> Iterator[Hit]:
    """A screen is rated below the plate it serves, in watts."""
    for row in ground.typed["sections"]:
        plate, screen = row.values["plate_dissipation_max_w"], row.values["screen_dissipation_max_w"]
        if plate is not None and screen is not None and float(screen) > float(plate):
            yield hit(row, "screen_dissipation_max_w", f"more than the plate's {plate:g} W", _SLIP)


def mu_gm_rp(ground: Ground) -> Iterator[Hit]:
    """Amplification factor is transconductance times plate resistance (mu = gm·rp), by definition.

    It holds in a section's characteristics, in those of one use of it, and at every point of operation.
    """
    for row in (row for table in ("sections", "section_uses", "operating_points") for row in ground.typed[table]):
        mu, gm, rp = (row.number(name) for name in ("mu", "gm_s", "rp_ohm"))
        if mu is None or gm is None or rp is None:
            continue
        product = gm * rp
        if abs(product - mu) > MU_TOLERANCE * mu:
            yield hit(row, "mu", f"gm times rp makes {product:.3g}", _SLIP)
