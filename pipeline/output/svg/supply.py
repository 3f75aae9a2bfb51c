"""The B+ supply drawn: volts and rectifier current over time, and what the first capacitor's value does to both."""

import math
from collections.abc import Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from pipeline.output.svg import draw
from pipeline.output.svg.axes import (
    Scale,
    axis_room,
    axis_words,
    bottom_axis,
    left_axis,
    log_ticks,
    plain,
    step_for,
    ticks_within,
)
from pipeline.output.svg.draw import LABEL, LEADING, TITLE, WIDTH

LEFT, RIGHT = 68.0, WIDTH - 20
VOLTS_TALL, STRIP_LEAST, AMPS_TALL, CURVE_TALL = 96.0, 36.0, 84.0, 118.0
MOST_POINTS = 300
LEAST_SPREAD_V = 0.5
"""Ripple below this is drawn at the scale of this: a node that is smooth should look smooth."""
LEAST_PULSE_A = 1e-3
"""The axis of the pulses reaches this at least."""
DASHES = ("", "7 3", "2 3", "9 3 2 3")


def waveform(time_s: ArrayLike, node_volts: Mapping[str, ArrayLike], plate_a: ArrayLike | Mapping[str, ArrayLike], *,
             key: str = "") -> str | None:
    """B+ at each node over time, each in a strip of its own at one scale, and the rectifier's current pulses below.

    Parameters
    ----------
    time_s : (T,) seconds, rising; two mains cycles are meant.
    node_volts : node → (T,) volts.
    plate_a : (T,) amperes, or plate → (T,) amperes where they differ (`plate 1`, `plate 2`).
    key : what makes this drawing's ids its own on the page.

    Returns
    -------
    The SVG text, or None where there is no node. Raises ValueError for lengths that differ, fewer than two samples,
    times that do not rise, or what is not finite.
    """
    if not node_volts:
        return None
    given = plate_a if isinstance(plate_a, Mapping) else {"rectifier plate": plate_a}
    time = _samples("time_s", time_s)
    if len(time) < 2 or not (np.diff(time) > 0).all():
        raise ValueError("time_s: at least two samples, rising")
    volts = {name: _samples(f"node_volts {name}", v, len(time)) for name, v in node_volts.items()}
    amps = {name: _samples(f"plate_a {name}", v, len(time)) for name, v in given.items()}
    spread = max([LEAST_SPREAD_V, *(float(np.ptp(v)) for v in volts.values())])
    strips = {name: _ticks_round(values, step_for(spread, 5), VOLTS_TALL / spread) for name, values in volts.items()}
    left = max([LEFT, *(axis_room(axis_words(ticks, "V")) for ticks in strips.values())])
    across = Scale(float(time[0]), float(time[-1]), left, RIGHT)
    parts, y = [draw.text(8, 20, "B+ and ripple", size=TITLE, bold=True)], 30.0
    for name, values in volts.items():
        drawn, y = _strip(name, time, values, across, strips[name], VOLTS_TALL / spread, y)
        parts.append(drawn)
    parts.append(draw.text(8, y + 16, "Rectifier current", size=TITLE, bold=True))
    drawn, y = _pulses(time, amps, across, y + 24)
    span = Scale(0.0, 1e3 * float(time[-1] - time[0]), left, RIGHT)
    ticks = ticks_within(0.0, span.high, step_for(span.high, 7))
    parts += [drawn, bottom_axis(span, ticks, y, "milliseconds")]
    said = [f"{_said(n, v)}." for n, v in volts.items()] + [f"{_pulse_said(n, v)}." for n, v in amps.items()]
    return draw.document("B+, ripple and rectifier current over two mains cycles", said, y + 45, parts, key)


def _samples(name: str, values: ArrayLike, length: int | None = None) -> np.ndarray:
    found = np.asarray(values, dtype=float)
    if found.ndim != 1 or not np.isfinite(found).all() or length not in (None, len(found)):
        raise ValueError(f"{name}: one row of {length or 'finite'} finite samples is needed")
    return found


def _said(name: str, volts: np.ndarray) -> str:
    ripple = float(np.ptp(volts))
    said = f"{plain(ripple, 2)} V" if ripple >= 0.1 else f"{plain(1e3 * ripple, 2)} mV"
    return f"{name}: {plain(float(volts.mean()))} V, ripple {said} peak to peak"


def _pulse_said(name: str, amps: np.ndarray) -> str:
    return f"{name}: {_amps(float(amps.max()))} at the peak"


def _amps(amps: float) -> str:
    return f"{plain(amps)} A" if abs(amps) >= 0.9995 else f"{plain(1e3 * amps)} mA"


def _ticks_round(volts: np.ndarray, step: float, per_volt: float) -> list[float]:
    """Ticks from below the curve to above it, two at least, and so many that the strip is as tall as it must be."""
    first, last = math.floor(float(volts.min()) / step + 1e-9), math.ceil(float(volts.max()) / step - 1e-9)
    while last <= first or (last - first) * step * per_volt < STRIP_LEAST:
        above = last * step - float(volts.max()) < float(volts.min()) - first * step
        first, last = (first, last + 1) if above else (first - 1, last)
    return [k * step for k in range(first, last + 1)]


