"""What is still needed before every part has a verdict, in lines that can be typed into the list."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from pipeline.bench.asking import AT_NODES
from pipeline.bench.later import waits_at
from pipeline.catalogue import Catalogue
from pipeline.checks.accounting import NotJudged
from pipeline.checks.check import Checked, check
from pipeline.checks.findings import Finding
from pipeline.notation.kinds import BEYOND
from pipeline.unit import Part, Place, Unit, UnitError, load
from pipeline.unit.files import TOML, Listed
from pipeline.unit.toml_editing import DEFAULT_SUPPLY, EditedToml


class Needed(NamedTuple):
    """What is needed: of what, in words, and a line to type where one would settle it; `…` in it is to be filled in."""

    ref: str
    what: str
    line: str = ""


def still_needed(folder: Path, catalogue: Catalogue, now: Listed) -> tuple[list[Needed], int]:
    """What is needed, and of how many parts no sum can say anything."""
    try:
        unit = load(folder, catalogue)
    except UnitError as error:
        told = [_of_fault(message, folder, now) for message in error.messages if ": is missing: " not in message]
        return list(dict.fromkeys([*told, *_missing(folder)])) or \
            [_of_fault(message, folder, now) for message in error.messages], 0
    checked = check(unit, catalogue)
    found = [] if unit.supplies else [Needed("supply", "none is described yet", _supply_line(unit))]
    found += [_of_unknown(f, unit) for f in checked.findings if f.verdict == "unknown"]
    judged = [n for n in checked.not_judged if unit.parts[n.ref].kind not in BEYOND]
    found += [_of_part(n, checked) for n in judged if not waits_at(unit.parts[n.ref])]
    found += list(_waiting(unit))
    return list(dict.fromkeys(found)), len(checked.not_judged) - len(judged)


def _of_fault(message: str, folder: Path, now: Listed) -> Needed:
    """A fault of the files; of one that a line mends, the line."""
    told = re.sub(r"^.*?(?:unit\.toml|parts\.csv|readings\.csv):\d+: ", "", message)
    if match := re.search(r"no part '([^']+)'", told):
        return Needed(match[1], "is named in unit.toml, and no part of the list yet", f"{match[1]} … and its marking")
    if match := re.search(r"no node '([^']+)'", told):
        before = (now.names.of_kind("node") or ["B1"])[-1]
        return Needed(match[1], "is named in unit.toml, and is no node yet", f"{before} to {match[1]} through R…")
    return Needed(TOML if TOML in message else message.partition(":")[0], message.removeprefix(f"{folder}/"))


_MISSING = {
    "supply": {"rectifier": ("the tube or diode that rectifies", "supply {} V…"),
               "circuit": ("its circuit", "supply {} full-wave"),
               "secondary_v": ("the volts of its winding", "supply {} 300-0-300 V")},
    "stage": {"plate": ("the node that feeds the plate", "stage {} plate B1")},
    "winding": {"volts": ("its volts", "winding {} 6.3 V")}, "string": {"amps": ("its amperes", "string {} 0.15 A")}}
"""What each table must have, by key: in words, and the line to type."""


def _missing(folder: Path) -> Iterator[Needed]:
    """What the tables of unit.toml must have and do not."""
    toml = EditedToml((folder / TOML).read_text(encoding="utf-8-sig"))
    for table, keys in _MISSING.items():
        for row in toml.tables(table):
            tubes = row.get("tubes", [])
            name = str(row.get("id", DEFAULT_SUPPLY)) if table != "stage" else \
                tubes if isinstance(tubes, str) else " ".join(map(str, tubes))
            needs = () if table == "supply" and ("from" in row or "source" in row) else keys.items()
            yield from (Needed(name, f"{words} is not said yet", line.format(name)) for key, (words, line) in needs
                        if key not in row and not (key == "secondary_v" and "winding" in row))


def _of_unknown(finding: Finding, unit: Unit) -> Needed:
    """What a finding that does not know asks for."""
    subject, do = finding.subject, finding.do or finding.why
    if match := re.search(r"what (\w+(?: \w+)?) draws is not known", finding.why):
        return Needed(match[1], "what it draws is not known", f"{match[1]} reads plate 120 V, cathode 2 V")
    if match := re.search(r"no capacitor stands at (\S+),", finding.why):
        return Needed(match[1], "no capacitor stands there yet", f"C… 32 by 450 reservoir {match[1]}")
    supply = next((s.id for s in unit.supplies if s.rectifier == subject or s.id == subject), None) or (
        unit.supplies[0].id if unit.supplies else "")
    if subject in unit.windings and "amps" in do:
        return Needed(subject, do, f"winding {subject} … A")
    if "secondary_ohm" in do:
        return Needed(subject, do, f"supply {supply} 95 ohm")
    if "load_a" in do or "no node says what it feeds" in finding.why:
        last = next((s.nodes[-1].id for s in unit.supplies if s.id == supply and s.nodes), "B1")
        return Needed(subject, do, f"node {subject if subject in unit.nodes else last} load 12 mA")
    part = unit.part_of(subject)
    if part is not None and part.kind is None:
        return Needed(part.ref, "its marking is not read", f"{part.ref} … and the marking once more")
    if "Describe its supply" in do:
        return Needed(subject, do, _supply_line(unit))
    return Needed(subject, do)


def _supply_line(unit: Unit) -> str:
    """A supply as one would say it of this unit, with figures to be replaced."""
    rectifier = next((p for p in unit.parts.values() if p.kind in ("tube", "diode")
                      and (p.role == "rectifier" or "rectifier" in (p.function or ""))), None)
    ref = rectifier.ref if rectifier else "V…"
    if unit.mains_v is None:
        return "battery 90 V"
    if unit.strings:
        return f"supply half-wave {ref} {unit.design_mains_v or unit.mains_v:g} V 3 ohm"
    return f"supply full-wave {ref} 300-0-300 V 95 ohm"


def _of_part(told: NotJudged, checked: Checked) -> Needed:
    unit = checked.unit
    why = re.sub(r"^it burns .*? W, but its rating is not marked", "how many watts it bears is not marked", told.why)
    return Needed(told.ref, why, _line_for(unit.parts[told.ref], told._replace(why=why), unit))


def _line_for(part: Part, told: NotJudged, unit: Unit) -> str:
    """The line that would settle why a part is not judged."""
    tube = next((p.ref for p in unit.parts.values() if p.kind == "tube" and p.role != "rectifier"), "V1")
    node = next(reversed(unit.nodes), "B1")
    if part.kind == "tube":
        if "heater" in told.why:
            return f"{part.ref} at {next(iter((*unit.windings, *unit.strings)), 'H1')}"
        return _stage_line(part, unit) if "stage" in told.why else ""
    if part.kind == "capacitor":
        at_node = part.role in AT_NODES and part.role != "coupling"
        at = next((p for place in part.at if (p := unit.parts.get(place.ref)) and p.kind == "tube"), None)
        if at is not None:
            return _stage_line(at, unit)
        return f"{part.ref} {part.role or 'coupling'} {node if at_node else tube}"
    if part.kind == "resistor":
        if "role" in told.why:
            return f"{part.ref} cathode {tube}"
        if told.why.startswith("what flows"):
            return f"{part.ref} reads 14.2 V"
        return f"{part.ref} {part.shown} ½W" if part.reading.watts is None and "watts" in told.why else ""
    if part.kind == "choke":
        return f"{node} to B… through {part.ref}" if "supply" in told.why else ""
    return {"lamp": f"{part.ref} at {next(iter((*unit.windings, *unit.strings)), 'H1')}",
            "fuse": _supply_line(unit) if "Describe" in told.do else "",
            "diode": f"supply … half-wave {part.ref} 50 V negative"}.get(
                part.kind or "", f"{part.ref} … and the marking once more")


def _stage_line(part: Part, unit: Unit) -> str:
    """A stage of the tube as one would say it, with the parts that hang at it."""
    section = part.power_section
    name = f"{part.ref}A" if section == "A" else f"{part.ref} {section}" if section else part.ref
    hung = [p for p in unit.parts.values() if p.is_at(part.ref)]
    own = {p.role: p.ref for p in (*hung, *(p for p in hung if Place(part.ref, section) in p.at))}
    node = next((n.id for s in unit.supplies if s.polarity == "positive" and s.heats is None for n in s.nodes), "B1")
    through = own.get("plate load") or own.get("output transformer") or "R…"
    return f"{name} plate {node} through {through}" + ("" if own.get("cathode") else ", cathode R…")


def _waiting(unit: Unit) -> Iterator[Needed]:
    for part in unit.parts.values():
        for place in waits_at(part).split():
            if place in unit.nodes or place in unit.parts or place in unit.windings:
                continue
            line = f"{place} … and its marking" if place[:1].upper() in "VT" else f"winding {place} 6.3 V 3 A" \
                if place[:1].upper() == "H" else f"{next(reversed(unit.nodes), 'B1')} to {place} through R…" \
                if unit.nodes else _supply_line(unit)
            yield Needed(part.ref, f"{place} is not listed, and no winding or node yet", line)
