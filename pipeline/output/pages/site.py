"""The whole folder of pages: every file's name and bytes, the same for the same catalogue."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

from pipeline.catalogue import Catalogue
from pipeline.output.page import CAUTIONS
from pipeline.output.pages import data
from pipeline.output.pages.changes import Changes, changes
from pipeline.output.pages.documents import documents, parts
from pipeline.output.pages.finding import (
    WITHIN_PCT,
    by_column,
    heaters_offered,
    register,
    register_file,
    search_data,
    sections_offered,
)
from pipeline.output.pages.known import GRADES, Known, natural
from pipeline.output.pages.types import differing_of, questions, type_page
from pipeline.output.pages.wanted import MOST_TYPES, used_by, wanted
from pipeline.output.render import TEMPLATES, style, template
from pipeline.output.waiting import Told

PARTS = (("index.html", "Find"), ("sources.html", "Sources"), ("wanted.html", "What is wanted"),
         ("disagreements.html", "Disagreements"), ("changes.html", "Changes"), ("data.html", "Data"))
MOST_DISAGREEMENTS = 150
MOST_BYTES = 75_000
"""A type's page larger than this leaves the readings that were not taken to a page of their own."""
Page = tuple[str, str]
"""A page's path in the folder, and its text."""


class Asked(NamedTuple):
    """What is asked of the pages beyond the catalogue.

    `address`: where the folder will stand, '' where that is not said. `units`: the folder of units that are counted for
    what is wanted. `history`: a `pipeline.build.history.History` since an older catalogue, of the `day`. `csv`: the
    tables as CSV.
    """

    address: str = ""
    units: Path | None = None
    history: Any = None
    day: str = ""
    csv: Mapping[str, bytes] = {}


class Site(NamedTuple):
    """What every page shares: its address ('' where none is given), parts, cautions, version, whether it has a feed."""

    address: str
    parts: tuple[tuple[str, str], ...]
    cautions: str
    version: str
    feed: bool


class Linked(NamedTuple):
    """What templates need to link to types: their files, and the way up to the folder."""

    files: dict[str, str]
    up: str