def _strip(name: str, time: np.ndarray, volts: np.ndarray, across: Scale, ticks: list[float], per_volt: float,
           y: float) -> tuple[str, float]:
    """One node's volts: words, then the curve; every strip has the same units per volt and the same step."""
    words = draw.wrap(_said(name, volts), WIDTH - 16, LABEL)
    top = y + len(words) * LEADING[LABEL] + 14
    tall = (ticks[-1] - ticks[0]) * per_volt
    up = Scale(ticks[0], ticks[-1], top + tall, top)
    parts = [draw.lines(8, y + 14, words), left_axis(up, ticks, across.start, RIGHT, "V")]
    parts.append(draw.path(_thinned(time, volts, across, up), width=1.8))
    return "".join(parts), top + tall + 10


def _pulses(time: np.ndarray, amps: Mapping[str, np.ndarray], across: Scale, y: float) -> tuple[str, float]:
    most = max([LEAST_PULSE_A, *(float(a.max()) for a in amps.values())])
    per_amp, unit = (1.0, "A") if most >= 0.9995 else (1e3, "mA")
    least = min([0.0, *(per_amp * float(a.min()) for a in amps.values())])
    parts = []
    for dash, (name, values) in zip(_dashes(len(amps)), amps.items(), strict=True):
        words = draw.wrap(_pulse_said(name, values), WIDTH - 50, LABEL)
        y += LEADING[LABEL]
        parts.append(draw.path([(8, y - 5), (36, y - 5)], width=1.8, dash=dash))
        parts.append(draw.lines(42, y, words))
        y += (len(words) - 1) * LEADING[LABEL]
    top = y + 16
    step = step_for(per_amp * most - least, 4)
    up = Scale(math.floor(least / step) * step, math.ceil(per_amp * most / step - 1e-9) * step, top + AMPS_TALL, top)
    parts.append(left_axis(up, ticks_within(up.low, up.high, step), across.start, RIGHT, unit))
    for dash, values in zip(_dashes(len(amps)), amps.values(), strict=True):
        curve, floor = _thinned(time, per_amp * values, across, up), up(0.0)
        parts.append(draw.path([(curve[0][0], floor), *curve, (curve[-1][0], floor)], fill="tint", stroke=None))
        parts.append(draw.path(curve, width=1.8, dash=dash))
    return "".join(parts), top + AMPS_TALL


def _dashes(count: int) -> list[str]:
    return [DASHES[i % len(DASHES)] for i in range(count)]


