"""Rules of series heater strings: wrong members, the current a string settles at, the warm-up surge, the dropper."""

from collections.abc import Iterator, Mapping

import numpy as np

from pipeline.amounts import amount, written
from pipeline.catalogue import Figure
from pipeline.checks.rule import AT_LEAST, AT_MOST, Measure
from pipeline.electrics.heaters import HEATER_EXPONENT, LAMP_HOT_K, cold_ratio, switch_on, warm_up, warm_up_ceiling
from pipeline.electrics.heaters import dropper as dropper_for
from pipeline.point.barretters import Holding
from pipeline.point.heaters import RatedHeater, dropper_ohm, heater_in_string, string_members
from pipeline.point.mains import Mains
from pipeline.point.point import Point
from pipeline.point.strings import StringState, rated_points
from pipeline.unit import HeaterString, Part

SLOWEST = 10.0
"""A member this many times slower than the quickest is taken no slower: the quick ones are hot long before."""


def heater_string(point: Point) -> Iterator[Measure]:
    """Members whose current is not the string's, by ref; the current it settles at, by its id; the warm-up surge."""
    for string in point.unit.strings.values():
        heaters = {p.ref: heater_in_string(p, string.amps) for p in string_members(string, point.unit)}
        known = [h for h in heaters.values() if h]
        wrong = wrong_members(string, known, point.allowances)
        yield from (_wrong_member(string, heater) for heater in wrong)
        missing = [ref for ref, heater in heaters.items() if not heater]
        if missing or not known:
            what = f"{', '.join(missing)} in {string.id}: heater not known" if missing else \
                f"no tube names {string.id} in its `at` column"
            yield Measure(string.id, None, string.amps, "A", f"{what[0].upper()}{what[1:]}.",
                          "Look up its volts and amps; the whole string depends on each member.",
                          rests_on=tuple(h.volts for h in known), covers=tuple(heaters))
        elif not wrong:
            yield from _in_order(point, string, known)


def wrong_members(string: HeaterString, known: list[RatedHeater],
                  allowances: Mapping[str, Figure]) -> list[RatedHeater]:
    """Members whose rated current is too far from the string's."""
    within = allowances["string current"].value / 100
    return [h for h in known if abs(h.amps.value / string.amps - 1) > within]


def _wrong_member(string: HeaterString, heater: RatedHeater) -> Measure:
    ref, amps = heater.part.ref, heater.amps.value
    does = "starves while the others get too much" if amps > string.amps else "gets too much and burns out"
    return Measure(ref, amps, string.amps, "A",
                   f"{ref} ({heater.part.called}) wants {amps:g} A in a {string.amps:g} A string: it {does}.",
                   f"Fit a tube with a {string.amps:g} A heater.", sense=AT_MOST if amps > string.amps else AT_LEAST,
                   rests_on=(heater.amps, heater.volts))


def _in_order(point: Point, string: HeaterString, known: list[RatedHeater]) -> Iterator[Measure]:
    """Measures of a string whose members are all known and belong together."""
    ohms, dropper = dropper_ohm(string, point.unit)
    rests_on, state = _rests_on(point, known), point.strings.get(string.id)
    if state is not None and state.held is not None:
        ohms, rests_on = float(state.ohms[0]), (*state.held.rests_on, *rests_on)
        yield from _barretter(point, string, state, state.held, rests_on)
    if ohms is None:
        wanted = dropper_for(point.mains.design_v, [h.volts.value for h in known], string.amps)
        yield Measure(string.id, None, string.amps, "A", f"The dropper {string.dropper} has no ohms that can be read.",
                      f"Measure it: about {float(wanted.ohms):.0f} ohm would do, which burns "
                      f"{amount(float(wanted.watts), 'W', digits=2)}; a new one should bear twice that.",
                      rests_on=rests_on, covers=tuple(h.part.ref for h in known))
        return
    if state is not None:
        yield _string_current(string, known, _asks(string, known, ohms, dropper, state), ohms, state, point.mains,
                              point.allowances["heater tolerance"], rests_on)
    yield from _warm_up(point, string, known, ohms, rests_on)


def _rests_on(point: Point, known: list[RatedHeater]) -> tuple[Figure, ...]:
    return (*(h.volts for h in known), *(h.amps for h in known), point.allowances["heater tolerance"],
            *point.mains.rests_on)


