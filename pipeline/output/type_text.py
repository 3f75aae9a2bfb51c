"""A type as a page of text: figures in words with the way they bind, their grade and the number of their source."""

from collections.abc import Callable, Iterable, Mapping
from itertools import groupby
from typing import Any

from pipeline.amounts import amount
from pipeline.catalogue import Catalogue, Figure, Ratings
from pipeline.output.page import clean, columns, paint, table, width, wrapped
from pipeline.output.quantities import WORDS, sense_of, value
from pipeline.output.reading import perhaps
from pipeline.output.svg.base import TEXT_WIDTH, base_text
from pipeline.output.svg.electrodes import pin_words

_HEADS = {
    "tubes": "heater", "heater_options": "ways to wire the heater", "sections": "limits and characteristics",
    "section_uses": "in one use only", "rectifiers": "rectifier limits", "regulators": "voltage regulator",
    "barretters": "barretter", "ballasts": "ballast", "diodes": "rectifier limits", "lamps": "lamp",
    "rectifier_ratings": "rating chart", "rectifier_efficiency": "rating chart by rectification efficiency",
    "rectifier_curves": "drop curve", "rectifier_operation": "typical operation",
    "operating_points": "typical operation", "resistance_coupled": "resistance-coupled stages"}
"""Tables of figures in the order of the page, and what a person calls them."""
_KEYED: dict[str, Callable[[list[str]], str]] = {
    "heater_options": lambda key: key[0],
    "operating_points": lambda key: ", ".join(filter(None, (_section(key[0]), key[1], key[2] and f"{key[2]} V plate"))),
    "rectifier_ratings": lambda key: f"{key[0]} input, {key[1]} V AC on each plate",
    "rectifier_operation": lambda key: f"{key[0]}, {key[1]} input, {key[2]} V AC on each plate, {_si(key[3], 'A')} DC",
    "section_uses": lambda key: ", ".join(filter(None, (_section(key[0]), key[1]))),
    "rectifier_efficiency": lambda key: f"efficiency {key[0]}",
    "rectifier_curves": lambda key: f"{key[0]} V across it",
    "resistance_coupled": lambda key: ", ".join(filter(None, (
        _section(key[0]), f"{key[1]} V supply", f"plate resistor {_si(key[2], 'ohm')}",
        key[3] and f"next grid {_si(key[3], 'ohm')}")))}
"""Tables of which a row is one line of figures, and its key in words."""
_ORDER = {quantity: place for place, quantity in enumerate(WORDS)}
_TOLD = {("tube_count", 1.0)}
"""Figures that say nothing worth reading."""
_OTHERWISE = {"designations": "names", "substitutes": "substitutes", "pins": "base"}
"""What a source is named for that no figure on the page cites."""


def as_text(catalogue: Catalogue, item: Mapping[str, Any], everything: bool) -> str:
    """The type as a page of text."""
    if item["type"] is None:
        return wrapped(f"{item['asked']}: not known: {item['why']}.{perhaps(item['near'], item['why'])}")
    numbered = _numbered(item, everything)
    asked = clean(item["asked"])
    head = asked if asked.lstrip("#") == item["type"] else f"{asked} ({item['type']} in the catalogue)"
    blocks = [paint(wrapped(head), "head") + "\n" + wrapped(_what(item), 2, "  ")]
    blocks += _figures(_ratings(item["type"], item["observed"]), numbered)
    blocks += [b for b in (_pins(item), _names(item), _substitutes(item, numbered), _differing(item, numbered)) if b]
    if everything:
        blocks.append(_all(item, numbered))
    blocks.append(_sources(catalogue, item, numbered))
    return "\n\n".join(b for b in blocks if b)


def _numbered(item: Mapping[str, Any], everything: bool) -> dict[str, int]:
    """Source id → its number on this page: those of the figures taken and of what differs, with everything all."""
    rows = [*(f["source_id"] for f in item["figures"]), *(d["other_source"] for d in item["disagreements"]),
            *(d["chosen_source"] for d in item["disagreements"])]
    if everything:
        rows += [o["source_id"] for o in item["observations"]]
        rows += [row["source_id"] for name in ("open_pins", "open_diodes") for row in item.get(name, ())]
    return {source: number for number, source in enumerate(sorted({r for r in rows if r}), 1)}