def _thinned(x: np.ndarray, y: np.ndarray, across: Scale, up: Scale) -> list[tuple[float, float]]:
    """The curve on the page; of many samples the extremes of each stretch are kept, so that no peak is lost."""
    if len(x) <= MOST_POINTS:
        kept = list(range(len(x)))
    else:
        cuts = np.array_split(np.arange(len(x)), MOST_POINTS // 2)
        extremes = (int(c[f(y[c])]) for c in cuts for f in (np.argmin, np.argmax))
        kept = sorted({0, len(x) - 1, *extremes})  # np.unique would load numpy.ma, a tenth of what a sheet takes
    return [(across(float(x[i])), up(float(y[i]))) for i in kept]


class Mark(NamedTuple):
    """A capacitor value marked on both panels."""

    uf: float
    words: str
    dash: str
    width: float


def capacitor_curve(uf: ArrayLike, dc_v: ArrayLike, peak_a: ArrayLike, limit_a: float | None = None,
                    fitted_uf: float | None = None, largest_uf: float | None = None, *, key: str = "") -> str:
    """DC volts and peak plate current against the first capacitor's value, the limit and the values that matter marked.

    Parameters
    ----------
    uf : (N,) microfarads, rising, above zero, at least two.
    dc_v, peak_a : (N,) volts at the reservoir, and peak amperes through one plate.
    limit_a : the rectifier's peak rating for each plate; None where it is not known.
    fitted_uf, largest_uf : the capacitor in the unit, and the largest allowed; either may be None. A value outside the
        curve is said in words, not drawn.

    Raises
    ------
    ValueError
        Naming the argument, for lengths that differ, values not rising, or what is not finite.
    """
    values = _samples("uf", uf)
    if len(values) < 2 or values[0] <= 0 or not (np.diff(values) > 0).all():
        raise ValueError("uf: at least two values, above zero, rising")
    volts, amps = _samples("dc_v", dc_v, len(values)), _samples("peak_a", peak_a, len(values))
    for name, one in (("limit_a", limit_a), ("fitted_uf", fitted_uf), ("largest_uf", largest_uf)):
        if one is not None and not (math.isfinite(one) and one > 0):
            raise ValueError(f"{name} must be above zero: {one}")
    across = Scale(float(values[0]), float(values[-1]), LEFT, RIGHT, log=True)
    marks = [Mark(u, f"{w} {plain(u)} µF", d, 2.0) for u, w, d in
             ((fitted_uf, "fitted", ""), (largest_uf, "largest", "7 3")) if u is not None]
    parts, y = _captions(marks, across)
    inside = [m for m in marks if across.low <= m.uf <= across.high]
    upper, bottom = _volts_panel(values, volts, across, y, inside)
    lower, bottom = _amps_panel(values, amps, limit_a, across, bottom + 16, inside)
    parts += [upper, lower, bottom_axis(across, log_ticks(across.low, across.high), bottom, "first capacitor, µF")]
    return draw.document("DC volts and peak rectifier current against the first capacitor",
                         _curve_said(values, volts, amps, limit_a, marks), bottom + 45, parts, key)


def _captions(marks: list[Mark], across: Scale) -> tuple[list[str], float]:
    """The title, and one line of words for each mark with a sample of its line; and where the panels may begin."""
    parts, y = [draw.text(8, 20, "First capacitor", size=TITLE, bold=True)], 24.0
    for mark in marks:
        y += LEADING[LABEL]
        inside = across.low <= mark.uf <= across.high
        parts.append(draw.path([(8, y - 5), (36, y - 5)], width=mark.width, dash=mark.dash))
        parts.append(draw.text(42, y, mark.words + ("" if inside else ", outside this curve")))
    return parts, y + 8


def _curve(uf: np.ndarray, values: np.ndarray, across: Scale, up: Scale, marks: list[Mark]) -> str:
    """The curve, with a line and a dot where each marked value meets it."""
    parts = [draw.path(_thinned(uf, values, across, up), width=1.8)]
    for mark in marks:
        x, y = across(mark.uf), up(_at(mark.uf, uf, values))
        parts.append(draw.path([(x, up.start), (x, up.end)], width=mark.width, dash=mark.dash))
        parts.append(draw.circle(x, y, 4, fill="ink", stroke="paper", width=1.5))
    return "".join(parts)


def _at(uf: float, of: np.ndarray, values: np.ndarray) -> float:
    return float(np.interp(math.log(uf), np.log(of), values))


def _volts_panel(uf: np.ndarray, volts: np.ndarray, across: Scale, y: float, marks: list[Mark]) -> tuple[str, float]:
    step = step_for(max(float(np.ptp(volts)), 1.0), 4)
    low = math.floor(float(volts.min()) / step) * step
    high = max(math.ceil(float(volts.max()) / step) * step, low + step)
    top = y + LEADING[LABEL] + 8
    up = Scale(low, high, top + CURVE_TALL, top)
    parts = [draw.text(8, y + 14, "DC volts at the first capacitor"),
             left_axis(up, ticks_within(low, high, step), LEFT, RIGHT, "V"),
             draw.path([(LEFT, up.start), (RIGHT, up.start)]), _curve(uf, volts, across, up, marks)]
    return "".join(parts), up.start


def _amps_panel(uf: np.ndarray, amps: np.ndarray, limit_a: float | None, across: Scale, y: float,
                marks: list[Mark]) -> tuple[str, float]:
    """Peak current; what lies above the limit is hatched."""
    most = max(float(amps.max()), limit_a or 0.0, 1e-9)
    per_amp, unit = (1.0, "A") if most >= 0.9995 else (1e3, "mA")
    step = step_for(per_amp * most, 4)
    top = y + LEADING[LABEL] + 8
    up = Scale(0.0, math.ceil(per_amp * most / step * 1.02) * step, top + CURVE_TALL, top)
    limit = "limit not known" if limit_a is None else f"limit {_amps(limit_a)}, hatched above"
    parts = [draw.text(8, y + 14, f"Peak plate current; {limit}")]
    line = up(per_amp * (limit_a or 0.0))
    if limit_a is not None:
        parts.append(draw.hatch(LEFT, top, RIGHT - LEFT, line - top, step=9, stroke="accent", width=0.7))
    parts.append(left_axis(up, ticks_within(0.0, up.high, step), LEFT, RIGHT, unit))
    if limit_a is not None:
        parts.append(draw.path([(LEFT, line), (RIGHT, line)], stroke="accent", width=2.4))
    parts.append(_curve(uf, per_amp * amps, across, up, marks))
    return "".join(parts), up.start


def _curve_said(uf: np.ndarray, volts: np.ndarray, amps: np.ndarray, limit_a: float | None,
                marks: list[Mark]) -> list[str]:
    limit = "is not known" if limit_a is None else _amps(limit_a)
    said = [f"Peak current limit {limit}."]
    for mark in marks:
        inside = uf[0] <= mark.uf <= uf[-1]
        said.append(f"{mark.words}: {_point(mark.uf, uf, volts, amps) if inside else 'outside this curve'}.")
    return said + [f"At {plain(u)} µF: {_point(u, uf, volts, amps)}." for u in (float(uf[0]), float(uf[-1]))]


def _point(at: float, uf: np.ndarray, volts: np.ndarray, amps: np.ndarray) -> str:
    return f"{plain(_at(at, uf, volts))} V, peak {_amps(_at(at, uf, amps))}"
