"""The operating point as text: one line a tube and section, or with everything one line a figure with its band."""

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.amounts import amount, written
from pipeline.amounts import scale as scaled
from pipeline.checks.check import Checked
from pipeline.output.page import paint, table, wrapped

_TUBE = {"plate_v": "plate", "screen_v": "screen", "cathode_v": "cathode", "grid_v": "grid", "plate_a": "plate current",
         "screen_a": "screen current", "plate_w": "plate burns"}
"""Quantities of a tube that its line shows, in this order."""
_WORDS = _TUBE | {
    "dc_v": "DC volts", "ripple_v": "ripple", "cold_start_v": "at switch-on", "cathode_a": "cathode current",
    "screen_w": "screen burns", "resistor_v": "volts across", "resistor_a": "current", "resistor_w": "burns",
    "capacitor_v": "volts across",
    "heater_v": "heater", "heater_cathode_v": "heater to cathode", "load_a": "load"}


def operating(checked: Checked, everything: bool) -> str:
    """The section OPERATING POINT; nothing where no tube's figures are known."""
    rows = [quantity.as_dict() for quantity in checked.point.quantities]
    lines = _all(rows) if everything else _tubes(rows)
    if not lines:
        return ""
    note = "" if everything else "\n" + wrapped("Volts to chassis as a meter should read them today"
                                                + ("; * measured." if any("*" in c for x in lines for c in x) else "."),
                                                2, "  ")
    return paint("OPERATING POINT", "head") + "\n" + table(lines) + note


def _tubes(rows: Sequence[Mapping[str, Any]]) -> list[tuple[str, ...]]:
    """A head and a line for each tube and section, with the columns of which any figure is known."""
    found: dict[tuple[str, str], dict[str, str]] = {}
    for row in rows:
        if row["quantity"] in _TUBE and row["value"] is not None:
            said = amount(row["value"], row["unit"], row["quantity"], 3) + ("*" if row["origin"] == "measured" else "")
            found.setdefault((row["at"], row["section"] or ""), {})[row["quantity"]] = said
    used = [name for name in _TUBE if any(name in cells for cells in found.values())]
    if not used:
        return []
    return [("", *(_TUBE[name] for name in used)),
            *((f"{at} {section}".strip(), *(cells.get(name, "") for name in used))
              for (at, section), cells in found.items())]


def _all(rows: Sequence[Mapping[str, Any]]) -> list[tuple[str, ...]]:
    return [(f"{row['at']} {row['section'] or ''}".strip(), _WORDS.get(row["quantity"], row["quantity"]),
             "not known" if row["value"] is None else amount(row["value"], row["unit"], row["quantity"], 3),
             _band(row), row["origin"] or "") for row in rows]


def _band(row: Mapping[str, Any]) -> str:
    low, high = row["low"], row["high"]
    if low is None or high is None or low == high:
        return ""
    factor, unit = scaled(max(low, high, key=abs), row["unit"], row["quantity"])
    return f"{written(low * factor, 3)} to {written(high * factor, 3)} {unit}".rstrip()
