"""What the parts' own roles and places say of supplies and stages, so that nobody types it twice.

Only what is absent is filled in: a key that unit.toml has stays as it is.
"""

from collections.abc import Iterator

from pipeline.bench.later import waits_at
from pipeline.bench.told.fact import NODE_LIKE, Fact, Known
from pipeline.notation.roles import KINDS_OF_ROLE
from pipeline.unit import LETTERS, Part, Place
from pipeline.unit.places import folded

BETWEEN = ("dropping", "choke")
"""Roles of parts that stand between two nodes."""
_ELECTRODES = {"plate load": "plate", "output transformer": "plate", "interstage transformer": "plate",
               "screen": "screen", "grid leak": "grid"}
"""Role → the electrode whose node its part hangs at, where a node is among its places."""
_ROLE_OF = {"plate_through": ("plate load", "output transformer"), "screen_through": ("screen",),
            "cathode_through": ("cathode",), "grid_through": ("grid leak",), "through": ("dropping", "choke"),
            "regulator": ("regulator",), "rectifier": ("rectifier",)}


def derived(known: Known) -> Iterator[Fact]:
    """The facts that parts tell and unit.toml does not hold yet."""
    for part in known.parts.values():
        fact = None
        if part.role in BETWEEN:
            fact = _between(part, known)
        elif part.role in _ELECTRODES and part.kind in (*KINDS_OF_ROLE[part.role], None):
            fact = _fed(part, _ELECTRODES[part.role], known)
        if fact is not None:
            yield fact


def _between(part: Part, known: Known) -> Fact | None:
    """The node that a resistor or choke feeds: the second of its two places."""
    words = [*map(str, part.at), *waits_at(part).split()]
    if len(words) != 2 or known.names.find(words[0], "node") is None:
        return None
    node = known.names.find(words[1])
    if node is None:
        node = words[1].upper() if NODE_LIKE.fullmatch(words[1]) else ""
    elif known.names.kinds[node] != "node":
        return None
    table: dict = next((n for _, s in known.toml.supplies() for n in s.get("node", []) if n.get("id") == node), {})
    if not node or "through" in table or any(n.get("through") == part.ref for _, s in known.toml.supplies()
                                             for n in s.get("node", [])):
        return None
    if table and table.get("from") is None:
        return None  # the first node of a supply is fed by its rectifier
    source = known.names.find(words[0], "node") or words[0]
    if table and table["from"] != source:
        return None
    return Fact("node", node, {"from": source, "through": part.ref})


def _fed(part: Part, electrode: str, known: Known) -> Fact | None:
    """The node that feeds an electrode of a stage through the part: a tube and a node stand among its places."""
    nodes = [p.ref for p in part.at if known.names.kinds.get(p.ref) == "node"]
    tubes = [_section(p, part, known) for p in part.at if p.ref in known.parts and known.parts[p.ref].kind == "tube"]
    if len(nodes) != 1 or not tubes or None in tubes:
        return None
    names = tuple(str(tube) for tube in tubes)
    table = _stage_of(names, known)
    if table is None and (electrode != "plate" or _placed(tubes, known)):
        return None
    table = table or {}
    values = {electrode: nodes[0]}
    if part.kind == "transformer":  # a resistor's own role puts it into the lead, of its own tubes alone
        values[f"{electrode}_through"] = part.ref
    if electrode in table or table.get(f"{electrode}_through", part.ref) != part.ref:
        return None
    said = table.get("tubes", list(names))
    every = (said,) if isinstance(said, str) else tuple(said)
    return Fact("stage", " ".join(every), values, tubes=every)


def _section(place: Place, part: Part, known: Known) -> Place | None:
    """The section that a place means; None where a twin's half is not said, unless a transformer serves both."""
    tube = known.parts[place.ref]
    if place.section is not None or not tube.sections:
        return place
    if tube.sections[0] in LETTERS:
        return place if part.kind == "transformer" else None
    return Place(place.ref, tube.power_section)


def _stage_of(names: tuple[str, ...], known: Known) -> dict | None:
    """The stage that has all these tubes."""
    wanted = {folded(name) for name in names}
    for table in known.toml.tables("stage"):
        tubes = table.get("tubes", [])
        own = {folded(tube) for tube in ([tubes] if isinstance(tubes, str) else tubes)}
        if wanted <= own or wanted <= {folded(_whole(tube, known)) for tube in own}:
            return table
    return None


def _whole(tube: str, known: Known) -> str:
    """A stage's tube as its roles' places name it: with its power section where the tube has unlike ones."""
    place = known.place(tube, "part")
    found = _section(place, known.parts[place.ref], known) if place is not None else None
    return str(found) if found is not None else tube


def _placed(tubes: list[Place | None], known: Known) -> bool:
    """Whether some stage has one of the tubes, with others."""
    refs = {folded(str(tube)) for tube in tubes}
    for table in known.toml.tables("stage"):
        said = table.get("tubes", [])
        if refs & {folded(_whole(tube, known)) for tube in ([said] if isinstance(said, str) else said)}:
            return True
    return False


def roles_given(known: Known) -> Iterator[tuple[str, str, str]]:
    """(ref, role, places) of parts that unit.toml names in a lead and whose own line gives no role."""
    tables = [*known.toml.tables("stage"), *(s for _, s in known.toml.supplies()),
              *(n for _, s in known.toml.supplies() for n in s.get("node", []))]
    for table in tables:
        tubes = _texts(table.get("tubes")) if "id" not in table else []
        for key, roles in _ROLE_OF.items():
            refs = _texts(table.get(key))
            for i, ref in enumerate(refs):
                part = known.parts.get(ref)
                role = next((r for r in roles if part is not None and part.kind in KINDS_OF_ROLE[r]), None)
                if part is not None and part.role is None and role is not None:
                    own = tubes[i:i + 1] if len(refs) == len(tubes) > 1 else tubes
                    yield ref, role, "" if part.at or role == "output transformer" else " ".join(own)


def _texts(value: object) -> list[str]:
    return [value] if isinstance(value, str) else [str(v) for v in value] if isinstance(value, list) else []
