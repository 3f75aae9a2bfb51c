"""New capacitors for old: the kind the role asks for, a stocked value, and volts enough for switch-on."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import NamedTuple

from pipeline.bench.parts import AC_KINDS, Choice, Replacement, shown_value, unknown_line
from pipeline.bench.resistors import resistor_for
from pipeline.bench.stock import Stock
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.checks.first_capacitor import computed_limit, published_limit
from pipeline.electrics.capacitors import leakage_of_new, nearest_stocked, series_balance, surge_voltage
from pipeline.electrics.safety import TOUCH_LIMIT_A, leakage_current, leakage_farad
from pipeline.point.supply import HIGH, SupplyState
from pipeline.point.tree import node_uf
from pipeline.unit import LETTERS, Part

Row = dict[str, Figure]
PAIR_MARGIN = 1.1
"""Two in series share the volts unevenly: each is taken to bear 10 % more than half (practice)."""
FAR_OVERSIZED = 2.0
"""An old rating more than this many times the worst volts need not be matched (practice)."""
STANDARDS = {"class X": "IEC 60384-14", "class Y": "IEC 60384-14",
             "film ac": "IEC 60252-1 class B (10000 h) or A (30000 h)"}
CAN_NOTE = "Disconnect the old can's section; the can may stay in its place, never in parallel with the new part."


@dataclass(frozen=True)
class Need:
    """What the new part must be: old value, the volts it must bear and why, how large it may be at most.

    `most_why` says what sets the limit, `ripple_a` the rms current it must carry.
    """

    uf: float
    volts: float | None
    why: str
    most_uf: float = math.inf
    rests_on: tuple[Figure, ...] = ()
    most_why: str = "the rectifier bears no more"
    ripple_a: float | None = None
    caution: str = ""


class Found(NamedTuple):
    """A stocked part, how many of it, and what to say about it."""

    row: dict
    quantity: int = 1
    arrangement: str = ""
    remark: str = ""
    caution: str = ""
    balance: Replacement | None = None


def lines_for(part: Part, role: Row, choice: Choice, checked: Checked, stock: Stock) -> Iterator[Replacement]:
    """A line for each section of the part, and for what a pair in series needs beside it."""
    several = len(part.reading.sections) > 1
    for index in range(len(part.reading.sections)):
        ref = f"{part.ref}{LETTERS[index]}" if several else part.ref
        need = need_of(part, index, role, checked)
        why = choice.by_section.get(ref, choice.why)
        yield from _lines(ref, part, role, need, stock, why, several or _in_can(part, checked))


def _in_can(part: Part, checked: Checked) -> bool:
    """Whether another part of the list is a further section of the same can: C1A beside C1B."""
    stem = part.ref[:-1]
    return part.ref[-1:] in LETTERS and stem[-1:].isdigit() and any(
        f"{stem}{letter}" in checked.unit.parts for letter in LETTERS if f"{stem}{letter}" != part.ref)


def need_of(part: Part, index: int, role: Row, checked: Checked) -> Need:
    """What the new part for one section must bear."""
    section, state, kind = part.reading.sections[index], checked.state, role["kinds"].value.split(";")[0]
    if kind in AC_KINDS:
        return _on_the_line(part, section.uf, kind, checked)
    node = next((n for i, n in state.sections_of(part) if i == index), None) if state else None
    if state is not None and node is not None:
        return _on_node(part, index, node, state)
    tube = checked.unit.parts.get(part.first_at)
    cathode = tube.measured.get("cathode_v") if tube and part.role == "cathode bypass" else None
    if section.volts_dc is None and cathode is None and state is not None and part.role in ("coupling", "tone"):
        worst = max(state.no_load_v(n.id) for n in state.nodes)
        return Need(section.uf, worst, f"no node is given: taken for the {worst:.0f} V that B+ can reach",
                    rests_on=state.rests_on)
    if tube is not None and cathode is not None and cathode > (section.volts_dc or 0.0):
        return Need(section.uf, cathode, f"{tube.ref}'s cathode stands at {cathode:g} V")
    return Need(section.uf, section.volts_dc, "as the old part")


def _on_the_line(part: Part, uf: float, kind: str, checked: Checked) -> Need:
    mains = checked.mains
    volts = mains.high_v if kind != "film ac" else max(mains.high_v, part.reading.volts_ac or 0.0)
    need = Need(uf, volts, f"{mains.high_v:g} V AC mains", rests_on=mains.rests_on)
    if kind != "class Y":
        return need
    amps = float(leakage_current(uf * 1e-6, mains.high_v, mains.hertz))
    if amps <= TOUCH_LIMIT_A:
        return need
    most = float(leakage_farad(TOUCH_LIMIT_A, mains.high_v, mains.hertz)) * 1e6
    may, hurts = (checked.point.allowances[f"touch current{more}"] for more in ("", " that injures"))
    figures = (*mains.rests_on, may)
    if amps > hurts.value:
        return replace(need, most_uf=most, rests_on=(*figures, hurts),
                       most_why=f"{uf:g} µF would let {amps * 1000:.2g} mA through a person")
    return replace(need, rests_on=figures, caution=f"it lets {amps * 1000:.2g} mA through a person who touches the "
                   f"chassis; where the chassis can be touched take {most * 1000:.2g} nF or less")


def _on_node(part: Part, index: int, node: str, state: SupplyState) -> Need:
    section = part.reading.sections[index]
    work, cold = state.capacitor_v(node, HIGH), state.capacitor_start_v(node)
    worst = max(v for v in (work, cold, 0.0) if v is not None)
    halves = " across each half" if state.share(node) != 1.0 else ""
    why = f"{node} works at up to {work:.0f} V{halves}, {cold:.0f} V at switch-on" if work else \
        f"{node} reaches {cold:.0f} V{halves}"
    volts = worst
    if section.volts_dc and section.volts_dc < FAR_OVERSIZED * worst:
        volts = max(worst, section.volts_dc)
    need = Need(section.uf, volts, why, rests_on=state.rests_on)
    name = part.ref if len(part.reading.sections) == 1 else f"{part.ref}{LETTERS[index]}"
    if name not in state.refs_on(node):
        return need
    share = section.uf / (node_uf(next(n for n in state.nodes if n.id == node), state.unit) or section.uf)
    if state.solved is not None:
        need = replace(need, ripple_a=state.capacitor_rms_a(node, HIGH) * share * _single_pulse(state))
    if node != state.nodes[0].id or state.supply.input != "capacitor":
        return need
    limits = [x for x in (published_limit(state), computed_limit(state)) if x]
    if not limits:
        return need
    tightest = min(limits, key=lambda x: x.uf)
    said = f"at most {tightest.uf:g} µF on this rectifier" if tightest.uf else tightest.why
    return replace(need, most_uf=tightest.uf * share, why=f"{why}; {said}",
                   rests_on=(*state.rests_on, *(f for x in limits for f in x.rests_on)))


def _single_pulse(state: SupplyState) -> float:
    """Ripple current at mains frequency weighs more against a rating at twice that."""
    return 1 / state.allowances["ripple at mains frequency"].value if state.supply.circuit == "half-wave" else 1.0


def _lines(ref: str, part: Part, role: Row, need: Need, stock: Stock, why: str, in_can: bool) -> list[Replacement]:
    rests_on = tuple(dict.fromkeys((role["kinds"], *need.rests_on)))
    if need.volts is None:
        return [unknown_line(ref, part.marking, "µF", f"{ref} {part.shown}: the volts are not known. Write its node "
                             "in `at`, or its volts.", rests_on)]
    if not need.most_uf:
        return [unknown_line(ref, part.marking, "µF", f"no first capacitor serves here ({need.why}). Find what draws "
                             "so much, or add resistance in series with each plate, then check again.", rests_on)]
    low, high = (role[q].value / 100 if q in role else default
                 for q, default in (("tolerance_low_pct", -0.1), ("tolerance_high_pct", 0.5)))
    for kind in role["kinds"].value.split(";"):
        serves = [r for r in stock.capacitors if r["kind"] == kind and _class_fits(r, role)]
        found = single(need, serves, low, high)
        if found is None and kind == "electrolytic":
            found = pair_in_series(need, serves, low, high, stock)
        if found is not None:
            line = _line(ref, part, found, need, rests_on, stock, why)
            line = replace(line, note=CAN_NOTE if in_can and kind == "electrolytic" else "")
            extra = [replace(found.balance, ref=f"{ref} balance", marking=part.marking)] if found.balance else []
            return [line, *extra]
    return [unknown_line(ref, part.marking, "µF", f"no stocked part near {min(need.uf, need.most_uf):g} µF bears "
                         f"{need.volts:.0f} V ({need.why}).", rests_on)]


def _line(ref: str, part: Part, found: Found, need: Need, rests_on: tuple[Figure, ...], stock: Stock,
          why: str) -> Replacement:
    row, kind = found.row, found.row["kind"]
    cautions = [c for c in (need.caution, found.caution) if c]
    volts = f"{row['volts']:g} V{' AC' if kind in AC_KINDS else ''}"
    words = f"{kind}, {_amount(found)} for {need.uf:g} µF, {volts}: {need.why}"
    words += f"; {found.remark}" if found.remark else ""
    words += "".join(f"; {c}" for c in cautions)
    ripple = need.ripple_a / (found.quantity if found.arrangement == "in parallel" else 1) if need.ripple_a else None
    return Replacement(
        ref, part.marking, kind, row["uf"], "µF", row["volts"], found.quantity, "caution" if cautions else "pass",
        f"{words}. Replaced because: {why}.", rests_on, tolerance_pct=row["tolerance_pct"],
        temperature_c=row["temperature_c"], safety_class=row["safety_class"] or None, standard=STANDARDS.get(kind, ""),
        ripple_a=float(f"{ripple:.2g}") if ripple else None,
        lead_style=stock.kinds.get(kind, {}).get("lead_style"), arrangement=found.arrangement)


def _amount(found: Found) -> str:
    uf = found.row["uf"]
    if found.arrangement == "in series":
        return f"two of {uf:g} µF in series make {uf / 2:g} µF"
    if found.arrangement == "in parallel":
        return f"{found.quantity} of {uf:g} µF in parallel make {uf * found.quantity:g} µF"
    return f"{uf:g} µF"


def single(need: Need, serves: list[dict], low: float, high: float) -> Found | None:
    """One stocked part, or as many in parallel as its ripple rating asks for."""
    found = _nearest(need, serves, low, high)
    if found is None or need.ripple_a is None or _carries(found.row, need.ripple_a) is not False:
        return found
    able = [r for r in serves if _carries(r, need.ripple_a)]
    if better := _nearest(need, able, low, high):
        return better._replace(remark=f"the next size that carries {need.ripple_a:.2g} A of ripple current")
    half = replace(need, uf=need.uf / 2, most_uf=need.most_uf / 2)
    able = [r for r in serves if _carries(r, need.ripple_a / 2)]
    if pair := _nearest(half, able, low, high):
        return pair._replace(quantity=2, arrangement="in parallel",
                             remark=f"they share {need.ripple_a:.2g} A of ripple current")
    return found._replace(caution=f"it must carry {need.ripple_a:.2g} A rms of ripple current; stocked parts of this "
                          f"size are rated {found.row['ripple_a']:g} A: choose a series rated for it")


def _carries(row: dict, amps: float) -> bool | None:
    """Whether the part's ripple rating is enough; None where the stock table does not know it."""
    return None if row.get("ripple_a") is None else row["ripple_a"] >= amps


