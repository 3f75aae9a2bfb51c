"""What `confirm` shows, asks and says."""

import sys
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from pipeline.build.confirm import confirm
from pipeline.build.faults import BadTables
from pipeline.build.run import build
from pipeline.catalogue import Catalogue, Recalled
from pipeline.notation.read import read
from pipeline.output.built import changes, faults
from pipeline.output.page import wrapped
from pipeline.output.quantities import WORDS
from pipeline.output.waiting import waiting
from pipeline.textfile import hint, printable


class Document(NamedTuple):
    """The document in hand: its source id, and title and kind where it is a new one."""

    source: str | None
    title: str | None
    kind: str
    locator: str | None


def confirm_asked(catalogue: Catalogue, name: str, values: list[str], document: Document, raw: Path,
                  out: Path) -> str | None:
    """Show the recalled figures of the type, take what was read, write it and rebuild; None when done."""
    type_ = read(name, names=catalogue.names, lamps=catalogue.lamps, diodes=catalogue.diodes, ref="V1").type
    figures = catalogue.recalled(type_ or name.strip())
    if type_ is None and not figures:
        return f"{printable(name)}: not known: add it with `tubewright add tubes`"
    type_ = type_ or name.strip()
    if not figures:
        print(f"{type_}: no recalled figure is left to confirm")
        return None
    if not values:
        print("\n".join([f"{type_}, recalled figures:", *_listed(figures)]))
        if not sys.stdin.isatty():
            print("\n" + wrapped("Give what you read as figure=value, with --source and --locator."), file=sys.stderr)
            return None
    try:
        found = _given(values, figures) if values else _asked(figures)
        document = _complete(document, bool(values), catalogue)
        if found:
            _write(found, document, catalogue, raw, out)
    except ValueError as error:
        return str(error)
    except BadTables as bad:
        return faults(bad.faults)
    except OSError as error:
        return printable(f"{error.filename or raw}: {error.strerror or error}")
    return None


def _listed(figures: list[Recalled]) -> Iterator[str]:
    """By document: each figure by the name it is confirmed under, whole, then its value and what it is."""
    for source, group in groupby(sorted(figures, key=lambda f: f.source_id), key=lambda f: f.source_id):
        yield f"  believed to stand in {source}:"
        for f in group:
            value = f"{f.value} {'' if f.unit in (None, '1') else f.unit}".strip()
            yield wrapped(f"{value}, {WORDS[f.quantity]}" if f.quantity in WORDS else value, 6, f"    {f.name:<24} ")


def _write(found: list[tuple[Recalled, str]], document: Document, catalogue: Catalogue, raw: Path, out: Path) -> None:
    known = catalogue.sources([document.source or ""])
    new = None if known else {"source_id": document.source or "", "title": document.title or "",
                            "kind": document.kind}
    for path in confirm(raw, found, document.source or "", document.locator or "", new,
                        catalogue.cells):
        print(f"written to {path}", file=sys.stderr)
    with waiting("building the catalogue"):
        done = build(raw, out)
    print(changes(done, False), end="")


def _given(values: list[str], figures: list[Recalled]) -> list[tuple[Recalled, str]]:
    by_name = {f.name: f for f in figures}
    found = []
    for text in values:
        name, equals, value = text.partition("=")
        if not equals or not value.strip():
            raise ValueError(f"{printable(text)}: write it as figure=value")
        if name not in by_name:
            raise ValueError(f"{printable(name)}: no recalled figure of that name: "
                             + hint(name, by_name, "they are " + ", ".join(by_name)))
        found.append((by_name[name], value.strip()))
    return found


def _asked(figures: list[Recalled]) -> list[tuple[Recalled, str]]:
    print("What does the document say? Enter alone: it does not say. = : the same.", file=sys.stderr)
    found = []
    for figure in figures:
        answer = _ask(f"{figure.name} [{figure.value} {figure.unit or ''}]".replace(" ]", "]"))
        if answer:
            found.append((figure, figure.value if answer == "=" else answer))
    return found


def _complete(document: Document, quiet: bool, catalogue: Catalogue) -> Document:
    if quiet and not (document.source and document.locator):
        raise ValueError("nothing is confirmed without a document: name it with --source, and the page with --locator")
    source = document.source or _ask("source id of the document, as rca-rc19")
    locator = document.locator or _ask("page or sheet")
    title = document.title
    if source and not catalogue.sources([source]) and not title:
        if quiet:
            raise ValueError(f"{printable(source)}: a document new to the catalogue: give its --title and --kind")
        title = _ask("title of the document (it is new to the catalogue)")
    if not (source and locator):
        raise ValueError("without document and page nothing is confirmed")
    return Document(source, title, document.kind, locator)


def _ask(question: str) -> str:
    print(f"{question}\n> ", end="", file=sys.stderr, flush=True)
    return sys.stdin.readline().strip()