def _asks(string: HeaterString, known: list[RatedHeater], ohms: float, dropper: Part | None,
          state: StringState) -> str:
    """What the heaters ask, and what the dropper or barretter takes, in words."""
    asks = f"The heaters ask {sum(h.volts.value for h in known):.4g} V"
    if state.held is not None:
        return f"{asks} and the barretter {state.held.part.ref} holds {state.held.amps:g} A while " \
               f"{state.held.low_v:g} to {state.held.high_v:g} V stand across it, {state.left_v[0]:.3g} V today"
    asks += f" and the dropper {amount(ohms, 'ohm')} takes {ohms * string.amps:.3g} V" if ohms else ""
    plain = dropper is not None and dropper.kind == "ballast"
    return asks + (f" ({dropper.ref} counted as a plain resistor, for the volts between which it holds its current are "
                   "not known)" if plain and dropper else "")


def _barretter(point: Point, string: HeaterString, state: StringState, held: Holding,
               rests_on: tuple[Figure, ...]) -> Iterator[Measure]:
    """A barretter against the ends of its range: beyond them it is a resistor, and the string goes with the line."""
    ref, mains = held.part.ref, point.mains
    today, high, low = (float(v) for v in state.left_v)
    said = f"{ref} ({held.part.shown}) is left {max(today, 0):.3g} V by the heaters of {string.id}, " \
           f"{max(high, 0):.3g} V at {mains.at_high}, {max(low, 0):.3g} V at {mains.at_low}; it holds its " \
           f"{held.amps:g} A from {held.low_v:g} to {held.high_v:g} V"
    if low < held.low_v:
        yield Measure(ref, max(today, 0.0), held.low_v, "V", f"{said}: below that the heaters go with the line.",
                      "Look for a tube with too many heater volts, or fit a barretter of a lower range.",
                      max(low, 0.0), AT_LEAST, "caution", rests_on)
    yield Measure(ref, max(today, 0.0), held.high_v, "V", f"{said}.",
                  "Look for a tube with too few heater volts; a dropper beside it brings it back into its range.", high,
                  rests_on=rests_on, stands=True)


def _string_current(string: HeaterString, known: list[RatedHeater], asks: str, ohms: float, state: StringState,
                    mains: Mains, within: Figure, rests_on: tuple[Figure, ...]) -> Measure:
    volts, amps = rated_points(known)
    flows, tap, plain = state.amps, state.tap, "plain resistor" in asks
    top, bottom = 1 + within.value / 100, 1 - within.value / 100
    shares = (flows[:, None] / amps) ** (1 / HEATER_EXPONENT)
    whole = [i for i, h in enumerate(known) if tap is None or h.part.ref != tap.tube.ref] or [0]
    hot, cool = max(whole, key=lambda i: shares[0, i]), min(whole, key=lambda i: shares[0, i])
    share, most_share = float(shares[0, hot]), float(shares[1, hot])
    least, low_share = float(shares[0, cool]), float(shares[2, cool])
    total, first = volts.sum(), _first_a(known, ohms, mains)
    at = f"{asks}; at {mains.today_v:g} V mains {flows[0]:.3g} A flow (cold, about {first:.2g} A for a moment) and " \
         f"each heater gets {share * 100:.0f} % of its volts"

    def measure(figure: float, bound: float, more: str = "", do: str = "", member: int = hot,
                adverse: float | None = None) -> Measure:
        ref, rated = known[member].part.ref, float(volts[member])
        shown = adverse if adverse is not None else figure
        return Measure(string.id, figure * rated, bound * rated, "V",
                       f"{at}{more} ({ref} {shown * rated:.4g} V for {rated:g} V).", do,
                       None if adverse is None else adverse * rated, AT_MOST if bound > 1 else AT_LEAST,
                       "stop" if bound > 1 else "caution", rests_on,
                       covers=(*(h.part.ref for h in known), *((string.dropper,) if plain and string.dropper else ())))

    if share > top:
        missing = max(mains.today_v - total, 0) / string.amps
        rest = f"a dropper of {missing:.0f} ohm is missing" if not ohms else "the dropper is too small"
        return measure(share, top, do=f"Look for a tube with too few heater volts; else {rest}.")
    if least < bottom:
        return measure(least, bottom, do="Look for a tube with too many heater volts, or too large a dropper.",
                       member=cool)
    low = f", only {low_share * 100:.0f} % at {mains.low_v:g} V" if low_share < bottom and most_share <= top else ""
    return measure(share, top, f", {most_share * 100:.0f} % at {mains.high_v:g} V{low}",
                   "Add a little dropper, or watch the mains.", adverse=most_share)


