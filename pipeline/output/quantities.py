"""Quantities in words, and figures with units a person uses: mA, mA/V, kohm, and no more digits than mean something."""

from pipeline.catalogue import Figure
from pipeline.checks.findings import AT_LEAST, AT_MOST, Finding
from pipeline.output.svg.axes import plain

WORDS = {
    "heater_v": "heater volts", "heater_a": "heater current", "heater_tolerance_pct": "heater tolerance",
    "warm_up_s": "controlled warm-up", "piv_max_v": "peak inverse volts",
    "heater_cathode_negative_max_v": "heater-cathode volts, heater negative",
    "heater_cathode_positive_max_v": "heater-cathode volts, heater positive",
    "plate_v": "plate volts", "plate_max_v": "plate volts", "plate_dissipation_max_w": "plate dissipation",
    "screen_max_v": "screen volts", "screen_dissipation_max_w": "screen dissipation",
    "cathode_max_a": "cathode current", "grid_circuit_max_ohm": "grid-circuit resistance",
    "mu": "amplification factor", "gm_s": "transconductance", "rp_ohm": "plate resistance",
    "screen_v": "screen volts", "bias_v": "grid bias", "cathode_ohm": "cathode resistor",
    "plate_a": "plate current", "screen_a": "screen current", "load_ohm": "load", "power_w": "output power",
    "plate_peak_max_a": "peak plate current", "plate_transient_max_a": "switch-on peak",
    "dc_output_max_a": "DC output", "ac_plate_max_v": "AC plate volts", "drop_v": "drop",
    "drop_at_a": "current at that drop", "input_capacitor_max_uf": "largest first capacitor",
    "supply_ohm": "plate-supply impedance", "supply_ohm_min": "plate-supply impedance",
    "dc_a": "DC output", "dc_v": "DC volts", "ac_v": "AC plate volts", "capacitor_uf": "first capacitor",
    "frequency_hz": "mains frequency", "lamp_v": "lamp volts", "lamp_a": "lamp current",
    "forward_max_a": "average current", "surge_max_a": "surge of half a cycle", "high_v": "upper mains limit",
    "ripple_a": "rated ripple current", "pins": "pins"}
_LEAST = ("supply_ohm_min", "rectifier_ratings supply_ohm")
_MOST = ("rectifier_ratings dc_a",)
"""Limits that their names do not tell: those that must be reached, and those that must not be passed."""
_BY_AMPERE = ("heater", "fuse", "lamp")
"""What the trade gives in amperes however small it is: heaters, fuses, lamps."""


def named(figure: Figure) -> str:
    """A figure in words: `5U4GB (capacitor, 450): DC output`."""
    type_, *rest = figure.subject.split("/") if figure.quantity in WORDS else [figure.subject]
    return f"{type_}{' (' + ', '.join(rest) + ')' if rest else ''} {WORDS.get(figure.quantity, figure.quantity)}"


def sense_of(quantity: str, table: str) -> str:
    """`at most` or `at least` before a rating that is a limit, else nothing."""
    if quantity in _LEAST or f"{table} {quantity}" in _LEAST:
        return AT_LEAST
    return AT_MOST if "_max_" in quantity or f"{table} {quantity}" in _MOST else ""


def value(figure: Figure) -> str:
    """A figure's value with its unit, as `amount`; words as they stand."""
    if not isinstance(figure.value, int | float):
        return str(figure.value)
    return amount(figure.value, figure.unit, figure.quantity)


def amount(number: float, unit: str | None, quantity: str = "", digits: int = 6) -> str:
    """A number with a unit that leaves it readable: `0.5 mA`, `1.6 mA/V`, `62.5 kohm`; heater current stays in A."""
    factor, name = scale(number, unit, quantity)
    return f"{written(number * factor, digits)} {name}".rstrip()


def written(number: float, digits: int) -> str:
    """The number in so many figures that mean something, whole numbers whole, without exponent, a plain minus sign."""
    return f"{number:.0f}" if abs(number) >= 10**digits else plain(number, digits).replace("\u2212", "-")


def scale(most: float, unit: str | None, quantity: str = "") -> tuple[float, str]:
    """(factor, unit's name) that leave a number as large as `most` readable."""
    size = abs(most)
    if unit == "ohm":
        return (1e-6, "Mohm") if size >= 1e6 else (1e-3, "kohm") if size >= 1e3 else (1.0, "ohm")
    if unit == "A" and not quantity.startswith(_BY_AMPERE) and 0 < size < 0.9995:
        return (1e3, "mA") if size >= 1e-4 else (1e6, "µA")
    if unit == "V" and 0 < size < 0.0995:
        return 1e3, "mV"
    if unit == "S":
        return 1e3, "mA/V"
    if unit == "µF" and 0 < size < 1e-3:
        return 1e6, "pF"
    return 1.0, "" if unit in (None, "1") else str(unit)


def numbers(finding: Finding) -> str:
    """The two numbers of a finding in one unit, with the way the limit binds: `36 ohm, at least 15 ohm`."""
    given = [x for x in (finding.figure, finding.limit) if x is not None]
    if not given:
        return ""
    factor, name = scale(max(given, key=abs), finding.unit, finding.check)
    shown = [None if x is None else x * factor for x in (finding.figure, finding.limit)]
    same = None not in shown and len({written(x, 3) for x in shown if x is not None}) == 1
    digits = 4 if same and shown[0] != shown[1] else 3
    figure, limit = ("not known" if x is None else f"{written(x, digits)} {name}".rstrip() for x in shown)
    return f"{figure}, {finding.sense} {limit}" if finding.limit is not None else f"{figure}, limit not known"
