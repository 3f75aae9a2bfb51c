"""A supply and its nodes, as a person says them."""

import re
from typing import Any

from pipeline.bench.told.fact import NODE_LIKE, REF_LIKE, Fact, Known
from pipeline.bench.told.words import OHM, Said, not_understood
from pipeline.unit.toml_editing import DEFAULT_SUPPLY

SUPPLY_SAID = "supply full-wave V5 300-0-300 V 95 ohm"
NODE_SAID = "B1 to B2 through R3"
_CIRCUITS = ((r"half[\s-]?wave (?:voltage )?doubler|cascade doubler|villard", "half-wave doubler"),
             (r"(?:full[\s-]?wave )?(?:voltage )?doubler|delon|greinacher", "doubler"),
             (r"bridge(?: rectifier)?|graetz|brücke", "bridge"),
             (r"half[\s-]?wave|single[\s-]?wave|einweg|one way", "half-wave"),
             (r"full[\s-]?wave|two[\s-]?phase|zweiweg|bi[\s-]?phase", "full-wave"))
_FILLERS = ("rectifier", "half", "secondary", "winding", "supply", "tube", "plate", "plates", "volts", "rms", "ht",
            "power", "transformer", "feeds", "through", "first", "node", "load", "draws", "draw", "tubes", "capacitor",
            "capacitors", "feed", "via", "next", "then", "c", "ac", "end", "surge", "primary", "lead", "cap", "caps",
            "takes", "tap", "as", "current", "plus", "mains", "line", "resistor", "choke", "rectifies", "goes", "fed",
            "after")


def supply(text: str, known: Known) -> Fact:
    """`supply B+ full-wave 5Y3 350-0-350 48 ohm`, `supply bias half-wave D1 50 V negative`, `battery 90 V`."""
    said, told = Said(text), list[str]()
    id_, values = _supply_id(said, known), dict[str, Any]()
    values |= _source(said, known)
    source = values.get("source") or dict(known.toml.supplies()).get(id_, {}).get("source")
    first = said.take(r"(?:first )?node (?P<id>[^\s,;]+)|(?:to|makes|gives|feeds) (?P<to>[A-H]\d{1,2}|[A-H][+-])")
    values |= _volts(said, values, id_, source)
    values |= {key: said.ohms(label) for key, label in (
        ("primary_ohm", "primary"), ("added_ohm", r"added|surge|in series|series|per plate|each plate|limiting"))}
    values["ohms" if source == "battery" else "secondary_ohm"] = said.ohms()
    values |= {"secondary_a": said.only("A"), "hertz": said.only("Hz")}
    for word in said.words():
        if word.lower() not in _FILLERS:
            _supply_word(word, values, told, known)
    values = {key: value for key, value in values.items() if value is not None}
    return Fact("supply", id_, values, first=_node_id((first["id"] or first["to"]) if first else "", known), told=told)


def _supply_id(said: Said, known: Known) -> str:
    """The id that the line begins with, taken out; without one `B+`, `bias` for a negative supply."""
    word = next(iter(said.words()), "")
    named = known.supply(word)
    new = re.fullmatch(r"(?i)[A-Z]{1,12}\d?[+-]?", word) and not said_otherwise(word)
    if named or (new and known.names.find(word) is None and not _is_type(word, known)):
        said.left = re.sub(rf"(?<!\S){re.escape(word)}[,:;]?(?!\S)", " ", said.left, count=1)
        return named or ("B+" if word.upper() == "B" else word)
    if re.search(r"(?i)\bnegative\b", said.left):
        return "bias"
    every = [id_ for id_, _ in known.toml.supplies()]
    return every[0] if len(every) == 1 else DEFAULT_SUPPLY


def said_otherwise(word: str) -> bool:
    """Whether the word says something else of a supply than its id."""
    low = word.lower()
    return low in (*_FILLERS, "negative", "positive", "battery", "vibrator", "from", "source", "heats", "minus",
                   "bridge", "doubler", "halfwave", "fullwave", "half", "full", "choke", "on", "dry", "accumulator",
                   "cells", "synchronous", "voltage", "single", "input", "added")


def _is_type(word: str, known: Known) -> bool:
    """Whether a word is a tube's or diode's type, which names the rectifier and no supply."""
    try:
        return known.of_type(word) is not None
    except ValueError:
        return True


