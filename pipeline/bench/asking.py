"""What is still missing of a part, supply or stage just listed: the questions, the first first."""

from collections.abc import Iterator
from typing import NamedTuple

from pipeline.bench.later import waits_at
from pipeline.bench.told import Known
from pipeline.bench.told.apply import index_of
from pipeline.notation.roles import KINDS_OF_ROLE
from pipeline.unit import HeaterString, Part, Winding

AT_NODES = ("reservoir", "smoothing", "bias filter", "coupling", "dropping", "bleeder")
AT_TUBES = ("cathode bypass", "screen bypass", "cathode", "plate load", "screen", "grid leak")
"""Roles whose part hangs at a node, or at a tube, that the checks must know."""
HEATED_WITHIN = 0.1
"""A winding whose volts, or a string whose amps, are this near to a heater's own may be its (practice)."""
_FROM_NODE = {"plate load": "plate", "screen": "screen", "output transformer": "plate"}


class Question(NamedTuple):
    """What is still missing: a column of a part, the words to ask with, what may be answered, what an empty line is.

    Where `line` is given the answer goes into its braces, and the whole is taken as a line; `unit` follows a number.
    """

    ref: str
    column: str
    words: str
    known: tuple[str, ...] = ()
    default: str = ""
    line: str = ""
    unit: str = ""


def asked_of_part(ref: str, known: Known, heating: dict[str, Winding | HeaterString]) -> Iterator[Question]:
    """What the checks need to know of a part and its line does not say."""
    part = known.parts.get(ref)
    if part is None or part.kind not in ("tube", "lamp", "capacitor", "resistor", "transformer"):
        return
    if part.kind == "transformer":
        yield from _fed(part, known)
        return
    if part.role is None and part.kind in ("capacitor", "resistor"):
        roles = tuple(role for role, kinds in KINDS_OF_ROLE.items() if kinds[0] == part.kind)
        yield Question(ref, "role", f"What does {ref} do", roles)
        return
    if part.at or waits_at(part):
        yield from _fed(part, known)
    elif part.kind in ("tube", "lamp"):
        if windings := tuple(known.names.of_kind("winding", "string")):
            yield Question(ref, "at", f"Which winding or string heats {ref}", windings, _heated_by(part, heating))
    elif part.role in AT_NODES + AT_TUBES:
        kind = "node" if part.role in AT_NODES else "part"
        names = tuple(n for n in known.names.of_kind(kind) if kind == "node" or known.parts[n].kind == "tube")
        what = "node" if kind == "node" else "tube"
        if part.role == "dropping":
            yield Question(ref, "at", f"Between which nodes is {ref}, such as B1-B2", names)
        else:
            yield Question(ref, "at", f"At which {what} is {ref}", names, names[0] if len(names) == 1 else "")


def _fed(part: Part, known: Known) -> Iterator[Question]:
    """From which node a plate or screen is fed through the part, where its stage does not say."""
    electrode = _FROM_NODE.get(part.role or "")
    nodes = tuple(known.names.of_kind("node"))
    tubes = [str(p) for p in part.at if p.ref in known.parts and known.parts[p.ref].kind == "tube"]
    if not electrode or not nodes or not tubes or any(p.ref in nodes for p in part.at):
        return
    for table in known.toml.tables("stage"):
        own = table.get("tubes", [])
        if electrode in table and set(tubes) & set([own] if isinstance(own, str) else own):
            return
    said = " and ".join(tubes)
    yield Question(part.ref, electrode, f"Which node feeds the {electrode} of {said} through {part.ref}", nodes,
                   nodes[0] if len(nodes) == 1 else "", f"stage {' '.join(tubes)} {electrode} {{}}"
                   + (f" through {part.ref}" if part.kind == "transformer" else ""))


def _heated_by(part: Part, heating: dict[str, Winding | HeaterString]) -> str:
    """The only winding whose volts, or string whose amps, are those of the part's heater; empty for none."""
    volts, amps = part.rating("tubes", "heater_v"), part.rating("tubes", "heater_a")
    found = [id_ for id_, by in heating.items() for figure in [volts if isinstance(by, Winding) else amps]
             if figure is not None and figure.value
             and abs((by.volts if isinstance(by, Winding) else by.amps) / figure.value - 1) <= HEATED_WITHIN]
    return found[0] if len(found) == 1 else ""


def asked_of_fact(table: str, name: str, known: Known) -> Iterator[Question]:
    """What the sums need to know of a supply, winding or stage, and its line does not say."""
    if table == "supply":
        yield from _of_supply(name, known)
    elif table == "winding":
        index = index_of(known.toml, "winding", name)
        row = known.toml.tables("winding")[index] if index is not None else {}
        if row and "volts" not in row:
            yield Question(name, "volts", f"How many volts does {name} give", (), "6.3", f"winding {name} {{}}", "V")
        elif row and "amps" not in row:
            yield Question(name, "amps", f"How many amperes is {name} rated for, or did the maker's own tubes draw",
                           line=f"winding {name} {{}}", unit="A")
    elif table == "stage":
        row = next((t for t in known.toml.tables("stage") if " ".join(_texts(t.get("tubes"))) == name), {})
        if row and "plate" not in row:
            yield Question(name, "plate", f"Which node feeds the plate of {name}", tuple(known.names.of_kind("node")),
                           line=f"stage {name} plate {{}}")


def _of_supply(name: str, known: Known) -> Iterator[Question]:
    row = dict(known.toml.supplies()).get(name, {})
    if not row or "from" in row:
        return
    source, start = row.get("source", "mains"), f"supply {name} "
    if source == "mains":
        if "rectifier" not in row:
            refs = tuple(p.ref for p in known.parts.values() if p.role == "rectifier" or p.kind == "diode"
                         or "rectifier" in (p.function or ""))
            yield Question(name, "rectifier", f"Which tube or diode rectifies {name}", refs, line=start + "{}")
        if "circuit" not in row:
            yield Question(name, "circuit", f"In which circuit does it rectify {name}",
                           ("half-wave", "full-wave", "bridge", "doubler"), line=start + "{}")
        if "secondary_v" not in row and "winding" not in row:
            yield Question(name, "secondary_v", "How many volts has its winding, each half, as 300-0-300",
                           line=start + "{}", unit="V")
    elif "volts" not in row:
        yield Question(name, "volts", f"How many volts has the {source}", line=start + "{}", unit="V")
    if source == "vibrator" and "hertz" not in row:
        yield Question(name, "hertz", "How many hertz has the vibrator", (), "115", start + "{}", "Hz")
    if source == "mains" and "secondary_ohm" not in row:
        yield Question(name, "secondary_ohm", "How many ohms has its winding cold, each half", line=start + "{}",
                       unit="ohm")


def _texts(value: object) -> list[str]:
    return [value] if isinstance(value, str) else [str(v) for v in value] if isinstance(value, list) else []
