"""The supplies and their nodes, as `unit.toml` tells them."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from pipeline.records import asdict, replace
from pipeline.textfile import printable
from pipeline.tomlfile import Section, too_many
from pipeline.unit.model import CHASSIS_MINUS, MainsSupply, Node, Part, Place, Stage, Supply, Winding
from pipeline.unit.places import LONGEST_ID, Names, spelled

CIRCUITS = ("half-wave", "full-wave", "bridge", "doubler", "half-wave doubler")
AT_NODE = ("reservoir", "smoothing", "bias filter")
"""Roles in which a capacitor that only `at` puts at a node stands from there to chassis."""
REGULATES = ("tube", "diode", "lamp")
"""Kinds of part that hold a node's volts: glow tubes, Zener diodes, neon lamps."""
MOST_NODES = 40
MOST_SUPPLIES = 20
HIGH_V, HIGH_A = 50.0, 5.0
"""Above these volts no node of a set gives more than these amperes: such a load is typed in milliamperes."""
_KEYS = ("id polarity source from winding rectifier circuit input secondary_v secondary_ohm secondary_a primary_ohm "
         "added_ohm volts high_v low_v ohms hertz heats minus_through node")
_NODE_KEYS = "id from through capacitors tubes load_a load_ohm regulator standby"
_NEEDLESS = {
    "battery": "rectifier circuit input secondary_v secondary_ohm secondary_a primary_ohm added_ohm winding hertz",
    "vibrator": "secondary_v", "node": "secondary_v volts high_v low_v hertz ohms",
    "mains": "volts high_v low_v hertz ohms"}

_MEANT = {("mains", "volts"): "secondary_v", ("vibrator", "secondary_v"): "volts"}
"""(source, key that does not go with it) → the key that was meant."""


class Supplies:
    """The supplies of a file; their ids and nodes are known before what they refer to is read."""

    def __init__(self, top: Section, names: Names):
        self.names = names
        self._tables: list[tuple[Section, str, list[tuple[Section, str]]]] = []
        ids: set[str] = set()
        for table in top.tables("supply", _KEYS, single=True):
            id_ = spelled(table.text("id", "B+", most=LONGEST_ID))
            if id_ in ids and "id" in table.data:
                table.fault("id", f"{id_} stands twice", "give each supply its own id")
            elif id_ in ids:
                table.missing("id", 'give each supply its own, such as id = "bias"')
            ids.add(id_)
            nodes = [(node, names.claim_id(node, "node")) for node in table.tables("node", _NODE_KEYS)]
            self._tables.append((table, id_, nodes))
            if "minus_through" in table.data and (clash := names.claim(CHASSIS_MINUS, "node")):
                table.fault("minus_through", f"makes the node {CHASSIS_MINUS}, but {clash}", "give that another id")
        self._count()

    def _count(self) -> None:
        every = [node for _, _, nodes in self._tables for node, _ in nodes]
        too_many(every, MOST_NODES, "nodes")
        too_many([table for table, _, _ in self._tables], MOST_SUPPLIES, "supplies")

    @property
    def without_mains(self) -> bool:
        """Whether there are supplies, and none of them stands on the mains."""
        sources = [table.data.get("source") for table, _, _ in self._tables if "from" not in table.data]
        return bool(sources) and all(str(s).strip().lower() in ("battery", "vibrator") for s in sources)

    def read(self, windings: Mapping[str, Winding]) -> tuple[Supply, ...]:
        """The supplies, in the order of the file."""
        split = {place.ref for _, _, nodes in self._tables for node, _ in nodes for chain in _pieces(node, self.names)
                 for place in chain if place is not None and place.section is not None}
        made = [_supply(table, id_, _Nodes(nodes, split, self.names), windings) for table, id_, nodes in self._tables]
        made = _of_one_polarity(made, [table for table, _, _ in self._tables])
        _origins_sound(made, [table for table, _, _ in self._tables])
        _each_once([node for _, _, nodes in self._tables for node, _ in nodes], made)
        return tuple(made)


class _Nodes(NamedTuple):
    """The tables of a supply's nodes with their ids, and the cans of which some node names a section."""

    tables: list[tuple[Section, str]]
    split: set[str]
    names: Names


