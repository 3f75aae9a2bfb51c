"""Curves worked out from the catalogue's figures, each with what it rests on: never a maker's curve."""

import math
from collections import Counter
from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from pipeline.amounts import plain
from pipeline.electrics.stages import Law, electrode_amperes, law_of_point
from pipeline.output.pages.known import Known, Row, weakest
from pipeline.output.pages.shown import part_of
from pipeline.output.pages.wording import amount
from pipeline.output.safe import Markup
from pipeline.output.svg.axes import step_for
from pipeline.output.svg.chart import Axis, Curve, Dot, chart, round_high

SERVICES = ("class A1", "class A", "rf", "static", "test point")
"""Services whose figures are those of one tube with a still grid: the law can stand on them."""
SAME_SCREEN = 0.02
"""A point belongs to a family of curves where its screen volts differ from the family's by no more."""
MOST_GRIDS, SAMPLES = 10, 36
_WHICH = {"each": ", each section", "whole": ""}


class Drawn(NamedTuple):
    """A curve's drawing, and in words what it was worked out from and how sure that is."""

    drawing: Markup
    words: str


class Point(NamedTuple):
    """A point of typical operation, SI, with the figures it is made of."""

    plate_v: float
    bias_v: float
    plate_a: float
    screen_v: float | None
    screen_a: float | None
    load_ohm: float | None
    gm_s: float | None
    rows: list[Row]

    @property
    def rank(self) -> tuple[bool, bool, float]:
        """How likely the section's transconductance is meant at this point: its own, a loaded one, the strongest."""
        own, strong = self.gm_s is not None, bool(self.load_ohm or self.screen_v)
        return own, not own and self.load_ohm is not None, self.plate_a if strong else self.plate_v

    @property
    def grade(self) -> str:
        return weakest(row["evidence"] for row in self.rows)

    @property
    def said(self) -> str:
        """The point in words: `250 V, −2 V, 1.2 mA`."""
        return ", ".join([amount("plate_v", self.plate_v, "V"), amount("bias_v", self.bias_v, "V"),
                          amount("plate_a", self.plate_a, "A")])


def plate_curves(known: Known, type_: str) -> Iterator[Drawn]:
    """Plate characteristics of each section whose transconductance and a point of operation are known."""
    tables = known.by_type[type_]
    sections = _by_part(r for r in tables.get("sections", ()) if r["chosen"])
    for part, figures in sections.items():
        points = list(_points(known, tables.get("operating_points", ()), part))
        drawn = _family(type_, part, figures, points)
        if drawn:
            yield drawn


def _by_part(rows: Iterable[Row]) -> dict[str, dict[str, Row]]:
    found: dict[str, dict[str, Row]] = {}
    for row in rows:
        found.setdefault(part_of(row), {})[row["quantity"]] = row
    return found


def _points(known: Known, rows: Iterable[Row], section: str) -> Iterator[Point]:
    """Points of one tube of the section, its screen on a supply of its own, that state bias and plate current."""
    for figures in _by_subject(rows).values():
        first = next(iter(figures.values()))
        names = dict(zip(known.of_tubes["operating_points"], part_of(first).split("/"), strict=False))
        values = {name: row["value"] for name, row in figures.items()}
        if names.get("section") != section or names.get("service") not in SERVICES:
            continue
        if values.get("connected") or values.get("tube_count", 1.0) != 1.0:
            continue
        volts = values.get("plate_v") or _number(names.get("plate_v", ""))
        if volts and values.get("bias_v") is not None and values.get("plate_a"):
            used = [figures[n] for n in ("bias_v", "plate_a", "screen_v", "screen_a", "gm_s") if n in figures]
            yield Point(volts, values["bias_v"], values["plate_a"], values.get("screen_v"), values.get("screen_a"),
                        values.get("load_ohm"), values.get("gm_s"), used)


def _by_subject(rows: Iterable[Row]) -> dict[str, dict[str, Row]]:
    found: dict[str, dict[str, Row]] = {}
    for row in rows:
        if row["chosen"]:
            found.setdefault(row["subject"], {})[row["quantity"]] = row
    return found


def _number(text: str) -> float | None:
    try:
        return float(text.partition("#")[0])
    except ValueError:
        return None


def _family(type_: str, part: str, figures: dict[str, Row], points: list[Point]) -> Drawn | None:
    """The section's family of curves through its anchor, or None where the law has too little to stand on."""
    mu, mu_screen = figures.get("mu"), figures.get("mu_screen")
    shared = Counter(p.screen_v for p in points)
    anchor = max(points, key=lambda p: (shared[p.screen_v], *p.rank), default=None)
    if anchor is None or not (anchor.gm_s or "gm_s" in figures):
        return None
    gm_s = anchor.gm_s or figures["gm_s"]["value"]
    resting = [*anchor.rows, *([] if anchor.gm_s else [figures["gm_s"]])]
    try:
        if anchor.screen_v is None:
            resting.append(mu or figures["rp_ohm"])
            factor = mu["value"] if mu else gm_s * figures["rp_ohm"]["value"]
            law = law_of_point(anchor.plate_v, anchor.bias_v, anchor.plate_a, gm_s, mu=factor)
        else:
            resting += [mu_screen] if mu_screen else []
            law = law_of_point(anchor.plate_v, anchor.bias_v, anchor.plate_a, gm_s, screen_v=anchor.screen_v,
                               screen_a=anchor.screen_a, mu_screen=mu_screen["value"] if mu_screen else None)
    except (ValueError, KeyError):
        return None
    return _drawn(type_, part, law, anchor._replace(gm_s=gm_s), points, figures, resting)


