"""Heaters on the sheet: what each winding carries, how a series string divides the line, volts to measure."""

from collections.abc import Sequence
from typing import NamedTuple

from pipeline.amounts import plain
from pipeline.checks.check import Checked
from pipeline.output.sheet.boxes import reading_box
from pipeline.output.sheet.expected import heater_current
from pipeline.output.sheet.markup import Markup, own, section, table, unbroken
from pipeline.output.sheet.words import DAGGER, type_of, volts
from pipeline.output.svg import draw
from pipeline.output.svg.axes import Scale, bottom_axis, step_for, ticks_within
from pipeline.output.svg.budget import Member, WindingLoad, heater_budget
from pipeline.output.svg.draw import LABEL, LEADING, SMALL, TITLE, WIDTH
from pipeline.point.heaters import (
    heater_in_string,
    heater_on_winding,
    is_cold,
    string_members,
)
from pipeline.point.heating import fed_with_dc, winding_volts
from pipeline.unit import HeaterString, Unit, Winding

LEFT, RIGHT, BAR = 10.0, WIDTH - 20, 30.0
MOST_MEMBERS = 60


def heaters_section(checked: Checked) -> Markup | None:
    """The tables of heater volts; None where the unit names no winding and no string."""
    unit = checked.unit
    if not (unit.windings or unit.strings):
        return None
    within = checked.point.allowances["string current"].value / 100
    return section("heaters", "Heater volts", _winding_table(checked),
                   *(_string_table(s, unit, within) for s in unit.strings.values()))


def heater_drawings(checked: Checked) -> list[str]:
    """The windings' budget and each series string as figures."""
    unit = checked.unit
    within = checked.point.allowances["string current"].value / 100
    drawn = [heater_budget(windings_of(unit), key="sheet")] if unit.windings else []
    drawn += [string_drawing(*string_of(s, unit, within), checked.mains.today_v) for s in unit.strings.values()]
    return [svg for svg in drawn if svg]


def windings_of(unit: Unit) -> list[WindingLoad]:
    """Each winding with what hangs on it, as the budget is drawn."""
    return [WindingLoad(w.id, w.volts, w.amps, [
        Member(f"{p.ref} {type_of(p)}", h.amps.value if (h := heater_on_winding(p, w.volts)) and h.amps else None)
        for p in unit.parts.values() if p.is_at(w.id) and not is_cold(p)]) for w in unit.windings.values()]


def _winding_table(checked: Checked) -> Markup | None:
    mains, windings = checked.mains, checked.unit.windings.values()
    today, high = (f"At {mains.today_v:g} V today", f"At {mains.high_v:g} V") if checked.unit.mains_v else \
        ("Today", "At the high end")
    rows = [_winding(w, checked) for w in windings]
    return table("Heater volts to expect", ("Winding", "Nameplate", today, high, "Read, V"), rows,
                 class_="numbers") if rows else None


def _winding(winding: Winding, checked: Checked) -> tuple[object, ...]:
    """A winding's volts, AC unless it is fed with DC or by a battery."""
    point = checked.point
    kind = heater_current(winding.id, checked)
    found = winding_volts(winding.id, checked.unit, checked.mains, point.states, point.quantities) or (None, None)
    reading = "dc_v" if fed_with_dc(winding.id, point.states) else "ac_v"
    cells = [unbroken(volts(v) + (f" {kind}" if v is not None else "")) for v in found]
    return (own(winding.id), unbroken(volts(winding.volts)), *cells,
            reading_box(f"volts read on winding {winding.id}", winding.id, reading))


class StringMember(NamedTuple):
    """A heater in series: its name, its rated volts and amps (None: not known), and whether it fits the string."""

    name: str
    volts: float | None
    amps: float | None
    fits: bool
    ref: str = ""


def string_of(string: HeaterString, unit: Unit, within: float) -> tuple[HeaterString, list[StringMember]]:
    """The string with its members from the line side."""
    found = []
    for part in string_members(string, unit):
        heater = heater_in_string(part, string.amps)
        amps = heater.amps.value if heater else None
        fits = amps is not None and abs(amps / string.amps - 1) <= within
        volts_ = heater.volts.value if heater else None
        found.append(StringMember(f"{part.ref} {type_of(part)}", volts_, amps, fits, part.ref))
    return string, found


