"""Heater findings: what each winding carries, what volts each heater gets, and whether a series string agrees."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding, figures
from pipeline.checks.mains import Mains
from pipeline.electrics.heaters import HEATER_EXPONENT, series_string, volts_at_mains
from pipeline.unit import HeaterString, Part, Unit, Winding

HEATER_TOLERANCE = Figure("heaters", "heater_tolerance_pct", 10.0, "%", "practice", "",
                          note="the usual published tolerance, taken where the type's own is not known")
STRING_CURRENT_WITHIN = 0.05
"""A member whose rated current is further than this from the string's starves or burns (practice)."""


class Heater(NamedTuple):
    """A tube's heater or a lamp as wired on its winding or string."""

    part: Part
    volts: Figure
    amps: Figure | None

    @property
    def rated(self) -> "RatedHeater | None":
        """The heater with its current, None where that is not known."""
        return None if self.amps is None else RatedHeater(self.part, self.volts, self.amps)


class RatedHeater(NamedTuple):
    """A heater whose current is known too."""

    part: Part
    volts: Figure
    amps: Figure


def heater_findings(unit: Unit, mains: Mains) -> Iterator[Finding]:
    """`heater-load` and `heater-voltage` of every winding, `heater-string` of every series string."""
    for winding in unit.windings.values():
        members = [p for p in unit.parts.values() if p.at == winding.id]
        yield load_finding(winding, members)
        yield from voltage_findings(winding, members, mains)
    for string in unit.strings.values():
        yield from string_findings(string, unit, mains)


def heater_on_winding(part: Part, volts: float) -> Heater | None:
    """The arrangement of the part's heater whose volts are nearest the winding's; None where nothing is known."""
    return min(_arrangements(part), key=lambda h: abs(h.volts.value - volts), default=None)


def heater_in_string(part: Part, amps: float) -> RatedHeater | None:
    """The arrangement of the part's heater whose current is nearest the string's; None where nothing is known."""
    known = [rated for h in _arrangements(part) if (rated := h.rated)]
    return min(known, key=lambda h: abs(h.amps.value - amps), default=None)


def _arrangements(part: Part) -> list[Heater]:
    if part.ratings is None:
        reading = part.reading
        if reading and reading.kind == "lamp" and reading.volts and reading.amps:
            return [Heater(part, Figure(part.ref, "lamp_v", reading.volts, "V", "measured", ""),
                           Figure(part.ref, "lamp_a", reading.amps, "A", "measured", ""))]
        return []
    table, names = ("lamps", ("lamp_v", "lamp_a")) if part.kind == "lamp" else ("tubes", ("heater_v", "heater_a"))
    found = []
    for rows in (part.ratings.rows(table), part.ratings.rows("heater_options")):
        for row in rows.values():
            if names[0] in row and not row[names[0]].subject.endswith("/lamp tap"):
                found.append(Heater(part, row[names[0]], row.get(names[1])))
    return found


def is_cold(part: Part) -> bool:
    """A tube without a heater."""
    heating = part.rating("tubes", "heating")
    return heating is not None and heating.value == "cold"


def load_finding(winding: Winding, members: list[Part]) -> Finding:
    """Sum of the members' currents against the winding's rating; unknown members leave the sum open."""
    heaters = {p.ref: heater_on_winding(p, winding.volts) for p in members if not is_cold(p)}
    known = [rated for h in heaters.values() if h and (rated := h.rated)]
    missing = [ref for ref, h in heaters.items() if not (h and h.amps)]
    total = sum(h.amps.value for h in known)
    rests_on = figures(*(h.amps for h in known))
    parts = ", ".join(f"{h.part.ref} {h.amps.value:g}" for h in known)
    if winding.amps is None:
        return Finding("heater-load", winding.id, "unknown", total, None, "A",
                       f"The tubes and lamps on {winding.id} draw {total:.3g} A, but its rating is not given.",
                       f"Give amps for {winding.id}, from the nameplate or the tubes the maker fitted.", rests_on)
    if total > winding.amps * (1 + 1e-9):
        return Finding("heater-load", winding.id, "stop", total, winding.amps, "A",
                       f"The heaters on {winding.id} draw {total:.3g} A; the winding is rated for {winding.amps:g} A "
                       f"({parts}).", "Take load off it or fit tubes that draw less: the transformer overheats.",
                       rests_on)
    if missing:
        return Finding("heater-load", winding.id, "unknown", total, winding.amps, "A",
                       f"{', '.join(missing)} on {winding.id}: heater current not known; the rest draw {total:.3g} A "
                       f"of {winding.amps:g} A.", "Look up the heater current, or measure it.", rests_on)
    if not known:
        return Finding("heater-load", winding.id, "unknown", None, winding.amps, "A",
                       f"No tube or lamp names {winding.id} in its `at` column.",
                       f"Write {winding.id} in the `at` column of what it feeds.")
    return Finding("heater-load", winding.id, "pass", total, winding.amps, "A",
                   f"{parts} A: {total:.3g} A of {winding.amps:g} A.", rests_on=rests_on)