def _ratings(type_: str, observed: Iterable[Mapping[str, Any]]) -> Ratings:
    """What is chosen of the type, in the order in which it was typed in."""
    found = Ratings(type_)
    for row in sorted((row for row in observed if row["chosen"]), key=lambda row: (row["raw_file"], row["raw_line"])):
        what = row["text"] if row["value"] is None else row["value"]
        found.add(row["table"], Figure(**{name: row[name] for name in Figure._fields} | {"value": what}))
    return found


def _what(item: Mapping[str, Any]) -> str:
    words = [item.get("function") or item.get("kind"), f"{item['base']} base" if item.get("base") else None,
             f"basing {item['basing']}" if item.get("basing") else None,
             f"{item['rating_system']} limits" if item.get("rating_system") else None]
    return ", ".join(str(w) for w in words if w)


def _figures(ratings: Ratings, numbered: Mapping[str, int]) -> list[str]:
    """A block for each table; quantities and values in line all down the page."""
    listed = {name: [(_section(subject.partition("/")[2]), _rows(found.values(), name, numbered))
                     for subject, found in ratings.rows(name).items()] for name in _HEADS if name not in _KEYED}
    every = [row for parts in listed.values() for _, rows in parts for row in rows]
    widths = [max((columns(row[i]) for row in every), default=0) for i in range(4)]
    blocks = []
    for name, head in _HEADS.items():
        lines = [_row(name, subject, found.values(), numbered) for subject, found in ratings.rows(name).items()] \
            if name in _KEYED else [_lines(part, rows, widths) for part, rows in listed[name]]
        if any(lines):
            blocks.append("\n".join([paint(head, "head"), *filter(None, lines)]))
    return blocks


