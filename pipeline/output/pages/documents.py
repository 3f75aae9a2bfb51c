"""Each document with the figures read in it, and those that are believed to stand in it."""

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from pipeline.output.pages.known import GRADES, Known, Row, natural
from pipeline.output.pages.shown import part_of
from pipeline.output.pages.wording import limited

MOST_ENTRIES = 220
"""Subjects on one page of a document; one with more has several pages."""
NOT_FIGURES = ("designations",)
"""Tables of names: they are counted, not listed."""


class Entry(NamedTuple):
    """What one document says of one subject: its type (a tube's or another's), figures in words, pages, grade."""

    type: str
    figures: str
    locator: str
    grade: str


class Document(NamedTuple):
    """A document: its id, title, facts about it, counts by grade, what was read in it, types recalled with counts."""

    id: str
    title: str
    facts: list[tuple[str, str]]
    counts: dict[str, int]
    read: list[Entry]
    recalled: list[tuple[str, int]]


def documents(known: Known) -> list[Document]:
    """Every document of the catalogue, that with the most figures read in it first."""
    rows: dict[str, list[Row]] = defaultdict(list)
    for row in known.figures:
        rows[row["source_id"]].append(row)
    found = [_document(known, id_, rows.get(id_, [])) for id_ in known.sources]
    return sorted(found, key=lambda d: (*(-d.counts[g] for g in GRADES), d.title.lower()))


def _document(known: Known, id_: str, rows: list[Row]) -> Document:
    source = known.sources[id_]
    facts = [(name.capitalize(), source[name]) for name in ("publisher", "year", "edition", "kind", "licence")
             if source[name]]
    counts = {grade: sum(r["evidence"] == grade for r in rows) for grade in GRADES}
    return Document(id_, source["title"], facts, counts, _read(known, rows), _recalled(rows))


def _read(known: Known, rows: list[Row]) -> list[Entry]:
    groups: dict[tuple[str, str], list[Row]] = defaultdict(list)
    for row in rows:
        if row["evidence"] != "recalled" and row["table"] not in NOT_FIGURES:
            groups[row["type"], row["evidence"]].append(row)
    return [Entry(type_, "; ".join(_said(known, many)), ", ".join(dict.fromkeys(r["locator"] for r in many
                                                                             if r["locator"])), grade)
            for (type_, grade), many in sorted(groups.items(), key=lambda g: (natural(g[0][0]), g[0][1]))]


def _said(known: Known, rows: list[Row]) -> Iterator[str]:
    """Figures of one subject in words, one clause a part: `pentode: plate volts at most 300 V, …`."""
    parts: dict[str, list[str]] = defaultdict(list)
    for row in rows:
        value = limited(row["quantity"], row["value"], row["unit"], row["table"])
        parts[part_of(row).replace("/", ", ")].append(f"{known.label(row['table'], row['quantity'])} {value}")
    for part, said in parts.items():
        yield (f"{part}: " if part and part not in ("whole", "each") else "") + ", ".join(said)


def _recalled(rows: list[Row]) -> list[tuple[str, int]]:
    counts: dict[str, int] = defaultdict(int)
    for row in rows:
        if row["evidence"] == "recalled":
            counts[row["type"]] += 1
    return sorted(counts.items(), key=lambda item: natural(item[0]))


class Part(NamedTuple):
    """One page of a document: its file, its number, and what stands on it."""

    file: str
    number: int
    read: list[Entry]
    recalled: list[tuple[str, int]]


def parts(document: Document) -> list[Part]:
    """The document's pages: what was read first, then what is believed to stand in it."""
    cuts: list[tuple[list[Entry], list[tuple[str, int]]]] = [
        (document.read[i:i + MOST_ENTRIES], []) for i in range(0, len(document.read), MOST_ENTRIES)]
    most = 4 * MOST_ENTRIES  # a type and a count take a quarter of the room
    rest = [document.recalled[i:i + most] for i in range(0, len(document.recalled), most)]
    if len(cuts) == 1 and len(rest) == 1 and 4 * len(cuts[0][0]) + len(rest[0]) <= most:
        cuts = [(cuts[0][0], rest[0])]
    else:
        cuts += [([], one) for one in rest]
    return [Part(f"source/{document.id}{'' if i == 1 else f'-{i}'}.html", i, *cut)
            for i, cut in enumerate(cuts or [([], [])], 1)]
