"""Meter readings as people write them: plate 248 V, screen 210 V; 0,38 mA; 4 ohm ESR."""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.lexing import NUMBER, clean, number, undotted
from pipeline.notation.reading import Refusal

_PLACES = {
    "plate": "plate_v", "anode": "plate_v", "a": "plate_v", "p": "plate_v", "va": "plate_v", "vp": "plate_v",
    "screen": "screen_v", "g2": "screen_v", "vg2": "screen_v", "screen grid": "screen_v", "s": "screen_v",
    "cathode": "cathode_v", "k": "cathode_v", "vk": "cathode_v", "katode": "cathode_v",
    "grid": "grid_v", "g1": "grid_v", "g": "grid_v", "vg1": "grid_v",
    "heater": "heater_v", "filament": "heater_v", "h": "heater_v", "vh": "heater_v",
    "leakage": "leakage_a", "leak": "leakage_a", "esr": "esr_ohm", "": "",
    "capacitance": "uf", "value": "", "drop": "volts", "across": "volts", "volts": "volts", "resistance": "ohms",
    "path": "path_mm", "pulleys": "path_mm", "inside": "length_mm", "length": "length_mm",
    "inside length": "length_mm", "width": "width_mm", "thickness": "thickness_mm", "diameter": "diameter_mm",
    "pulley": "diameter_mm", "speed": "rpm",
}  # fmt: skip
_UNITS = {
    "v": ("volts", 0), "volt": ("volts", 0), "volts": ("volts", 0), "vdc": ("volts", 0), "vac": ("volts", 0),
    "v dc": ("volts", 0), "v ac": ("volts", 0), "mv": ("volts", -3), "kv": ("volts", 3),
    "a": ("leakage_a", 0), "ma": ("leakage_a", -3), "µa": ("leakage_a", -6), "ua": ("leakage_a", -6),
    "µf": ("uf", 0), "uf": ("uf", 0), "mfd": ("uf", 0), "ufd": ("uf", 0), "mf": ("uf", 0), "nf": ("uf", -3),
    "pf": ("uf", -6), "mmf": ("uf", -6), "mmfd": ("uf", -6), "µµf": ("uf", -6),
    "ohm": ("ohms", 0), "ohms": ("ohms", 0), "Ω": ("ohms", 0), "ω": ("ohms", 0), "r": ("ohms", 0),
    "kohm": ("ohms", 3), "kω": ("ohms", 3), "k": ("ohms", 3), "k ohm": ("ohms", 3), "meg": ("ohms", 6),
    "megohm": ("ohms", 6), "mω": ("ohms", 6), "mohm": ("ohms", 6),
    "mm": ("length_mm", 0), "cm": ("length_mm", 1), "rpm": ("rpm", 0),
}  # fmt: skip
_FITS = {"volts": "_v", "leakage_a": "_a", "uf": "uf", "ohms": "ohm", "length_mm": "_mm", "rpm": "rpm"}


def read_measured(text: str) -> dict[str, float]:
    """Read the ``measured`` cell of a part.

    Parameters
    ----------
    text : str
        Pieces with commas or semicolons between; each a number with a unit, and what it was measured on:
        ``plate 248 V, screen 210 V, cathode 12.5 V``, ``14,2 V``, ``0.38 mA``, ``31 uF``, ``4 ohm ESR``,
        ``path 225 mm``, ``1480 rpm``.

    Returns
    -------
    dict
        Quantities among plate_v, screen_v, cathode_v, grid_v, heater_v, volts (V), leakage_a (A), uf (µF),
        esr_ohm, ohms (ohm), path_mm, length_mm, width_mm, thickness_mm, diameter_mm (mm), rpm; empty for an
        empty text.

    Raises
    ------
    ValueError
        A piece that cannot be read: the message names it and how to mend it.
    """
    if not text.strip():
        return {}
    try:
        plain = undotted(clean(text))
    except Refusal as refusal:
        raise ValueError(str(refusal)) from None
    found: dict[str, float] = {}
    for piece in re.split(r";|,(?![0-9])|(?<=[^0-9]),|\band\b", plain):
        if not piece.strip():
            continue
        name, value = _piece(piece.strip())
        if name in found:
            raise ValueError(f"{piece.strip()!r}: {name} is given twice: keep one")
        found[name] = value
    if not found:
        raise ValueError(
            f"{text.strip()[:40]!r}: no reading in it: write for example 'plate 248 V' or '14.2 V'"
        )
    return found


def _piece(piece: str) -> tuple[str, float]:
    match = re.fullmatch(
        rf"([A-Za-z][A-Za-z ]*(?:[12](?![0-9.,]))?)?\s*[:=]?\s*([-+]?)\s*({NUMBER})\s*(.*)", piece
    )
    if not match:
        raise ValueError(f"{piece!r}: no number with a unit: write for example 'plate 248 V'")
    label, sign, figures, tail = (match[1] or "").strip().lower(), match[2], match[3], match[4].strip()
    unit, after = _unit(tail)
    if unit is None:
        what = f"unit {tail!r} not known" if tail else "no unit"
        raise ValueError(f"{piece!r}: {what}: write for example '{(label + ' ' + figures).strip()} V'")
    if label and after:
        raise ValueError(f"{piece!r}: two names for one reading: put a comma between readings")
    try:
        value = number(figures)[0] * (-1 if sign == "-" else 1)
    except Refusal as refusal:
        raise ValueError(f"{piece!r}: {refusal}") from None
    return _quantity(piece, label or after, unit, value)


def _unit(tail: str) -> tuple[tuple[str, int] | None, str]:
    """Split what follows the number into unit and name: 'ohm ESR', 'V plate', 'mA leakage'."""
    words = tail.split()
    for size in (2, 1):
        word = " ".join(words[:size])
        if len(words) >= size and (unit := _known_unit(word)):
            return unit, " ".join(words[size:]).lower()
    return None, ""


def _known_unit(word: str) -> tuple[str, int] | None:
    if word in ("mΩ", "mohm"):
        return ("ohms", -3)
    return _UNITS.get(word) or _UNITS.get(word.lower())


def _quantity(piece: str, label: str, unit: tuple[str, int], value: Decimal) -> tuple[str, float]:
    """Name the quantity from label and unit, and bring it to SI (µF for capacitance)."""
    kind, power = unit
    name = _PLACES.get(re.sub(r"^(?:at|on|the|of) ", "", label))
    if name is None:
        places = "plate, screen, cathode, grid, heater, leakage, ESR"
        raise ValueError(f"{piece!r}: {label!r} is not understood: known are {places}")
    name = name or kind
    if not (name == kind or name.endswith(_FITS[kind])) or (kind == "volts" and name == "uf"):
        raise ValueError(f"{piece!r}: {label} cannot be in that unit: look at the unit again")
    if value < 0 and kind != "volts":
        raise ValueError(f"{piece!r}: below zero: write it without the minus sign")
    return name, float(value.scaleb(power))
