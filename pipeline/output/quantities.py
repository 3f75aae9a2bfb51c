"""Quantities in words, and figures with units a person uses: mA, mA/V, kohm, and no more digits than mean something."""

from pipeline.amounts import amount, scale, written
from pipeline.catalogue import Figure
from pipeline.checks.findings import AT_LEAST, AT_MOST, Finding

WORDS = {
    "heater_v": "heater volts", "heater_a": "heater current", "heater_tolerance_pct": "heater tolerance",
    "heater_a_tolerance_pct": "heater current tolerance", "heater_series_v": "heater volts in a string",
    "warm_up_s": "controlled warm-up", "piv_max_v": "peak inverse volts",
    "heater_cathode_negative_max_v": "heater-cathode volts, heater negative",
    "heater_cathode_negative_dc_max_v": "DC part, heater negative",
    "heater_cathode_positive_max_v": "heater-cathode volts, heater positive",
    "heater_cathode_positive_dc_max_v": "DC part, heater positive",
    "heater_cathode_pulse_max_v": "heater-cathode pulse", "heater_cathode_max_ohm": "heater-cathode resistance",
    "supply_v": "supply volts", "plate_v": "plate volts", "plate_max_v": "plate volts",
    "plate_supply_max_v": "plate supply volts", "plate_cold_max_v": "plate volts at switch-on",
    "plate_pulse_max_v": "plate pulse", "plate_dissipation_max_w": "plate dissipation",
    "plate_dissipation_signal_max_w": "plate dissipation, full signal",
    "plates_dissipation_max_w": "dissipation, both plates", "plate_max_a": "plate current",
    "screen_max_v": "screen volts", "screen_supply_max_v": "screen supply volts",
    "screen_cold_max_v": "screen volts at switch-on", "screen_dissipation_max_w": "screen dissipation",
    "screen_dissipation_signal_max_w": "screen dissipation, full signal",
    "cathode_max_a": "cathode current", "cathode_peak_max_a": "peak cathode current",
    "grid_negative_max_v": "negative grid volts", "grid_circuit_max_ohm": "grid-circuit resistance",
    "grid_circuit_fixed_max_ohm": "grid-circuit resistance, fixed bias",
    "grid_circuit_leak_max_ohm": "grid resistor, grid-leak bias",
    "mu": "amplification factor", "mu_screen": "amplification factor, screen to grid", "gm_s": "transconductance",
    "conversion_gm_s": "conversion transconductance", "rp_ohm": "plate resistance",
    "tube_count": "tubes", "screen_v": "screen volts", "screen_supply_v": "screen supply",
    "screen_ohm": "screen resistor", "bias_v": "grid bias", "cathode_ohm": "cathode resistor",
    "grid_ohm": "grid resistor", "next_grid_ohm": "next grid resistor", "plate_a": "plate current",
    "screen_a": "screen current", "plate_signal_a": "plate current at full signal",
    "screen_signal_a": "screen current at full signal", "load_ohm": "load", "signal_v": "drive, rms",
    "signal_peak_v": "drive, peak", "screen_tap_pct": "screen tap", "oscillator_v": "oscillator volts, rms",
    "cathode_a": "cathode current",
    "power_w": "output power", "distortion_pct": "distortion", "oscillator_grid_a": "oscillator grid current",
    "oscillator_grid_ohm": "oscillator grid resistor", "gain": "gain", "output_v": "output, rms",
    "output_peak_v": "output, peak", "plate_peak_max_a": "peak plate current", "piv_pulse_max_v": "inverse pulse",
    "plate_transient_max_a": "switch-on peak", "dc_output_max_a": "DC output", "ac_plate_max_v": "AC plate volts",
    "drop_v": "drop", "drop_at_a": "current at that drop", "input_capacitor_max_uf": "largest first capacitor",
    "supply_ohm": "plate-supply impedance", "supply_ohm_min": "plate-supply impedance",
    "dc_a": "DC output", "dc_v": "DC volts", "ac_v": "AC plate volts", "capacitor_uf": "first capacitor",
    "choke_h": "first choke", "frequency_hz": "mains frequency", "start_v": "strikes at", "operating_v": "holds",
    "operating_low_v": "holds, lowest", "operating_high_v": "holds, highest", "regulation_v": "change over the range",
    "least_a": "current", "greatest_a": "current", "start_max_a": "current in warm-up",
    "shunt_capacitor_max_uf": "capacitor across it", "regulated_a": "current it holds", "range_low_v": "regulates from",
    "range_high_v": "regulates up to", "ballast_a": "string current", "ballast_v": "volts across it",
    "ballast_ohm": "resistance", "lamp_count": "pilot lamps on its tap", "lamp_v": "lamp volts",
    "lamp_a": "lamp current", "forward_max_a": "average current", "surge_max_a": "surge of half a cycle",
    "high_v": "upper mains limit", "ripple_a": "rated ripple current", "pins": "pins", "connected": "connected as",
    "heater_arrangement": "heater in", "purpose": "for", "condition": "where", "rating_system": "limits",
    "input_capacitor_meaning": "that capacitor is a"}
_LEAST = ("supply_ohm_min", "rectifier_ratings supply_ohm", "least_a")
_MOST = ("rectifier_ratings dc_a", "rectifier_efficiency dc_a", "greatest_a")
"""Limits that their names do not tell: those that must be reached, and those that must not be passed."""


RECKONED = "sibling-estimate"
"""Source of figures that stand in no document: worked out from a sister type, their reckoning in the note."""


def named(figure: Figure) -> str:
    """A figure in words: `5U4GB (capacitor, 450): DC output`; one that is reckoned from a sister type says so."""
    type_, *rest = figure.subject.split("/") if figure.quantity in WORDS else [figure.subject]
    said = f"{type_}{' (' + ', '.join(rest) + ')' if rest else ''} {WORDS.get(figure.quantity, figure.quantity)}"
    return f"{said}, only reckoned from a sister type," if figure.source_id == RECKONED else said


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
