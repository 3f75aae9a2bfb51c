"""Figures with units a person uses: mA, mA/V, kohm, and no more digits than mean something."""

import math

_BY_AMPERE = ("heater", "fuse", "lamp")
"""What the trade gives in amperes however small it is: heaters, fuses, lamps."""


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


def plain(value: float, digits: int = 3) -> str:
    """A number as a person writes it: no exponent, no needless zeros, a true minus sign."""
    short = f"{value:.{digits}g}"
    if "e" not in short:
        return short.replace("-", "\u2212")
    rounded = float(short)
    decimals = max(0, digits - 1 - (math.floor(math.log10(abs(rounded))) if rounded else 0))
    written = f"{rounded:.{min(decimals, 12)}f}"
    written = written.rstrip("0").rstrip(".") if "." in written else written
    return written.replace("-", "\u2212")
