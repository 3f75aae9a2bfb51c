"""New parts for old capacitors: the kind its role asks for, a stocked value, and volts enough for switch-on."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from pipeline.catalogue import Catalogue, Figure
from pipeline.checks.check import Checked
from pipeline.checks.findings import weakest
from pipeline.checks.rectifier import computed_limit, published_limit
from pipeline.electrics.capacitors import leakage_of_new, nearest_stocked, series_balance
from pipeline.unit import Part

AC_KINDS = ("film ac", "class X", "class Y", "non-polar electrolytic")
SECTION_LETTERS = "ABCDEFGH"
PAIR_MARGIN = 1.1
"""Two in series share the volts unevenly: each is taken to bear 10 % more than half (practice)."""
FAR_OVERSIZED = 2.0
"""An old rating more than this many times the worst volts need not be matched (practice)."""


@dataclass(frozen=True)
class Replacement:
    """One part to buy: `value` in `unit`, `volts` DC, or AC for AC kinds; `verdict` as for findings."""

    ref: str
    marking: str
    kind: str | None
    value: float | None
    unit: str
    volts: float | None
    quantity: int
    verdict: str
    why: str
    rests_on: tuple[Figure, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """The line under the names of the JSON contract."""
        return {"ref": self.ref, "marking": self.marking, "kind": self.kind, "value": self.value,
                "unit": self.unit, "volts": self.volts, "quantity": self.quantity, "verdict": self.verdict, "why": self.why,
                "evidence": weakest(f.evidence for f in self.rests_on)}


@dataclass(frozen=True)
class Need:
    """What the new part must be: old value, the volts it must bear and why, and how large it may be at most."""

    uf: float
    volts: float | None
    why: str
    most_uf: float = math.inf
    rests_on: tuple[Figure, ...] = ()


def replacements(checked: Checked, catalogue: Catalogue) -> list[Replacement]:
    """New parts for every capacitor that its role says to replace, or that a finding stops."""
    stock = catalogue.stock
    stopped = {f.subject.rstrip(SECTION_LETTERS) if f.subject not in checked.unit.parts else f.subject
               for f in checked.findings if f.verdict == "stop" and f.check.startswith("capacitor-")}
    found: list[Replacement] = []
    for part in checked.unit.parts.values():
        role = checked.roles.get(part.role or "")
        if part.kind == "capacitor" and role and (role["replace"].value == "always" or part.ref in stopped):
            found += _for_part(part, role, checked, stock)
    return found


def _for_part(part: Part, role: dict[str, Figure], checked: Checked, stock: list[dict]) -> Iterator[Replacement]:
    several = len(part.reading.sections) > 1
    for index in range(len(part.reading.sections)):
        ref = f"{part.ref}{SECTION_LETTERS[index]}" if several else part.ref
        yield _line(ref, part, role, _need(part, index, role, checked), stock)


def _need(part: Part, index: int, role: dict[str, Figure], checked: Checked) -> Need:
    section, state = part.reading.sections[index], checked.state
    if role["kinds"].value.split(";")[0] in AC_KINDS:
        volts = max(checked.mains.high_v, part.reading.volts_ac or 0.0)
        return Need(section.uf, volts, f"{checked.mains.high_v:g} V AC mains", rests_on=checked.mains.rests_on)
    node = next((n for i, n in state.sections_of(part) if i == index), None) if state else None
    if node is None:
        return Need(section.uf, section.volts_dc, "as the old part")
    work, cold = state.high_v(node), state.cold_start_v(node)
    worst = max(v for v in (work, cold, 0.0) if v is not None)
    why = f"{node} works at {work:.0f} V, {cold:.0f} V at switch-on" if work else f"{node} reaches {cold:.0f} V"
    volts = worst
    if section.volts_dc and section.volts_dc < FAR_OVERSIZED * worst:
        volts = max(worst, section.volts_dc)
    most, rests_on = math.inf, state.rests_on
    if node == state.nodes[0].id and state.supply.input == "capacitor":
        limits = [x for x in (published_limit(state), computed_limit(state)) if x]
        most = min((x.uf for x in limits), default=math.inf)
        rests_on += tuple(f for x in limits for f in x.rests_on)
        why += f"; at most {most:g} µF on this rectifier" if limits else ""
    return Need(section.uf, volts, why, most, rests_on)


def _line(ref: str, part: Part, role: dict[str, Figure], need: Need, stock: list[dict]) -> Replacement:
    def line(verdict: str, why: str, kind: str | None = None, value: float | None = None,
             volts: float | None = None, quantity: int = 1) -> Replacement:
        rests_on = tuple(dict.fromkeys((role["kinds"], *need.rests_on)))
        return Replacement(ref, part.marking, kind, value, "µF", volts, quantity, verdict, why, rests_on)

    if need.volts is None:
        return line("unknown", f"{part.marking}: the volts are not known. Write its node in `at`, or its volts.")
    low, high = (role[q].value / 100 if q in role else default
                 for q, default in (("tolerance_low_pct", -0.1), ("tolerance_high_pct", 0.5)))
    for kind in role["kinds"].value.split(";"):
        serves = [r for r in stock if r["kind"] == kind and _class_fits(r, role)]
        if found := single(need, serves, low, high):
            value, volts, note = found
            return line("pass", f"{kind}, {value:g} µF for {need.uf:g} µF, {volts:g} V: {need.why}{note}.", kind,
                        value, volts)
        if kind == "electrolytic" and (found := pair_in_series(need, serves, low, high)):
            value, volts, note = found
            return line("pass", f"{note}: {need.why}.", kind, value, volts, 2)
    return line("unknown", f"no stocked part near {min(need.uf, need.most_uf):g} µF bears {need.volts:.0f} V "
                f"({need.why}).")


def single(need: Need, serves: list[dict], low: float, high: float) -> tuple[float, float, str] | None:
    """(µF, volts, remark) of one stocked part: nearest in the tolerance band, else the largest the rectifier bears."""
    bears = [r for r in serves if r["volts"] >= need.volts - 0.5]
    values = sorted({r["uf"] for r in bears})
    if not values:
        return None
    value, note = float(nearest_stocked(need.uf, values, low, high, need.most_uf)), ""
    if not math.isfinite(value):
        below = [v for v in values if v <= need.most_uf < need.uf * (1 + high) and v >= 0.5 * min(need.uf, need.most_uf)]
        if not below:
            return None
        value, note = max(below), "; less than the old value, because the rectifier bears no more"
    return value, min(r["volts"] for r in bears if r["uf"] == value), note


def pair_in_series(need: Need, serves: list[dict], low: float, high: float) -> tuple[float, float, str] | None:
    """(µF of each, volts of each, what to fit) of two equal electrolytics in series with balancing resistors."""
    each = Need(2 * need.uf, need.volts / 2 * PAIR_MARGIN, need.why, 2 * need.most_uf)
    found = single(each, serves, low, high)
    if found is None:
        return None
    value, volts, note = found
    spread = float(leakage_of_new(value * 1e-6, volts))
    balance = series_balance(need.volts, value * 1e-6, volts, spread)
    ohms, watts = float(balance.ohms), float(balance.watts)
    return value, volts, (f"two of {value:g} µF {volts:g} V in series make {value / 2:g} µF, each with "
                          f"{_ohms(ohms)} {max(2 * watts, 0.5):.2g} W across it{note}")


def _ohms(ohms: float) -> str:
    return f"{ohms / 1e6:.2g} Mohm" if ohms >= 1e6 else f"{ohms / 1e3:.3g} kohm"


def _class_fits(row: dict, role: dict[str, Figure]) -> bool:
    wanted = role["safety_class"].value[0] if "safety_class" in role else ""
    return wanted in (row["safety_class"] or "") if wanted else True
