"""A fact put into unit.toml, and tables taken out of it."""

from typing import Any, NamedTuple

from pipeline.bench.later import waits_at
from pipeline.bench.told.fact import Fact, Known
from pipeline.bench.told.supplies import SUPPLY_SAID
from pipeline.unit.places import folded
from pipeline.unit.toml_editing import EditedToml

_LISTS = ("tubes", "capacitors")
"""Keys that hold several: what a line says is added to them."""
FIRST_NODES = {"positive": ("B1",), "negative": ("C-", "C2-", "C3-")}


class Applied(NamedTuple):
    """Which table a fact went into, and what is to be said of it besides."""

    table: str
    name: str
    is_new: bool
    told: tuple[str, ...] = ()


def apply(fact: Fact, known: Known) -> Applied:
    """Put a fact into `known.toml`; raises ValueError where it has no place there."""
    toml = known.toml
    if fact.table == "top":
        toml.top(fact.values)
        return Applied("top", fact.name, False, tuple(fact.told))
    put = {"supply": _supply, "node": _node, "stage": _stage}.get(fact.table, _by_id)
    return put(fact, known)


def _by_id(fact: Fact, known: Known) -> Applied:
    """A winding or string."""
    index = index_of(known.toml, fact.table, fact.name)
    known.toml.put(fact.table, index, fact.values if index is not None else {"id": fact.name, **fact.values})
    return Applied(fact.table, fact.name, index is None, tuple(fact.told))


def index_of(toml: EditedToml, table: str, name: str) -> int | None:
    """Where the table of an id stands among its like; None where there is none."""
    ids = [id_ for id_, _ in toml.supplies()] if table == "supply" else [t.get("id") for t in toml.tables(table)]
    return next((i for i, id_ in enumerate(ids) if folded(str(id_)) == folded(name)), None)


def _supply(fact: Fact, known: Known) -> Applied:
    toml = known.toml
    index = index_of(toml, "supply", fact.name)
    if index is None:
        is_only = not toml.tables("supply") and fact.name == "B+"
        values = dict(fact.values)
        _rectified(fact, known, values)
        if "from" in values:
            values.pop("source", None)
        toml.put("supply", None, values if is_only else {"id": fact.name, **values})
        index = len(toml.tables("supply")) - 1
        first = fact.first or _first_node(values, known)
        toml.put_node(index, None, {"id": first})
        return Applied("supply", fact.name, True, (*fact.told, f"its first node is {first}"))
    if fact.first and fact.first not in [n.get("id") for n in toml.tables("supply")[index].get("node", [])]:
        raise ValueError(f"the first node of {fact.name} has its id already: `drop supply {fact.name}` first")
    if fact.values:
        toml.put("supply", index, fact.values)
    return Applied("supply", fact.name, False, tuple(fact.told))


def _rectified(fact: Fact, known: Known, values: dict[str, Any]) -> None:
    """The only rectifier of the list that no supply has yet, where the line names none."""
    if "rectifier" in values or values.get("source") == "battery" or "from" in values:
        return
    taken = {table.get("rectifier") for _, table in known.toml.supplies()}
    free = [p.ref for p in known.parts.values() if p.ref not in taken and p.kind in ("tube", "diode")
            and (p.role == "rectifier" or "rectifier" in (p.function or ""))]
    kinds = {known.parts[ref].kind for ref in free}
    if values.get("polarity") == "negative" and kinds == {"tube", "diode"}:
        free = [ref for ref in free if known.parts[ref].kind == "diode"]
    if len(free) == 1:
        values["rectifier"] = free[0]
        fact.told.append(f"{free[0]} is taken as its rectifier")


def _first_node(values: dict[str, Any], known: Known) -> str:
    """The node at which a reservoir capacitor waits, else the first name that is free."""
    polarity = values.get("polarity", "positive")
    roles = ("bias filter",) if polarity == "negative" else ("reservoir",)
    waiting = [waits_at(p) for p in known.parts.values() if p.role in roles]
    names = [name for name in waiting if name and known.names.find(name) is None]
    if values.get("heats"):
        names = ["A1", "A2"]
    free = (name for name in (*names, *FIRST_NODES[polarity], *(f"B{n}" for n in range(2, 100)))
            if known.names.find(name) is None)
    return next(free)


def _node(fact: Fact, known: Known) -> Applied:
    toml = known.toml
    owner = toml.supply_of(fact.name)
    if owner is not None:
        supply = index_of(toml, "supply", owner) or 0
        nodes = toml.tables("supply")[supply]["node"]
        index = next(i for i, n in enumerate(nodes) if folded(str(n.get("id", ""))) == folded(fact.name))
        toml.put_node(supply, index, _merged(nodes[index], fact))
        return Applied("node", fact.name, False, tuple(fact.told))
    before = fact.values.get("from")
    owner = toml.supply_of(before) if before else None
    every = [id_ for id_, _ in toml.supplies()]
    if before and owner is None:
        raise ValueError(f"no node {before} yet: begin with the supply, such as {SUPPLY_SAID}")
    if owner is None:
        empty = [id_ for id_, table in toml.supplies() if not table.get("node")]
        if len(empty) != 1:
            before = _last_node(toml) or "B1"
            raise ValueError(f"what feeds {fact.name}? say for example {before} to {fact.name} through R3" if every else
                             f"no supply has a node {fact.name} yet: begin with it, such as {SUPPLY_SAID}")
        owner = empty[0]
    toml.put_node(index_of(toml, "supply", owner) or 0, None, {"id": fact.name, **_merged({}, fact)})
    return Applied("node", fact.name, True, tuple(fact.told))