class Pages:
    """The pages of one catalogue, each filled from its template with what all share."""

    def __init__(self, known: Known, asked: Asked):
        self.known, self.asked = known, asked
        address = asked.address and asked.address.rstrip("/") + "/"
        shown = tuple(part for part in PARTS if part[0] != "changes.html" or asked.history)
        self.site = Site(address, shown, CAUTIONS, known.package["version"], asked.history is not None)

    def fill(self, file: str, path: str, title: str, description: str, **values: Any) -> Page:
        """The page at `path`, made from the template `file`."""
        up = "../" * path.count("/")
        text = template(f"pages/{file}").render(
            site=self.site, up=up, path=path, title=title, description=description,
            known=Linked(self.known.files, up), **values)
        return path, text

    def finding(self) -> Iterator[Page]:
        """The search page, the lists by function and base, and the register of names."""
        known = self.known
        lists = {"function": by_column(known, "function", "function"), "base": by_column(known, "base", "base")}
        names = register(known)
        letters = [(begin, register_file(begin)) for begin in names]
        yield self.fill(
            "index.html", "index.html", "Find a tube: type, base, heater, substitutes",
            f"{len(known.tubes)} types of vacuum tube by any name printed on them, by function, base and heater: "
            "limits, base from below, substitutes, each figure with its source.", count=len(known.tubes),
            names=sum(map(len, names.values())), functions=lists["function"], bases=lists["base"], letters=letters,
            holds=sections_offered(known), volts=heaters_offered(known), within=WITHIN_PCT)
        for column, found in lists.items():
            for one in found:
                heading = f"{one.title[:1].upper()}{one.title[1:]}" + (" base" if column == "base" else "")
                yield self.fill("list.html", one.file, f"{heading}: {len(one.rows)} tube types",
                                f"Tube types: {one.title}.", heading=heading, list=one,
                                narrowed="#" + urlencode({column: one.title}))
        for begin, printed in names.items():
            yield self.fill("names.html", register_file(begin), f"Tube names that begin with {begin}",
                            f"Every name printed on a tube that begins with {begin}, and the type it stands for.",
                            letter=begin, letters=letters, names=printed)

    def types(self, told: Told) -> Iterator[Page]:
        """A page for each type."""
        for done, type_ in enumerate(self.known.files, 1):
            yield from self.type(type_)
            told(done, len(self.known.tubes))

    def type(self, type_: str) -> list[Page]:
        """The page of one type; of one with very much on it a second, with the readings that were not taken."""
        page, path = type_page(self.known, type_), f"type/{self.known.files[type_]}"
        made = self.fill("type.html", path, page.title, page.description, page=page, others="")
        if len(made[1].encode()) <= MOST_BYTES or page.others is None:
            return [made]
        other = path.replace(".html", "-readings.html")
        return [self.fill("type.html", path, page.title, page.description, page=page, others=other),
                self.fill("readings.html", other, f"{type_}: readings not taken",
                          f"What other documents say of the {type_}.", page=page)]

    def sources(self) -> Iterator[Page]:
        """The list of documents, and each with its figures."""
        found = documents(self.known)
        yield self.fill("sources.html", "sources.html", "Sources: the documents the figures were read in",
                        f"{len(found)} documents with the tube ratings read in each.", documents=found,
                        grades=list(GRADES), names={d.id: self.known.document(d.id) for d in found})
        for document in found:
            every = parts(document)
            for part in every:
                number = f", page {part.number}" if len(every) > 1 else ""
                yield self.fill("source.html", part.file, f"{self.known.document(document.id)}{number}",
                                f"Tube ratings read in {document.title}.", document=document, part=part, pages=every)

    def wanted(self) -> Iterator[Page]:
        """Recalled figures, those first that verdicts rest on."""
        units, used = used_by(self.known.catalogue, self.asked.units) if self.asked.units else (0, {})
        found = wanted(self.known, used)
        yield self.fill("wanted.html", "wanted.html", "What is wanted: figures to confirm",
                        "Tube ratings that rest on memory and wait for someone with the book.",
                        wanted=found[:MOST_TYPES], units=units, more=max(len(found) - MOST_TYPES, 0))

    def disagreements(self) -> Iterator[Page]:
        """What documents give differently."""
        rows = [(row["type"] or row["subject"], differing_of(self.known, row)) for row in self.known.disagreements]
        cuts = [rows[i:i + MOST_DISAGREEMENTS] for i in range(0, len(rows), MOST_DISAGREEMENTS)] or [[]]
        files = [(f"disagreements{'' if i == 1 else f'-{i}'}.html", i) for i in range(1, len(cuts) + 1)]
        asked = [(type_, words) for type_ in sorted(self.known.questions, key=natural)
                 for words in questions(self.known, type_)]
        for (file, number), cut in zip(files, cuts, strict=True):
            yield self.fill("disagreements.html", file, "Disagreements between documents",
                            "Tube ratings that documents give differently, both sides.", rows=cut, pages=files,
                            questions=asked if number == len(files) else [])

    def changes(self) -> Iterator[Page]:
        """What changed since an older catalogue, as a page and a feed."""
        if self.asked.history is None:
            return
        found: Changes = changes(self.known, self.asked.history, self.asked.day)
        yield self.fill("changes.html", "changes.html", f"Changes up to version {found.new_version}",
                        "What changed between two versions of the catalogue of tubes.", changes=found)
        yield self.fill("changes.xml", "changes.xml", "Changes", "", changes=found,
                        id=f"urn:sha256:{data.content_hash(self.known)}")

    def data(self, files: Mapping[str, bytes]) -> Iterator[Page]:
        """The page of what can be taken away, and a page for each table."""
        listed = data.listed(files)
        tables = data.tables(self.known, listed)
        yield self.fill("data.html", "data.html", "Data: tube ratings as Parquet and CSV, CC0",
                        f"{self.known.package['title']}. Parquet, CSV, checksums, dictionary, licence, citation.",
                        tables=tables, archive=listed[data.ARCHIVE], licences=self.known.package["licenses"],
                        citation=data.citation(self.known), described=data.described(self.known, listed,
                                                                                     self.site.address))
        for table in tables:
            yield self.fill("table.html", f"table/{table.name}.html", f"Table {table.name}: {table.title}",
                            f"{table.meaning}: columns, units, meaning.", table=table)


def site(catalogue: Catalogue, asked: Asked, told: Told = lambda done, total: None) -> dict[str, bytes]:
    """File name → bytes of the whole folder; `told` hears how many types are done of how many."""
    pages = Pages(Known(catalogue), asked)
    offered = data.data_files(pages.known, asked.csv)
    files = {"style.css": style("base.css", "pages/style.css"), "types.js": search_data(pages.known),
             "find.js": (TEMPLATES / "pages/find.js").read_text(encoding="utf-8")}
    for made in (pages.finding(), pages.types(told), pages.sources(), pages.wanted(), pages.disagreements(),
                 pages.changes(), pages.data(offered)):
        files |= dict(made)
    if pages.site.address:
        files["sitemap.xml"] = sitemap(pages.site.address, files)
    return {name: text.encode() for name, text in files.items()} | offered


def sitemap(address: str, files: Mapping[str, str]) -> str:
    """Every page by its address, as search engines take it."""
    rows = "".join(f"<url><loc>{address}{name}</loc></url>\n" for name in files if name.endswith(".html"))
    return (f'<?xml version="1.0" encoding="utf-8"?>\n<urlset xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">\n'
            f"{rows}</urlset>\n")
