"""`heater-voltage` of a dial lamp across a rectifier's tapped heater, and of the section it hangs on."""

import math
from collections.abc import Iterator

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures
from pipeline.electrics.heaters import switch_on
from pipeline.electrics.tapped import TappedString, lamp_at_switch_on
from pipeline.point.heaters import HEATER_TOLERANCE, RatedHeater, dropper_ohm, heaters_of_string, string_members
from pipeline.point.mains import Mains
from pipeline.point.supply import SupplyState
from pipeline.point.tapped import LIT, OUT, Plate, Tap, lamps_at, plate_of, section_of, tap_of, worked_out
from pipeline.unit import HeaterString, Part, Unit

LAMP_MOST = Figure("dial lamp", "share of its volts", 1.1, "1", "practice", "",
                   note="beyond it the lamp lasts a third of its time: life goes as the 12th power of the volts")
LAMP_OUT_V = Figure("tapped heater", "section volts when the lamp fails", 15.0, "V", "recalled",
                    "rca-receiving-tube-manual")
LAMP_DC_A = Figure("tapped heater", "dc output with a lamp and no shunt", 0.060, "A", "recalled",
                   "rca-receiving-tube-manual")
LAMP_AMPS_OVER = 1.1
"""A lamp that draws this many times the section's current starves it: a 44 in the place of a 47 (practice)."""


def tap_findings(string: HeaterString, unit: Unit, mains: Mains, state: SupplyState | None) -> Iterator[Finding]:
    """Each lamp that hangs on a member of the string, by its ref; the section, by the tube's."""
    for tube in string_members(string, unit):
        lamps = lamps_at(tube, unit)
        tap = tap_of(tube, unit) if lamps else None
        if tap is not None:
            yield from _at_work(tap, string, unit, mains, state)
        else:
            yield from (_unknown(lamp, tube) for lamp in lamps)


def _unknown(lamp: Part, tube: Part) -> Finding:
    if section_of(tube) is None:
        why, do = f"{lamp.ref} hangs on {tube.ref} ({tube.called}), of which no lamp tap is known.", \
            "Look up volts and amps of the tapped section, or name in `at` the rectifier that has one."
    else:
        why, do = f"{lamp.ref} or another lamp across the tap of {tube.ref} is not known.", \
            "Read its number: most sets have a 40 (screw) or 47 (bayonet), 6.3 V 0.15 A."
    return Finding("heater-voltage", lamp.ref, "unknown", None, None, "V", why, do)


def _at_work(tap: Tap, string: HeaterString, unit: Unit, mains: Mains, state: SupplyState | None) -> Iterator[Finding]:
    plate = plate_of(tap.tube, state)
    found = worked_out(tap, string, unit, np.array([mains.today_v, mains.high_v]), plate)
    rests_on = figures(*tap.rests_on, HEATER_TOLERANCE, *(state.rests_on if state and plate else mains.rests_on))
    yield _section_finding(tap, found, plate, mains, state, rests_on)
    if plate is not None:
        flash = _flash_v(tap, string, unit, mains)
        for lamp in tap.lamps:
            yield _lamp_finding(lamp, tap, found.tap.volts[LIT], flash, mains, rests_on)


def _flash_v(tap: Tap, string: HeaterString, unit: Unit, mains: Mains) -> float | None:
    """Volts on the lamps at switch-on, heaters cold; None where a member is not known."""
    known, ohms = heaters_of_string(string, unit), dropper_ohm(string, unit)[0]
    if not known or ohms is None:
        return None
    first = switch_on(mains.today_v, [h.volts.value for h in known], [h.amps.value for h in known], ohms)
    return float(lamp_at_switch_on(first.current_a, tap.volts.value, tap.amps.value, tap.lamp_v, tap.lamp_a,
                                   tap.shunt_ohm))


