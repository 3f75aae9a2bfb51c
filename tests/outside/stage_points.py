"""Stage currents by the law of one point, beside what makers print and what others traced from makers' curves.

Run as a program it prints the table of errors: `python -m tests.outside.stage_points`.
"""

from __future__ import annotations

import csv
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pipeline.catalogue import Catalogue
from pipeline.electrics.circuit import Resistor, Source, Tube, operating_point
from pipeline.electrics.stages import Law, law_of_point

ROOT = Path(__file__).parents[2]
REFERENCE = ROOT / "tests" / "reference"


class Point(NamedTuple):
    """One published point; volts from the cathode, or those of the supply where there is a load."""

    tube: tuple[str, str]
    plate_v: float
    screen_v: float | None
    grid_v: float
    cathode_a: float
    screen_a: float
    gm_s: float | None = None
    mu: float | None = None
    mu_screen: float | None = None
    connected: bool = False
    load_ohm: float = 0.0
    screen_ohm: float = 0.0
    cathode_ohm: float | None = None

    @property
    def law(self) -> Law | None:
        """The law of a point that can be an anchor: with its transconductance, neither connected nor coupled."""
        if self.gm_s is None or self.connected or self.load_ohm or self.cathode_ohm is not None:
            return None
        given = (self.plate_v, self.grid_v, self.cathode_a - self.screen_a, self.gm_s)
        if self.screen_v is not None:
            return law_of_point(*given, screen_v=self.screen_v, screen_a=self.screen_a, mu_screen=self.mu_screen)
        return law_of_point(*given, mu=self.mu) if self.mu else None


def predicted(law: Law, point: Point, fixed_bias: bool = False) -> float:
    """Cathode current that the law gives at a point's volts, with its cathode resistor or the one that it implies."""
    ohm = point.cathode_ohm if point.cathode_ohm is not None else max(-point.grid_v / point.cathode_a, 0.0)
    # Node 1 the cathode, 2 plate, 3 screen, 4 a held grid, 5 and 6 what feeds plate and screen.
    joined = point.connected or point.screen_v is None and not point.screen_ohm
    if point.load_ohm:
        resistors = [Resistor(5, 2, point.load_ohm), Resistor(1, 0, ohm), Resistor(6, 3, point.screen_ohm or np.inf)]
        sources = [Source(5, point.plate_v), Source(6, point.plate_v)]
        tube = Tube(2, None if joined else 3, 0, 1, law)
        found = operating_point(7, resistors=resistors, tubes=[tube], sources=sources)
        return float(found.plate_a[0] + found.screen_a[0])
    # A point's volts are counted from the cathode: plate and screen are lifted by what its resistor takes.
    lift = 0.0 if fixed_bias or not ohm else -point.grid_v
    for _ in range(60):
        sources = [Source(2, point.plate_v + lift), Source(3, (point.screen_v or 0.0) + lift)]
        if fixed_bias or not ohm:
            sources.append(Source(4, point.grid_v))
        found = operating_point(
            5, resistors=[Resistor(1, 0, 0.0 if fixed_bias else ohm)], sources=sources,
            tubes=[Tube(2, None if joined else 3, 4 if fixed_bias or not ohm else 0, 1, law)],
        )  # fmt: skip
        risen = float(found.volts[1])
        if fixed_bias or not ohm or abs(risen - lift) < 1e-6:
            break
        lift = risen
    return float(found.plate_a[0] + found.screen_a[0])


class Row(NamedTuple):
    """A law's error at a point of the same tube, as a share of what is printed."""

    kind: str
    tube: tuple[str, str]
    anchor: Point
    point: Point
    error: float
    fixed_error: float


def compared(points: list[Point]) -> Iterator[Row]:
    """Every point of a tube from each other that can be an anchor."""
    by_tube = defaultdict(list)
    for point in points:
        by_tube[point.tube].append(point)
    for tube, own in by_tube.items():
        for anchor in own:
            law = anchor.law
            if law is None:
                continue
            for point in own:
                if point[:5] == anchor[:5]:
                    continue
                kind = ("triode" if anchor.screen_v is None else "pentode") + ", triode connected" * point.connected
                kind += ", resistance-coupled" * bool(point.load_ohm)
                error = predicted(law, point) / point.cathode_a - 1
                fixed = np.nan if point.load_ohm else predicted(law, point, fixed_bias=True) / point.cathode_a - 1
                yield Row(kind, tube, anchor, point, error, fixed)