def _string_table(string: HeaterString, unit: Unit, within: float) -> Markup:
    members = string_of(string, unit, within)[1]
    rows = [(own(m.name), unbroken("not known" if m.volts is None else f"{m.volts:g} V"),
             "not known" if m.amps is None else f"{m.amps:g} A" + ("" if m.fits else ", does not fit"),
             reading_box(f"volts read across the heater of {m.name}", m.ref, "heater_v")) for m in members]
    caption = f"String {string.id}, {string.amps:g} A, from the line side to the chassis side; rated figures{DAGGER}"
    return table(caption, ("Tube", "Rated volts", "Rated current", "Read, V AC"), rows, class_="numbers")


def string_drawing(string: HeaterString, members: Sequence[StringMember], line_v: float) -> str | None:
    """The members' rated volts end to end against the line's, a member of the wrong current hatched."""
    known = [(m, m.volts) for m in members[:MOST_MEMBERS] if m.volts]
    if not known:
        return None
    total = sum(v for _, v in known)
    most = max(total, line_v) * 1.04
    scale = Scale(0.0, most, LEFT, RIGHT)
    heading = draw.wrap(_heading(string, members, total, line_v), RIGHT - LEFT, LABEL, bold=True)
    y = 34.0 + len(heading) * LEADING[LABEL]
    parts = [draw.text(LEFT, 20, "Series heater string", size=TITLE, bold=True),
             draw.lines(LEFT, 48, heading, bold=True), _bar(known, scale, y + 14)]
    x = scale(line_v)
    parts.append(draw.path([(x, y + 9), (x, y + 19 + BAR)], width=3))
    words = draw.wrap_list([_said(m) for m in members], RIGHT - LEFT, SMALL)
    parts.append(draw.lines(LEFT, y + BAR + 34, words, size=SMALL, ink="quiet"))
    y += BAR + 34 + len(words) * LEADING[SMALL]
    parts.append(draw.text(LEFT, y + 6, "Heavy line: the line today; hatched: another current.", size=SMALL))
    ticks = ticks_within(0.0, most, step_for(most, 6))
    parts.append(bottom_axis(scale, ticks, y + 18, "volts, from the line side"))
    spoken = [_heading(string, members, total, line_v) + ".", *(f"{_said(m)}." for m in members)]
    return draw.document("Series heater string", spoken, y + 60, parts, string.id)


def _heading(string: HeaterString, members: Sequence[StringMember], total: float, line_v: float) -> str:
    least = "at least " if any(m.volts is None for m in members) else ""
    return f"{string.id}, {plain(string.amps)} A: heaters ask {least}{plain(total, 4)} V of {plain(line_v, 4)} V"


def _said(member: StringMember) -> str:
    if member.volts is None or member.amps is None:
        return f"{member.name} not known"
    return f"{member.name} {plain(member.volts)} V" + ("" if member.fits else f" but {plain(member.amps)} A")


def _bar(members: Sequence[tuple[StringMember, float]], scale: Scale, y: float) -> str:
    """The members end to end, each as wide as its rated volts."""
    parts, at = [], 0.0
    for member, rated in members:
        x, wide = scale(at), scale(at + rated) - scale(at)
        parts.append(draw.box(x, y, wide, BAR, fill="tint", width=1.2))
        if not member.fits:
            parts.append(draw.hatch(x, y, wide, BAR, step=7, stroke="accent", width=1.4))
            parts.append(draw.box(x, y, wide, BAR, stroke="accent", width=2))
        for said in (member.name, member.name.split()[0]):
            room = draw.text_width(said, SMALL) + 4
            if room <= wide - 3:
                parts.append(draw.box(x + (wide - room) / 2, y + BAR / 2 - 8, room, 16, fill="tint", stroke=None))
                parts.append(draw.text(x + wide / 2, y + BAR / 2 + 4, said, size=SMALL, anchor="middle"))
                break
        at += rated
    return "".join(parts)