def _drawn(type_: str, part: str, law: Law, anchor: Point, points: list[Point], figures: dict[str, Row],
           resting: list[Row]) -> Drawn:
    like = [p for p in points if p.screen_v == anchor.screen_v or (
        p.screen_v and anchor.screen_v and abs(p.screen_v / anchor.screen_v - 1) <= SAME_SCREEN)]
    across = Axis("plate volts", round_high(1.6 * max(p.plate_v for p in like)))
    up = Axis("plate current, mA; at each curve its grid volts", round_high(2.4e3 * max(p.plate_a for p in like)))
    curves = list(_grid_curves(law, anchor, like, across, up))
    loaded = max((p for p in like if p.load_ohm), key=lambda p: (p.said == anchor.said, p.plate_a), default=None)
    curves += _limit(figures, across) + (_load_line(loaded) if loaded else [])
    places = {(p.plate_v, p.plate_a, p.bias_v): p for p in sorted(like, key=lambda p: p.grade)}  # one dot a place
    dots = [Dot(p.plate_v, 1e3 * p.plate_a, f"{plain(p.bias_v)} V", p.grade == "recalled") for p in places.values()]
    title = f"Plate characteristics{_WHICH.get(part, f', {part} section')}"
    screen = f" at {amount('screen_v', anchor.screen_v, 'V')} on the screen" if anchor.screen_v else ""
    said = [f"{type_}. Plate current against plate volts for grid volts{screen}.",
            *(f"Point {p.said}, {p.grade}." for p in like)]
    words = (f"Worked out{screen} by the three-halves law from one point, {anchor.said}, and its transconductance "
             f"{amount('gm_s', anchor.gm_s, 'S')}: no maker's curve. {_resting(resting)} {_dots(like)}")
    return Drawn(Markup(chart(title, said, across, up, curves, dots, key=part)), words)


def _grid_curves(law: Law, anchor: Point, like: list[Point], across: Axis, up: Axis) -> Iterator[Curve]:
    """One curve for each of some even grid volts, from zero down to where hardly any current is left."""
    deepest = min(p.bias_v for p in like)
    step = step_for(max(2 * abs(deepest), 0.8), MOST_GRIDS - 1)
    volts = across.high * (np.arange(SAMPLES + 1) / SAMPLES) ** 1.5  # closer where the knee is
    for i in range(MOST_GRIDS):
        grid = -i * step
        amps = np.asarray(electrode_amperes(law, volts, anchor.screen_v, grid).plate_a)
        if 1e3 * amps.max() < 0.02 * up.high:
            return
        first = max(int(np.argmax(amps > 0)) - 1, 0)
        yield Curve(list(zip(volts[first:].tolist(), (1e3 * amps[first:]).tolist(), strict=True)), f"{plain(grid)} V")


def _limit(figures: dict[str, Row], across: Axis) -> list[Curve]:
    row = figures.get("plate_dissipation_max_w")
    if row is None:
        return []
    volts = np.linspace(across.high / 60, across.high, 60)
    return [Curve(list(zip(volts.tolist(), (1e3 * row["value"] / volts).tolist(), strict=True)),
                  f"plate dissipation {amount('plate_dissipation_max_w', row['value'], 'W')}, at most", 1.6, "7 3",
                  "accent", True)]


def _load_line(point: Point) -> list[Curve]:
    """The load through a point of typical operation, as a transformer or choke puts it on the plate."""
    load = point.load_ohm or math.inf
    ends = [(v, 1e3 * (point.plate_a + (point.plate_v - v) / load))
            for v in (0.0, point.plate_v + point.plate_a * load)]
    run = [(ends[0][0] + s * (ends[1][0] - ends[0][0]) / 40, ends[0][1] + s * (ends[1][1] - ends[0][1]) / 40)
           for s in range(41)]
    return [Curve(run, f"load line of {amount('load_ohm', load, 'ohm')} through {plain(point.bias_v)} V", 1.3, "2 3",
                  "ink", True)]


def _resting(rows: Iterable[Row]) -> str:
    grade = weakest(row["evidence"] for row in rows)
    said = {"recalled": "It rests on figures from memory†, to be confirmed.",
            "practice": "It rests on habits of the trade.", "quoted": "It rests on quoted figures."}
    return said.get(grade, "It rests on published figures.")


def _dots(points: list[Point]) -> str:
    hollow = sum(p.grade == "recalled" for p in points)
    if not hollow:
        return "Dots: points that documents give."
    return "Ringed dots: points remembered, not read." if hollow == len(points) else \
        "Dots: points that documents give; ringed ones are remembered, not read."
