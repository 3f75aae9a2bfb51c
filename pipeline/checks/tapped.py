"""Rules of a dial lamp across a rectifier's tapped heater, and of the section it hangs on."""

import math
from collections.abc import Iterator

import numpy as np

from pipeline.amounts import amount
from pipeline.catalogue import Figure
from pipeline.checks.rule import Measure
from pipeline.electrics.heaters import switch_on
from pipeline.electrics.tapped import TappedString, lamp_at_switch_on
from pipeline.point.heaters import RatedHeater, dropper_ohm, heaters_of_string, string_members
from pipeline.point.mains import Mains
from pipeline.point.point import Point
from pipeline.point.tapped import LIT, OUT, Plate, Tap, lamps_at, plate_of, section_of, tap_of, worked_out
from pipeline.unit import HeaterString, Part, Unit


def tapped_heater(point: Point) -> Iterator[Measure]:
    """Each lamp that hangs on a member of a string, by its ref; the section, by the tube's."""
    for string in point.unit.strings.values():
        for tube in string_members(string, point.unit):
            lamps = lamps_at(tube, point.unit)
            tap = tap_of(tube, point.unit) if lamps else None
            if tap is not None:
                yield from _at_work(point, tap, string)
            else:
                yield from (_unknown(lamp, tube) for lamp in lamps)


def _unknown(lamp: Part, tube: Part) -> Measure:
    if section_of(tube) is None:
        why, do = f"{lamp.ref} hangs on {tube.ref} ({tube.called}), of which no lamp tap is known.", \
            "Look up volts and amps of the tapped section, or name in `at` the rectifier that has one."
    else:
        why, do = f"{lamp.ref} or another lamp across the tap of {tube.ref} is not known.", \
            "Read its number: most sets have a 40 (screw) or 47 (bayonet), 6.3 V 0.15 A."
    return Measure(lamp.ref, None, None, "V", why, do)


def _at_work(point: Point, tap: Tap, string: HeaterString) -> Iterator[Measure]:
    plate, mains, state = plate_of(tap.tube, point.main), point.mains, point.main
    found = worked_out(tap, string, point.unit, np.array([mains.today_v, mains.high_v]), plate)
    rests_on = (*tap.rests_on, point.allowances["heater tolerance"],
                *(state.rests_on if state and plate else mains.rests_on))
    yield _section(point, tap, found, plate, rests_on)
    if plate is not None:
        flash = _flash_v(tap, string, point.unit, mains)
        for lamp in tap.lamps:
            yield _lamp(point, lamp, tap, found.tap.volts[LIT], flash, rests_on)


def _flash_v(tap: Tap, string: HeaterString, unit: Unit, mains: Mains) -> float | None:
    """Volts on the lamps at switch-on, heaters cold; None where a member is not known."""
    known, ohms = heaters_of_string(string, unit), dropper_ohm(string, unit)[0]
    if not known or ohms is None:
        return None
    first = switch_on(mains.today_v, [h.volts.value for h in known], [h.amps.value for h in known], ohms)
    return float(lamp_at_switch_on(first.current_a, tap.volts.value, tap.amps.value, tap.lamp_v, tap.lamp_a,
                                   tap.shunt_ohm))


def _lamp(point: Point, lamp: RatedHeater, tap: Tap, volts: np.ndarray, flash: float | None,
          rests_on: tuple[Figure, ...]) -> Measure:
    today, high = (float(v) for v in volts)
    rated, share, mains = lamp.volts.value, point.allowances["lamp volts"], point.mains
    why = f"{lamp.part.ref} ({lamp.part.called}) across the tap of {tap.tube.ref} gets about {today:.3g} V of its " \
          f"{rated:g} V at {mains.today_v:g} V mains, {high:.3g} V at {mains.high_v:g} V"
    why += f", about {flash:.2g} V at switch-on" if flash is not None else ""
    why += ": it burns out early." if high > rated * share.value else "."
    return Measure(lamp.part.ref, today, rated * share.value, "V", why,
                   "Fit the lamp the maker names, and a shunt resistor across it if he shows one.", high,
                   gravest="caution", rests_on=(*rests_on, share), stands=True)


def _section(point: Point, tap: Tap, found: TappedString, plate: Plate | None,
             rests_on: tuple[Figure, ...]) -> Measure:
    volts, amps, mains = found.tap.volts, found.tap.section_a, point.mains
    today, high, out = float(volts[LIT, 0]), float(volts[LIT, 1]), float(volts[OUT, 1])
    most, ref = tap.volts.value * (1 + point.allowances["heater tolerance"].value / 100), tap.tube.ref
    lamps = " and ".join(h.part.ref for h in tap.lamps)
    flows = f", {amount(plate.dc[0], 'A', digits=3)} plate current through both" if plate is not None else ""
    why = f"The tapped section of {ref} ({tap.tube.called}), {tap.volts.value:g} V {tap.amps.value:g} A, gets about " \
          f"{today:.3g} V and {amps[LIT, 0]:.2g} A with {lamps} across it{flows}; {high:.3g} V at " \
          f"{mains.at_high}. With the lamp dead or out the section alone gets about {out:.3g} V and " \
          f"{amps[OUT, 1]:.2g} A"
    less = "Draw less B+ current, or put the maker's shunt resistor across the lamp."
    if high > most:
        return Measure(ref, today, most, "V", f"{why}.", less, high, rests_on=rests_on, stands=True)
    if plate is None:
        state = point.main
        missing = state.missing if state is not None and state.missing else f"{ref} feeds no supply in unit.toml"
        return Measure(ref, today, most, "V", f"{why}; plate current flows through both too, and {missing}.",
                       (state.mend if state is not None else "") or "Give the supply in unit.toml.", missing=True,
                       rests_on=rests_on)
    return _lamp_side(point, tap, plate, why, (today, high, out, most), lamps, rests_on)


def _lamp_side(point: Point, tap: Tap, plate: Plate, why: str, volts: tuple[float, float, float, float], lamps: str,
               rests_on: tuple[Figure, ...]) -> Measure:
    """What the lamp does to the section: too large a one, too much DC through it, or what its failing brings."""
    today, high, out, most = volts
    dc, dead, over = (point.allowances[f"tap lamp {name}"] for name in ("dc", "out", "amps"))
    ref = tap.tube.ref
    if tap.lamp_a > over.value * tap.amps.value:
        return Measure(ref, tap.lamp_a, over.value * tap.amps.value, "A",
                       f"{why}. {lamps} draws more than the section was made for and starves it.",
                       f"Fit a lamp of {tap.amps.value:g} A, a 40 or 47.", gravest="caution",
                       rests_on=(*rests_on, over))
    if plate.dc[0] > dc.value and math.isinf(tap.shunt_ohm):
        return Measure(ref, float(plate.dc[0]), dc.value, "A", f"{why}; without a shunt resistor across the lamp the "
                       f"makers allow {dc.value * 1000:g} mA.", "Draw less B+ current, or put the maker's shunt "
                       "resistor across the lamp.", gravest="caution", rests_on=(*rests_on, dc))
    if out > dead.value:
        return Measure(ref, out, dead.value, "V", f"{why}; the makers allow {dead.value:g} V then.",
                       "Change a dead lamp before the set is used again: the section burns out next.",
                       gravest="caution", rests_on=(*rests_on, dead))
    return Measure(ref, today, most, "V", f"{why}: change a dead lamp soon.", "", high, rests_on=(*rests_on, dead))