def catalogue_points(catalogue: Catalogue) -> list[Point]:
    """The class A points of the catalogue, one tube each, that say volts, bias and currents.

    Where a point has no transconductance or mu of its own, that of its section stands for it.
    """
    rows = catalogue.query(
        "select p.type, p.section, p.plate_v, p.screen_v, p.bias_v, p.cathode_ohm, p.plate_a, p.screen_a, "
        "coalesce(p.gm_s, s.gm_s, s.mu / s.rp_ohm), coalesce(p.mu, s.mu, s.gm_s * s.rp_ohm), s.mu_screen, s.kind, "
        "coalesce(p.heater_arrangement, '') from {operating_points} p "
        "left join {sections} s on s.type = p.type and s.section = p.section "
        "where p.service in ('class A1', 'rf') and p.connected is null and p.plate_v is not null "
        "and p.plate_a is not null and coalesce(p.tube_count, 1) = 1 order by all")
    points = []
    for type_, section, plate, screen, bias, ohm, amps, screen_a, gm, mu, mu_screen, kind, heaters in rows:
        triode = "triode" in (kind or "")
        if not triode and (screen is None or screen_a is None):
            continue
        total = amps + (0.0 if triode else screen_a)
        if bias is None and ohm is None:
            continue
        grid = -ohm * total if bias is None else bias
        points.append(Point((type_, f"{section} {heaters}".strip()), plate, None if triode else screen, grid, total,
                            0.0 if triode else screen_a, gm, mu, None if triode else mu_screen))
    return points


def published_points() -> list[Point]:
    """The points of `stage_points.csv`; see `stage_tables.md` beside it."""
    points = []
    for row in _table("stage_points.csv"):
        plate_a, screen_a, ohm = _number(row["plate_a"]), _number(row["screen_a"]), _number(row["cathode_ohm"])
        total = _number(row["cathode_a"]) or (plate_a or 0.0) + (screen_a or 0.0)
        coupled = bool(row["load_ohm"])
        grid = _number(row["bias_v"]) if row["bias_v"] else -(ohm or 0.0) * total
        screen, screen_ohm = _number(row["screen_v"]), _number(row["screen_ohm"]) or 0.0
        if screen_ohm and not coupled:
            screen, screen_ohm = _number(row["supply_v"]) - screen_ohm * screen_a, 0.0
        points.append(Point(
            (row["type"], row["section"]), _number(row["plate_v"]) or _number(row["supply_v"]), screen, grid, total,
            screen_a or 0.0, _number(row["gm_s"]), _number(row["mu"]), _number(row["mu_screen"]),
            bool(row["connected"]), _number(row["load_ohm"]) or 0.0, screen_ohm, ohm if coupled else None,
        ))  # fmt: skip
    return points


def traced(catalogue: Catalogue) -> Iterator[tuple[str, float]]:
    """Type and error at each point of `stage_models.csv`, from the catalogue's point nearest to its volts."""
    anchors = defaultdict(list)
    for point in catalogue_points(catalogue):
        if point.law is not None and point.grid_v < 0:
            anchors[point.tube[0]].append(point)
    for row in _table("stage_models.csv"):
        plate, screen = float(row["plate_cathode_v"]), _number(row["screen_cathode_v"])
        ohm, amps = float(row["cathode_ohm"]), float(row["cathode_ma"]) / 1e3
        own = [a for a in anchors.get(row["type"], []) if (a.screen_v is None) == (screen is None)]
        if own:
            near = min(own, key=lambda a: abs(np.log((screen or plate) / (a.screen_v or a.plate_v))))
            point = Point(near.tube, plate, screen, -ohm * amps, amps, 0.0)
            yield row["type"], predicted(near.law, point) / amps - 1


def _table(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _number(text: str) -> float | None:
    return float(text) if text else None


def _line(name: str, errors: list[float]) -> str:
    size = 100 * np.abs(errors)
    return (f"{name:42} {len(size):4d}  median {np.median(size):5.1f} %  nine in ten {np.quantile(size, 0.9):5.1f} %"
            f"  worst {size.max():5.1f} %")


def main() -> None:
    """Print the errors by kind, then the twenty greatest."""
    catalogue = Catalogue(ROOT / "data_built")
    for title, points in (("catalogue", catalogue_points(catalogue)), ("published", published_points())):
        rows = list(compared(points))
        print(_line(f"{title}: all, cathode bias", [row.error for row in rows]))
        for kind in sorted({row.kind for row in rows}):
            own = [row for row in rows if row.kind == kind]
            print(_line(f"  {kind}", [row.error for row in own]))
            fixed = [row.fixed_error for row in own if np.isfinite(row.fixed_error)]
            if fixed:
                print(_line("    with fixed bias", fixed))
        for row in sorted(rows, key=lambda row: -abs(row.error))[:20]:
            where = ", ".join(f"{value:g}" for value in (row.point.plate_v, row.point.screen_v, row.point.grid_v)
                              if value is not None)  # fmt: skip
            print(f"    {row.tube[0]:10} {row.tube[1]:16} at {where}: {100 * row.error:+.1f} %")
    print(_line("traced models, nearest point", [error for _, error in traced(catalogue)]))


if __name__ == "__main__":
    main()
