"""Columns and values as a page says them: our own words or the dictionary's, the value in the trade's unit."""

import re
from collections.abc import Mapping

from pipeline.output import quantities

_FULLER = {
    "plate_peak_max_a": "peak current of each plate", "drop_v": "drop of the conducting tube",
    "input_capacitor_max_uf": "first capacitor, the maker's word", "dc_output_max_a": "DC output, capacitor input",
    "ac_plate_max_v": "AC volts of each plate, capacitor input", "ac_v": "AC volts of each plate",
    "supply_ohm": "plate-supply impedance of each plate", "supply_ohm_min": "plate-supply impedance of each plate",
    "plate_transient_max_a": "switch-on peak of each plate", "heater_tolerance_pct": "heater volts may differ by",
    "function": "function", "envelope": "bulb", "base": "base", "basing": "basing, EIA code", "heating": "heating",
    "rating_system": "limits are meant as", "kind": "kind", "connection": "connection", "section": "section",
    "service": "service", "input": "filter input", "arrangement": "as wired", "circuit": "circuit", "use": "use",
    "condition": "what must hold", "relation": "how it stands", "system": "who gave the name",
    "nearness": "how near it is", "tube_count": "number of tubes", "connected": "screen", "point": "point"}
"""Words for a page, where there is room and no table around the figure tells what it is of."""
_AS_BOUND = re.compile(r"^(?:largest|smallest|greatest|least) ")
_SPOKEN = re.compile(r"\b(?:ac|dc)\b")
_COLUMN = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")


def label(column: str, meaning: str = "", table: str = "") -> str:
    """A column in words, such as `plate volts`: our own words, else the dictionary's `meaning` without its bound."""
    if known := _FULLER.get(column) or quantities.WORDS.get(column):
        return known
    said = re.split("[;:,]", meaning)[0] or column.replace("_", " ")
    said = _AS_BOUND.sub("", said) if quantities.sense_of(column, table) else said
    said = _COLUMN.sub(lambda found: quantities.WORDS.get(found[0], found[0].replace("_", " ")), said)
    return _SPOKEN.sub(lambda found: found[0].upper(), said)


def amount(column: str, value: float | str | None, unit: str | None) -> str:
    """A value in the trade's unit; words as they are, a true minus sign."""
    if value is None:
        return ""
    if not isinstance(value, int | float):
        return value.replace("-", " to ") if column == "pins" else str(value)
    return quantities.amount(float(value), unit, column).replace("-", "\u2212")


def limited(column: str, value: float | str | None, unit: str | None, table: str) -> str:
    """`amount` with its bound before it: `at most 300 V`."""
    said = amount(column, value, unit)
    bounded = isinstance(value, int | float) and unit
    return f"{quantities.sense_of(column, table) if bounded else ''} {said}".strip() if said else ""


def heater(row: Mapping[str, object]) -> str:
    """A heater in a word or two: `6.3 V 0.3 A`; empty where nothing is known."""
    found = ((name, row.get(name), unit) for name, unit in (("heater_v", "V"), ("heater_a", "A")))
    return " ".join(amount(name, value, unit) for name, value, unit in found if isinstance(value, int | float))
