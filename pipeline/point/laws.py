"""The law of a tube's section from what the catalogue has published about it, anchored where the unit works."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Figure, Ratings, point_name
from pipeline.electrics.stages import Law, law_of_point
from pipeline.records import Record
from pipeline.unit import LETTERS, Part

ANCHORS = ("class A", "rf", "test point", "static")
"""Beginnings of the services whose points fix a law: one section, its own bias, a steady current."""
NO_ANCHORS = ("pair", "push-pull", "dynamic-coupled", "resistance-coupled")
"""Words in a service that say that its figures are of another arrangement."""
USUAL_PLATE_V = 250.0
"""Transconductance is stated at the usual point of the type, most often the one nearest these plate volts."""
SLOPE_ELSEWHERE = 0.05
"""Distance put on a point that does not state its own transconductance: of two alike the other is taken."""
CONTACT_V = 0.4
"""Volts that contact potential and islands usually add in a triode: which point a stated slope belongs to."""


class Published(NamedTuple):
    """One published operating point of a section; volts from the cathode, amperes of one section."""

    service: str
    plate_v: float
    screen_v: float | None
    grid_v: float
    plate_a: float
    screen_a: float
    gm_s: float | None
    mu: float | None
    figures: tuple[Figure, ...]

    @property
    def cathode_a(self) -> float:
        return self.plate_a + self.screen_a


class SectionLaw(Record):
    """What a section draws at given volts, the point it is anchored at, and the figures it rests on."""

    law: Law
    point: Published
    rests_on: tuple[Figure, ...]


def catalogue_section(part: Part, section: str | None) -> str:
    """The catalogue's section that a place's section means: `each` for a letter, the power section for none."""
    if section is not None:
        return "each" if section in LETTERS else section
    if part.power_section is not None:
        return "each" if part.power_section in LETTERS else part.power_section
    rows = part.ratings.rows("sections") if part.ratings else {}
    return next((subject.rpartition("/")[2] for subject in rows), "whole")


def section_row(part: Part, section: str) -> dict[str, Figure]:
    """The catalogue's limits and characteristics of one section; empty where it has none."""
    ratings = part.ratings
    return ratings.once("sections by name", lambda: _sections(ratings)).get(section, {}) if ratings else {}


def _sections(ratings: Ratings) -> dict[str, dict[str, Figure]]:
    rows = ratings.rows("sections").items()
    return {subject.rpartition("/")[2]: row for subject, row in reversed(rows)}


def has_screen(part: Part, section: str) -> bool:
    """Whether the section has a screen grid: its kind says so, else a published point with screen volts."""
    kind = section_row(part, section).get("kind")
    if kind is not None:
        return "triode" not in str(kind.value) and "diode" not in str(kind.value)
    return any(p.screen_v is not None for p in published_points(part, section))


def published_points(part: Part, section: str) -> tuple[Published, ...]:
    """The section's points from which a law can be made, in the order of the catalogue."""
    ratings = part.ratings
    return ratings.once(("points", section), lambda: tuple(_points(ratings, section))) if ratings else ()


def _points(ratings: Ratings, section: str) -> Iterator[Published]:
    for subject, row in ratings.rows("operating_points").items():
        named = point_name(subject)
        if named.section != section or not _anchors(named.service, row) or "plate_a" not in row:
            continue
        if named.plate_v and (point := _point(named.service, named.plate_v, row)) is not None:
            yield point


def _anchors(service: str, row: dict[str, Figure]) -> bool:
    """Whether the point is of one section by itself, its screen on a supply of its own."""
    one = "tube_count" not in row or row["tube_count"].value == 1
    alone = "connected" not in row and not any(word in service for word in NO_ANCHORS)
    return service.startswith(ANCHORS) and one and alone


def _point(service: str, plate_v: float, row: dict[str, Figure]) -> Published | None:
    def value(name: str) -> float | None:
        return row[name].value if name in row else None

    plate_a, screen_a = row["plate_a"].value, value("screen_a") or 0.0
    bias, ohm, mu, rp = (value(name) for name in ("bias_v", "cathode_ohm", "mu", "rp_ohm"))
    if bias is None and ohm is None:
        return None
    grid_v = -abs(bias) if bias is not None else -(ohm or 0.0) * (plate_a + screen_a)
    gm = value("gm_s") or (mu / rp if mu and rp else None)
    used = tuple(row[name] for name in ("bias_v", "cathode_ohm", "screen_v", "plate_a", "screen_a", "gm_s", "mu")
                 if name in row)
    return Published(service, plate_v, value("screen_v"), grid_v, plate_a, screen_a, gm, mu, used)


