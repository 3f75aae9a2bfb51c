"""New lamps and fuses: of the right volts and less current, of the right amps and speed."""

import re

from pipeline.bench.parts import Leave, Replacement, unknown_line
from pipeline.bench.policy import About
from pipeline.bench.stock import Stock
from pipeline.catalogue import Figure
from pipeline.checks.check import Checked
from pipeline.electrics.safety import choose_fuse
from pipeline.point.charge import running_current
from pipeline.unit import Part, Winding

Row = dict[str, Figure]
LAMP_WITHIN = 0.1
"""A lamp within this of the winding's volts suits it: life goes as the 12th power (practice)."""
_BASES = {"E10": r"\b(?:screw|e10|mes)\b", "BA9s": r"\b(?:bayonet|ba9s?|mcc)\b"}
_LAMP_REF = r"(?i)(?:PL|LP|DL|LAMP|DS)\d*$"


def is_lamp(part: Part) -> bool:
    """A lamp, or what by its role or ref must be one although its marking cannot be read."""
    return part.kind == "lamp" or (part.kind is None and (part.role == "lamp" or bool(re.match(_LAMP_REF, part.ref))))


def lamp_advice(part: Part, checked: Checked, about: About, stock: Stock) -> Replacement | Leave | None:
    """A lamp of other volts, of less current on an overloaded winding, or in the place of an unknown one."""
    winding = checked.unit.winding_of(part)
    if winding is None:
        return None
    own = part.ratings.rows("lamps").get(part.ratings.type) if part.ratings else None
    wrong = next((f for f in about.get(part.ref, ()) if f.check == "heater-voltage" and f.verdict == "stop"), None)
    if part.kind is None or wrong:
        why = wrong.why.rstrip(".") if wrong else f"its marking cannot be read; {winding.id} gives {winding.volts:g} V"
        return _fitting(part, own, winding, stock.lamps, why)
    load = next((f for f in about.get(winding.id, ()) if f.check == "heater-load"), None)
    over = load.excess if load is not None and load.verdict == "stop" else None
    if over is not None and own and "lamp_a" in own:
        return _weaker(part, own, winding, stock.lamps, over)
    return Leave(part.ref, part.marking, "replace it when it fails, by the same number", _figures(own))


def _figures(row: Row | None) -> tuple[Figure, ...]:
    return tuple(row[q] for q in ("lamp_v", "lamp_a") if q in row) if row else ()


def _for_winding(winding: Winding, base: str | None, lamps: dict[str, Row]) -> list[tuple[str, Row]]:
    """Lamps of the winding's volts and that base, the weakest first; two alike by the lower number."""
    found = [(t, r) for t, r in lamps.items() if {"lamp_v", "lamp_a", "base"} <= r.keys()
             and abs(winding.volts / r["lamp_v"].value - 1) <= LAMP_WITHIN and r["base"].value == base]
    return sorted(found, key=lambda pair: (pair[1]["lamp_a"].value, len(pair[0]), pair[0]))


def _base_said(part: Part, own: Row | None) -> str | None:
    if own and "base" in own:
        return own["base"].value
    text = f"{part.marking} {part.note}".lower()
    return next((base for base, words in _BASES.items() if re.search(words, text)), None)


def _fitting(part: Part, own: Row | None, winding: Winding, lamps: dict[str, Row], why: str) -> Replacement:
    base = _base_said(part, own)
    found = _for_winding(winding, base, lamps)
    if not found:
        choices = {b: _for_winding(winding, b, lamps) for b in _BASES}
        examples = [f"{fits[0][0]} for {b}" for b, fits in choices.items() if fits]
        more = f": {', '.join(examples)}" if examples else ""
        return unknown_line(part.ref, part.marking, "V", f"{why}. Say in the note whether its base is screw (E10) or "
                            f"bayonet (BA9s){more}.")
    return _line(part, *found[0], f"{why}.")


def _line(part: Part, type_: str, row: Row, why: str) -> Replacement:
    volts, amps, base = (row[q].value for q in ("lamp_v", "lamp_a", "base"))
    return Replacement(part.ref, part.marking, "lamp", volts, "V", None, 1, "pass",
                       f"lamp {type_}, {volts:g} V {amps:g} A, base {base}: {why}", (*_figures(row), row["base"]),
                       type=type_)


def _weaker(part: Part, own: Row, winding: Winding, lamps: dict[str, Row], over: float) -> Replacement | Leave:
    """A lamp of less current where that alone brings the winding, `over` amps too much, within its rating."""
    weaker = [pair for pair in _for_winding(winding, _base_said(part, own), lamps)
              if own["lamp_a"].value - pair[1]["lamp_a"].value >= over - 1e-9]
    if not weaker:
        return Leave(part.ref, part.marking, f"{winding.id} is {over:.2g} A over its rating, and no other lamp alone "
                     "mends that", _figures(own))
    most = weaker[-1][1]["lamp_a"].value
    type_, row = next(pair for pair in weaker if pair[1]["lamp_a"].value == most)
    less = own["lamp_a"].value - row["lamp_a"].value
    return _line(part, type_, row, f"it takes {less:.2g} A off {winding.id}, which is {over:.2g} A over its rating.")


def fuse_advice(part: Part, checked: Checked, about: About) -> Replacement | Leave | None:
    """A fuse of the rating the set asks for in the place of one far too large; else the reason to keep it."""
    found = next((f for f in about.get(part.ref, ()) if f.check == "fuse"), None)
    running = running_current(checked.unit, checked.point.states, checked.mains) if checked.state and found else None
    amps = part.reading.amps
    if found is None or running is None or amps is None:
        return Leave(part.ref, part.marking, "keep the maker's rating and speed") if amps else None
    system = "iec" if checked.mains.hertz < 55 else "ul"
    wanted = float(choose_fuse(running, system))
    if found.verdict == "pass" or amps <= wanted:
        return Leave(part.ref, part.marking, found.why.rstrip(".") + ": the maker's figure comes first", found.rests_on)
    form, rule = _form(part.marking, system), checked.point.allowances["fuse over running current"]
    return Replacement(part.ref, part.marking, "fuse", wanted, "A", None, 1,
                       "pass" if found.verdict == "stop" else "caution",
                       f"time-lag fuse of {wanted:g} A, {form}: {found.why} The maker's figure, where one is on the "
                       "chassis, comes first.", (*found.rests_on, rule), speed="time-lag", size=form,
                       standard="IEC 60127" if system == "iec" else "UL 248-14")


def _form(marking: str, system: str) -> str:
    if re.search(r"(?i)3AG|6[.,]3\s*x|\bAGC|\bMD[LX]", marking):
        return "6.3 x 32 mm"
    if re.search(r"(?i)5\s*x\s*20|\bGM[AC]", marking):
        return "5 x 20 mm"
    return "5 x 20 mm, or as the holder takes" if system == "iec" else "6.3 x 32 mm, or as the holder takes"