def _nearest(need: Need, serves: list[dict], low: float, high: float) -> Found | None:
    """The stocked part nearest in the tolerance band, else the largest below what limits it."""
    if need.volts is None:
        return None
    bears = [r for r in serves if r["volts"] >= need.volts - 0.5]
    values = sorted({r["uf"] for r in bears})
    if not values:
        return None
    value, remark = float(nearest_stocked(need.uf, values, low, high, need.most_uf)), ""
    if not math.isfinite(value):
        least = 0.5 * min(need.uf, need.most_uf)
        below = [v for v in values if least <= v <= need.most_uf < need.uf * (1 + high)]
        if not below:
            return None
        value, remark = max(below), f"less than the old value, because {need.most_why}"
    return Found(min((r for r in bears if r["uf"] == value), key=lambda r: r["volts"]), remark=remark)


def pair_in_series(need: Need, serves: list[dict], low: float, high: float, stock: Stock) -> Found | None:
    """Two equal electrolytics in series with a balancing resistor across each."""
    if need.volts is None:
        return None
    each = replace(need, uf=2 * need.uf, volts=need.volts / 2 * PAIR_MARGIN, most_uf=2 * need.most_uf)
    found = single(each, serves, low, high)
    if found is None or found.quantity > 1 or found.row["volts"] <= 100:
        return None
    value, volts = found.row["uf"], found.row["volts"]
    balance = series_balance(need.volts, value * 1e-6, volts, float(leakage_of_new(value * 1e-6, volts)))
    if float(balance.switch_on_v) > float(surge_voltage(volts)):
        return None
    resistor = resistor_for(float(balance.ohms), stock.resistors, stock.series, volts=volts, at_most=True)
    if resistor is None:
        return None
    ohms = shown_value(resistor.value, "ohm")
    why = (f"one across each of the two in series: {shown_value(float(balance.ohms), 'ohm')} is the most that still "
           f"shares {need.volts:.0f} V when one leaks all it may; at {volts:g} V it burns "
           f"{volts**2 / resistor.value:.2g} W.")
    remarks = [f"each with {ohms} {resistor.watts:g} W across it", found.remark]
    return found._replace(
        quantity=2, arrangement="in series", remark="; ".join(x for x in remarks if x),
        balance=replace(resistor, quantity=2, why=why, arrangement="one across each capacitor"))


def _class_fits(row: dict, role: Row) -> bool:
    wanted = role["safety_class"].value[0] if "safety_class" in role else ""
    return wanted in (row["safety_class"] or "") if wanted else True
