"""Curves over two axes from zero: plate characteristics, a rectifier's drop, its regulation, a rating chart."""

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from pipeline.output.svg import draw
from pipeline.output.svg.axes import Scale, bottom_axis, left_axis, step_for, ticks_within
from pipeline.output.svg.draw import LABEL, LEADING, SMALL, TITLE, WIDTH

LEFT, RIGHT, TALL = 50.0, WIDTH - 58, 230.0
ROOM = 13.0
"""Units between two labels, so that neither lies on the other."""
DASHES = ("", "7 3", "2 3", "9 3 2 3", "12 4")


class Curve(NamedTuple):
    """A run of points; `words` at its end, or with `legend` above the chart beside a sample of its line."""

    points: Sequence[tuple[float, float]]
    words: str = ""
    width: float = 1.6
    dash: str = ""
    tone: str = "ink"
    legend: bool = False


class Dot(NamedTuple):
    """A point that a document gives; `hollow` where it is only remembered."""

    x: float
    y: float
    words: str = ""
    hollow: bool = False


class Axis(NamedTuple):
    """An axis from zero to `high`, named with its unit."""

    name: str
    high: float


def chart(title: str, said: Iterable[str], across: Axis, up: Axis, curves: Sequence[Curve], dots: Sequence[Dot] = (), *,
          key: str = "") -> str:
    """The chart as SVG text; what lies outside the axes is left out, curves are cut at the edge.

    `said` says in sentences what the drawing shows. Raises ValueError for an axis that is not above zero.
    """
    if not (across.high > 0 and up.high > 0):
        raise ValueError("an axis must reach above zero")
    y = 20.0
    parts = [draw.text(8, y, draw.fitted(title, WIDTH - 16, TITLE, bold=True), size=TITLE, bold=True)]
    for curve in (c for c in curves if c.legend):
        y += LEADING[LABEL]
        parts.append(draw.path([(8, y - 5), (36, y - 5)], width=curve.width, dash=curve.dash, stroke=curve.tone))
        parts.append(draw.text(42, y, draw.fitted(curve.words, WIDTH - 50, LABEL)))
    top = y + 38
    x_scale, y_scale = Scale(0.0, across.high, LEFT, RIGHT), Scale(0.0, up.high, top + TALL, top)
    parts.append(draw.text(8, top - 20, up.name, size=SMALL, ink="quiet"))
    parts.append(left_axis(y_scale, ticks_within(0.0, up.high, step_for(up.high, 6)), LEFT, RIGHT))
    parts.append(bottom_axis(x_scale, ticks_within(0.0, across.high, step_for(across.high, 6)), top + TALL, across.name,
                             top))
    labels: list[tuple[float, float, str]] = []
    for curve in curves:
        run = _within(curve.points, across.high, up.high)
        if len(run) > 1:
            placed = [(x_scale(x), y_scale(v)) for x, v in run]
            parts.append(draw.path(placed, width=curve.width, dash=curve.dash, stroke=curve.tone))
            if curve.words and not curve.legend:
                labels.append((*placed[-1], curve.words))
    parts += _labelled(labels, top)
    shown = [d for d in dots if 0 <= d.x <= across.high and 0 <= d.y <= up.high]
    parts += [_dot(d, x_scale, y_scale) for d in shown]
    return draw.document(title, said, top + TALL + 45, parts, key)


def round_high(value: float) -> float:
    """The end of an axis that holds `value`: a whole number of its own steps."""
    step = step_for(value, 6)
    return step * math.ceil(value / step - 1e-9)


def _within(points: Sequence[tuple[float, float]], x_high: float, y_high: float) -> list[tuple[float, float]]:
    """The run up to where it leaves the axes, with the point of the edge."""
    found: list[tuple[float, float]] = []
    for x, y in points:
        if x > x_high or y > y_high:
            if found:
                found.append(_edge(found[-1], (x, y), x_high, y_high))
            if found or x > x_high:
                break
            continue
        found.append((x, y))
    return found


def _edge(inside: tuple[float, float], outside: tuple[float, float], x_high: float, y_high: float
          ) -> tuple[float, float]:
    share = min([1.0, *((high - a) / (b - a) for a, b, high in zip(inside, outside, (x_high, y_high), strict=True)
                        if b > high)])
    return (inside[0] + share * (outside[0] - inside[0]), inside[1] + share * (outside[1] - inside[1]))


def _labelled(labels: list[tuple[float, float, str]], top: float) -> list[str]:
    """Words at the curves' ends: above the frame for those that leave it there, else right of it; none on another."""
    parts: list[str] = []
    last_x = -math.inf
    heights: list[float] = []
    for x, y, words in labels:
        if y <= top + 1 and x < RIGHT - 1:
            wide = draw.text_width(words, SMALL)
            if x - wide / 2 > last_x + 4:
                parts.append(draw.text(x, top - 4, words, size=SMALL, anchor="middle"))
                last_x = x + wide / 2
        elif all(abs(y - other) >= ROOM for other in heights):
            heights.append(y)
            parts.append(draw.text(min(x, RIGHT) + 4, y + 4, words, size=SMALL))
    return parts


def _dot(dot: Dot, across: Scale, up: Scale) -> str:
    x, y = across(dot.x), up(dot.y)
    mark = draw.circle(x, y, 4.5, fill="paper" if dot.hollow else "accent", stroke="accent", width=2)
    if not dot.words:
        return mark
    side = "start" if x < RIGHT - 60 else "end"
    return mark + draw.text(x + (8 if side == "start" else -8), y - 6, dot.words, size=SMALL, anchor=side, ink="accent",
                            bold=True, halo=True)
