"""What a set of small invented units comes to, storey by storey: numbers, verdicts, grades and choices, not the wording.

`units.toml` holds the units; `point.csv`, `checks.csv` and `bench.csv` what `tests/point`, `tests/checks` and
`tests/bench` find each time they run. Nothing here says that a number is right: that is held by the tests beside, and
by `tests/outside`. It says that a number, a verdict, a grade or a part to buy has moved. Where that is meant, write
the files anew and look through the difference:

    python tests/golden/test_golden.py
"""

import csv
import math
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from msgspec import Struct

from pipeline.catalogue import EVIDENCE, Figure

HERE = Path(__file__).resolve().parent
STOREYS = ("point", "checks", "bench")
Row = tuple[str, str]
"""A place, and what it comes to, in words with a blank between."""

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


@cache
def units() -> dict[str, dict[str, str]]:
    """Name → its files, file name → text."""
    return {u.pop("name"): u for u in tomllib.loads((HERE / "units.toml").read_text(encoding="utf-8"))["unit"]}


def write(name: str, folder: Path) -> Path:
    """The unit's files in a new folder."""
    folder.mkdir()
    for file, text in units()[name].items():
        (folder / file).write_text(text, encoding="utf-8")
    return folder


def said(what: Any) -> str:
    """Anything in words: numbers to five figures, short text as it is, sentences by their first words and numbers."""
    if what is None:
        return "-"
    if isinstance(what, bool | np.bool_):
        return "yes" if what else "no"
    if isinstance(what, int | float | np.number):
        return f"{float(what):.5g}"
    if isinstance(what, str):
        if len(what) < 24:
            return what.replace(" ", "_") or "-"
        return f"{'_'.join(what.split()[:2])}({' '.join(_NUMBER.findall(' '.join(what.split()[2:])))})"
    if isinstance(what, Figure):
        return f"{what.subject}.{what.quantity}".replace(" ", "_")
    if isinstance(what, dict):
        return f"{{{' '.join(f'{said(k)}: {said(v)}' for k, v in what.items())}}}"
    if isinstance(what, np.ndarray):
        return said(what.tolist())
    if isinstance(what, tuple | list) and what and all(isinstance(x, Figure) for x in what):
        return f"[{len(what)} {max((f.evidence for f in what), key=EVIDENCE.index)}]"
    if hasattr(what, "_fields") or isinstance(what, Struct):
        return said(known(what))
    return f"[{' '.join(map(said, what))}]"


def known(what: Any) -> dict[str, Any]:
    """The fields of a record that hold something."""
    names = what.__struct_fields__ if isinstance(what, Struct) else what._fields
    return {name: value for name in names if (value := getattr(what, name)) is not None and value not in ("", ())}


def alike(one: str, other: str) -> bool:
    """Whether two outcomes are the same but for the last digits of their numbers."""
    return one == other or (_NUMBER.sub("#", one) == _NUMBER.sub("#", other) and all(
        math.isclose(float(a), float(b), rel_tol=3e-4, abs_tol=1e-9)
        for a, b in zip(_NUMBER.findall(one), _NUMBER.findall(other), strict=True)))


def of_point(point: Any) -> Iterator[Row]:
    """Every quantity of a unit's point, and what its supplies, strings and heaters come to."""
    from pipeline.point.charge import held_uf, running_current

    yield "mains", said(point.mains)
    yield "wall", said(running_current(point.unit, point.states, point.mains))
    for q in point.quantities:
        yield f"{q.at}/{q.section or '-'}/{q.quantity}", said(
            {name: value for name, value in known(q).items() if name not in ("at", "section", "quantity")})
    for one in point.wired:
        yield f"wired {one.place.ref}/{one.place.section or '-'}", said(
            [one.section, one.plate, one.screen, one.cathode, one.grid, one.grid_v, one.fixed_bias, one.missing, one.mend])
    for one in point.insulated:
        yield f"insulation {one.part.ref}", said(one[1:])
    for name, string in point.strings.items():
        yield f"string {name}", said([string.ohms, string.amps, string.across_v, string.tap is not None])
    for state in point.states:
        yield f"supply {state.id}", said([
            state.circuit if state.rectified else "-", state.source_ohm, state.reservoir_uf, state.about_v, state.fresh_v,
            state.missing, state.mend, state.rests_on, state.crest_v(1.0), state.largest, held_uf(state), state.estimated,
            state.device.kind, state.device.perveance, state.device.threshold_v, state.refs_on(state.node_ids[0])
            if state.node_ids else "-"])
        yield from _of_supply(state)


def _of_supply(state: Any) -> Iterator[Row]:
    from pipeline.point.charge import bleeder_ohm, drain_s
    from pipeline.point.supply import DESIGN, HALF_LOAD, HIGH, NO_LOAD, SIGNAL, SIGNAL_HIGH, TODAY
    from pipeline.point.what_if import aged_v, curve, in_series, stepped

    rows = (TODAY, HIGH, DESIGN, NO_LOAD, HALF_LOAD, SIGNAL, SIGNAL_HIGH)
    for node in state.node_ids if not state.missing else ():
        ohms = bleeder_ohm(state, node)
        yield f"node {state.id}/{node}", said(
            [[state.node_v(node, row) for row in rows], state.ripple_v(node), state.ripple_rms_v(node),
             state.no_load_v(node), state.cold_start_v(node), state.start_crest_v(node), state.capacitor_start_v(node),
             state.capacitor_start_today_v(node), state.capacitor_v(node, HIGH), state.share(node), ohms,
             drain_s(state, node, ohms) if ohms else None])
    if state.solved is not None and state.feeder is None:
        yield f"amps {state.id}", said(
            [state.switch_on_a(), *([f(row) for row in (TODAY, HIGH, DESIGN, SIGNAL)] for f in (
                state.plate_peak_a, state.load_a, state.winding_rms_a, state.plate_rms_a)),
             [state.capacitor_rms_a(node, HIGH) for node in state.node_ids], state.peak_limit_a, state.kept_by_maker,
             state.design_centre])
        silicon = in_series(state, [0.0, 50.0], 0.7)
        yield f"what if {state.id}", said([*stepped(state, [0.3, 0.8]), silicon.dc_v, aged_v(state),
                                           *curve(state), *curve(state, high=True)])