def section_law(part: Part, section: str, plate_v: float, screen_v: float | None) -> SectionLaw | None:
    """The law of a section, anchored at the published point nearest to these volts; None where too little is known.

    The stated transconductance belongs to the type's usual point. At another point it is carried over by the law
    itself, as the cube root of the current; for a triode the amplification factor holds everywhere.
    """
    screen = has_screen(part, section)
    points = [p for p in published_points(part, section) if (p.screen_v is not None) == screen or not screen]
    if not points or part.ratings is None:
        return None
    place = min(range(len(points)), key=lambda i: _distance(points[i], plate_v, screen_v) + (
        0.0 if points[i].gm_s else SLOPE_ELSEWHERE))
    return part.ratings.once(("law", section, place), lambda: _anchored(
        points, points[place], screen, section_row(part, section)))


def _anchored(points: list[Published], anchor: Published, screen: bool, row: dict[str, Figure]) -> SectionLaw | None:
    gm, used = _slope(row)
    mu, mu_screen = (row[name].value if name in row else None for name in ("mu", "mu_screen"))
    try:
        law = _screened(points, anchor, gm, mu_screen) if screen else _triode(points, anchor, gm, anchor.mu or mu)
    except ValueError:  # figures that fit no such law: the audits of the build name them
        return None
    if law is None:
        return None
    also = (row[name] for name in ("mu", "mu_screen") if name in row and (name == "mu") != screen)
    law = Law(*(float(np.asarray(number)) for number in law))
    return SectionLaw(law, anchor, tuple(dict.fromkeys((*anchor.figures, *used, *also))))


def _slope(row: dict[str, Figure]) -> tuple[float | None, tuple[Figure, ...]]:
    """Transconductance as stated, else mu over plate resistance; and the figures it is from."""
    if "gm_s" in row:
        return row["gm_s"].value, (row["gm_s"],)
    if "mu" in row and "rp_ohm" in row:
        return row["mu"].value / row["rp_ohm"].value, (row["mu"], row["rp_ohm"])
    return None, ()


def _distance(point: Published, plate_v: float, screen_v: float | None) -> float:
    """How far a point lies from the unit's volts; the screen's count most, for they set a pentode's current."""
    if point.screen_v is None or screen_v is None:
        return abs(plate_v / point.plate_v - 1)
    return 3 * abs(screen_v / point.screen_v - 1) + abs(plate_v / point.plate_v - 1)


def _triode(points: list[Published], anchor: Published, gm: float | None, mu: float | None) -> Law | None:
    if mu is None:
        return None
    if anchor.gm_s is not None:
        slope = anchor.gm_s
    elif gm is None:
        drive = anchor.grid_v + anchor.plate_v / mu + CONTACT_V
        slope = 1.5 * anchor.plate_a / drive if drive > 0 else 0.0
    else:
        usual = min(points, key=lambda p: abs(1.5 * p.plate_a / gm - p.grid_v - p.plate_v / mu - CONTACT_V))
        slope = gm * (anchor.plate_a / usual.plate_a) ** (1 / 3)
    return law_of_point(anchor.plate_v, anchor.grid_v, anchor.plate_a, slope, mu=mu)


def _screened(points: list[Published], anchor: Published, gm: float | None, mu_screen: float | None) -> Law | None:
    screen_v = anchor.screen_v if anchor.screen_v is not None else anchor.plate_v
    if anchor.gm_s is not None:
        slope = anchor.gm_s
    elif gm is not None:
        usual = min(points, key=lambda p: abs(p.plate_v - USUAL_PLATE_V))
        slope = gm * (anchor.cathode_a / usual.cathode_a) ** (1 / 3)
    elif mu_screen is not None:
        drive = anchor.grid_v + screen_v / mu_screen + CONTACT_V
        slope = 1.5 * anchor.plate_a / drive if drive > 0 else 0.0
    else:
        return None
    return law_of_point(anchor.plate_v, anchor.grid_v, anchor.plate_a, slope, screen_v=screen_v,
                        screen_a=anchor.screen_a, mu_screen=mu_screen)
