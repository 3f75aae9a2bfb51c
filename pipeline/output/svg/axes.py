"""Axes: round ticks, scales, and the lines and words that carry them."""

import math
from typing import NamedTuple

from pipeline.amounts import plain
from pipeline.output.svg.draw import SMALL, path, text, text_width

TICK = 4.0


class Scale(NamedTuple):
    """A quantity from `low` to `high` laid over the page from `start` to `end`; `log` for equal ratios."""

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def __call__(self, value: float) -> float:
        ends = (self.low, self.high, value)
        low, high, at = (math.log(v) for v in ends) if self.log else ends
        return self.start + (self.end - self.start) * (at - low) / (high - low)


def step_for(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 × 10^n that takes at most `most` steps to cover `span`; ValueError unless above zero."""
    if not (math.isfinite(span) and span > 0 and most > 0):
        raise ValueError(f"no steps over a span of {span}")
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(m * power for m in (1, 2, 5, 10, 20) if m * power * most >= span * (1 - 1e-9))


def ticks_within(low: float, high: float, step: float) -> list[float]:
    """Multiples of `step` from `low` to `high`."""
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [k * step for k in range(first, last + 1)]


def log_ticks(low: float, high: float) -> list[float]:
    """1, 2, 5 × 10^n from `low` to `high`; over a short stretch, where those are fewer than three, round steps."""
    decades = range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1)
    found = [m * 10.0 ** d for d in decades for m in (1, 2, 5) if low * 0.999 <= m * 10.0 ** d <= high * 1.001]
    return found if len(found) > 2 else ticks_within(low, high, step_for(high - low, 5))


def tick_words(tick: float, ticks: list[float]) -> str:
    """A tick's number with as many digits as it takes to tell it from its neighbours; a lone one with four."""
    if len(ticks) < 2:
        return plain(tick, 4)
    step = min(b - a for a, b in zip(ticks, ticks[1:], strict=False))
    large, small = (math.floor(math.log10(v) + 1e-9) for v in (max(abs(tick), step), step))
    return plain(tick, 1 + large - small)


def bottom_axis(scale: Scale, ticks: list[float], y: float, name: str, top: float | None = None) -> str:
    """Axis below a panel: line, ticks, numbers, its name under them; with `top`, grid lines up to there."""
    parts = [path([(scale.start, y), (scale.end, y)])]
    for tick in ticks:
        x = scale(tick)
        if top is not None:
            parts.append(path([(x, top), (x, y)], stroke="rule", width=0.5))
        parts.append(path([(x, y), (x, y + TICK)]))
        parts.append(text(x, y + 18, tick_words(tick, ticks), size=SMALL, anchor="middle"))
    parts.append(text((scale.start + scale.end) / 2, y + 36, name, size=SMALL, anchor="middle", ink="quiet"))
    return "".join(parts)


def axis_words(ticks: list[float], unit: str) -> list[str]:
    """What stands at each tick of an axis, the unit behind the highest."""
    return [tick_words(tick, ticks) + (f" {unit}" if unit and tick == max(ticks) else "") for tick in ticks]


def axis_room(words: list[str]) -> float:
    """Units that the words of an axis on the left take, its ticks included."""
    return max((text_width(said, SMALL) for said in words), default=0.0) + TICK + 5


def left_axis(scale: Scale, ticks: list[float], x: float, right: float, unit: str = "") -> str:
    """Axis left of a panel: line, ticks, numbers with the unit at the highest, grid lines to `right`."""
    parts, words = [], axis_words(ticks, unit)
    for tick, said in zip(ticks, words, strict=True):
        y = scale(tick)
        parts.append(path([(x, y), (right, y)], stroke="rule", width=0.5))
        parts.append(path([(x - TICK, y), (x, y)]))
        parts.append(text(x - TICK - 3, y + 5, said, size=SMALL, anchor="end"))
    return "".join([*parts, path([(x, scale.start), (x, scale.end)])])
