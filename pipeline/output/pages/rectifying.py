"""A rectifier's curves: its drop, what it gives at the makers' supply ohms, and its rating chart with its corners."""

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np

from pipeline.electrics.diode import diode_drop, perveance
from pipeline.electrics.rectifier import capacitor_input
from pipeline.output.pages.curves import Drawn
from pipeline.output.pages.known import Known, Row, weakest
from pipeline.output.pages.wording import amount
from pipeline.output.safe import Markup
from pipeline.output.svg.chart import DASHES, Axis, Curve, Dot, chart, round_high

MAINS_HZ = 60.0
"""Where a document does not say: the American makers' own."""
LOADS = 13
MOST_CURVES = len(DASHES)


class Condition(NamedTuple):
    """What a regulation curve is drawn for."""

    circuit: str
    ac_v: float
    supply_ohm: float
    capacitor_uf: float
    frequency_hz: float

    @property
    def said(self) -> str:
        return (f"{self.ac_v:g} V a plate, {self.supply_ohm:g} ohm, {self.capacitor_uf:g} µF"
                + (f", {self.frequency_hz:g} Hz" if self.frequency_hz != MAINS_HZ else ""))


class Drop(NamedTuple):
    """The law of one plate: its constant, the point it stands on, and that point's figures."""

    k: float
    volts: float
    amps: float
    rows: list[Row]


def rectifier_curves(known: Known, type_: str) -> Iterator[Drawn]:
    """The rectifier's curves that its figures allow."""
    tables = known.by_type[type_]
    figures = {r["quantity"]: r for r in tables.get("rectifiers", ()) if r["chosen"]}
    drop = drop_of(figures, known.tubes[type_])
    if drop is not None:
        read = [r for r in known.rectifier_curves.get(type_, ()) if r["drop_at_a"]]
        yield _drop_curve(type_, drop, read, figures)
        operation = [r for r in known.rectifier_operation.get(type_, ()) if r.get("input") in (None, "capacitor")]
        yield from _regulation(type_, drop, operation)
    corners = known.rectifier_ratings.get(type_, [])
    if any(c["dc_a"] for c in corners):
        yield _rating_chart(type_, corners)


def drop_of(figures: dict[str, Row], tube: Row) -> Drop | None:
    """The three-halves law of one plate from the drop that is stated; None for a gas tube or where it is not."""
    if not {"drop_v", "drop_at_a"} <= figures.keys() or "gas" in (tube["function"] or ""):
        return None
    volts, amps = figures["drop_v"]["value"], figures["drop_at_a"]["value"]
    return Drop(float(perveance(volts, amps)), volts, amps, [figures["drop_v"], figures["drop_at_a"]])


def _drop_curve(type_: str, drop: Drop, read: list[Row], figures: dict[str, Row]) -> Drawn:
    peak = figures.get("plate_peak_max_a")
    most = max([1.5 * drop.amps, *([peak["value"]] if peak else []), *(r["drop_at_a"] for r in read)])
    amps = np.linspace(0.0, most, 40)
    curve = Curve(list(zip(np.asarray(diode_drop(amps, drop.k)).tolist(), (1e3 * amps).tolist(), strict=True)))
    grade = weakest(row["evidence"] for row in drop.rows)
    dots = [Dot(drop.volts, 1e3 * drop.amps, "", grade == "recalled")]
    dots += [Dot(r["drop_v"], 1e3 * r["drop_at_a"], "", r["evidence"] == "recalled") for r in read]
    across = Axis("volts across one plate", round_high(float(diode_drop(most, drop.k)) * 1.04))
    up = Axis("plate current, mA", round_high(1e3 * most * 1.02))
    point = f"{amount('drop_v', drop.volts, 'V')} at {amount('drop_at_a', drop.amps, 'A')}"
    words = (f"Worked out by the three-halves law from one point, {point} ({_grade(grade)})"
             + (", up to the peak that the maker allows" if peak and most == peak["value"] else "") + ".")
    drawing = chart("Drop of one plate", [f"{type_}. Drop {point}, {grade}."], across, up, [curve], dots, key="drop")
    return Drawn(Markup(drawing), words)


