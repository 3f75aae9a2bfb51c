"""Series heater strings: wrong members, the current the string settles at, the warm-up surge, the dropper's watts."""

from collections.abc import Iterator

import numpy as np

from pipeline.catalogue import Figure
from pipeline.checks.findings import AT_LEAST, AT_MOST, Finding, figures
from pipeline.checks.tapped import tap_findings
from pipeline.electrics.heaters import (
    HEATER_EXPONENT,
    LAMP_HOT_K,
    cold_ratio,
    switch_on,
    warm_up,
    warm_up_ceiling,
)
from pipeline.point.heaters import (
    HEATER_TOLERANCE,
    STRING_CURRENT_WITHIN,
    RatedHeater,
    dropper_ohm,
    heater_in_string,
    string_members,
)
from pipeline.point.mains import Mains
from pipeline.point.strings import rated_points, settled, tap_among
from pipeline.point.supply import SupplyState
from pipeline.point.tapped import Tap
from pipeline.unit import HeaterString, Part, Unit

WARM_UP_MOST = Figure("series string", "share of a heater's volts in warm-up", 1.5, "1", "practice", "",
                      note="unequal warm-up drives the quick heaters to 1.5 to 2 times their volts; lamps burn out")
DROPPER_MARGIN = Figure("dropper", "share of its rating", 0.5, "1", "practice", "",
                        note="a wirewound resistor in a closed set is chosen for twice the watts it burns")
SLOWEST = 10.0
"""A member this many times slower than the quickest is taken no slower: the quick ones are hot long before."""


def string_findings(string: HeaterString, unit: Unit, mains: Mains, state: SupplyState | None) -> Iterator[Finding]:
    """Members whose current is not the string's, by ref; the current it settles at, by its id; tap and dropper."""
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
        yield from _in_order(string, known, unit, mains, state)
    yield from tap_findings(string, unit, mains, state)


def _wrong_member(string: HeaterString, heater: RatedHeater) -> Finding:
    ref, amps = heater.part.ref, heater.amps.value
    does = "starves while the others get too much" if amps > string.amps else "gets too much and burns out"
    return Finding("heater-string", ref, "stop", amps, string.amps, "A",
                   f"{ref} ({heater.part.called}) wants {amps:g} A in a {string.amps:g} A string: it {does}.",
                   f"Fit a tube with a {string.amps:g} A heater.", figures(heater.amps, heater.volts),
                   AT_MOST if amps > string.amps else AT_LEAST)


def _in_order(string: HeaterString, known: list[RatedHeater], unit: Unit, mains: Mains,
              state: SupplyState | None) -> Iterator[Finding]:
    """Findings of a string whose members are all known and belong together."""
    ohms, dropper = dropper_ohm(string, unit)
    rests_on = figures(*(h.volts for h in known), *(h.amps for h in known), HEATER_TOLERANCE, *mains.rests_on)
    if ohms is None:
        missing = max(mains.design_v - sum(h.volts.value for h in known), 0) / string.amps
        yield Finding("heater-string", string.id, "unknown", None, string.amps, "A",
                      f"The dropper {string.dropper} has no ohms that can be read.",
                      f"Measure it: about {missing:.0f} ohm would do.", rests_on)
        return
    tap = tap_among(known, unit)
    amps = settled(string, known, ohms, tap, unit, mains, state)
    yield _string_current(string, known, ohms, amps, tap, mains, rests_on)
    yield from _warm_up(string, known, ohms, mains, rests_on)
    if dropper is not None:
        yield from _dropper_power(dropper, ohms, amps, mains, unit, rests_on)