def _last_node(toml: EditedToml) -> str:
    nodes = [str(n.get("id", "")) for table in toml.tables("supply") for n in table.get("node", [])]
    return nodes[-1] if nodes else ""


def _stage(fact: Fact, known: Known) -> Applied:
    """A stage; one of which the line names all tubes is changed, so that what it leaves out stays."""
    toml, told = known.toml, list(fact.told)
    named = {folded(tube) for tube in fact.tubes}
    same: list[int] = []
    for index, table in enumerate(toml.tables("stage")):
        own = {folded(_canonical(tube, known)) for tube in _texts(table.get("tubes"))}
        if own & named and not own <= named:
            both = " ".join(_texts(table.get("tubes")))
            raise ValueError(f"{fact.name} shares the stage of {both}: say all of them, or `drop stage {both}` first")
        same += [index] if own & named else []
    if not same:
        values = _merged({}, fact)
        toml.put("stage", None, {"tubes": list(fact.tubes), **dict(sorted(values.items(), key=_order))})
        return Applied("stage", fact.name, True, tuple(told))
    for index in reversed(same[1:]):
        toml.drop("stage", index)
    table = toml.tables("stage")[same[0]]
    values = _merged(table, fact)
    if {folded(_canonical(t, known)) for t in _texts(table.get("tubes"))} != named:
        values["tubes"] = list(fact.tubes)
    toml.put("stage", same[0], values)
    return Applied("stage", fact.name, False, tuple(told))


_STAGE_KEYS = ("plate", "plate_through", "screen", "screen_through", "cathode_through", "cathode_to", "grid",
               "grid_through", "service", "signal_a")


def _order(item: tuple[str, Any]) -> int:
    return _STAGE_KEYS.index(item[0]) if item[0] in _STAGE_KEYS else len(_STAGE_KEYS)


def _canonical(tube: str, known: Known) -> str:
    place = known.place(tube, "part")
    return str(place) if place is not None else tube


def _texts(value: Any) -> list[str]:
    return [value] if isinstance(value, str) else [str(v) for v in value or ()]


def _merged(table: dict[str, Any], fact: Fact) -> dict[str, Any]:
    """The keys to write: lists of tubes and capacitors grow, one part stands alone, and what goes is taken out."""
    values: dict[str, Any] = {}
    for key, value in fact.values.items():
        if key in _LISTS and table.get(key):
            value = list(dict.fromkeys([*_texts(table[key]), *value]))
        values[key] = value[0] if isinstance(value, list) and len(value) == 1 and key not in _LISTS else value
    gone = {folded(ref) for ref in fact.without}
    for key, value in {**table, **values}.items() if gone else ():
        left = [text for text in _texts(value) if folded(text) not in gone] if isinstance(value, str | list) else None
        if left is not None and len(left) != len(_texts(value)) and key not in ("id", "service"):
            values[key] = None if not left else left if isinstance(value, list) else left[0]
    return values


def dropped(text: str, known: Known) -> str | None:
    """Take out the winding, string, supply, node or stage that a text names; its words, or None where it names none.

    Raises ValueError where something else still stands on it.
    """
    kind, _, rest = text.strip().partition(" ")
    kind = kind.lower()
    if kind == "stage" and rest:
        return _drop_stage(rest, known)
    name = rest.strip() if kind in ("winding", "string", "supply", "node") and rest else text.strip()
    found = known.names.find(name)
    table = known.names.kinds[found] if found else ""
    if kind == "supply" or (not found and known.supply(name)):
        id_ = known.supply(name)
        if id_ is None:
            raise ValueError(f"no supply {name[:20]!r}: known: {', '.join(i for i, _ in known.toml.supplies())}")
        known.toml.drop("supply", index_of(known.toml, "supply", id_) or 0)
        return f"supply {id_}"
    if found is None or table == "part":
        return None
    if table == "node":
        supply = index_of(known.toml, "supply", known.toml.supply_of(found) or "") or 0
        nodes = known.toml.tables("supply")[supply]["node"]
        known.toml.drop("supply", supply, next(i for i, n in enumerate(nodes) if folded(str(n["id"])) == folded(found)))
    else:
        known.toml.drop(table, index_of(known.toml, table, found) or 0)
    return f"{table} {found}"


def _drop_stage(text: str, known: Known) -> str:
    from pipeline.bench.told.stages import leading_tubes

    tubes, _ = leading_tubes(text, known, new=True)
    refs = {folded(str(place)) for place in tubes} | {folded(place.ref) for place in tubes}
    for index, table in enumerate(known.toml.tables("stage")):
        own = _texts(table.get("tubes"))
        if refs & ({folded(tube) for tube in own} | {folded(tube.split()[0]) for tube in own}):
            known.toml.drop("stage", index)
            return f"stage of {' '.join(own)}"
    raise ValueError(f"no stage of {text[:20]!r} to drop")