def _lines(part: str, rows: list[tuple[str, ...]], widths: list[int]) -> str:
    """The figures of one part of a type, one line each."""
    if not rows:
        return ""
    cells = [tuple(cell.ljust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return (f"  {part}\n" if part else "") + table(cells, 4)


def _rows(found: Iterable[Figure], name: str, numbered: Mapping[str, int]) -> list[tuple[str, ...]]:
    return [(WORDS.get(f.quantity, f.quantity), f"{sense_of(f.quantity, name)} {value(f)}".strip(), f.evidence,
             f"[{numbered[f.source_id]}]") for f in sorted(found, key=lambda f: _ORDER.get(f.quantity, 0))
            if isinstance(f.value, float)]


def _row(name: str, subject: str, found: Iterable[Figure], numbered: Mapping[str, int]) -> str:
    """What one row of a table says, as a sentence; figures of one grade and source stand together."""
    told = (f for f in found if f.value is not None and (f.quantity, f.value) not in _TOLD and f.quantity != "plate_v")
    said = "; ".join(f"{', '.join(_figure(f, name) for f in figures)} ({evidence} [{numbered[source]}])"
                     for (evidence, source), figures in groupby(told, key=lambda f: (f.evidence, f.source_id)))
    key = subject.partition("#")[0].split("/")[1:]
    return wrapped(f"{_KEYED[name](key + [''] * (4 - len(key)))}: {said}", 4, "  ") if said else ""


def _figure(figure: Figure, table: str) -> str:
    words = (WORDS.get(figure.quantity, figure.quantity), sense_of(figure.quantity, table), value(figure))
    return " ".join(filter(None, words))


def _section(name: str) -> str:
    return {"each": "each section", "whole": "", "": ""}.get(name, f"{name} section")


def _si(text: str, unit: str) -> str:
    """A number of a key with its unit."""
    return amount(float(text), unit) if text.replace(".", "", 1).isdecimal() else f"{text} {unit}".strip()


def _pins(item: Mapping[str, Any]) -> str:
    if not item["pins"]:
        return ""
    weak = "" if item["pins"][0]["evidence"] in ("published", "quoted") else f" ({item['pins'][0]['evidence']})"
    lines = base_text(item.get("base") or "", item["pins"]) if width() > TEXT_WIDTH else \
        [wrapped(f"pin {pin.pin}: {pin.words}", 4, "  ") for pin in pin_words(item["pins"])]
    return "\n".join([paint(f"base{weak}", "head"), *lines])


def _names(item: Mapping[str, Any]) -> str:
    lines = []
    for nearness, words in (("same", ""), ("near", "fit, but some figure differs: "),
                            ("other base", "the same figures on another base: ")):
        names = sorted(d["designation"] for d in item["designations"] if d["nearness"] == nearness)
        if names:
            lines.append(wrapped(words + ", ".join(names), 4, "  "))
    return "\n".join([paint("other names", "head"), *lines]) if lines else ""


def _substitutes(item: Mapping[str, Any], numbered: Mapping[str, int]) -> str:
    rows = [(s["substitute"], s["relation"], s["condition"] or "", s["evidence"]) for s in item["substitutes"]]
    return paint("what may stand in for it", "head") + "\n" + table(rows) if rows else ""


def _differing(item: Mapping[str, Any], numbered: Mapping[str, int]) -> str:
    lines = []
    for d in item["disagreements"]:
        part = ", ".join(d["subject"].split("/")[1:])
        what = f"{part} {WORDS.get(d['quantity'], d['quantity'])}".strip()
        taken, other = (f"{_told(d[f'{side}_value'], d['unit'], d['quantity'])} ({d[f'{side}_evidence']} "
                        f"[{numbered[d[f'{side}_source']]}])" for side in ("chosen", "other"))
        lines.append(wrapped(f"{what}: {taken} is taken; {other}", 4, "  "))
    return "\n".join([paint("sources differ", "head"), *lines]) if lines else ""


def _told(text: Any, unit: str | None, quantity: str) -> str:
    """A cell as the catalogue keeps it: a number with its unit, or words."""
    try:
        return amount(float(text), unit, quantity)
    except (TypeError, ValueError):
        return str(text).strip()


def _all(item: Mapping[str, Any], numbered: Mapping[str, int]) -> str:
    lines = []
    for o in item["observations"]:
        part = ", ".join([o["table"].replace("_", " "), *o["subject"].split("/")[1:]])
        what = f"{part}: {WORDS.get(o['quantity'], o['quantity'])} {_told(o['value'], o['unit'], o['quantity'])}"
        where = f"{o['evidence']} [{numbered[o['source_id']]}], {o['raw_file']}:{o['raw_line']}"
        lines.append(wrapped(f"{what}, {where}", 9, "  taken  " if o["chosen"] else " " * 9))
    for name in ("open_pins", "open_diodes"):
        for row in item.get(name, ()):
            lines.append(wrapped(f"{name.replace('_', ' ')}: {_open(row)}, {row['evidence']} "
                                 f"[{numbered[row['source_id']]}], {row['locator']}", 9, " " * 9))
    return "\n".join([paint("every observation", "head"), *lines])


def _open(row: Mapping[str, Any]) -> str:
    """What a row of an open table says: a pin's electrode, or a diode's volts and amps."""
    if "electrode" in row:
        return f"pin {row['pin']} {row['electrode']}"
    return f"{row['piv_max_v'] or '?'} V, {row['forward_max_a'] or '?'} A"


def _sources(catalogue: Catalogue, item: Mapping[str, Any], numbered: Mapping[str, int]) -> str:
    """Each source with its number; one that no figure of the page cites with what it is the source of."""
    found = catalogue.sources(set(numbered))
    cited = {f["source_id"] for f in item["figures"] if f["table"] not in _OTHERWISE and isinstance(f["value"], float)}
    lines = []
    for source, number in numbered.items():
        what = sorted({_OTHERWISE.get(f["table"], "what it is") for f in item["figures"] if f["source_id"] == source})
        beside = f": {', '.join(what)}" if what and source not in cited else ""
        read = _places(f["locator"] for f in item["figures"] if f["source_id"] == source)
        lines.append(wrapped(f"{_title(found[source])}{read} ({source}){beside}", 7, f"  {f'[{number}]':<5}"))
    return "\n".join([paint("sources", "head"), *lines])


def _title(source: Mapping[str, Any]) -> str:
    """Title, publisher and date of a document; an edition that names the year says it for both."""
    dated = source["edition"] and source["year"] and str(source["year"]) in str(source["edition"])
    names = ("title", "publisher", "edition") if dated else ("title", "publisher", "year", "edition")
    return ", ".join(str(source[name]) for name in names if source[name])


def _places(locators: Iterable[str | None]) -> str:
    """Where in a document the figures of a page stand, `; page 1, page 3`; nothing where no figure says."""
    places = sorted({place for place in locators if place})
    return f"; {', '.join(places)}" if places else ""
