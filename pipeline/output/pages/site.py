"""The whole folder of pages: every file's name and bytes, the same for the same catalogue."""

from collections.abc import Callable, Iterator
from typing import Any, NamedTuple
from urllib.parse import urlencode

from pipeline.catalogue import Catalogue
from pipeline.output.page import CAUTIONS
from pipeline.output.pages.finding import (
    WITHIN_PCT,
    by_column,
    heaters_offered,
    register,
    register_file,
    search_data,
    sections_offered,
)
from pipeline.output.pages.known import Known
from pipeline.output.pages.types import type_page
from pipeline.output.render import TEMPLATES, style, template

PARTS = (("index.html", "Find"),)
SUFFIXES = (".html", ".css", ".js", ".xml", ".parquet", ".zip", ".json", "SHA256SUMS")
"""Endings of the files that the folder holds."""
MARKS = ("types.js",)
"""The file that tells a folder of pages from any other folder."""
Told = Callable[[int, int], None]
Page = tuple[str, str]
"""A page's path in the folder, and its text."""


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

    def __init__(self, known: Known, address: str = ""):
        self.known = known
        self.site = Site(address, PARTS, CAUTIONS, known.package["version"], False)

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
        known = self.known
        for done, (type_, file) in enumerate(known.files.items(), 1):
            page = type_page(known, type_)
            yield self.fill("type.html", f"type/{file}", page.title, page.description, page=page)
            told(done, len(known.tubes))


def site(catalogue: Catalogue, address: str = "", told: Told = lambda done, total: None) -> dict[str, bytes]:
    """File name → bytes of the whole folder; `told` hears how many types are done of how many."""
    pages = Pages(Known(catalogue), address)
    files = {"style.css": style("base.css", "pages/style.css"), "types.js": search_data(pages.known),
             "find.js": (TEMPLATES / "pages/find.js").read_text(encoding="utf-8")}
    for made in (pages.finding(), pages.types(told)):
        files |= dict(made)
    return {name: text.encode() for name, text in files.items()}