def _source(said: Said, known: Known) -> dict[str, Any]:
    """Where it comes from: circuit, input, polarity, node, battery, vibrator, what it heats, what its minus goes by."""
    found: dict[str, Any] = {}
    found["circuit"] = next((name for pattern, name in _CIRCUITS if said.take(pattern)), None)
    found["input"] = "choke" if said.take(r"choke[\s-]?input|l[\s-]input") else \
        "capacitor" if said.take(r"(?:capacitor|condenser)[\s-]?input|c[\s-]input") else None
    found["polarity"] = "negative" if said.take("negative|neg") else None
    found["source"] = "battery" if said.take(r"(?:dry )?batter(?:y|ies)|accumulator|cells") else \
        "vibrator" if said.take(r"(?:synchronous )?vibrator") else None
    for key, pattern in (("heats", r"(?:heats|heating)"),
                         ("minus_through", r"minus(?: lead)?(?: goes)? (?:through|by|via)")):
        if match := said.take(rf"{pattern} (?P<name>[^\s,;]+)"):
            found[key] = known.names.find(match["name"]) or match["name"]
    for match in re.finditer(r"(?i)\bfrom (?:node |winding )?(?P<name>[^\s,;]+)", said.left):
        name = known.names.find(match["name"], "node", "winding", "string")
        if name is not None or (NODE_LIKE.fullmatch(match["name"]) and known.part(match["name"]) is None):
            key = "from" if name is None or known.names.kinds[name] == "node" else "winding"
            said.left = said.left.replace(match[0], " ", 1)
            found[key] = name or match["name"].upper()
            break
    if match := said.take(r"(?:on )?winding (?P<name>[A-Z]{1,3}\d{1,2})"):
        found["winding"] = known.names.find(match["name"]) or match["name"]
    return found


def _volts(said: Said, values: dict[str, Any], id_: str, source: str | None) -> dict[str, Any]:
    """Volts of each half, of the line, or of a battery; `350-0-350` is full-wave where nothing else is said."""
    found: dict[str, Any] = {}
    if source == "battery":
        found = {"high_v": said.amount("V", "fresh|high|at most", bare=True),
                 "low_v": said.amount("V", "flat|low|at least", bare=True)}
    key = "volts" if source in ("battery", "vibrator") else "secondary_v"
    if both := said.take(r"(?P<a>\d+(?:[.,]\d+)?)\s*V?\s*-\s*0\s*-\s*(?P<b>\d+(?:[.,]\d+)?)(?:\s*V(?:olts?)?)?"):
        if both["a"] != both["b"]:
            raise ValueError(f"{both[0].strip()} has two unlike halves: say each half's volts once")
        values["circuit"] = values.get("circuit") or "full-wave"
    both = both or said.take(r"2\s*x\s*(?P<a>\d+(?:[.,]\d+)?)(?:\s*V(?:olts?)?)?")
    found[key] = float(both["a"].replace(",", ".")) if both else said.only("V")
    if id_.lower() in ("bias", "c", "c-", "grid") and "polarity" in values:
        values["polarity"] = "negative"
    return found


def _supply_word(word: str, values: dict[str, Any], told: list[str], known: Known) -> None:
    """A word that is left: the rectifier, by ref or type; a transformer, which no key names."""
    part = known.part(word)
    if part is not None and part.kind in ("transformer", "cord", "switch", "fuse"):
        told.append(f"{part.ref} is not written: unit.toml names what stands behind the transformer")
        return
    kind = known.names.find(word, "winding", "string")
    if kind is not None:
        values["winding"] = kind
    elif part is not None and part.kind in ("tube", "diode", None):
        values["rectifier"] = part.ref
    elif part is None and re.fullmatch(r"(?i)(?:T|TR|PT)\d{1,2}", word):
        told.append(f"{word.upper()} is not written: unit.toml names what stands behind the transformer")
    elif part is None and re.fullmatch(r"(?i)(?:V|D|CR|SR|REC|X|RE|MR|GL)\d{1,3}", word):
        values["rectifier"] = word.upper()
    elif part is None and (ref := known.of_type(word)):
        values["rectifier"] = ref
    else:
        raise not_understood([word], SUPPLY_SAID)


