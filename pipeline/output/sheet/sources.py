"""The foot of the sheet: recalled figures to look up, and the sources and grades behind every verdict."""

from collections.abc import Iterable, Mapping, Sequence
from itertools import chain
from typing import Any

from pipeline.bench.bringup import BringUp
from pipeline.bench.care import Care
from pipeline.bench.replacements import Advice
from pipeline.catalogue import EVIDENCE, Catalogue, Figure
from pipeline.checks.check import Checked
from pipeline.output.quantities import named, value
from pipeline.output.sheet.markup import Markup, blank, el, note, section, table, tick
from pipeline.output.sheet.words import GRADES

Sources = Mapping[str, Mapping[str, Any]]


def figures_of(checked: Checked, advice: Advice, made: BringUp, care: Sequence[Care] = ()) -> list[Figure]:
    """Every figure that a verdict, a piece of advice or a step rests on, each once."""
    used = (*(x.rests_on for x in checked.findings), *(x.rests_on for x in advice.buy),
            *(x.rests_on for x in (*advice.leave, *advice.out)), *(x.rests_on for x in care), made.rests_on)
    return list(dict.fromkeys(chain.from_iterable(used)))


def recalled_section(used: Sequence[Figure], pins: Mapping[str, list[dict]], sources: Sources) -> Markup | None:
    """The figures that were entered from memory, with a box for what the document says."""
    found = sorted({f for f in used if f.evidence == "recalled"}, key=lambda f: (f.subject, f.quantity))
    maps = sorted(t for t, rows in pins.items() if any(r["evidence"] == "recalled" for r in rows))
    if not found and not maps:
        return None
    titles = list(dict.fromkeys(_title(f, sources) for f in found))
    tables = [_lookup(title, [f for f in found if _title(f, sources) == title]) for title in titles]
    return section(
        "recalled", "Look these up",
        note("Entered from memory, not read in a document; each is believed to stand in the one it is listed under. ",
             el("code", "tubewright confirm TYPE"),
             " takes what you read."),
        *tables,
        el("p", el("b", "Pin maps from memory: "), ", ".join(maps), ". Find the heater pins with the ohmmeter first.")
        if maps else None)


def _lookup(title: str, found: Sequence[Figure]) -> Markup:
    """The figures believed to stand in one document, each with its place on the list and a box."""
    rows = [(tick(f"{named(f)} looked up"), named(f), value(f), blank(f"{named(f)} as printed")) for f in found]
    return table(title, ("Done", "Figure", "Recalled", "As printed"), rows, key=1, class_="lookup")


def _title(figure: Figure, sources: Sources) -> str:
    row = sources.get(figure.source_id)
    return str(row["title"]) if row else "no document named"


def sources_section(used: Sequence[Figure], sources: Sources) -> Markup:
    """What the grades mean and how many figures are of each, then the documents."""
    counts = {grade: sum(f.evidence == grade for f in used) for grade in EVIDENCE}
    grades = [el("li", el("b", f"{counts[grade] or 'none'} {grade}"), f": {meaning}")
              for grade, meaning in GRADES.items() if grade != "measured"]
    listed = [(_document(s), str(sum(f.source_id == id_ for f in used))) for id_, s in sorted(sources.items())]
    listed += [(_document({"title": id_, "kind": "not described in the catalogue"}),
                str(sum(f.source_id == id_ for f in used)))
               for id_ in sorted({f.source_id for f in used if f.source_id} - set(sources))]
    return section(
        "sources", "Sources and evidence",
        el("p", "A verdict is as strong as the weakest figure it rests on. What you measured or wrote in the list is "
                "taken as it stands."),
        el("p", "Figures used on this sheet, by grade:"), el("ul", *grades),
        table("Documents named", ("Title, publisher, kind", "Figures"), listed, class_="documents"))


def _document(source: Mapping[str, Any]) -> Markup:
    """The title, and after it in plain letters who published it and what it is."""
    said = [str(source[k]) for k in ("publisher", "edition", "year", "kind") if source.get(k)]
    return el("span", el("b", source["title"]), el("small", " ", ", ".join(said)))


def sources_of(used: Iterable[Figure], catalogue: Catalogue) -> dict[str, dict[str, Any]]:
    return catalogue.sources({f.source_id for f in used if f.source_id})
