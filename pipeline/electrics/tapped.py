"""Pure sums about the tapped heater of a half-wave rectifier: a dial lamp across the tap, plate current through both.

SI units, amperes and volts rms unless a name says dc; every number may be an array, all broadcast together. The heater
model is that of `heaters`.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from pipeline.electrics.heaters import HEATER_EXPONENT, LAMP_EXPONENT, cold_of, exponent_of

from .arguments import Array, at_least_zero, positive


class TappedHeater(NamedTuple):
    """Current into the tap, its parts through heater section and lamp, and the volts across both."""

    total_a: Array
    section_a: Array
    lamp_a: Array
    volts: Array


class TappedString(NamedTuple):
    """Current of the string's heaters; the tap's currents and volts; the tap's volts in phase with the line."""

    current_a: Array
    tap: TappedHeater
    in_phase_v: Array


def pulse_alignment(plate_dc_a: ArrayLike, plate_rms_a: ArrayLike) -> Array:
    """Mean of cos(wt) over a half-wave rectifier's current pulse, the crest at 0, weighted by the current.

    Notes
    -----
    Derived. A half-sine pulse of half-angle p once a cycle has rms/dc = F with p = pi^3/(8 F^2); its
    weighted cosine is cos p/(1 - (2p/pi)^2). From F alone it gives the conduction angles of theory notes
    A3 within 3 %. Taken as centred on the crest, a few per cent high.
    """
    dc, rms = positive("plate_dc_a", plate_dc_a), positive("plate_rms_a", plate_rms_a)
    if np.any(rms < dc):
        raise ValueError("plate_rms_a: cannot be below the dc")
    # Broader than half a cycle no half-wave pulse is; the limit itself is 0/0.
    half = np.minimum(np.pi**3 / 8 * (dc / rms) ** 2, np.pi / 2 * (1 - 1e-6))
    return np.cos(half) / (1 - (2 * half / np.pi) ** 2)


def tapped_heater(string_a: ArrayLike, section_v: ArrayLike, section_a: ArrayLike, lamp_v: ArrayLike,
                  lamp_a: ArrayLike, plate_dc_a: ArrayLike = 0.0, plate_rms_a: ArrayLike = 0.0,
                  shunt_ohm: ArrayLike = np.inf, exponent: ArrayLike = LAMP_EXPONENT) -> TappedHeater:
    """Tap of a half-wave rectifier's heater, with a lamp across it and the plate current through both.

    Parameters
    ----------
    string_a, section_v, section_a : array_like
        String current; nominal point of the tapped section (7.5 V, 0.15 A in a 35Z5 or 35W4).
    lamp_v, lamp_a : array_like
        The lamp's nominal point; `lamp_a` of 0 is a lamp missing or burnt out.
    plate_dc_a, plate_rms_a : array_like
        Plate current, mean and rms, where the plate is wired to the tap; both 0 where it is not.
    shunt_ohm, exponent : array_like
        Resistor across the lamp, infinite for none; n of the heater model, 1 for fixed hot resistances.

    Raises
    ------
    ValueError
        Naming the argument: not finite, negative, rms below dc, one plate current without the other.

    Notes
    -----
    Heater current and plate pulse flow the same way at the crest, so they add more than in quadrature:
    total^2 = Ih^2 + Ip_rms^2 + 2 sqrt2 k Ih Ip_dc, k from `pulse_alignment`. Derived. The section and
    lamp are taken at their rms current (their warmth does not follow the cycle). The string's current is
    given; that the tap's volts act back on it is in `tapped_string`.
    """
    string, lamp_v = positive("string_a", string_a), positive("lamp_v", lamp_v)
    section_v, section_a = positive("section_v", section_v), positive("section_a", section_a)
    lamp_a, shunt, n = at_least_zero("lamp_a", lamp_a), np.asarray(shunt_ohm, float), exponent_of(exponent)
    if not np.all(shunt > 0):
        raise ValueError("shunt_ohm: must be above zero")
    total = _with_plate_current(string, plate_dc_a, plate_rms_a) + 0 * (lamp_a + section_a + n) + 0 / shunt
    volts = section_v * (total / section_a) ** (1 / n)
    for _ in range(60):
        section, lamp, through = section_a * (volts / section_v) ** n, lamp_a * (volts / lamp_v) ** n, volts / shunt
        drawn = section + lamp + through
        # By Newton's rule for the logarithms of both, nearly a straight line of slope n to 1.
        factor = (total / drawn) ** (drawn / (n * (section + lamp) + through))
        volts = volts * factor
        if np.all(np.abs(factor - 1) <= 1e-14):
            break
    return TappedHeater(total, section_a * (volts / section_v) ** n, lamp_a * (volts / lamp_v) ** n, volts)