def voltage_findings(winding: Winding, members: list[Part], mains: Mains) -> Iterator[Finding]:
    """Each wrong tube by its ref; then the winding's volts at today's and at high mains for those that fit."""
    heaters = [h for p in members if not is_cold(p) and (h := heater_on_winding(p, winding.volts))]
    fitting = []
    for heater in heaters:
        tolerance = _tolerance(heater)
        if abs(winding.volts / heater.volts.value - 1) > tolerance.value / 100:
            yield _wrong_tube(winding, heater)
        else:
            fitting.append((heater, tolerance))
    if fitting:
        yield _mains_effect(winding, fitting, mains)


def _tolerance(heater: Heater) -> Figure:
    return heater.part.rating("tubes", "heater_tolerance_pct") or HEATER_TOLERANCE


def _wrong_tube(winding: Winding, heater: Heater) -> Finding:
    ref, rated = heater.part.ref, heater.volts.value
    over = winding.volts > rated
    return Finding(
        "heater-voltage", ref, "stop", winding.volts, rated, "V",
        f"{ref} ({heater.part.called}) has a {rated:g} V heater "
        f"but sits on {winding.id}, {winding.volts:g} V: " + ("it burns out." if over else "it stays too cold."),
        f"Fit a tube with a {winding.volts:g} V heater, or correct the `at` column.", figures(heater.volts))


def _mains_effect(winding: Winding, fitting: list[tuple[Heater, Figure]], mains: Mains) -> Finding:
    today = float(volts_at_mains(winding.volts, mains.today_v, mains.design_v))
    high = float(volts_at_mains(winding.volts, mains.high_v, mains.design_v))
    heater, tolerance = min(fitting, key=lambda pair: pair[0].volts.value * (1 + pair[1].value / 100))
    most = heater.volts.value * (1 + tolerance.value / 100)
    least = max(h.volts.value * (1 - t.value / 100) for h, t in fitting)
    rests_on = figures(heater.volts, tolerance, *mains.rests_on)
    at = f"{winding.volts:g} V at {mains.design_v:g} V mains is {today:.3g} V at today's {mains.today_v:g} V"
    if today > most:
        return Finding("heater-voltage", winding.id, "stop", today, most, "V",
                       f"{at}; {heater.part.ref} bears {most:.3g} V at most.",
                       "Use a higher primary tap, a bucking winding or a dropping resistor.", rests_on)
    if today < least:
        return Finding("heater-voltage", winding.id, "caution", today, least, "V",
                       f"{at}; the heaters want {least:.3g} V at least.", "Use a lower primary tap.", rests_on)
    if high > most:
        return Finding("heater-voltage", winding.id, "caution", high, most, "V",
                       f"{at}, but {high:.3g} V at {mains.high_v:g} V mains; {heater.part.ref} bears {most:.3g} V.",
                       "Watch the mains, or use a higher primary tap.", rests_on)
    return Finding("heater-voltage", winding.id, "pass", high, most, "V",
                   f"{at}, {high:.3g} V at {mains.high_v:g} V mains; limit {most:.3g} V.", rests_on=rests_on)


def string_findings(string: HeaterString, unit: Unit, mains: Mains) -> Iterator[Finding]:
    """Members whose current is not the string's, by ref; then the current the string settles at, by its id."""
    members = string_members(string, unit)
    heaters = {p.ref: heater_in_string(p, string.amps) for p in members}
    known = [h for h in heaters.values() if h]
    wrong = [h for h in known if abs(h.amps.value / string.amps - 1) > STRING_CURRENT_WITHIN]
    for heater in wrong:
        yield _wrong_member(string, heater)
    missing = [ref for ref, heater in heaters.items() if not heater]
    if missing or not known:
        what = f"{', '.join(missing)} in {string.id}: heater not known" if missing else \
            f"no tube names {string.id} in its `at` column"
        yield Finding("heater-string", string.id, "unknown", None, string.amps, "A", f"{what[0].upper()}{what[1:]}.",
                      "Look up its volts and amps; the whole string depends on each member.",
                      figures(*(h.volts for h in known)))
    elif not wrong:
        yield _string_current(string, known, unit, mains)


