"""What a type designation says by its own rules: heater and base.

Rules only: exceptions (early 2 V types numbered 1, tapped heaters, first letter changed for other
reasons) are data, and belong to the caller's table of exceptions.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_RETMA = re.compile(r"([0-9]{1,3})([A-HJ-NP-Z]{1,3})([0-9]{1,2})(?:-?[A-Z]{0,5}(?:/[A-Z]{1,2})?)?")
_EUROPEAN = re.compile(r"([A-HKLPT-VXY])([A-FHKLMNPQXYZ]{1,3})([0-9]{1,3})[A-Z]{0,2}")
_SPECIAL = re.compile(r"([A-HKLPT-VXY])([0-9]{2,3})([A-FHKLMNPQXYZ]{1,3})")
HIGHEST_RETMA = 117

_HEATERS = {
    "A": ("heater_v", 4.0, 4.0, True),
    "C": ("heater_a", 0.2, 0.2, True),
    "D": ("heater_v", 0.5, 1.5, True),
    "E": ("heater_v", 6.3, 6.3, True),
    "G": ("heater_v", 5.0, 5.0, True),
    "K": ("heater_v", 2.0, 2.0, True),
    "P": ("heater_a", 0.3, 0.3, True),
    "U": ("heater_a", 0.1, 0.1, True),
    "B": ("heater_a", 0.18, 0.18, False),
    "F": ("heater_v", 12.6, 12.6, False),
    "H": ("heater_a", 0.15, 0.15, False),
    "L": ("heater_a", 0.45, 0.45, False),
    "T": ("heater_v", 7.4, 7.4, False),
    "V": ("heater_a", 0.05, 0.05, False),
    "X": ("heater_a", 0.6, 0.6, False),
    "Y": ("heater_a", 0.45, 0.45, False),
}
_BASES = {
    "0": ("side contact", "German metal"),
    "1": ("side contact", "German metal"),
    "2": ("B10B", "B8G"),
    "3": ("octal",),
    "4": ("B8A",),
    "6": ("subminiature",),
    "7": ("subminiature",),
    "8": ("noval",),
    "9": ("7-pin miniature",),
}


class EuropeanHeater(NamedTuple):
    """What a first letter says: the quantity (heater_v or heater_a), its range, and whether makers print it."""

    quantity: str
    low: float
    high: float
    in_makers_list: bool


def retma_heater_range(name: str, lock_in: bool | None = None) -> tuple[float, float] | None:
    """Return the heater volts that an American designation's leading number allows.

    Parameters
    ----------
    name : str
        Designation such as ``12AX7-A``; the caller passes only names of American receiving tubes (a European
        regulator such as 85A2 has the same form).
    lock_in : bool, optional
        Whether the tube has a lock-in (loctal) base; None if not known: then 7 and 14 allow both meanings.

    Returns
    -------
    tuple of float or None
        Lowest and highest volts, both included, of the whole heater in series; (0, 0) for a cold cathode;
        None where the name is not of this form.

    Notes
    -----
    Number n allows n - 0.4 to n + 0.6 V, 1 allows above 0 to 1.6 V.  The source prints 0, 1, 5 (4.6 to 5.6)
    and 6 (5.6 to 6.6); the other numbers follow the same step.  14 for 12.6 V on lock-in bases is recalled.

    References
    ----------
    Radiotron Designer's Handbook, 4th ed., Amalgamated Wireless Valve Company, 1952 (text reproduced online);
    RETMA lists (recalled) for the 14- series.
    """
    match = _RETMA.fullmatch(name.upper().replace(" ", ""))
    if not match or int(match[1]) > HIGHEST_RETMA:
        return None
    number = int(match[1])
    if number == 0:
        return 0.0, 0.0
    low, high = (0.0 if number == 1 else number - 0.4), number + 0.6
    nominal = {7: 6.3, 14: 12.6}.get(number)
    if nominal is not None and lock_in is not False:
        return (nominal, nominal) if lock_in else (nominal, high)
    return round(low, 1), round(high, 1)


def _european(name: str) -> tuple[str, str] | None:
    """Return first letter and figures of a European designation, special-quality order included."""
    key = re.sub(r"[\s-]", "", name.upper())
    if match := _EUROPEAN.fullmatch(key):
        return match[1], match[3]
    match = _SPECIAL.fullmatch(key)
    return (match[1], match[2]) if match else None


def european_heater(name: str) -> EuropeanHeater | None:
    """Return what the first letter of a European designation says of the heater.

    Parameters
    ----------
    name : str
        Designation such as ``ECL86`` or ``E88CC``.

    Returns
    -------
    EuropeanHeater or None
        Volts (parallel) or amps (series); None where the name is not of this form.  ``in_makers_list`` is
        False for letters that the maker's own page does not have (B, F, H, L, T, V, X, Y): other lists
        disagree on some of them.

    Notes
    -----
    Exceptions are data: ECC81, ECC82, ECC83 have tapped 12.6/6.3 V heaters; G is also read as "miscellaneous,
    formerly 5 V"; pre-1934 numbers such as E443 do not have this form and give None.

    References
    ----------
    Mullard, Valve Type Nomenclature, data-book page (text reproduced online); Kaeser, Fachlexikon der
    Mechatronik, 2006, for the letters not in it.
    """
    parts = _european(name)
    return EuropeanHeater(*_HEATERS[parts[0]]) if parts else None


def european_base(name: str) -> tuple[str, ...] | None:
    """Return the bases that the first figure of a European designation allows.

    Parameters
    ----------
    name : str
        Designation such as ``EL84``; one figure alone is read with a 0 before it (EM4 = EM04).

    Returns
    -------
    tuple of str or None
        None where the name is not of this form, or the figure decides nothing (5: magnoval B9D, formerly
        miscellaneous; 1 before two more figures, as in EF183, recalled).

    References
    ----------
    Mullard, Valve Type Nomenclature, data-book page (text reproduced online) for 2, 3, 4, 5, 8, 9; other
    lists read for 0, 1, 6, 7.
    """
    parts = _european(name)
    if not parts:
        return None
    figures = parts[1] if len(parts[1]) > 1 else f"0{parts[1]}"
    if len(figures) == 3 and figures[0] == "1":
        return None
    return _BASES.get(figures[0])