def _with_plate_current(string: Array, plate_dc_a: ArrayLike, plate_rms_a: ArrayLike) -> Array:
    dc, rms = at_least_zero("plate_dc_a", plate_dc_a), at_least_zero("plate_rms_a", plate_rms_a)
    if np.any((dc > 0) != (rms > 0)):
        raise ValueError("plate_rms_a: give both plate currents or neither")
    return np.sqrt(string**2 + rms**2 + 2 * np.sqrt(2) * _alignment(dc, rms) * string * dc)


def _alignment(dc: Array, rms: Array) -> Array:
    """`pulse_alignment`, 0 where no plate current flows."""
    flows = (dc > 0) & (rms > 0)
    return np.where(flows, pulse_alignment(np.where(flows, dc, 1.0), np.where(flows, rms, 1.0)), 0.0)


_LEAST_A = 1e-12


def tapped_string(line_v: ArrayLike, rest_v: ArrayLike, rest_a: ArrayLike, section_v: ArrayLike, section_a: ArrayLike,
                  lamp_v: ArrayLike, lamp_a: ArrayLike, dropper_ohm: ArrayLike = 0.0, plate_dc_a: ArrayLike = 0.0,
                  plate_rms_a: ArrayLike = 0.0, shunt_ohm: ArrayLike = np.inf) -> TappedString:
    """A series string whose rectifier has a tap with a lamp: the current it settles at, and what the tap gets.

    Parameters
    ----------
    line_v, dropper_ohm : array_like, (...)
    rest_v, rest_a : array_like, (..., members)
        Nominal volts (0 pads) and amperes of all heaters, of the rectifier only what is beyond the tapped section.
    section_v, section_a, lamp_v, lamp_a, plate_dc_a, plate_rms_a, shunt_ohm : array_like, (...)
        As in `tapped_heater`.

    Raises
    ------
    ValueError
        As `tapped_heater`; also naming `rest_a` where a current is not above zero.

    Notes
    -----
    Solves line = sum V (i/I)^(1/n) + i R + (the tap's volts in phase with the line) for the tap's volts, from
    which their current and the string's follow, by Newton's rule between bounds; n is `HEATER_EXPONENT`. Section
    and lamp are resistances that do not follow the cycle, so the plate pulse's part in phase is sqrt2 k Ip_dc, k from
    `pulse_alignment`; its harmonics, which the string hardly feels, are left out.
    Derived. The tap is taken to stand at the line's end of the string, the plate wired to it.
    """
    line, ohms = positive("line_v", line_v), at_least_zero("dropper_ohm", dropper_ohm)
    volts, amps = np.broadcast_arrays(at_least_zero("rest_v", rest_v), positive("rest_a", rest_a))
    dc, rms = at_least_zero("plate_dc_a", plate_dc_a), at_least_zero("plate_rms_a", plate_rms_a)
    aligned = np.sqrt(2) * _alignment(dc, rms) * dc

    section_v, section_a = positive("section_v", section_v), positive("section_a", section_a)
    lamp_v, lamp_a, shunt = positive("lamp_v", lamp_v), at_least_zero("lamp_a", lamp_a), np.asarray(shunt_ohm, float)

    def at(tap_v: Array) -> tuple[Array, Array, Array, Array]:
        """String current and volts in phase that go with the tap's volts, the line volts they ask, and their slope."""
        share = section_a * (tap_v / section_v) ** LAMP_EXPONENT + lamp_a * (tap_v / lamp_v) ** LAMP_EXPONENT
        total = share + tap_v / shunt
        steep = LAMP_EXPONENT * share / tap_v + 1 / shunt
        whole = np.sqrt(np.maximum(aligned**2 + total**2 - rms**2, aligned**2))
        current = whole - aligned
        flows = current > 0
        rising = np.where(flows, total * steep / np.where(flows, whole, 1.0), 0.0)
        in_phase = tap_v * whole / total
        rest = (volts * (current[..., None] / amps) ** (1 / HEATER_EXPONENT)).sum(axis=-1)
        slope = (rest / HEATER_EXPONENT / np.where(flows, current, 1.0) + ohms) * rising
        slope = slope + (whole + tap_v * rising - in_phase * steep) / total
        return current, in_phase, rest + current * ohms + in_phase, slope

    most = _with_plate_current(0 * line + _most_current(line, volts, amps), dc, rms)
    low = 0 * (most + lamp_a + shunt**-1.0)
    high = low + section_v * (most / section_a) ** (1 / LAMP_EXPONENT)
    tap_v = high
    for _ in range(60):
        current, in_phase, asked, slope = at(tap_v)
        short = asked < line
        low, high = np.where(short, tap_v, low), np.where(short, high, tap_v)
        new = tap_v + (line - asked) / slope
        new = np.where((new > low * (1 - 1e-12)) & (new < high * (1 + 1e-12)), new, (low + high) / 2)
        moved, tap_v = np.abs(new - tap_v), new
        if np.all(moved <= 1e-13 * tap_v):
            break
    current, in_phase, _, _ = at(tap_v)
    current = np.maximum(current, _LEAST_A)  # a plate current that alone takes the tap to the line's volts leaves none
    tap = tapped_heater(current, section_v, section_a, lamp_v, lamp_a, dc, rms, shunt_ohm)
    return TappedString(current + 0 * tap.volts, tap, in_phase)


