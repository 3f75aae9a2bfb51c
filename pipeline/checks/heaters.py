"""Rules of heater windings: what each carries, and what volts each heater gets."""

from collections.abc import Iterator, Mapping, Sequence

from pipeline.catalogue import Figure
from pipeline.checks.rule import AT_LEAST, AT_MOST, Measure
from pipeline.electrics.heaters import winding_load
from pipeline.point.heaters import Heater, Load, heater_on_winding, is_cold, load_of
from pipeline.point.heating import fed_with_dc, winding_volts
from pipeline.point.point import Point
from pipeline.point.supply import SIGNAL, SIGNAL_HIGH, SupplyState
from pipeline.unit import Part, Unit, Winding


def heater_load(point: Point) -> Iterator[Measure]:
    """Sum of the members' currents against each winding's rating, with what a rectifier draws from it."""
    for winding in point.unit.windings.values():
        taken = [s for s in point.states if s.supply.winding == winding.id and s.rectified]
        yield load_measure(winding, members_of(winding, point.unit), taken)


def members_of(winding: Winding, unit: Unit) -> list[Part]:
    """What hangs on the winding in the order of the list."""
    return list(unit.parts_at(winding.id))


def load_measure(winding: Winding, members: Sequence[Part], taken: Sequence[SupplyState] = ()) -> Measure:
    """Sum of the members' currents against the winding's rating; unknown members leave the sum open.

    What tubes of current production may draw at most is the adverse end. A supply that takes its AC from the winding
    counts with its rms amperes.
    """
    loads = {p.ref: load_of(p, winding.volts) for p in members if not is_cold(p) and p.kind in ("tube", "lamp", None)}
    known = [x for x in loads.values() if x]
    missing = [ref for ref, load in loads.items() if not load]
    sums = winding_load([x.least.value for x in known], winding.amps or 1.0, [x.most.value for x in known])
    solved = [s for s in taken if s.solved is not None]
    missing += [s.id for s in taken if s.solved is None]
    total = float(sums.total_a) + sum(s.winding_rms_a(SIGNAL) for s in solved)
    most = float(sums.high_a) + sum(s.winding_rms_a(SIGNAL_HIGH) for s in solved)
    said = ", ".join([*(x.said for x in known), *(f"{s.id} {s.winding_rms_a(SIGNAL):.3g} rms" for s in solved)])
    draws = f"{total:.3g} A" + (f", up to {most:.3g} A" if most > total else "")
    none = not known and not taken
    why, do = _load_said(winding, said, draws, total, most, missing, none, known)
    return Measure(
        winding.id, None if none else total, winding.amps, "A", why, do, most,
        rests_on=tuple(f for x in known for f in (x.least, x.most)),
        missing=bool(missing) and (winding.amps is None or total <= winding.amps), covers=tuple(p.ref for p in members),
        stands=True)


def _load_said(winding: Winding, said: str, draws: str, total: float, most: float, missing: list[str], none: bool,
               known: Sequence[Load]) -> tuple[str, str]:
    """(why, what to do) of a winding's load."""
    if winding.amps is None:
        return f"The tubes and lamps on {winding.id} draw {draws}, but its rating is not given.", \
            f"Give amps for {winding.id}, from the nameplate or the tubes the maker fitted."
    if total > winding.amps * (1 + 1e-9):
        return f"The heaters on {winding.id} draw {draws}; the winding is rated for {winding.amps:g} A ({said}).", \
            "Take load off it or fit tubes that draw less: the transformer overheats."
    if missing:
        return f"{', '.join(missing)} on {winding.id}: heater current not known; the rest draw {draws} of " \
               f"{winding.amps:g} A.", "Look up the heater current, or measure it."
    if none:
        return f"No tube or lamp names {winding.id} in its `at` column.", \
            f"Write {winding.id} in the `at` column of what it feeds."
    if most > winding.amps * (1 + 1e-9):
        wide = ", ".join(f"{x.part.ref} ({x.part.called}) up to {x.most.value:g} A by {x.most.source_id}"
                         for x in known if x.most.value > x.least.value)
        return f"{said} A: {draws} of {winding.amps:g} A; today's make may draw more than the old one: {wide}.", \
            "Measure the heater current of these, or fit tubes of the old make."
    return f"{said} A: {draws} of {winding.amps:g} A.", ""