def _supply(table: Section, id_: str, nodes: _Nodes, windings: Mapping[str, Winding]) -> Supply:
    source, names = _source(table), nodes.names
    for key in _NEEDLESS.get(source, "").split():
        if key in table.data:
            table.fault(key, _needless(key, source), _instead(key, source))
            table.slip(_MEANT.get((source, key)))
    winding = table.text("winding", None)
    volts = _secondary_v(table, source, windings.get(names.find(winding or "", "winding") or ""))
    given, high, low = _cells(table) if source in ("battery", "vibrator") else (None, None, None)
    most_a = HIGH_A if _is_high(given if volts is None else volts) else 50.0
    circuit = _circuit(table, source)
    made = Supply(
        id=id_, polarity=table.choice("polarity", ("positive", "negative"), "positive"), source=source,
        origin=names.name(table, "from", "node") if source == "node" else None, winding=winding,
        rectifier=_rectifier(table, source, names),
        circuit=circuit, input=table.choice("input", ("capacitor", "choke"), "capacitor"),
        secondary_v=volts, secondary_ohm=table.optional("secondary_ohm", 0, 20_000),
        secondary_a=table.amps("secondary_a", 0.0005, most_a), primary_ohm=table.optional("primary_ohm", 0, 5_000),
        added_ohm=table.number("added_ohm", 0, 20_000, 0.0), volts=given, high_v=high, low_v=low,
        ohms=table.number("ohms", 0, 20_000, 0.0) if source == "battery" else 0.0,
        hertz=table.number("hertz", 15, 1000) if source == "vibrator" else None,
        heats=names.name(table, "heats", "winding", "string"), minus_through=names.part(table, "minus_through"),
        nodes=_nodes(nodes, circuit, most_a), line=table.line)
    return MainsSupply(**asdict(made)) if source == "mains" else made


def _cells(table: Section) -> tuple[float, float | None, float | None]:
    """Volts of a battery or of a vibrator's square wave; fresh and flat, where they are given."""
    given, high, low = table.number("volts", 0.5, 1000), *(table.optional(k, 0.5, 1500) for k in ("high_v", "low_v"))
    if high is not None and high < given:
        table.fault("high_v", "is below volts", "it is what fresh cells or a charged battery give")
    if low is not None and low > given:
        table.fault("low_v", "is above volts", "it is what flat cells give")
    return given, high, low


def _source(table: Section) -> str:
    """Where the supply comes from; `from` says that it is a node."""
    default = "node" if "from" in table.data else "mains"
    source = table.choice("source", ("mains", "node", "battery", "vibrator"), default)
    if source == "node" and "from" not in table.data:
        table.missing("from", "say which node of another supply it is taken from")
    elif source not in ("node", "") and "from" in table.data:
        table.fault("from", f"does not go with the source {source}", "leave one of the two out")
    return source


def _needless(key: str, source: str) -> str:
    return f"does not go with the source {source}" if source != "mains" or key != "volts" else \
        "does not go with a supply from the mains"


def _instead(key: str, source: str) -> str:
    if source == "vibrator":
        return "write the square wave's volts of each half as volts"
    if source == "mains":
        return "write secondary_v" if key == "volts" else 'take it out, or write source = "battery" or "vibrator"'
    return "take it out"


def _secondary_v(table: Section, source: str, winding: Winding | None) -> float | None:
    """Volts of the secondary, those of the heater winding that `winding` names where they are not given."""
    if source != "mains":
        return None
    if "secondary_v" not in table.data and winding is not None:
        return winding.volts
    return table.number("secondary_v", 2, 10_000)


def _circuit(table: Section, source: str) -> str | None:
    """The rectifier's circuit; a vibrator's is full-wave where it is not said."""
    if source in ("mains", "") or (source in ("node", "vibrator") and "circuit" in table.data):
        return table.choice("circuit", CIRCUITS) or None
    return "full-wave" if source == "vibrator" else None


def _rectifier(table: Section, source: str, names: Names) -> str | None:
    if "rectifier" not in table.data and source == "mains":
        table.missing("rectifier", 'name the rectifier\'s ref, as rectifier = "V5"')
    rectifier = names.part(table, "rectifier") if source != "battery" else None
    names.of_kinds(table, "rectifier", [Place(rectifier)] if rectifier else [], "tube", "diode")
    return rectifier


