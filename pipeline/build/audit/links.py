"""Rules about what points where: sources, types, names, substitutes."""

from collections.abc import Callable, Collection, Iterator
from difflib import get_close_matches
from functools import cache

from pipeline.build.audit.ground import Ground, Hit, hit, where
from pipeline.build.normalise import TypedRow
from pipeline.notation.names import normal
from schemas.tables import LINKS, PROVENANCE, TABLES

_OF_A_TUBE = ("heater_options", "tube_pins", "sections", "section_uses", "operating_points", "resistance_coupled",
              "designations", "regulators", "barretters", "ballasts", "common_types")
_OF_ANY_TYPE = ("designation_exceptions", "rectifiers", "rectifier_ratings", "rectifier_operation", "rectifier_curves",
                "rectifier_efficiency")


def source_unknown(ground: Ground) -> Iterator[Hit]:
    """Every source id stands in the sources table: a figure without its document is no figure."""
    if "sources" in ground.lost:
        return
    known = {str(r.values["source_id"]) for r in ground.typed["sources"]}
    nearest = _nearest(known)
    for row in _sourced(ground):
        source = row.values["source_id"]
        if source is not None and source not in known:
            yield hit(row, "source_id", "no such source", nearest(str(source), "add it to sources/"))


def published_nowhere(ground: Ground) -> Iterator[Hit]:
    """A published figure names the place in its document where it was read: page, sheet or clause."""
    for row in _sourced(ground):
        if row.values["evidence"] == "published" and row.values["locator"] is None:
            yield hit(row, "locator", "no place in the document", "name the page, or say quoted or recalled")


def published_by_many(ground: Ground) -> Iterator[Hit]:
    """A published figure stands in one document: sheets of several makers are none."""
    many = {str(r.values["source_id"]) for r in ground.typed["sources"]
            if str(r.values["publisher"] or "").startswith("several ")}
    for row in _sourced(ground):
        if row.values["evidence"] == "published" and row.values["source_id"] in many:
            yield hit(row, "evidence", f"{row.values['source_id']} is no one maker's document",
                      "name the document it was read in, or say quoted")


def _sourced(ground: Ground) -> Iterator[TypedRow]:
    """Every row that says where it stands and how good it is."""
    for name, rows in ground.typed.items():
        if set(PROVENANCE) <= set(TABLES[name].columns):
            yield from rows


def type_unknown(ground: Ground) -> Iterator[Hit]:
    """Rows about a type need that type among the tubes; metal rectifiers are types of their own."""
    tubes = set(ground.tubes)
    metal = {str(r.values["type"]) for r in ground.typed["rectifiers"] if r.values["kind"] in ("silicon", "selenium")}
    any_type = tubes | metal | {str(r.values["type"]) for r in ground.typed["diodes"]}
    for names, known, where_from in ((_OF_A_TUBE, tubes, {"tubes"}),
                                     (_OF_ANY_TYPE, any_type, {"tubes", "rectifiers", "diodes"})):
        if where_from & ground.lost:
            continue
        nearest = _nearest(known)
        for row in (row for name in names for row in ground.typed[name]):
            kind = row.values["type"]
            if kind is not None and kind not in known:
                yield hit(row, "type", "no such type among the tubes", nearest(str(kind), "add it to tubes/tubes/"))


def link_unknown(ground: Ground) -> Iterator[Hit]:
    """What a row names in another table stands there: a rating's rectifier, a substitute's type, a stocked kind."""
    told = {(row.file, row.line) for row, *_ in type_unknown(ground)}
    for name, links in LINKS.items():
        for link in links:
            known = {str(r.values[link.target]) for r in ground.typed[link.table]}
            nearest = _nearest(known)
            for row in ground.typed[name] if link.table not in ground.lost else []:
                value = row.values[link.column]
                if value is None or value in known or (row.file, row.line) in told:
                    continue
                if link.column != "substitute" or normal(str(value)) != normal(str(row.values["type"])):
                    yield hit(row, link.column, f"no such {link.target} in {link.table}",
                              nearest(str(value), f"add it to {link.table}/"))