def of_checks(checked: Any) -> Iterator[Row]:
    """Every finding of a unit: verdict, figure, limit, grade, what it covers; and what was not judged."""
    yield "status", said([checked.status, len(checked.recalled), len(checked.findings)])
    for f in checked.findings:
        yield f"{f.check} {f.subject}", said(
            [f.verdict, f.figure, f.limit, f.unit, f.sense, f.rests_on, f.covers, bool(f.do), f.why.ljust(24), f.do.ljust(24)])
    for one in checked.not_judged:
        yield f"not judged {one.ref}", said([one.marking, one.why, bool(one.do)])


def of_bench(checked: Any, catalogue: Any, number: int) -> Iterator[Row]:
    """The order, what to expect, one way of bringing the unit up, its care, one swap, and its readings compared."""
    from pipeline.bench.bringup import WAYS, bring_up
    from pipeline.bench.care import care_of
    from pipeline.bench.compare import compare_record
    from pipeline.bench.expected import expected
    from pipeline.bench.order import make_order
    from pipeline.bench.parts import DEPTHS
    from pipeline.bench.swap import candidates, swap

    order = make_order([("unit", checked)], catalogue, DEPTHS[number % 3], 10.0 * (number % 2))
    yield "order", said([order.notes, len(order.recalled), [c.replaced and sorted(c.replaced) for c in order.closed]])
    for line in order.lines:
        yield f"buy {' '.join(line.refs)}", said(line)
    for name, row in (*(("leave", x) for _, x in order.leave), *(("out", x) for _, x in order.out)):
        yield f"{name} {row.ref}", said(row)
    for one in order.blocked:
        yield f"blocked {one.subject}", said(one)
    for row in expected(checked):
        yield f"expect {row.at} {row.reading}", said(
            [row.value, row.low, row.high, row.unit, row.place, row.why.ljust(24), row.rests_on, row.beside])
    way = list(WAYS.values())[number % 3]
    made = bring_up(checked, catalogue, way)
    yield f"bring up {way}", said([made.mend_first, made.notes, made.rests_on])
    for n, step in enumerate(made.steps):
        yield f"step {n}", said([step.title, step.set_v, step.wait_s, step.condition, step.do, step.stop, step.otherwise,
                                 [(x.at, x.reading, x.value, x.low, x.high) for x in step.expect]])
    for care in care_of(checked.unit, catalogue):
        yield f"care {care.ref}", said(care)
    if checked.unit.readings:
        yield "record", said(compare_record(checked.unit, catalogue).as_dict())
    tubes = [p.ref for p in checked.unit.parts.values() if p.kind == "tube" and p.ratings is not None]
    if tubes:
        ref = tubes[number % len(tubes)]
        for name in candidates(checked, ref, catalogue)[:1]:
            yield f"swap {ref} {name}", said([getattr(swap(checked, ref, name, catalogue), what)
                                             for what in ("verdict", "reasons", "changes", "findings")])


def outcome(storey: str, name: str, folder: Path, catalogue: Any) -> list[Row]:
    """Everything that one storey makes of a unit written to a new folder."""
    from pipeline.checks.check import check
    from pipeline.point.point import operating_point
    from pipeline.unit import load

    unit = load(write(name, folder), catalogue)
    if storey == "point":
        return list(of_point(operating_point(unit, catalogue)))
    checked = check(unit, catalogue)
    return list(of_checks(checked) if storey == "checks" else of_bench(checked, catalogue, list(units()).index(name)))


@cache
def golden(storey: str) -> dict[str, list[Row]]:
    """Unit → what was last reviewed."""
    found: dict[str, list[Row]] = {name: [] for name in units()}
    with (HERE / f"{storey}.csv").open(encoding="utf-8", newline="") as file:
        for name, place, what in list(csv.reader(file))[1:]:
            found.setdefault(name, []).append((place, what))
    return found


def moved(before: list[Row], now: list[Row]) -> list[str]:
    """What differs, in lines; empty where all is as reviewed."""
    lines = [f"{place}: {was}\n{' ' * len(place)}  {what}" for (place, was), (again, what) in zip(before, now, strict=False)
             if place != again or not alike(was, what)]
    return lines + ([f"{len(before)} rows before, {len(now)} now"] if len(before) != len(now) else [])


def write_all(catalogue: Any, folder: Path) -> None:
    """Write the three files anew; `folder` is an empty one for the units."""
    for storey in STOREYS:
        rows = [(name, *row) for name in units()
                for row in outcome(storey, name, folder / f"{storey}-{name}", catalogue)]
        with (HERE / f"{storey}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file, lineterminator="\n").writerows([("unit", "place", "outcome"), *rows])