def _is_high(volts: float | None) -> bool:
    return volts is None or not volts <= HIGH_V


def _nodes(given: _Nodes, circuit: str | None, most_a: float) -> tuple[Node, ...]:
    nodes: list[Node] = []
    own, names = {id_ for _, id_ in given.tables}, given.names
    for table, id_ in given.tables:
        first = not nodes
        known = [n.id for n in nodes if n.id]
        said = table.text("from", "")
        source = names.find(said, "node")
        if said and source not in known and (source in own or not first or not source):
            what = f"{printable(said[:40])} is no node above this one"
            table.fault("from", what, "list the nodes from the rectifier on")
        if not first and "from" not in table.data:
            table.missing("from", f'say which node feeds it, as from = "{known[-1] if known else "B1"}"')
        nodes.append(Node(
            id_, source if source in known else None, names.part(table, "through"),
            _chains(table, names, given.split, halves=first and circuit == "doubler"), names.sections(table, "tubes"),
            table.amps("load_a", 0, most_a), table.optional("load_ohm", 1, 1e8),
            _regulators(table, names), names.part(table, "standby")))
    return tuple(nodes)


def _regulators(table: Section, names: Names) -> tuple[str, ...]:
    """Refs of the regulators of a node; a tube that the catalogue knows as something else is none."""
    refs = _summed(table, "regulator", names)
    names.of_kinds(table, "regulator", [Place(ref) for ref in refs], *REGULATES)
    for part in (names.parts[ref] for ref in refs):
        known = part.ratings is not None and bool(part.ratings.rows("tubes"))
        if part.kind == "tube" and known and part.ratings and not part.ratings.rows("regulators") \
                and "regulator" not in (part.function or "") and part.reading.volts is None:
            table.fault("regulator", f"{part.ref} ({part.called}) is no regulator tube",
                        "name the one that holds the node's volts, such as an 0A2 or 85A2")
    return refs


def _summed(table: Section, key: str, names: Names) -> tuple[str, ...]:
    """Refs of parts with a plus between them."""
    refs = []
    for text in table.texts(key):
        whole = names.find(text, "part")
        for piece in [text] if whole else text.split("+"):
            place = names.part_place(table, key, piece.strip())
            refs += [place.ref] if place else []
    return tuple(refs)


def _pieces(table: Section, names: Names) -> list[list[Place | None]]:
    """The capacitors of a node as written, each a chain in series; None, and a fault, for one that is not known."""
    return [[names.part_place(table, "capacitors", piece.strip())
             for piece in ([text] if names.find(text, "part") else text.split("+"))]
            for text in table.texts("capacitors")]


def _chains(table: Section, names: Names, split: set[str], *, halves: bool) -> tuple[tuple[Place, ...], ...]:
    """The capacitors of a node, each a chain in series; a whole can stands for its sections in parallel.

    Of the cans `split`, which have a section named somewhere, the bare ref is the first section.
    """
    chains: list[tuple[Place, ...]] = []
    for pieces in _pieces(table, names):
        chain = tuple(place for place in pieces if place is not None)
        names.of_kinds(table, "capacitors", chain, "capacitor")
        sections = [section for place in chain for section in whole_can(names.parts[place.ref], place)]
        if len(pieces) == 1:
            chains += [(section,) for section in (sections[:1] if chain and chain[0].ref in split else sections)]
        elif chain:
            _one_section_each(table, chain, names)
            chains.append(chain)
    if halves and len(chains) == 1 and len(chains[0]) == 2:
        return tuple((place,) for place in chains[0])
    return tuple(chains)


def _one_section_each(table: Section, chain: tuple[Place, ...], names: Names) -> None:
    """A link of a chain is one section: which of a can must be said."""
    for place in chain:
        letters = whole_can(names.parts[place.ref], place)
        if len(letters) > 1:
            table.fault("capacitors", f"{place} in a series chain has {len(letters)} sections",
                        f"say which, as {letters[0]}")


