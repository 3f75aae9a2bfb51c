"""New capacitors for old: the kind the role asks for, a stocked value, and volts enough for switch-on."""

import math
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from pipeline.amounts import written
from pipeline.bench.needs import ENOUGH, Need, home_of, need_of
from pipeline.bench.parts import AC_KINDS, IN_PARALLEL, IN_SERIES, Choice, Replacement, shown_value, unknown_line
from pipeline.bench.resistors import resistor_for
from pipeline.bench.stock import Stock
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.electrics.capacitors import leakage_of_new, nearest_stocked, series_balance, surge_voltage
from pipeline.point.tree import UNBALANCED, balance_ohm
from pipeline.records import replace
from pipeline.unit import LETTERS, Part, Place

Row = dict[str, Figure]
STANDARDS = {"class X": "IEC 60384-14", "class Y": "IEC 60384-14",
             "film ac": "IEC 60252-1 class B (10000 h) or A (30000 h)"}
CAN_NOTE = "Disconnect the old can's section; the can may stay in its place, never in parallel with the new part."
NODE_ROLES = ("reservoir", "smoothing", "bias filter")
"""Roles in which one electrolytic may become two in series."""


class Found(NamedTuple):
    """A stocked part, how many of it, and what to say about it."""

    row: dict
    quantity: int = 1
    arrangement: str = ""
    remark: str = ""
    caution: str = ""
    balance: Replacement | None = None


def lines_for(part: Part, role: Row, choice: Choice, seen: Sequence[Checked], stock: Stock,
              gentle: bool = False) -> Iterator[Replacement]:
    """A line for each section of the part, and for the balance resistors that a chain in series needs beside it.

    `seen` and `gentle` as for `need_of`.
    """
    several = len(part.reading.sections) > 1
    for index in range(len(part.reading.sections)):
        ref = f"{part.ref}{LETTERS[index]}" if several else part.ref
        need = need_of(part, index, role, seen, gentle)
        why = choice.by_section.get(ref, "the can goes as a whole" if choice.by_section and several else choice.why)
        lines = _lines(ref, part, role, need, stock, why, several or _in_can(part, seen[0]))
        yield from lines
        if need.links > 1 and lines[0].verdict != "unknown":
            yield from _balance(ref, part, Place(part.ref, LETTERS[index] if several else None), lines[0], need,
                                seen[0], stock)


def _balance(ref: str, part: Part, place: Place, line: Replacement, need: Need, checked: Checked,
             stock: Stock) -> Iterator[Replacement]:
    """The resistor across one new capacitor of a chain, where none stands there: of the ohms the others have."""
    home = home_of(place, checked)
    if home is None or balance_ohm(place, checked.unit):
        return
    volts, value = line.volts or 0.0, line.value or 0.0
    known = [ohms for other in home.chain if (ohms := balance_ohm(other, checked.unit))]
    if known:
        wanted, found = min(known), resistor_for(min(known), stock.resistors, stock.series, volts=volts,
                                                 watts=2 * volts**2 / min(known))
    else:
        wanted = float(series_balance(need.chain_v or 0.0, value * 1e-6, volts, float(
            leakage_of_new(value * 1e-6, volts)), count=need.links).ohms) if need.links * volts > (
                need.chain_v or 0.0) else 0.0
        found = resistor_for(wanted, stock.resistors, stock.series, volts=volts, at_most=True) if wanted else None
    if found is None:
        yield unknown_line(f"{ref} balance", part.marking, "ohm", f"{ref} stands in series with others without a "
                           "balance resistor, and no stocked one serves: use two in series.")
        return
    why = f"across {ref}: without one the leakage of the others decides how the {need.chain_v:.0f} V are shared; " \
          f"{shown_value(wanted, 'ohm')} {'as across the others' if known else 'is the most that still shares them'}."
    yield replace(found, ref=f"{ref} balance", marking=part.marking, why=why, arrangement="across the capacitor")


def _in_can(part: Part, checked: Checked) -> bool:
    """Whether another part of the list is a further section of the same can: C1A beside C1B."""
    stem = part.ref[:-1]
    return part.ref[-1:] in LETTERS and stem[-1:].isdigit() and any(
        f"{stem}{letter}" in checked.unit.parts for letter in LETTERS if f"{stem}{letter}" != part.ref)


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
        if found is None and need.enough_v and (
                less := single(replace(need, volts=need.enough_v), serves, low, high)):
            found = less._replace(remark="; ".join(x for x in (
                less.remark, f"no single stocked part matches the old {need.volts:g} V, and {ENOUGH:g} times the worst "
                "volts are enough") if x))
        if found is None and kind == "electrolytic" and not need.single and role["kinds"].subject in NODE_ROLES:
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
    ripple = need.ripple_a / (found.quantity if found.arrangement == IN_PARALLEL else 1) if need.ripple_a else None
    return Replacement(
        ref, part.marking, kind, row["uf"], "µF", row["volts"], found.quantity, "caution" if cautions else "pass",
        f"{words}. Replaced because: {why}.", rests_on, tolerance_pct=row["tolerance_pct"],
        temperature_c=row["temperature_c"], safety_class=row["safety_class"] or None, standard=STANDARDS.get(kind, ""),
        ripple_a=float(f"{ripple:.2g}") if ripple else None,
        lead_style=stock.kinds.get(kind, {}).get("lead_style"), arrangement=found.arrangement)


def _amount(found: Found) -> str:
    uf = found.row["uf"]
    if found.arrangement == IN_SERIES:
        return f"two of {uf:g} µF in series make {uf / 2:g} µF"
    if found.arrangement == IN_PARALLEL:
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
    able = [r for r in serves if _carries(r, need.ripple_a / 2)] if not need.single else []
    if pair := _nearest(half, able, low, high):
        return pair._replace(quantity=2, arrangement=IN_PARALLEL,
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
    each = replace(need, uf=2 * need.uf, volts=need.volts * UNBALANCED, most_uf=2 * need.most_uf)
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
           f"{written(volts**2 / resistor.value, 2)} W.")
    remarks = [f"each with {ohms} {resistor.watts:g} W across it", found.remark]
    return found._replace(
        quantity=2, arrangement=IN_SERIES, remark="; ".join(x for x in remarks if x),
        balance=replace(resistor, quantity=2, why=why, arrangement="one across each capacitor"))


def _class_fits(row: dict, role: Row) -> bool:
    wanted = role["safety_class"].value[0] if "safety_class" in role else ""
    own = row["safety_class"] or ""
    return not wanted or wanted in own or (wanted == "X" and "Y" in own)
