"""A reading written back as one plain marking that reads the same."""

from __future__ import annotations

from decimal import Decimal

from pipeline.notation.lexing import dotted_thousands
from pipeline.notation.reading import Reading, Section

_WRITTEN = ("tube", "diode", "lamp", "capacitor", "resistor", "fuse", "choke", "potentiometer")
"""Kinds that have a plain marking; of the others what is printed stays as it is."""
_SPEED_LETTERS = {"very fast": "FF", "fast": "F", "medium": "M", "time-lag": "T", "long time-lag": "TT"}


def write(reading: Reading) -> str:
    """Return the plain marking of a reading, such as ``40+40 µF 450 V`` or ``470 kΩ 1 W 10%``.

    Parameters
    ----------
    reading : Reading
        Anything read.

    Returns
    -------
    str
        A text that `read.read` reads with the same values; the marking itself where it was not read.
    """
    if reading.kind == "capacitor":
        return _capacitor(reading)
    if reading.kind == "potentiometer":
        return _potentiometer(reading)
    if reading.kind == "resistor":
        parts = [_scaled(reading.ohms or 0.0, (("MΩ", 6), ("kΩ", 3), ("Ω", 0)))]
        parts += [f"{_plain(reading.watts)} W"] if reading.watts is not None else []
        parts += [f"{_plain(reading.tolerance_pct)}%"] if reading.tolerance_pct is not None else []
        return " ".join([*parts, *(["CT"] if reading.centre_tap else [])])
    if reading.kind == "fuse":
        parts = [
            _SPEED_LETTERS.get(reading.speed or "", ""),
            _scaled(reading.amps or 0.0, (("A", 0), ("mA", -3))),
        ]
        parts += [f"{_plain(reading.volts)} V"] if reading.volts is not None else []
        return " ".join(part for part in parts if part)
    if reading.kind == "choke":
        return _choke(reading)
    if reading.kind not in _WRITTEN:
        return reading.marking
    if reading.kind == "lamp":
        if reading.type or reading.volts is None:
            return f"#{reading.type}" if reading.type else reading.marking
        if reading.amps is None:
            return f"neon {_plain(reading.volts)} V"
        return f"{_plain(reading.volts)} V {_plain(reading.amps)} A"
    return reading.type or reading.marking


def _potentiometer(reading: Reading) -> str:
    parts = ["2 x"] if reading.tracks == 2 else []
    parts += [_scaled(reading.ohms, (("MΩ", 6), ("kΩ", 3), ("Ω", 0)))] if reading.ohms else []
    parts += [f"{_plain(reading.watts)} W"] if reading.watts is not None else []
    parts += [f"{_plain(reading.tolerance_pct)}%"] if reading.tolerance_pct is not None else []
    parts += ["CT" if reading.centre_tap else "", "pot", reading.taper or ""]
    parts += ["with switch"] if reading.switched else []
    return " ".join(part for part in parts if part)


def _capacitor(reading: Reading) -> str:
    runs: list[list[Section]] = []
    for section in reading.sections:
        if runs and runs[-1][0].volts_dc == section.volts_dc:
            runs[-1].append(section)
        else:
            runs.append([section])
    text = " + ".join(_run(run) for run in runs)
    parts = [text]
    parts += [f"{_plain(reading.volts_surge)} V surge"] if reading.volts_surge is not None else []
    parts += [f"{_plain(reading.volts_ac)} VAC"] if reading.volts_ac is not None else []
    if reading.safety_class:
        parts.append(reading.safety_class if reading.safety_class[1:] else f"class {reading.safety_class}")
    if reading.polarised is not None:
        parts.append("polarised" if reading.polarised else "non-polar")
    if reading.tolerance_band_pct:
        low, high = reading.tolerance_band_pct
        parts.append(f"±{_plain(high)}%" if -low == high else f"{low:+g}/{high:+g}%")
    return " ".join(parts)


def _run(run: list[Section]) -> str:
    values = "+".join(f"{_plain(section.uf)} µF" for section in run)
    return values if run[0].volts_dc is None else f"{values} {_plain(run[0].volts_dc)} VDC"


def _choke(reading: Reading) -> str:
    parts = [f"{_plain(reading.henries)} H"] if reading.henries is not None else ["choke"]
    parts += [f"{_plain(reading.amps)} A"] if reading.amps is not None else []
    parts += [f"{_plain(reading.ohms)} ohm"] if reading.ohms is not None else []
    return " ".join(parts)


def _scaled(value: float, steps: tuple[tuple[str, int], ...]) -> str:
    """Write a value with the first unit that leaves it at 1 or more."""
    exact = Decimal(repr(value))
    for unit, power in steps:
        if exact >= Decimal(1).scaleb(power):
            text = _plain(float(exact.scaleb(-power)))
            thousands = power == 0 and dotted_thousands(text)  # 6.231 may be read as 6231; 6.2310 may not
            return f"{text}{'0' if thousands else ''} {unit}"
    unit, power = steps[-1]
    return f"{_plain(float(exact.scaleb(-power)))} {unit}"


def _plain(value: float | None) -> str:
    """Write a number without exponent, exactly as it reads back."""
    text = format(Decimal(repr(float(value or 0.0))), "f")
    return text.rstrip("0").rstrip(".") if "." in text else text