def _nearest(known: Collection[str]) -> Callable[[str, str], str]:
    @cache
    def nearest(word: str, otherwise: str) -> str:
        near = get_close_matches(word, known, 1)
        return f"perhaps {near[0]}, else {otherwise}" if near else otherwise

    return nearest


def type_stroke(ground: Ground) -> Iterator[Hit]:
    """A catalogue name has no stroke: subjects are cells with strokes between; `IW4/350` stands among the names."""
    for row in (*ground.typed["tubes"], *ground.typed["rectifiers"], *ground.typed["diodes"]):
        if "/" in str(row.values["type"]):
            yield hit(row, "type", "a stroke in a catalogue name", "leave it out, and put the printed form among the "
                      "designations")


def name_taken(ground: Ground) -> Iterator[Hit]:
    """A designation must not be another type's own name: a reader of the name would get the wrong tube."""
    own = {normal(type_): type_ for type_ in ground.tubes}
    for row in ground.typed["designations"]:
        owner = own.get(normal(str(row.values["designation"])))
        if owner is not None and owner != row.values["type"]:
            yield hit(row, "designation", f"{owner} is a type of its own", "drop the row, or make it a substitute")


def name_of_two(ground: Ground) -> Iterator[Hit]:
    """In one naming system a name must not stand for two types exactly: who numbers tubes gives a number once.

    Two systems may: VT52 is one tube in the list of the United States and another in the British one.  The reader
    then asks.
    """
    own = {normal(type_) for type_ in ground.tubes}
    first: dict[tuple[str, str], TypedRow] = {}
    for row in ground.typed["designations"]:
        name = normal(str(row.values["designation"]))
        if row.values["nearness"] == "same" and name not in own:
            other = first.setdefault((name, str(row.values["system"])), row)
            if other.values["type"] != row.values["type"]:
                yield hit(row, "designation", f"already the name of {other.values['type']} ({where(other)})",
                          "say near for one of them, or drop it")


def name_own(ground: Ground) -> Iterator[Hit]:
    """A type's own name is no other name of it: the row would make a circle."""
    for row in ground.typed["designations"]:
        if row.values["designation"] == row.values["type"]:
            yield hit(row, "designation", "the type's own name", "drop the row")


def name_a_word(ground: Ground) -> Iterator[Hit]:
    """A designation without a figure or a capital is a word that slipped out of a note, not a name."""
    for row in ground.typed["designations"]:
        name = str(row.values["designation"])
        if not any(c.isdigit() for c in name) and not name.isupper():
            yield hit(row, "designation", "a word, not a name", "drop the row, or move it to the note")


def name_twice(ground: Ground) -> Iterator[Hit]:
    """One name of one type is spelled one way and has one nearness, whatever the source."""
    first: dict[tuple[str, str], TypedRow] = {}
    for row in ground.typed["designations"]:
        printed = str(row.values["designation"])
        other = first.setdefault((normal(printed), str(row.values["type"])), row)
        if (printed, row.values["nearness"]) != (other.values["designation"], other.values["nearness"]):
            yield hit(row, "designation", f"also stands at {where(other)} as {other.values['designation']}, "
                      f"{other.values['nearness']}", "spell both alike with one nearness, or drop one")


def own_substitute(ground: Ground) -> Iterator[Hit]:
    """A type is not its own substitute."""
    for row in ground.typed["substitutes"]:
        if normal(str(row.values["substitute"])) == normal(str(row.values["type"])):
            yield hit(row, "substitute", "the type itself", "name another type, or drop the row")


def substitute_contradiction(ground: Ground) -> Iterator[Hit]:
    """One type cannot both be a drop-in for another and no substitute for it."""
    said: dict[tuple, TypedRow] = {}
    for row in ground.typed["substitutes"]:
        key = (row.values["type"], row.values["substitute"])
        other = said.setdefault(key, row)
        if "not a substitute" in (pair := {row.values["relation"], other.values["relation"]}) and len(pair) > 1:
            yield hit(row, "relation", f"{where(other)} says {other.values['relation']!r}", "keep the one that holds")