def heater_voltage(point: Point) -> Iterator[Measure]:
    """Each wrong tube by its ref; then each winding's volts at today's and at high mains for those that fit."""
    for winding in point.unit.windings.values():
        heaters = [h for p in members_of(winding, point.unit)
                   if not is_cold(p) and (h := heater_on_winding(p, winding.volts))]
        fitting = []
        for heater in heaters:
            tolerance = _tolerance(heater, point.allowances)
            if abs(winding.volts / heater.volts.value - 1) > tolerance.value / 100:
                yield _wrong_tube(winding, heater)
            else:
                fitting.append((heater, tolerance))
        if fitting:
            yield _mains_effect(point, winding, fitting)


def _tolerance(heater: Heater, allowances: Mapping[str, Figure]) -> Figure:
    return heater.part.rating("tubes", "heater_tolerance_pct") or allowances["heater tolerance"]


def _wrong_tube(winding: Winding, heater: Heater) -> Measure:
    ref, rated = heater.part.ref, heater.volts.value
    over = winding.volts > rated
    return Measure(
        ref, winding.volts, rated, "V",
        f"{ref} ({heater.part.called}) has a {rated:g} V heater but sits on {winding.id}, {winding.volts:g} V: "
        + ("it burns out." if over else "it stays too cold."),
        f"Fit a tube with a {winding.volts:g} V heater, or correct the `at` column.",
        sense=AT_MOST if over else AT_LEAST, rests_on=(heater.volts,))


def _mains_effect(point: Point, winding: Winding, fitting: list[tuple[Heater, Figure]]) -> Measure:
    """The winding's volts against what its heaters bear, and where they are too few against what these want."""
    volts, mains = winding_volts(winding.id, point.unit, point.mains, point.states, point.quantities), point.mains
    heater, tolerance = min(fitting, key=lambda pair: pair[0].volts.value * (1 + pair[1].value / 100))
    most = heater.volts.value * (1 + tolerance.value / 100)
    least = max(h.volts.value * (1 - t.value / 100) for h, t in fitting)
    covers, rests_on = tuple(h.part.ref for h, _ in fitting), (heater.volts, tolerance, *mains.rests_on)
    if volts is None:
        state = fed_with_dc(winding.id, point.states)
        return Measure(winding.id, None, most, "V", f"The DC volts on {winding.id} are not known: "
                       f"{state.missing if state else ''}.", state.mend if state else "", rests_on=rests_on,
                       covers=covers)
    today, high = volts
    dc = fed_with_dc(winding.id, point.states) is not None
    at = f"{winding.id} stands at {today:.3g} V DC today" if dc else \
        f"{winding.id}'s battery is named for {winding.volts:g} V" if mains.battery else \
        f"{winding.volts:g} V at {mains.design_v:g} V mains is {today:.3g} V at today's {mains.today_v:g} V"
    if today < least:
        return Measure(winding.id, today, least, "V", f"{at}; the heaters want {least:.3g} V at least.",
                       "Use a lower primary tap.", sense=AT_LEAST, gravest="caution", rests_on=rests_on, covers=covers)
    low = today * mains.low_v / mains.today_v
    cool = f" At {mains.at_low} it is {low:.3g} V, less than the {least:.3g} V the heaters want." \
        if low < least else ""
    then = f"{high:.3g} V at {mains.at_high}"
    why = f"{at}; {heater.part.ref} bears {most:.3g} V at most." if today > most else \
        f"{at}, but {then}; {heater.part.ref} bears {most:.3g} V." if high > most else \
        f"{at}, {then}; limit {most:.3g} V.{cool}"
    do = "Watch the batteries: a lower cell, or a dropping resistor." if mains.battery else \
        "Use a higher primary tap, a bucking winding or a dropping resistor." if today > most else \
        "Watch the mains, or use a higher primary tap."
    return Measure(winding.id, today, most, "V", why, do, high, rests_on=rests_on, covers=covers, stands=True)
