"""Heater findings: what each winding carries, what volts each heater gets, and whether a series string agrees."""

from collections.abc import Iterator

from pipeline.catalogue import Figure
from pipeline.checks.findings import AT_LEAST, AT_MOST, Finding, figures
from pipeline.checks.strings import string_findings
from pipeline.electrics.heaters import volts_at_mains, winding_load
from pipeline.point.heaters import (
    HEATER_TOLERANCE,
    Heater,
    heater_on_winding,
    is_cold,
    load_of,
)
from pipeline.point.mains import Mains
from pipeline.point.supply import SupplyState
from pipeline.unit import Part, Unit, Winding


def heater_findings(unit: Unit, mains: Mains, state: SupplyState | None = None) -> Iterator[Finding]:
    """Findings of every heater winding and of every series string.

    `heater-load` and `heater-voltage` of windings; `heater-string`, a tapped heater's `heater-voltage` and the
    dropper's `resistor-power` of strings. The plate current through a tap is that of `state`.
    """
    for winding in unit.windings.values():
        members = [p for p in unit.parts.values() if p.is_at(winding.id)]
        yield load_finding(winding, members)
        yield from voltage_findings(winding, members, mains)
    for string in unit.strings.values():
        yield from string_findings(string, unit, mains, state)


def load_finding(winding: Winding, members: list[Part]) -> Finding:
    """Sum of the members' currents against the winding's rating; unknown members leave the sum open.

    What tubes of current production may draw at most is the adverse end.
    """
    loads = {p.ref: load_of(p, winding.volts) for p in members if not is_cold(p)}
    known = [x for x in loads.values() if x]
    missing = [ref for ref, load in loads.items() if not load]
    sums = winding_load([x.least.value for x in known], winding.amps or 1.0, [x.most.value for x in known])
    total, most = float(sums.total_a), float(sums.high_a)
    rests_on = figures(*(f for x in known for f in (x.least, x.most)))
    parts = ", ".join(x.said for x in known)
    draws = f"{total:.3g} A" + (f", up to {most:.3g} A" if most > total else "")

    def finding(verdict: str, figure: float | None, why: str, do: str = "") -> Finding:
        return Finding("heater-load", winding.id, verdict, figure, winding.amps, "A", why, do, rests_on)

    if winding.amps is None:
        return finding("unknown", total, f"The tubes and lamps on {winding.id} draw {draws}, but its rating is not "
                       "given.", f"Give amps for {winding.id}, from the nameplate or the tubes the maker fitted.")
    over = winding.amps * (1 + 1e-9)
    if total > over:
        return finding("stop", total, f"The heaters on {winding.id} draw {draws}; the winding is rated for "
                       f"{winding.amps:g} A ({parts}).",
                       "Take load off it or fit tubes that draw less: the transformer overheats.")
    if missing:
        return finding("unknown", total, f"{', '.join(missing)} on {winding.id}: heater current not known; the rest "
                       f"draw {draws} of {winding.amps:g} A.", "Look up the heater current, or measure it.")
    if not known:
        return finding("unknown", None, f"No tube or lamp names {winding.id} in its `at` column.",
                       f"Write {winding.id} in the `at` column of what it feeds.")
    if most > over:
        wide = ", ".join(f"{x.part.ref} ({x.part.called}) up to {x.most.value:g} A by {x.most.source_id}"
                         for x in known if x.most.value > x.least.value)
        return finding("caution", most, f"{parts} A: {draws} of {winding.amps:g} A; today's make may draw more than "
                       f"the old one: {wide}.", "Measure the heater current of these, or fit tubes of the old make.")
    return finding("pass", most, f"{parts} A: {draws} of {winding.amps:g} A.")


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
        f"Fit a tube with a {winding.volts:g} V heater, or correct the `at` column.", figures(heater.volts),
        AT_MOST if over else AT_LEAST)


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
                       f"{at}; the heaters want {least:.3g} V at least.", "Use a lower primary tap.", rests_on,
                       AT_LEAST)
    if high > most:
        return Finding("heater-voltage", winding.id, "caution", high, most, "V",
                       f"{at}, but {high:.3g} V at {mains.high_v:g} V mains; {heater.part.ref} bears {most:.3g} V.",
                       "Watch the mains, or use a higher primary tap.", rests_on)
    low = float(volts_at_mains(winding.volts, mains.low_v, mains.design_v))
    cool = f" At {mains.low_v:g} V mains it is {low:.3g} V, less than the {least:.3g} V the heaters want." \
        if low < least else ""
    return Finding("heater-voltage", winding.id, "pass", high, most, "V",
                   f"{at}, {high:.3g} V at {mains.high_v:g} V mains; limit {most:.3g} V.{cool}", rests_on=rests_on)
