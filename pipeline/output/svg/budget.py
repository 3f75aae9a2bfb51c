"""The heater budget: what each winding is asked for, against what it is rated for."""

import math
from collections.abc import Sequence
from typing import NamedTuple

from pipeline.amounts import plain
from pipeline.output.svg import draw
from pipeline.output.svg.axes import Scale, bottom_axis, step_for, ticks_within
from pipeline.output.svg.draw import LABEL, LEADING, SMALL, TITLE, WIDTH

LEFT, RIGHT, BAR = 10.0, WIDTH - 20, 30.0
CLEARANCE = 4.0
"""Units that words keep from the heavy line."""
MOST_SPOKEN = 100


class Member(NamedTuple):
    """A heater or lamp on a winding: its name (`V1 6SN7GT`) and amps, None where they are not known."""

    name: str
    amps: float | None


class WindingLoad(NamedTuple):
    """A winding: its name, volts, rated amps (None: not known), and what hangs on it."""

    name: str
    volts: float
    rated_a: float | None
    members: Sequence[Member]

    @property
    def total_a(self) -> float:
        """Amps of the members that are known."""
        return sum(m.amps for m in self.members if m.amps is not None)

    @property
    def unknown(self) -> list[str]:
        return [m.name for m in self.members if m.amps is None]


def heater_budget(windings: Sequence[WindingLoad], *, key: str = "") -> str | None:
    """A bar for each winding, its members end to end, the rating as a heavy line; one ampere scale for all.

    What lies beyond the rating is hatched and said in words; a member whose current is not known is named, and
    the sum is then `at least`. None where there is no winding; ValueError for amps that are negative or not finite.
    """
    if not windings:
        return None
    for winding in windings:
        _must_be_amps(winding)
    most = max([0.1, *(max(w.total_a, w.rated_a or 0.0) for w in windings)]) * 1.04
    step = step_for(most, 6)
    scale = Scale(0.0, most, LEFT, RIGHT)
    parts, y = [draw.text(LEFT, 20, "Heater budget", size=TITLE, bold=True)], 34.0
    for winding in windings:
        drawn, y = _winding(winding, scale, y)
        parts.append(drawn)
    if any(w.rated_a is not None for w in windings):
        legend = draw.wrap("Heavy line: what the winding is rated for; hatched: too much.", RIGHT - LEFT, SMALL)
        parts.append(draw.lines(LEFT, y + 4, legend, size=SMALL))
        y += len(legend) * LEADING[SMALL] + 2
    parts.append(bottom_axis(scale, ticks_within(0.0, most, step), y, "amperes"))
    return draw.document("Heater budget", [part for w in windings for part in _spoken(w)], y + 45, parts, key)


def _must_be_amps(winding: WindingLoad) -> None:
    for amps in (winding.rated_a, winding.volts, *(m.amps for m in winding.members)):
        if amps is not None and not (math.isfinite(amps) and amps >= 0):
            raise ValueError(f"winding {winding.name}: amps and volts must be finite and not below zero: {amps}")


def _verdict(winding: WindingLoad) -> str:
    least = "at least " if winding.unknown else ""
    total = f"{least}{plain(winding.total_a)} A"
    if winding.rated_a is None:
        return f"{total}; rating not known"
    over = winding.total_a - winding.rated_a
    more = f", {plain(over, 2)} A too much" if over > 0.0005 else ""
    return f"{total} of {plain(winding.rated_a)} A{more}"


def _spoken(winding: WindingLoad) -> list[str]:
    """A sentence for the winding and one for each member: only a sentence can be cut for length."""
    members = [f"{_said(m)}." for m in winding.members[:MOST_SPOKEN]] or ["nothing."]
    more = len(winding.members) - MOST_SPOKEN
    return [f"{winding.name}, {plain(winding.volts)} V: {_verdict(winding)}. On it:", *members,
            *([f"And {more} more."] if more > 0 else [])]


def _said(member: Member) -> str:
    return f"{member.name} " + ("not known" if member.amps is None else f"{plain(member.amps)} A")


def _winding(winding: WindingLoad, scale: Scale, y: float) -> tuple[str, float]:
    """One winding from height `y`: heading, bar, rating, and its members in words; and the height reached."""
    said = f"{winding.name}, {plain(winding.volts)} V: {_verdict(winding)}"
    heading = draw.wrap(said, RIGHT - LEFT, LABEL, bold=True)
    parts = [draw.lines(LEFT, y + 14, heading, bold=True)]
    y += len(heading) * LEADING[LABEL] + 8
    parts += [_bar(winding, scale, y), _rating(winding, scale, y)]
    words = draw.wrap_list([_said(m) for m in winding.members] or ["nothing on it"], RIGHT - LEFT, SMALL)
    parts.append(draw.lines(LEFT, y + BAR + 19, words, size=SMALL, ink="quiet"))
    return "".join(parts), y + BAR + 19 + len(words) * LEADING[SMALL] + 6


def _bar(winding: WindingLoad, scale: Scale, y: float) -> str:
    parts, names, at = [], [], 0.0
    rated = None if winding.rated_a is None else scale(winding.rated_a)
    for member in winding.members:
        if member.amps is None:
            continue
        x, end = scale(at), scale(at + member.amps)
        parts.append(draw.box(x, y, end - x, BAR, fill="tint", width=1.2))
        names.append(_inside(member.name, _clear(x, end, rated), y))
        at += member.amps
    if winding.rated_a is not None and at > winding.rated_a:
        x = scale(winding.rated_a)
        parts.append(draw.hatch(x, y, scale(at) - x, BAR, step=7, stroke="accent", width=1.4))
        parts.append(draw.box(x, y, scale(at) - x, BAR, stroke="accent", width=2))
    return "".join(parts + names)


def _clear(x: float, end: float, line: float | None) -> tuple[float, float]:
    """The wider stretch of a part of the bar beside the rating's heavy line, or the whole part."""
    if line is None or not x - CLEARANCE < line < end + CLEARANCE:
        return x, end
    return max((x, line - CLEARANCE), (line + CLEARANCE, end), key=lambda ends: ends[1] - ends[0])


def _inside(name: str, room: tuple[float, float], y: float) -> str:
    """The member's name in its part of the bar, or its first word, or nothing where neither has room."""
    name, (x, end) = draw.clean(name), room
    for said in (name, *name.split()[:1]):
        wide = draw.text_width(said, SMALL) + 4
        if said and wide <= end - x - 3:
            ground = draw.box((x + end - wide) / 2, y + BAR / 2 - 9, wide, 18, fill="tint", stroke=None)
            return ground + draw.text((x + end) / 2, y + BAR / 2 + 5, said, size=SMALL, anchor="middle")
    return ""


def _rating(winding: WindingLoad, scale: Scale, y: float) -> str:
    if winding.rated_a is None:
        return ""
    x = scale(winding.rated_a)
    return draw.path([(x, y - 5), (x, y + BAR + 5)], stroke="accent" if winding.total_a > winding.rated_a else "ink",
                     width=3)