def node(text: str, known: Known) -> Fact:
    """`B1 to B2 through R3`, `B2 from B1 through L1, C2, 12 mA`, `B2 draws V3 V4`, `B1 regulator V7`."""
    said = Said(text)
    if said.take("reads|measures"):
        raise ValueError("a reading at a node goes into readings.csv beside the parts, as `B1,dc_v,262`; the boxes of "
                         "`tubewright sheet` save it so")
    values: dict[str, Any] = {}
    id_ = _node_ends(said, values, known)
    without = tuple(m["ref"].upper() for m in iter(lambda: said.take(r"without (?P<ref>[^\s,;]+)"), None))
    values["load_ohm"] = said.ohms("load|bleeder") if re.search(OHM, said.left) else None
    values["load_a"] = said.only("A")
    if re.search(r"(?i)\bno load\b", said.left):
        raise ValueError(f"{id_}: a node without a load needs none written")
    for key, label in (("regulator", r"regulator|regulated by|held by|stabilised by|stabilized by"),
                       ("standby", r"standby(?: switch)?|switched by")):
        if match := said.take(rf"(?:{label}) (?P<ref>[^\s,;]+)"):
            values[key] = "+".join(_ref(word, known) for word in match["ref"].split("+"))
    for word in said.words():
        if word.lower() not in _FILLERS:
            _node_word(word, id_, values, known)
    values = {key: value for key, value in values.items() if value is not None}
    if not values and not without and known.names.find(id_, "node"):
        raise not_understood([id_], NODE_SAID)
    return Fact("node", id_, values, without=without)


def _node_ends(said: Said, values: dict[str, Any], known: Known) -> str:
    """The node that the line is of; the one before it goes into `values`."""
    if match := said.take(r"(?P<from>[^\s,;]+) to (?P<to>[^\s,;]+)"):
        values["from"] = _node_id(match["from"], known)
        return _node_id(match["to"], known)
    if match := said.take(r"(?:fed )?from (?P<from>[^\s,;]+)"):
        values["from"] = _node_id(match["from"], known)
    word = next(iter(said.words()), "")
    if not word:
        raise not_understood(["node"], NODE_SAID)
    said.left = said.left.replace(word, " ", 1)
    return _node_id(word, known)


def _node_id(word: str, known: Known) -> str:
    """A node's id as the unit writes it; raises ValueError where it is something else."""
    found = known.names.find(word)
    if found is not None and known.names.kinds[found] != "node":
        raise ValueError(f"{found} is already a {known.names.kinds[found]}: give the node another id")
    if word and found is None and not (REF_LIKE.fullmatch(word) or NODE_LIKE.fullmatch(word) or word.isalpha()):
        raise not_understood([word], NODE_SAID)
    return found or (word.upper() if NODE_LIKE.fullmatch(word) else word)


def _ref(word: str, known: Known) -> str:
    place = known.place(word, "part")
    return str(place) if place else word.upper()


def _node_word(word: str, id_: str, values: dict[str, Any], known: Known) -> None:
    """A word that is left of a node's line: a part, which goes where its kind belongs; the node before it."""
    pieces = word.split("+") if "+" in word.strip("+") else [word]
    places = [known.place(piece, "part") for piece in pieces]
    part = known.parts.get(places[0].ref) if places[0] else None
    kind = part.kind if part else {"C": "capacitor", "V": "tube", "R": "resistor", "L": "choke", "S": "switch",
                                   "T": "transformer"}.get(word[:1].upper()) if REF_LIKE.fullmatch(pieces[0]) else None
    refs = [str(place) if place else piece.upper() for place, piece in zip(places, pieces, strict=True)]
    if found := known.names.find(word, "node"):
        if found == id_ or "from" in values:
            raise not_understood([word], NODE_SAID)
        values["from"] = found
    elif kind == "capacitor":
        values.setdefault("capacitors", []).append("+".join(refs))
    elif kind == "tube":
        values.setdefault("tubes", []).extend(refs)
    elif kind == "switch":
        values["standby"] = refs[0]
    elif (part is not None or kind) and "through" not in values:
        values["through"] = refs[0]
    else:
        raise not_understood([word], NODE_SAID)
