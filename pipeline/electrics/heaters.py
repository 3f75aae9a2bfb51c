"""Pure sums about heaters and lamps: windings, series strings, tapped heaters, warm-up.

SI units, volts and amperes rms unless a name says peak or dc. Every number may be an array; members of a
winding or string lie on the last axis, line side first, and everything before it broadcasts.

How a heater answers to volts: i = I (v/V)^n through its nominal point. n = 1, the default, is its hot
resistance held fixed: right at the nominal point, and for members that belong together good to 5 % of the
current within 10 % of nominal volts. A misfit (a 0.1 A tube in a 0.15 A string) runs far off nominal, and
there n = 1 *understates* its volts: give `HEATER_EXPONENT`.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from .arguments import Array, at_least_zero, finite, positive

RESISTIVITY_EXPONENT = 1.2  # tungsten, R as T^1.2: see `cold_ratio`
# Derived: R as T^1.2 and radiated power as T^4 give i as v^((4 - 1.2)/(4 + 1.2)). Outside evidence: the
# current split of a 35Z5-GT's tap and lamp in a Wireless World note of about 1940 (reprint read).
HEATER_EXPONENT = (4 - RESISTIVITY_EXPONENT) / (4 + RESISTIVITY_EXPONENT)
LAMP_EXPONENT = 0.55  # lamp makers' exponent of current on volts: recalled
HEATER_HOT_K, LAMP_HOT_K, ROOM_K = 1400.0, 2400.0, 293.0  # wire temperatures: recalled, order of size


class WindingLoad(NamedTuple):
    """Current, nominal and adverse (members drawing most), and each as a fraction of the rating."""

    total_a: Array
    high_a: Array
    fraction: Array
    high_fraction: Array


class StringState(NamedTuple):
    """String current, volts on each member (last axis), volts on the dropper and watts in it."""

    current_a: Array
    member_v: Array
    dropper_v: Array
    dropper_w: Array


class Dropper(NamedTuple):
    """Ohms, watts, watts to buy (twice), and volts by which the line falls short of the members."""

    ohms: Array
    watts: Array
    recommended_w: Array
    missing_v: Array


class HeaterCathode(NamedTuple):
    """Greatest volts, peak, of the heater above its cathode and below it; 0 if it never is."""

    positive_peak_v: Array
    negative_peak_v: Array


class WarmUp(NamedTuple):
    """Current at switch-on; most volts each member sees (last axis), and the seconds at which."""

    first_a: Array
    peak_v: Array
    peak_s: Array


def winding_load(amps: ArrayLike, rated_a: ArrayLike, high_amps: ArrayLike | None = None) -> WindingLoad:
    """Load on a parallel heater winding against its rating.

    Parameters
    ----------
    amps, rated_a : array_like, (..., members) and (...)
        Nominal current of each tube and lamp (0 pads a ragged batch); the winding's rating.
    high_amps : array_like, (..., members), optional
        What each may draw at most: a maker's upper limit, or the current-production type's, which often
        draws more than the old one (6V6 of today: up to 0.53 A against 0.45 A). Default: `amps`.

    Raises
    ------
    ValueError
        Naming the argument that is not finite or negative, or a `high_amps` below `amps`.
    """
    nominal, rated = at_least_zero("amps", amps), positive("rated_a", rated_a)
    high = nominal if high_amps is None else at_least_zero("high_amps", high_amps)
    if np.any(high < nominal):
        raise ValueError("high_amps: below the nominal amps")
    total, most = nominal.sum(axis=-1), high.sum(axis=-1)
    return WindingLoad(total, most, total / rated, most / rated)


def dropper(line_v: ArrayLike, member_v: ArrayLike, string_a: ArrayLike) -> Dropper:
    """Dropper of a series string: the volts left over, divided by the string current.

    Parameters
    ----------
    line_v, string_a, member_v : array_like, (...), (...) and (..., members)
        Line volts, the string's nominal current, nominal volts of each member (0 pads).

    Returns
    -------
    Dropper
        0 ohms and a positive `missing_v` where the members ask for more than the line gives, as the
        usual five-tube 0.15 A line-up does (about 122 V on 117 V): it then runs a little cool.
    """
    rest = positive("line_v", line_v) - at_least_zero("member_v", member_v).sum(axis=-1)
    current = positive("string_a", string_a)
    watts = np.maximum(rest, 0.0) * current
    return Dropper(np.maximum(rest, 0.0) / current, watts, 2 * watts, np.maximum(-rest, 0.0))


def series_string(line_v: ArrayLike, member_v: ArrayLike, member_a: ArrayLike,
                  dropper_ohm: ArrayLike = 0.0, exponent: ArrayLike = 1.0) -> StringState:
    """Current that a series heater string settles at, all warm, and how the volts divide.

    Parameters
    ----------
    line_v, dropper_ohm : array_like, (...)
    member_v, member_a, exponent : array_like, (..., members)
        Nominal volts (0 pads a ragged batch) and amperes; n of the heater model in the module's head.

    Raises
    ------
    ValueError
        Naming the argument: not finite, negative, a current of zero, an exponent outside 0.2 to 1, or a
        string without any volts.

    Notes
    -----
    Solves line = sum V (i/I)^(1/n) + i R by Newton's rule from above, where the sum is convex and no step
    overshoots. Diodes and capacitors as droppers are not modelled.
    """
    line, nominal_v = positive("line_v", line_v), at_least_zero("member_v", member_v)
    nominal_a, ohms = positive("member_a", member_a), at_least_zero("dropper_ohm", dropper_ohm)
    n = exponent_of(exponent)
    nominal_v, nominal_a, n = np.broadcast_arrays(nominal_v, nominal_a, n)
    total = nominal_v.sum(axis=-1)
    if np.any(total <= 0):
        raise ValueError("member_v: a string needs at least one member")
    # At this current the members alone would already take the whole line.
    current = nominal_a.max(axis=-1) * np.maximum(line / total, 1.0) + 0 * ohms
    for _ in range(60):
        across = nominal_v * (current[..., None] / nominal_a) ** (1 / n)
        slope = (across / n).sum(axis=-1) / current + ohms
        step = (across.sum(axis=-1) + current * ohms - line) / slope
        current = current - step
        if np.all(np.abs(step) <= 1e-13 * current):
            break
    across = nominal_v * (current[..., None] / nominal_a) ** (1 / n)
    return StringState(current, across, current * ohms, current**2 * ohms)


def string_ends(member_v: ArrayLike) -> tuple[Array, Array]:
    """Volts from the chassis at each member's chassis-side and line-side end, rms.

    `member_v`, (..., members): running volts, line side first. The dropper is no member; put it in as one
    if it does not stand at the line end.
    """
    volts = at_least_zero("member_v", member_v)
    line_side = np.cumsum(volts[..., ::-1], axis=-1)[..., ::-1]
    return line_side - volts, line_side


def heater_cathode(end_v: ArrayLike, cathode_v: ArrayLike = 0.0, offset_v: ArrayLike = 0.0) -> HeaterCathode:
    """Greatest volts between heater and cathode.

    Parameters
    ----------
    end_v : array_like
        Rms volts, from the point the heaters are tied to, of the heater's farther end: `string_ends`
        second result; a whole winding earthed at one side; half of one earthed at its centre.
    cathode_v, offset_v : array_like
        DC volts of the cathode, and of the point the heaters are tied to, both from the chassis. A
        half-wave rectifier's cathode stands at B+.

    Sine mains; the cathode taken as steady. Compare with the published peak limits of either sign.
    """
    crest = np.sqrt(2) * at_least_zero("end_v", end_v)
    above = finite("offset_v", offset_v) - finite("cathode_v", cathode_v)
    return HeaterCathode(np.maximum(crest + above, 0.0), np.maximum(crest - above, 0.0))


def cold_ratio(hot_k: ArrayLike = HEATER_HOT_K, room_k: ArrayLike = ROOM_K) -> Array:
    """Cold over hot resistance of a tungsten wire: (room/hot)^1.2.

    About 1/6.5 for a heater wire at 1400 K, 1/12 for a lamp at 2400 K. The law fits the tungsten table of
    H. A. Jones and I. Langmuir, General Electric Review, 1927 (recalled) within 6 % from 1000 to 2500 K;
    wire temperatures of heaters are recalled and vary, so a cold reading of the tube itself is better.
    """
    return (positive("room_k", room_k) / positive("hot_k", hot_k)) ** RESISTIVITY_EXPONENT


def switch_on(line_v: ArrayLike, member_v: ArrayLike, member_a: ArrayLike, dropper_ohm: ArrayLike = 0.0,
              ratio: ArrayLike | None = None) -> StringState:
    """A string in its first instant, every member cold. Arguments as in `series_string`.

    `ratio` is cold over hot resistance, broadcasting with members (a lamp's is smaller); default
    `cold_ratio()`. The current is rms, of the first cycle; switching at the crest adds no more than sqrt 2.
    """
    return series_string(line_v, at_least_zero("member_v", member_v) * cold_of(ratio), member_a, dropper_ohm)


def warm_up_ceiling(line_v: ArrayLike, member_v: ArrayLike, member_a: ArrayLike,
                    dropper_ohm: ArrayLike = 0.0, ratio: ArrayLike | None = None) -> Array:
    """Volts no member can exceed while the string warms, however unequal their warm-up: (..., members).

    Derived: a member sees most if it is fully hot (by `HEATER_EXPONENT`) while all others are still cold.
    Far above what members of one warm-up class show; with known warm-up times use `warm_up`.
    """
    volts, amps = np.broadcast_arrays(at_least_zero("member_v", member_v), positive("member_a", member_a))
    cold_ohm = cold_of(ratio) * volts / amps
    others = cold_ohm.sum(axis=-1, keepdims=True) - cold_ohm
    others = others + at_least_zero("dropper_ohm", dropper_ohm)[..., None]
    line = positive("line_v", line_v)[..., None]
    alone = series_string(line, np.maximum(volts, 1e-12)[..., None], amps[..., None], others, HEATER_EXPONENT)
    return alone.member_v[..., 0]


def warm_up_constant(ratio: ArrayLike | None = None) -> Array:
    """Warm-up time, by the trade's test, over the thermal time of `warm_up`'s model.

    The test (EIA definition, recalled): seconds until a heater has 80 % of its rated volts, fed with four
    times those volts through three times its hot resistance. Then with r = R/Rhot the power is
    16 r/(3 + r)^2 of nominal, and r = 0.75 at the end. Integrated by the trapezoidal rule.
    """
    cold = cold_of(ratio) ** (1 / RESISTIVITY_EXPONENT)
    end = 0.75 ** (1 / RESISTIVITY_EXPONENT)
    warmth = np.linspace(cold, end, 2001)
    r = warmth**RESISTIVITY_EXPONENT
    pace = 1 / (16 * r / (3 + r) ** 2 - (warmth**4 - cold**4) / (1 - cold**4))
    return ((pace[1:] + pace[:-1]) / 2 * np.diff(warmth, axis=0)).sum(axis=0)


def warm_up(line_v: ArrayLike, member_v: ArrayLike, member_a: ArrayLike, warm_up_s: ArrayLike,
            dropper_ohm: ArrayLike = 0.0, ratio: ArrayLike | None = None) -> WarmUp:
    """A string from cold to hot, members warming at different rates: the surge that kills the quick ones.

    Parameters
    ----------
    line_v, dropper_ohm : array_like, (...)
    member_v, member_a, warm_up_s, ratio : array_like, (..., members)
        Nominal point; published warm-up time (11 s is the controlled kind's, recalled); cold ratio.

    Raises
    ------
    ValueError
        Naming the argument; `warm_up_s` also where one member is over 10 times slower than another.

    Notes
    -----
    One thermal mass each, t = temperature over hot: tau dt/ds = P/Phot - (t^4 - t0^4)/(1 - t0^4),
    R = Rhot t^1.2; tau from the warm-up time by `warm_up_constant`. Heun's rule. Derived, not held
    against measured tubes: a wire warms before its sleeve, so a first short flash is understated.
    """
    amps, seconds = positive("member_a", member_a), positive("warm_up_s", warm_up_s)
    hot_ohm, amps, seconds, cold = np.broadcast_arrays(
        positive("member_v", member_v) / amps, amps, seconds, cold_of(ratio))
    spread = seconds.max(axis=-1) / seconds.min(axis=-1)
    if np.any(spread > 10):
        raise ValueError("warm_up_s: members differ more than 10 times")
    tau, line = seconds / warm_up_constant(cold), positive("line_v", line_v)
    ohms, floor = at_least_zero("dropper_ohm", dropper_ohm), cold ** (1 / RESISTIVITY_EXPONENT)
    unit = tau.min(axis=-1, keepdims=True)  # each string on its own clock: its quickest member's

    def at(warmth: Array) -> tuple[Array, Array, Array]:
        rise = warmth**RESISTIVITY_EXPONENT
        current = line / ((hot_ohm * rise).sum(axis=-1) + ohms)
        across = current[..., None] * hot_ohm * rise
        power = (current[..., None] / amps) ** 2 * rise
        return current, (power - (warmth**4 - floor**4) / (1 - floor**4)) / tau, across

    warmth, now_s = floor, 0 * unit
    first, slope, peak = at(warmth)
    when = np.zeros(peak.shape)
    for step in _warm_up_steps(4 * spread.max()):
        ahead = at(warmth + step * unit * slope)[1]
        warmth, now_s = warmth + step * unit * (slope + ahead) / 2, now_s + step * unit
        _, slope, across = at(warmth)
        peak, when = np.maximum(peak, across), np.where(across > peak, now_s, when)
    return WarmUp(first, peak, when)


def _warm_up_steps(duration: float) -> Array:
    """Steps in thermal times: fine during the cold inrush, then as coarse as Heun's rule stays stable."""
    growing = 0.004 * 1.05 ** np.arange(85)
    return np.append(growing, np.full(max(int(np.ceil((duration - growing.sum()) / 0.25)), 0), 0.25))


def volts_behind_lamp(mains_v: ArrayLike, lamp_w: ArrayLike, lamp_v: ArrayLike, set_w: ArrayLike,
                      design_mains_v: ArrayLike) -> Array:
    """Volts a sound set gets behind a series lamp, rms, the set taken as the resistance it is when warm.

    An estimate for bring-up: the lamp follows `LAMP_EXPONENT`; a rectifier's pulses and a cold set are not
    modelled, so give it a wide band.
    """
    lamp_v, design = positive("lamp_v", lamp_v), positive("design_mains_v", design_mains_v)
    set_ohm = design**2 / positive("set_w", set_w)
    lamp_a = positive("lamp_w", lamp_w) / lamp_v
    return series_string(mains_v, lamp_v[..., None], lamp_a[..., None], set_ohm, LAMP_EXPONENT).dropper_v


def cold_of(ratio: ArrayLike | None) -> Array:
    """Cold over hot resistance, `cold_ratio()` where none is given; raises ValueError unless between 0 and 1."""
    cold = positive("ratio", cold_ratio() if ratio is None else ratio)
    if np.any(cold >= 1):
        raise ValueError("ratio: must be below 1")
    return cold


def exponent_of(value: ArrayLike) -> Array:
    """n of the heater model, dimensionless; raises ValueError outside 0.2 to 1."""
    n = positive("exponent", value)
    if np.any((n < 0.2) | (n > 1)):
        raise ValueError("exponent: must be from 0.2 to 1")
    return n