def string_members(string: HeaterString, unit: Unit) -> list[Part]:
    """Members of the string from the line side, those that only name it in `at` last."""
    refs = list(string.order) + [p.ref for p in unit.parts.values() if p.at == string.id and p.kind == "tube"]
    return [unit.parts[ref] for ref in dict.fromkeys(refs)]


def heaters_of_string(string: HeaterString, unit: Unit) -> list[RatedHeater]:
    """The heater of every member from the line side; empty where one is not known, for each depends on all."""
    found = [heater_in_string(p, string.amps) for p in string_members(string, unit)]
    known = [h for h in found if h is not None]
    return known if len(known) == len(found) else []


def _wrong_member(string: HeaterString, heater: RatedHeater) -> Finding:
    ref, amps = heater.part.ref, heater.amps.value
    does = "starves while the others get too much" if amps > string.amps else "gets too much and burns out"
    return Finding("heater-string", ref, "stop", amps, string.amps, "A",
                   f"{ref} ({heater.part.called}) wants {amps:g} A in a {string.amps:g} A string: it {does}.",
                   f"Fit a tube with a {string.amps:g} A heater.", figures(heater.amps, heater.volts))


def _string_current(string: HeaterString, known: list[RatedHeater], unit: Unit, mains: Mains) -> Finding:
    volts = np.array([h.volts.value for h in known])
    amps = np.array([h.amps.value for h in known])
    ohms, dropper = _dropper_ohm(string, unit)
    rests_on = figures(*(h.volts for h in known), *(h.amps for h in known), HEATER_TOLERANCE)
    total = volts.sum()
    asks = f"The heaters ask {total:.4g} V" + (f" and the dropper {ohms:g} ohm takes {ohms * string.amps:.3g} V"
                                               if ohms else "")
    if string.dropper and ohms is None:
        return Finding("heater-string", string.id, "unknown", None, string.amps, "A",
                       f"The dropper {string.dropper} has no ohms that can be read.",
                       f"Measure it: about {max(mains.design_v - total, 0) / string.amps:.0f} ohm would do.", rests_on)
    today, high = (series_string(v, volts, amps, ohms or 0.0, HEATER_EXPONENT) for v in (mains.today_v, mains.high_v))
    share, most_share = (float((x.member_v / volts).max()) for x in (today, high))
    least = float((today.member_v / volts).min())
    worst = int(np.argmax(today.member_v / volts))
    part, rated = known[worst].part, float(volts[worst])
    at = f"{asks}; at {mains.today_v:g} V mains {float(today.current_a):.3g} A flow and each heater gets " \
         f"{share * 100:.0f} % of its volts"

    def finding(verdict: str, share: float, bound: float, more: str = "", do: str = "") -> Finding:
        return Finding("heater-string", string.id, verdict, share * rated, bound * rated, "V",
                       f"{at}{more} ({part.ref} {share * rated:.4g} V for {rated:g} V).", do, rests_on)

    if share > 1.1:
        missing = max(mains.today_v - total, 0) / string.amps
        rest = f"a dropper of {missing:.0f} ohm is missing" if not ohms else "the dropper is too small"
        return finding("stop", share, 1.1, do=f"Look for a tube with too few heater volts; else {rest}.")
    if least < 0.9:
        return finding("caution", share, 0.9, do="Look for a tube with too many heater volts, or too large a dropper.")
    if most_share > 1.1:
        return finding("caution", most_share, 1.1, f", {most_share * 100:.0f} % at {mains.high_v:g} V",
                       "Add a little dropper, or watch the mains.")
    return finding("pass", most_share, 1.1, f", {most_share * 100:.0f} % at {mains.high_v:g} V")


def _dropper_ohm(string: HeaterString, unit: Unit) -> tuple[float | None, Part | None]:
    if string.dropper is None:
        return 0.0, None
    part = unit.parts[string.dropper]
    ohms = part.measured.get("ohms") or (part.reading.ohms if part.reading else None)
    return ohms, part
