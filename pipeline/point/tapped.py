"""A dial lamp across the tapped heater of a rectifier in a string: what the section and the lamp get."""

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.electrics.heaters import LAMP_EXPONENT
from pipeline.electrics.tapped import TappedString, tapped_string
from pipeline.point.heaters import RatedHeater, dropper_ohm, heater_in_string, heaters_of_string
from pipeline.point.supply import HIGH, TODAY, SupplyState
from pipeline.unit import HeaterString, Part, Unit

LIT, OUT = 0, 1
"""Rows of a string that is worked out: lamps lit, lamps out."""
_Numbers = tuple[float, ...]
_HALF_WAVE = ("half-wave", "half-wave doubler", "doubler")
"""Circuits in which each tube passes the whole load."""


class Tap(NamedTuple):
    """The tapped section of a rectifier's heater in a string, the lamps across it and a shunt if there is one."""

    tube: Part
    volts: Figure
    amps: Figure
    lamps: tuple[RatedHeater, ...]
    shunt_ohm: float

    @property
    def lamp_v(self) -> float:
        return self.lamps[0].volts.value

    @property
    def lamp_a(self) -> float:
        """Amps of all lamps at the volts of the first."""
        return sum(h.amps.value * (self.lamp_v / h.volts.value) ** LAMP_EXPONENT for h in self.lamps)

    @property
    def rests_on(self) -> tuple[Figure, ...]:
        return (self.volts, self.amps, *(f for h in self.lamps for f in (h.volts, h.amps)))


class Plate(NamedTuple):
    """Plate current through the tap, today and at high mains: mean and rms amps."""

    dc: np.ndarray
    rms: np.ndarray


def lamps_at(tube: Part, unit: Unit) -> list[Part]:
    """The lamps that name the tube in their `at` column, those of unreadable marking too."""
    return [p for p in unit.parts_at(tube.ref) if p.kind == "lamp" or (p.kind is None and p.role == "lamp")]


def tap_of(tube: Part, unit: Unit) -> Tap | None:
    """The tube's tap as wired; None where it has none, no lamp hangs on it, or a figure is not known."""
    section = section_of(tube)
    if section is None:
        return None
    lamps = [heater_in_string(p, 0.15) for p in lamps_at(tube, unit)]
    known = tuple(h for h in lamps if h is not None)
    if not known or len(known) < len(lamps):
        return None
    shunts = [p.measured.get("ohms") or p.reading.ohms for p in unit.parts_at(tube.ref)
              if p.kind == "resistor" and "shunt" in p.note.lower()]
    ohms = sum(1 / x for x in shunts if x)
    return Tap(tube, *section, known, 1 / ohms if ohms else math.inf)


def section_of(tube: Part) -> tuple[Figure, Figure] | None:
    row = tube.ratings.rows("heater_options").get(f"{tube.ratings.type}/lamp tap", {}) if tube.ratings else {}
    return (row["heater_v"], row["heater_a"]) if "heater_v" in row and "heater_a" in row else None


def plate_of(tube: Part, state: SupplyState | None) -> Plate | None:
    """The tube's plate current; None where it is not the rectifier of a supply that is worked out."""
    if state is None or state.solved is None or state.device.ref != tube.ref \
            or state.supply.circuit not in _HALF_WAVE:
        return None
    return Plate(np.array([state.load_a(row) for row in (TODAY, HIGH)]),
                 np.array([state.plate_rms_a(row) for row in (TODAY, HIGH)]))


def worked_out(tap: Tap, string: HeaterString, unit: Unit, line_v: np.ndarray, plate: Plate | None) -> TappedString:
    """The string at these line volts (today's and high ones where plate current flows): row 0 lamps lit, row 1 out.

    Where a member or the dropper is not known, all but the section is taken as one heater that makes the string's
    current flow at design mains.
    """
    known, ohms = heaters_of_string(string, unit), dropper_ohm(string, unit)[0]
    volts = [h.volts.value - (tap.volts.value if h.part.ref == tap.tube.ref else 0.0) for h in known]
    amps = [h.amps.value for h in known]
    if not known or ohms is None:
        volts, amps, ohms = [(unit.design_mains_v or 0.0) - tap.volts.value], [string.amps], 0.0
    dc, rms = (tuple(map(float, plate.dc)), tuple(map(float, plate.rms))) if plate else ((0.0,), (0.0,))
    return _solved(tuple(map(float, line_v)), tuple(volts), tuple(amps), tap.volts.value, tap.amps.value, tap.lamp_v,
                   tap.lamp_a, ohms, dc, rms, tap.shunt_ohm)


@lru_cache(maxsize=64)
def _solved(line_v: _Numbers, volts: _Numbers, amps: _Numbers, section_v: float, section_a: float, lamp_v: float,
            lamp_a: float, ohms: float, dc: _Numbers, rms: _Numbers, shunt_ohm: float) -> TappedString:
    """`tapped_string`, kept: several checks of one unit ask the same."""
    lit = np.array([[lamp_a], [0.0]])
    return tapped_string(np.array(line_v), volts, amps, section_v, section_a, lamp_v, lit, ohms, np.array(dc),
                         np.array(rms), shunt_ohm)
