"""Class A points of one section against each other: the three-halves law ties them together."""

from collections import defaultdict
from typing import NamedTuple

import numpy as np

from pipeline.build.points import numbered
from pipeline.build.questions.ground import Chosen, Question, Questions, Row, apart, number
from pipeline.electrics.stages import electrode_amperes, law_of_point

SERVICES = ("class A1", "rf", "static")
VOLTS_SPAN = 2.2
"""A point foretells another up to this ratio of plate volts; further off the law's error is its own."""
FIXED_BIAS_ERROR = {True: 0.25, False: 0.15}
"""Whether a triode → error that no tube's law makes: nine in ten points lie within 25 % and 9 % where one of the same
type foretells them at the same bias (theory notes, section C: every type with two or more points)."""
_BEYOND = 1.6
"""A question is asked from this multiple of that on."""


class Point(NamedTuple):
    """A point of one tube with its screen on a supply of its own: volts, amperes, S."""

    subject: str
    plate_v: float
    bias_v: float
    plate_a: float
    screen_v: float | None
    screen_a: float | None
    gm_s: float | None
    mu: float | None


def point_against_law(chosen: Chosen) -> Questions:
    """A class A point follows from its nearest neighbour by the three-halves law.

    The neighbour is the point nearest in plate volts that states its transconductance; what the law foretells at the
    other's volts and bias must be its plate current within the law's own error. Points near cut-off or with a grid at
    zero are left out: there the law is worst.
    """
    sections = {(r["type"], r["section"]): r for r in chosen.rows("sections")}
    groups: dict[tuple, list[Point]] = defaultdict(list)
    for row in chosen.rows("operating_points"):
        if (point := _point(row, sections.get((row["type"], row["section"]), {}))) is not None:
            groups[row["type"], row["section"]].append(point)
    for points in groups.values():
        for point in points:
            anchors = [a for a in points if a is not point and a.gm_s and _near(a, point)]
            if anchors:
                yield from _ask(point, min(anchors, key=lambda a: abs(np.log(a.plate_v / point.plate_v))))


def _point(row: Row, section: Row) -> Point | None:
    plate, amps, screen_v, screen_a = (number(row, n) for n in ("plate_v", "plate_a", "screen_v", "screen_a"))
    bias, ohms = number(row, "bias_v"), number(row, "cathode_ohm")
    if bias is None and ohms and amps:
        bias = -ohms * (amps + (screen_a or 0.0))
    still = row["service"] in SERVICES and not row["connected"] and number(row, "tube_count") in (None, 1.0)
    screened = number(section, "screen_max_v") is not None or "pentode" in str(section.get("kind")) \
        or "tetrode" in str(section.get("kind"))
    if not still or not plate or not amps or bias is None or bias >= 0 or (screened and not (screen_v and screen_a)):
        return None
    key = "/".join(str(row[n]) for n in ("type", "section", "service"))
    subject = numbered(f"{key}/{plate:g}", int(number(row, "point") or 1))
    return Point(subject, plate, bias, amps, screen_v, screen_a, number(row, "gm_s"),
                 number(row, "mu") or number(section, "mu"))


def _near(anchor: Point, point: Point) -> bool:
    ratio = anchor.plate_v / point.plate_v
    return 1 / VOLTS_SPAN <= ratio <= VOLTS_SPAN and (anchor.screen_v is None) == (point.screen_v is None)


def _ask(point: Point, anchor: Point) -> Questions:
    try:
        law = law_of_point(anchor.plate_v, anchor.bias_v, anchor.plate_a, anchor.gm_s or 0.0,
                           mu=None if anchor.screen_v else anchor.mu, screen_v=anchor.screen_v,
                           screen_a=anchor.screen_a)
    except ValueError:
        return  # the anchor itself gives no law: too little is stated
    foretold = float(electrode_amperes(law, point.plate_v, point.screen_v, point.bias_v).plate_a)
    if apart(foretold, point.plate_a) > _BEYOND * FIXED_BIAS_ERROR[point.screen_v is None]:
        yield Question("operating_points", point.subject, "plate_a", point.plate_a, foretold,
                       f"from {anchor.subject} the three-halves law foretells {foretold:.3g} A")