def _string_current(string: HeaterString, known: list[RatedHeater], ohms: float, flows: np.ndarray, tap: Tap | None,
                    mains: Mains, rests_on: tuple[Figure, ...]) -> Finding:
    volts, amps = rated_points(known)
    shares = (flows[:, None] / amps) ** (1 / HEATER_EXPONENT)
    whole = [i for i, h in enumerate(known) if tap is None or h.part.ref != tap.tube.ref] or [0]
    hot, cool = max(whole, key=lambda i: shares[0, i]), min(whole, key=lambda i: shares[0, i])
    share, most_share = float(shares[0, hot]), float(shares[1, hot])
    least, low_share = float(shares[0, cool]), float(shares[2, cool])
    total, first = volts.sum(), _first_a(known, ohms, mains)
    asks = f"The heaters ask {total:.4g} V"
    asks += f" and the dropper {ohms:g} ohm takes {ohms * string.amps:.3g} V" if ohms else ""
    at = f"{asks}; at {mains.today_v:g} V mains {flows[0]:.3g} A flow (cold, about {first:.2g} A for a moment) and " \
         f"each heater gets {share * 100:.0f} % of its volts"

    def finding(verdict: str, share: float, bound: float, more: str = "", do: str = "", member: int = hot) -> Finding:
        ref, rated = known[member].part.ref, float(volts[member])
        return Finding("heater-string", string.id, verdict, share * rated, bound * rated, "V",
                       f"{at}{more} ({ref} {share * rated:.4g} V for {rated:g} V).", do, rests_on,
                       AT_MOST if bound > 1 else AT_LEAST)

    if share > 1.1:
        missing = max(mains.today_v - total, 0) / string.amps
        rest = f"a dropper of {missing:.0f} ohm is missing" if not ohms else "the dropper is too small"
        return finding("stop", share, 1.1, do=f"Look for a tube with too few heater volts; else {rest}.")
    if least < 0.9:
        return finding("caution", least, 0.9, do="Look for a tube with too many heater volts, or too large a dropper.",
                       member=cool)
    if most_share > 1.1:
        return finding("caution", most_share, 1.1, f", {most_share * 100:.0f} % at {mains.high_v:g} V",
                       "Add a little dropper, or watch the mains.")
    low = f", only {low_share * 100:.0f} % at {mains.low_v:g} V" if low_share < 0.9 else ""
    return finding("pass", most_share, 1.1, f", {most_share * 100:.0f} % at {mains.high_v:g} V{low}")


def _ratios(known: list[RatedHeater]) -> np.ndarray:
    """Cold over hot resistance of each member."""
    return np.array([float(cold_ratio(LAMP_HOT_K) if h.part.kind == "lamp" else cold_ratio()) for h in known])


def _first_a(known: list[RatedHeater], ohms: float, mains: Mains) -> float:
    """Amps in the first instant at today's mains, all cold."""
    return float(switch_on(mains.today_v, *rated_points(known), ohms, _ratios(known)).current_a)


def _warm_up(string: HeaterString, known: list[RatedHeater], ohms: float, mains: Mains,
             rests_on: tuple[Figure, ...]) -> Iterator[Finding]:
    """The member that gets most in warm-up, where a lamp or unequal warm-up times drive it past the bound.

    Lamps are hot while all else is cold. Where some members have a controlled warm-up, one of which none is known
    may be as quick; where no time is known at all (nearly every ordinary set) nothing is said here.
    """
    volts, amps = rated_points(known)
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
    most, peak = volts[worst] * WARM_UP_MOST.value, float(peaks[worst])
    if peak > most:
        why, do = _quick(string, known[worst].part, seconds[worst], timed)
        yield Finding("heater-string", known[worst].part.ref, "caution", peak, float(most), "V",
                      f"{why}: while they warm it gets up to {peak:.3g} V for its {volts[worst]:g} V.", do,
                      figures(WARM_UP_MOST, *rests_on, *seconds))


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


def _dropper_power(dropper: Part, ohms: float, flows: np.ndarray, mains: Mains, unit: Unit,
                   rests_on: tuple[Figure, ...]) -> Iterator[Finding]:
    """Watts in the dropper at today's and at high mains; a reading across it, or no marked watts, leaves it out."""
    rated = dropper.reading.watts
    if rated is None or "volts" in dropper.measured:
        return
    today, high = (float(a) ** 2 * ohms for a in flows[:2])
    also = (*rests_on, DROPPER_MARGIN)
    why = f"{dropper.ref} ({dropper.shown}), the dropper, burns {today:.3g} W, {high:.3g} W at {mains.high_v:g} V " \
          f"mains; it is rated {rated:g} W."
    do = f"A new one should bear {2 * today:.2g} W or more."
    if today > rated:
        yield Finding("resistor-power", dropper.ref, "stop", today, rated, "W", why, do, rests_on)
    elif high > rated or today > rated * DROPPER_MARGIN.value:
        yield Finding("resistor-power", dropper.ref, "caution", high, rated, "W", why, do, also)
    else:
        yield Finding("resistor-power", dropper.ref, "pass", high, rated, "W", why, rests_on=also)
