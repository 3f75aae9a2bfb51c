"""Every part accounted for: by a finding, or under what is not judged, with the reason and what would settle it."""

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from pipeline.amounts import amount
from pipeline.checks.findings import Finding
from pipeline.notation.kinds import BEYOND
from pipeline.point.heaters import is_cold
from pipeline.point.point import Point
from pipeline.point.wiring import Wired
from pipeline.unit import LETTERS, Part, Unit

MEASURABLE = {"transformer": "Measure its windings cold; their ohms belong in unit.toml or in its marking.",
              "speaker": "Measure its voice coil and field; a field coil in the supply is named as `through`.",
              "motor": "See that it turns freely and runs at its speed; its capacitor is judged by itself."}
"""What to do about kinds that no sum looks at, beyond the care they ask for."""


KIND_ALONE = "capacitor-kind"
"""What is found of a capacitor although nobody knows its volts."""


class NotJudged(NamedTuple):
    """A part, or the stage of a tube, that no rule could judge: why, and what would settle it."""

    ref: str
    marking: str
    why: str
    do: str


def not_judged(point: Point, findings: Sequence[Finding]) -> list[NotJudged]:
    """The parts no finding speaks of, and the tubes whose stage nobody describes, in the order of the list."""
    told, more = set[str](), set[str]()
    for finding in findings:
        refs = set(parts_of(finding, point.unit))
        told |= refs
        more |= refs if finding.check != KIND_ALONE or finding.verdict != "pass" else set()
    return [NotJudged(part.ref, part.marking, *why) for part in point.unit.parts.values()
            for why in (*_why(part, point, told), *(() if part.ref in more else _volts(part, point, told)))]


def parts_of(finding: Finding, unit: Unit) -> Iterator[str]:
    """Refs of the parts that a finding accounts for: those it covers, and those its subject names."""
    yield from (ref for ref in finding.covers if ref in unit.parts)
    if finding.subject in unit.parts:
        yield finding.subject
        return
    for word in re.split(r" and |[+ ]", finding.subject):
        if word in unit.parts:
            yield word
        elif word[:-1] in unit.parts and word[-1:] in LETTERS:
            yield word[:-1]


def _why(part: Part, point: Point, told: set[str]) -> Iterator[tuple[str, str]]:
    if part.kind == "tube":
        yield from _tube(part, point, told)
    elif part.ref not in told:
        yield _part(part, point)


def _volts(part: Part, point: Point, told: set[str]) -> Iterator[tuple[str, str]]:
    """A capacitor of the right kind whose volts nobody knows; a safety class bears the mains by its name."""
    if part.kind != "capacitor" or part.ref not in told or part.reading.safety_class:
        return
    tubes = [p.ref for p in part.at if p.ref in point.unit.parts and point.unit.parts[p.ref].kind == "tube"]
    if point.get(part.ref, "capacitor_v") is not None:
        yield "only its kind is judged: it shows no DC volts", "Look its DC rating up, or fit one that shows it."
        return
    why = "only its kind is judged: the volts on it are not known"
    if tubes:
        yield why, f"Describe the stage of {' and '.join(tubes)}, or measure that tube's volts."
    elif part.at:
        yield why, "Describe what it hangs at, or measure the volts across it."
    else:
        yield why, "Write the node or tube it hangs at in its `at` column."


def _tube(part: Part, point: Point, told: set[str]) -> Iterator[tuple[str, str]]:
    """What is not known of a tube: where its heater hangs, and the circuit of its electrodes."""
    places = {*point.unit.windings, *point.unit.strings}
    heated = any(p.ref in places for p in part.at) or any(part.ref in s.order for s in point.unit.strings.values())
    if not heated and not is_cold(part) and part.ratings is not None:
        yield "no winding or string feeds its heater", "Write its winding or string in its `at` column."
    rectifies = any(s.device.ref == part.ref for s in point.states)
    regulates = any(part.ref in n.regulator for s in point.unit.supplies for n in s.nodes)
    if rectifies or regulates or any(w.place.ref == part.ref for w in point.wired):
        return
    if part.ratings is not None:
        yield "its stage is not described, so plate, screen and grid are not judged", \
            f'Add a [[stage]] with tubes = ["{part.ref}"], plate and cathode_through to unit.toml, or its readings.'
    elif part.ref not in told:
        yield "the catalogue has no ratings for it", "Look the type up and add it with `tubewright add tubes`."


def _part(part: Part, point: Point) -> tuple[str, str]:
    if part.kind in BEYOND:
        return f"no sum looks at a {part.kind}", MEASURABLE.get(part.kind or "", "Clean and test it as its kind asks.")
    if part.kind == "resistor":
        return _resistor(part, point)
    if part.kind == "capacitor":
        if part.role is None:
            return "its role is not given", "Write its role, and the node or tube it hangs at."
        return "the volts on it are not known", "Write the node or tube it hangs at in its `at` column."
    if part.kind == "lamp":
        return "no winding, string or tube feeds it", "Write its winding or string in its `at` column."
    if part.kind == "fuse":
        return "what the set draws is not known", "Settle what its supply lacks." if point.unit.supplies else \
            "Describe its supply in unit.toml."
    if part.kind == "choke":
        return _choke(part, point)
    if part.kind == "diode":
        return "no supply names it", "Name it as the rectifier of its supply."
    return part.reading.why or "the marking cannot be read", "Read it again, or give its kind in a `kind` column."


def _choke(part: Part, point: Point) -> tuple[str, str]:
    through = {node.through for node in point.unit.nodes.values()} | {
        lead.through for wired in point.wired for lead in wired.leads}
    if part.ref not in through:
        return "no supply names it", "Name it as `through` of the node it feeds, and mark its amps."
    if point.get(part.ref, "resistor_a") is None:
        return "what flows through it is not known", "Settle what its supply lacks."
    return "the amps it may carry are not marked", "Write them into its marking, as in 10 H 80 mA."


def _resistor(part: Part, point: Point) -> tuple[str, str]:
    watts = point.get(part.ref, "resistor_w")
    if watts is not None and watts.value is not None and part.reading.watts is None:
        return f"it burns {watts.value:.2g} W, but its rating is not marked", "Judge it by its size, or measure it."
    grid = next((w for w in point.wired if w.grid.through == part.ref), None)
    if grid is not None:
        return _grid_resistor(part, grid)
    if part.role is None and not part.at:
        return "its role is not given", "Write its role, and the node or tube it hangs at; or the volts across it."
    return "what flows through it is not known", "Measure the volts across it, or describe the stage it belongs to."


def _grid_resistor(part: Part, one: Wired) -> tuple[str, str]:
    """A resistor from a grid to its bias: no watts to speak of, and often no limit that anybody printed."""
    ohms = part.measured.get("ohms") or part.reading.ohms
    carries = f"it carries only the current by which {one.place} biases itself, microamperes at most" \
        if one.by_grid_current else f"no current to speak of flows through it to {one.place}'s grid"
    worth = f": more than a fifth above {amount(ohms, 'ohm')} is worth a new one" if ohms else ""
    return f"{carries}, and the most ohms that {one.part.called} allows there are not known", \
        f"Measure {part.ref} with the set off{worth}."