def _most_current(line: Array, volts: Array, amps: Array) -> Array:
    """A current at which the heaters alone would already take the whole line."""
    total = volts.sum(axis=-1)
    if np.any(total <= 0):
        raise ValueError("rest_v: a string needs more than the tapped section")
    return amps.max(axis=-1) * np.maximum(line / total, 1.0)


def lamp_at_switch_on(first_a: ArrayLike, section_v: ArrayLike, section_a: ArrayLike, lamp_v: ArrayLike,
                      lamp_a: ArrayLike, shunt_ohm: ArrayLike = np.inf, ratio: ArrayLike | None = None) -> Array:
    """Volts on the lamp at switch-on: it is hot at once, the tapped section across it still cold.

    Parameters
    ----------
    first_a : array_like
        Current of the string with every heater cold: `switch_on`.
    section_v, section_a, lamp_v, lamp_a, shunt_ohm : array_like
        As in `tapped_heater`, the lamp in its place.
    ratio : array_like, optional
        Cold over hot resistance of the section, default `cold_ratio()`.

    Raises
    ------
    ValueError
        Naming the argument that is not finite or not above zero.

    Notes
    -----
    Derived from the lamp's law and `cold_ratio`. A lamp settles within a tenth of a second, a heater in many.
    """
    hot_ohm = positive("section_v", section_v) / positive("section_a", section_a)
    across = 1 / (1 / (hot_ohm * cold_of(ratio)) + 1 / np.asarray(shunt_ohm, float))
    lamp_v, lamp_a = positive("lamp_v", lamp_v), positive("lamp_a", lamp_a)
    return tapped_heater(first_a, lamp_v, lamp_a, lamp_v, 0.0, shunt_ohm=across).volts