def _ratios(known: list[RatedHeater]) -> np.ndarray:
    """Cold over hot resistance of each member."""
    return np.array([float(cold_ratio(LAMP_HOT_K) if h.part.kind == "lamp" else cold_ratio()) for h in known])


def _first_a(known: list[RatedHeater], ohms: float, mains: Mains) -> float:
    """Amps in the first instant at today's mains, all cold."""
    return float(switch_on(mains.today_v, *rated_points(known), ohms, _ratios(known)).current_a)


def _warm_up(point: Point, string: HeaterString, known: list[RatedHeater], ohms: float,
             rests_on: tuple[Figure, ...]) -> Iterator[Measure]:
    """The member that gets most in warm-up, where a lamp or unequal warm-up times drive it past the bound.

    Lamps are hot while all else is cold. Where some members have a controlled warm-up, one of which none is known
    may be as quick; where no time is known at all (nearly every ordinary set) nothing is said here.
    """
    volts, amps = rated_points(known)
    mains, bound = point.mains, point.allowances["warm-up volts"]
    seconds = [h.part.rating("tubes", "warm_up_s") for h in known]
    timed = [s.value for s in seconds if s]
    ceiling = np.asarray(warm_up_ceiling(mains.today_v, volts, amps, ohms, _ratios(known)))
    if timed and len(timed) == len(known):
        slow = np.minimum(timed, SLOWEST * min(timed))
        peaks = np.asarray(warm_up(mains.today_v, volts, amps, slow, ohms).peak_v)
    else:
        quick = [h.part.kind == "lamp" or (s is None and bool(timed)) for h, s in zip(known, seconds, strict=True)]
        peaks = np.where(quick, ceiling, 0.0)
    worst = int((peaks / volts).argmax())
    most, peak = volts[worst] * bound.value, float(peaks[worst])
    if peak > most:
        why, do = _quick(string, known[worst].part, seconds[worst], timed)
        yield Measure(known[worst].part.ref, peak, float(most), "V",
                      f"{why}: while they warm it gets up to {peak:.3g} V for its {volts[worst]:g} V.", do,
                      gravest="caution", rests_on=(bound, *rests_on, *seconds))


def _quick(string: HeaterString, part: Part, own: Figure | None, timed: list[float]) -> tuple[str, str]:
    """(what is unequal, what to do about it) of the member that warms before the others."""
    if part.kind == "lamp":
        return f"{part.ref} ({part.called}) is hot at once, the heaters of {string.id} are cold", \
            "Put an NTC thermistor in the string, or expect to change the lamp often."
    others = f"{max(timed):g} s"
    mine = f"warms in {own.value:g} s" if own else "is not known to have a controlled warm-up"
    return f"{part.ref} ({part.called}) {mine}, others in {string.id} take {others}", \
        "Fit the type with the controlled warm-up (often the same number with an A or B); see whether its heater " \
        "flashes at switch-on."


def dropper_power(point: Point) -> Iterator[Measure]:
    """Watts in each string's dropper; a reading across it, or no marked watts, leaves it out."""
    for string in point.unit.strings.values():
        heaters = [heater_in_string(p, string.amps) for p in string_members(string, point.unit)]
        known = [h for h in heaters if h]
        ohms, dropper = dropper_ohm(string, point.unit)
        if not known or len(known) < len(heaters) or not ohms or dropper is None \
                or wrong_members(string, known, point.allowances):
            continue
        rated = dropper.reading.watts
        if rated is not None and dropper.ref not in point.readings.across:
            flows = point.strings[string.id].amps
            today, high = (float(a) ** 2 * ohms for a in flows[:2])
            yield _dropper(point, dropper, rated, today, high, _rests_on(point, known))


def _dropper(point: Point, dropper: Part, rated: float, today: float, high: float,
             rests_on: tuple[Figure, ...]) -> Measure:
    margin = point.allowances["dropper margin"]
    warm = today > rated * margin.value
    return Measure(
        dropper.ref, today, rated, "W",
        f"{dropper.ref} ({dropper.shown}), the dropper, burns {written(today, 3)} W, {written(high, 3)} W at "
        f"{point.mains.at_high}"
        f"; it is rated {rated:g} W" + (f", and does best below {margin.value * 100:.0f} % of that."
                                             if warm and today <= rated else "."),
        f"A new one should bear {written(2 * today, 2)} W or more.", high, rests_on=(*rests_on, margin), careful=warm)
