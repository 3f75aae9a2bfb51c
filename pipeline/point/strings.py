"""A series heater string as it settles: its current, and the volts of each member."""


import numpy as np

from pipeline.electrics.heaters import HEATER_EXPONENT, series_string
from pipeline.point.barretters import Holding, holding, left_v
from pipeline.point.heaters import RatedHeater, dropper_ohm, heaters_of_string
from pipeline.point.mains import Mains
from pipeline.point.supply import SupplyState
from pipeline.point.tapped import Tap, plate_of, tap_of, worked_out
from pipeline.records import Record
from pipeline.unit import HeaterString, Unit


class StringState(Record):
    """A string whose members are known: amps at today's, high and low mains, volts (2, members) today and at high.

    `ohms` and `left_v` are its dropper's at today's, high and low mains: where a barretter is `held`, `left_v` are the
    volts that the members leave for it.
    """

    string: HeaterString
    known: tuple[RatedHeater, ...]
    ohms: np.ndarray
    left_v: np.ndarray
    held: Holding | None
    tap: Tap | None
    amps: np.ndarray
    across_v: np.ndarray


def tap_among(known: list[RatedHeater], unit: Unit) -> Tap | None:
    """The tap with a lamp across it, of the one member that has such."""
    return next((tap for h in known if (tap := tap_of(h.part, unit))), None)


def settled(string: HeaterString, known: list[RatedHeater], ohms: np.ndarray, tap: Tap | None, unit: Unit, mains: Mains,
            state: SupplyState | None) -> np.ndarray:
    """Amps at today's, high and low mains; a lamp across a tap leaves the other heaters a little more."""
    lines = np.array([mains.today_v, mains.high_v, mains.low_v])
    plain = series_string(lines, *rated_points(known), ohms, HEATER_EXPONENT).current_a
    if tap is None:
        return plain
    tapped = worked_out(tap, string, unit, lines[:2], plate_of(tap.tube, state)).current_a[0]
    return np.append(tapped, plain[2])


def settled_string(string: HeaterString, unit: Unit, mains: Mains, state: SupplyState | None) -> StringState | None:
    """The string worked out; None where a member's heater is not known.

    A dropper that is not known counts as one that makes the string's current flow at design mains.
    """
    known = heaters_of_string(string, unit)
    if not known or unit.mains_v is None:
        return None
    volts, amps = rated_points(known)
    tap, held = tap_among(known, unit), holding(string, unit)
    lines = np.array([mains.today_v, mains.high_v, mains.low_v])
    ohms = _dropper_ohms(string, unit, held, lines, known)
    flows = settled(string, known, ohms, tap, unit, mains, state)
    gets = volts * (flows[:2, None] / amps) ** (1 / HEATER_EXPONENT)
    if tap is not None:
        lines = np.array([mains.today_v, mains.high_v])
        across = worked_out(tap, string, unit, lines, plate_of(tap.tube, state)).tap.volts[0]
        at = [h.part.ref for h in known].index(tap.tube.ref)
        gets[:, at] = gets[:, at] * (1 - tap.volts.value / volts[at]) + across
    left = flows * ohms if held is None else left_v(held, lines, volts, amps)
    return StringState(string, tuple(known), ohms, left, held, tap, flows, gets)


def _dropper_ohms(string: HeaterString, unit: Unit, held: Holding | None, lines: np.ndarray,
                  known: list[RatedHeater]) -> np.ndarray:
    """Ohms of the dropper at each line: a barretter's follow what it is left."""
    volts, amps = rated_points(known)
    if held is not None:
        return held.ohms(left_v(held, lines, volts, amps))
    ohms = dropper_ohm(string, unit)[0]
    if ohms is None:
        ohms = max((unit.design_mains_v or 0.0) - float(volts.sum()), 0.0) / string.amps
    return np.full(lines.shape, ohms)


def rated_points(known: list[RatedHeater]) -> tuple[np.ndarray, np.ndarray]:
    return np.array([h.volts.value for h in known]), np.array([h.amps.value for h in known])