def _grade(grade: str) -> str:
    return f"{grade}†, to be confirmed" if grade == "recalled" else grade


def _regulation(type_: str, drop: Drop, operation: list[Row]) -> Iterator[Drawn]:
    """DC volts against DC current at the supply ohms that documents state, with their points."""
    groups: dict[Condition, list[Row]] = {}
    for row in operation:
        if row["supply_ohm"] is not None and row["capacitor_uf"]:
            condition = Condition(row["circuit"], row["ac_v"], row["supply_ohm"], row["capacitor_uf"],
                                  row["frequency_hz"] or MAINS_HZ)
            groups.setdefault(condition, []).append(row)
    shown = list(groups.items())[:MOST_CURVES]
    if not shown:
        return
    most = 1.25 * max(row["dc_a"] for _, rows in shown for row in rows)
    loads = most * np.linspace(0.02, 1.0, LOADS)
    curves = [Curve(list(zip((1e3 * loads).tolist(), volts, strict=True)), condition.said, 1.6, dash, "ink", True)
              for dash, (condition, _), volts in zip(DASHES, shown, _solved([c for c, _ in shown], drop, loads),
                                                     strict=False)]
    points = [row for _, rows in shown for row in rows if row["dc_v"]]
    dots = [Dot(1e3 * row["dc_a"], row["dc_v"], "", row["evidence"] == "recalled") for row in points]
    highest = max([*(v for c in curves for _, v in c.points), *(row["dc_v"] for row in points)])
    grade = weakest([row["evidence"] for row in (*points, *drop.rows)])
    said = [f"{row['dc_v']:g} V at {1e3 * row['dc_a']:g} mA, {condition.said}, {row['evidence']}."
            for condition, rows in shown for row in rows if row["dc_v"]]
    words = ("DC volts worked out in the time domain for the first capacitor and the plate-supply ohms that the "
             f"document states; dots are its own points{', ringed where remembered' if grade == 'recalled' else ''}. "
             f"The weakest figure used is {_grade(grade)}.")
    drawing = chart("DC volts under load", [f"{type_}.", *said], Axis("DC output, mA", round_high(1e3 * most)),
                    Axis("DC volts at the first capacitor", round_high(1.02 * highest)), curves, dots, key="regulation")
    yield Drawn(Markup(drawing), words)


def _solved(conditions: list[Condition], drop: Drop, loads: np.ndarray) -> Iterable[list[float]]:
    """DC volts at each load, a list for each condition; nan where no steady state was found."""
    for condition in conditions:
        found = capacitor_input(
            condition.circuit, condition.ac_v, condition.frequency_hz, condition.supply_ohm,
            1e-6 * condition.capacitor_uf, perveance=drop.k, load_a=loads, unsettled="nan")
        yield np.asarray(found.dc_v).tolist()


def _rating_chart(type_: str, corners: list[Row]) -> Drawn:
    """DC output against AC volts, straight between the maker's corners; nothing is drawn beyond them."""
    curves, dots = [], []
    for dash, kind in zip(DASHES, ("capacitor", "choke"), strict=False):
        rows = sorted((c for c in corners if c["input"] == kind and c["dc_a"]), key=lambda c: c["ac_v"])
        if not rows:
            continue
        run = [(r["ac_v"], 1e3 * r["dc_a"]) for r in rows]
        curves.append(Curve(run, f"{kind} input" + ("" if len(run) > 1 else ", one corner"), 1.6, dash, "ink", True))
        dots += [Dot(x, y, "", r["evidence"] == "recalled") for (x, y), r in zip(run, rows, strict=True)]
    across = Axis("AC volts of each plate, rms", round_high(1.1 * max(d.x for d in dots)))
    up = Axis("DC output at most, mA", round_high(1.15 * max(d.y for d in dots)))
    hollow = any(d.hollow for d in dots)
    words = ("Straight between the corners of the chart, nothing beyond them; below the lowest corner's volts its own "
             "current holds." + (" Ringed corners are remembered†, to be confirmed." if hollow else ""))
    said = [f"{d.y:g} mA at {d.x:g} V." for d in dots]
    return Drawn(Markup(chart("Rating chart", [f"{type_}.", *said], across, up, curves, dots, key="rating")), words)