def whole_can(part: Part, place: Place) -> tuple[Place, ...]:
    """The place, or each section of a can where it names none of them."""
    if place.section is not None or part.kind != "capacitor" or not part.sections:
        return (place,)
    return tuple(Place(part.ref, letter) for letter in part.sections)


def _each_once(tables: list[Section], supplies: list[Supply]) -> None:
    """No capacitor, or section of one, stands at two nodes or twice at one."""
    seen: dict[Place, str] = {}
    for table, node in zip(tables, [node for supply in supplies for node in supply.nodes], strict=True):
        for place in (place for chain in node.capacitors for place in chain):
            if (other := seen.get(place)) is not None:
                stands = "twice here" if other == node.id else f"at {other} already"
                table.fault("capacitors", f"{place} stands {stands}", "name each capacitor, or section of one, once")
            seen.setdefault(place, node.id)


def _of_one_polarity(supplies: list[Supply], tables: list[Section]) -> list[Supply]:
    """The supplies, those from a node with its polarity where they give none."""
    found = list(supplies)
    for _ in found:  # one may hang on another that hangs on a third
        polarity = {node.id: supply.polarity for supply in found for node in supply.nodes if node.id}
        found = [replace(s, polarity=polarity[s.origin]) if s.origin in polarity and "polarity" not in table.data else s
                 for s, table in zip(found, tables, strict=True)]
    return found


def _origins_sound(supplies: list[Supply], tables: list[Section]) -> None:
    """No supply hangs on one of its own nodes, be it by way of others, or turns the polarity of its node round."""
    home = {node.id: i for i, supply in enumerate(supplies) for node in supply.nodes if node.id}
    origins = [home.get(supply.origin) if supply.origin else None for supply in supplies]
    for i, (supply, table) in enumerate(zip(supplies, tables, strict=True)):
        seen, at = {i}, origins[i]
        while at is not None and at not in seen:
            seen.add(at)
            at = origins[at]
        if at == i:
            table.fault("from", f"{supply.origin} hangs on this very supply", "name a node that something else feeds")
        first = origins[i]
        if first is not None and first != i and supplies[first].polarity != supply.polarity:
            table.fault("polarity", f"is {supply.polarity}, but {supply.origin} is {supplies[first].polarity}",
                        "a supply from a node has that node's polarity: leave it out or write it so")


def assembled(supplies: tuple[Supply, ...], stages: Iterable[Stage], parts: Mapping[str, Part]) -> tuple[Supply, ...]:
    """The supplies with the capacitors that only `at` puts at their nodes, and without the tubes that have a stage.

    A can at as many nodes as it has sections has one at each, in their order; at one node it stands there whole.
    """
    named = {place.ref for s in supplies for n in s.nodes for chain in n.capacitors for place in chain}
    ids = {node.id for supply in supplies for node in supply.nodes}
    added: dict[str, list[tuple[Place, ...]]] = {}
    for part in parts.values():
        if part.ref in named or part.role not in AT_NODE or part.kind not in ("capacitor", None):
            continue
        at = [place.ref for place in part.at if place.ref in ids]
        if len(at) == 1:
            added.setdefault(at[0], []).extend((place,) for place in whole_can(part, Place(part.ref)))
        elif at and len(at) == len(part.sections):
            for node, letter in zip(at, part.sections, strict=True):
                added.setdefault(node, []).append((Place(part.ref, letter),))
    staged = {place for stage in stages for place in stage.tubes}
    if not added and not staged:
        return supplies
    return tuple(replace(supply, nodes=tuple(
        replace(node, capacitors=(*node.capacitors, *added.get(node.id, ())), tubes=_left(node.tubes, staged, parts))
        for node in supply.nodes)) for supply in supplies)


def _left(tubes: tuple[Place, ...], staged: set[Place], parts: Mapping[str, Part]) -> tuple[Place, ...]:
    """A node's tubes but for those that a stage places; of a tube of which it places a section, the others."""
    left: list[Place] = []
    for tube in tubes:
        sections = [Place(tube.ref, name) for name in parts[tube.ref].sections] if tube.section is None else []
        if staged.intersection(sections):
            left += [section for section in sections if section not in staged]
        elif tube not in staged and Place(tube.ref) not in staged:
            left.append(tube)
    return tuple(left)