def _lamp_finding(lamp: RatedHeater, tap: Tap, volts: np.ndarray, flash: float | None, mains: Mains,
                  rests_on: tuple[Figure, ...]) -> Finding:
    today, high = (float(v) for v in volts)
    rated = lamp.volts.value
    most = rated * LAMP_MOST.value
    why = f"{lamp.part.ref} ({lamp.part.called}) across the tap of {tap.tube.ref} gets about {today:.3g} V of its " \
          f"{rated:g} V at {mains.today_v:g} V mains, {high:.3g} V at {mains.high_v:g} V"
    why += f", about {flash:.2g} V at switch-on" if flash is not None else ""
    if high > most:
        worst = today if today > most else high
        return Finding("heater-voltage", lamp.part.ref, "caution", worst, most, "V", f"{why}: it burns out early.",
                       "Fit the lamp the maker names, and a shunt resistor across it if he shows one.",
                       (*rests_on, LAMP_MOST))
    return Finding("heater-voltage", lamp.part.ref, "pass", high, most, "V", why + ".", rests_on=(*rests_on, LAMP_MOST))


def _section_finding(tap: Tap, found: TappedString, plate: Plate | None, mains: Mains, state: SupplyState | None,
                     rests_on: tuple[Figure, ...]) -> Finding:
    volts, amps = found.tap.volts, found.tap.section_a
    today, high, out = float(volts[LIT, 0]), float(volts[LIT, 1]), float(volts[OUT, 1])
    most, ref = tap.volts.value * (1 + HEATER_TOLERANCE.value / 100), tap.tube.ref
    lamps = " and ".join(h.part.ref for h in tap.lamps)
    flows = f", {plate.dc[0] * 1000:.3g} mA plate current through both" if plate is not None else ""
    why = f"The tapped section of {ref} ({tap.tube.called}), {tap.volts.value:g} V {tap.amps.value:g} A, gets about " \
          f"{today:.3g} V and {amps[LIT, 0]:.2g} A with {lamps} across it{flows}; {high:.3g} V at " \
          f"{mains.high_v:g} V mains. With the lamp dead or out the section alone gets about {out:.3g} V and " \
          f"{amps[OUT, 1]:.2g} A"

    def finding(verdict: str, figure: float, limit: float, more: str, do: str = "", *also: Figure,
                unit: str = "V") -> Finding:
        return Finding("heater-voltage", ref, verdict, figure, limit, unit, why + more, do, figures(*rests_on, *also))

    less = "Draw less B+ current, or put the maker's shunt resistor across the lamp."
    if high > most:
        return finding("stop" if today > most else "caution", today if today > most else high, most, ".", less)
    if plate is None:
        missing = state.missing if state is not None and state.missing else f"{ref} feeds no supply in unit.toml"
        return finding("unknown", today, most, f"; plate current flows through both too, and {missing}.",
                       (state.mend if state is not None else "") or "Give the supply in unit.toml.")
    if tap.lamp_a > LAMP_AMPS_OVER * tap.amps.value:
        return finding("caution", tap.lamp_a, LAMP_AMPS_OVER * tap.amps.value, f". {lamps} draws more than the section "
                       "was made for and starves it.", f"Fit a lamp of {tap.amps.value:g} A, a 40 or 47.", unit="A")
    if plate.dc[0] > LAMP_DC_A.value and math.isinf(tap.shunt_ohm):
        return finding("caution", float(plate.dc[0]), LAMP_DC_A.value, "; without a shunt resistor across the lamp the "
                       f"makers allow {LAMP_DC_A.value * 1000:g} mA.", less, LAMP_DC_A, unit="A")
    if out > LAMP_OUT_V.value:
        return finding("caution", out, LAMP_OUT_V.value, f"; the makers allow {LAMP_OUT_V.value:g} V then.",
                       "Change a dead lamp before the set is used again: the section burns out next.", LAMP_OUT_V)
    return finding("pass", high, most, ": change a dead lamp soon.", "", LAMP_OUT_V)
