"""HTML by construction: every text becomes safe on its way into an element, and what is too long is cut in sight."""

from collections.abc import Iterable

from pipeline.output.safe import Markup, clean, given, html

VOID = {"input", "meta", "br"}
LONG = 8
"""A table of as many rows or more is long."""


def own(text: object) -> "Markup":
    """`given`, set apart from the words about it: its reading order stays its own, and it may break anywhere."""
    return el("bdi", given(text))


def el(tag: str, *children: object, **attributes: object) -> Markup:
    """An element; children are escaped unless they are markup, lists are laid flat, None and False are left out.

    `class_` is written `class`, `aria_label` `aria-label`; an attribute that is True stands bare.
    """
    shown = "".join(_attribute(name, value) for name, value in attributes.items() if value not in (None, False))
    return Markup(f"<{tag}{shown}>" + ("" if tag in VOID else f"{join(children)}</{tag}>"))


def _attribute(name: str, value: object) -> str:
    name = name.rstrip("_").replace("_", "-")
    return f" {name}" if value is True else f' {name}="{html(value)}"'


def join(children: Iterable[object]) -> Markup:
    """Children one after the other, as `el` takes them."""
    kept = [c for c in children if c is not None and c is not False]
    return Markup("".join(join(c) if isinstance(c, list | tuple) else html(c) for c in kept))


def table(caption: object, heads: Iterable[str], rows: Iterable[Iterable[object]], *, key: int = 0,
          class_: str | None = None) -> Markup:
    """A table with a caption, column heads, and in each row the cell number `key` as the row's head."""
    head = el("tr", [el("th", h, scope="col") for h in heads])
    body = [[el("th", c, scope="row") if i == key else el("td", c) for i, c in enumerate(row)] for row in rows]
    return el("table", el("caption", caption), el("thead", head), el("tbody", [el("tr", cells) for cells in body]),
              class_=class_)


def halves(caption: str, heads: Iterable[str], rows: list, class_: str, key: int = 0) -> Markup:
    """A table; a long one as two side by side where there is room."""
    if len(rows) < LONG:
        return table(caption, heads, rows, key=key, class_=class_)
    half = (len(rows) + 1) // 2
    return el("div", table(caption, heads, rows[:half], key=key, class_=class_),
              table(f"{caption}, continued", heads, rows[half:], key=key, class_=class_), class_="halves")


def prose(text: str) -> Markup:
    """A sentence of ours in which what stands between backquotes is typed on the command line."""
    pieces = clean(text).split("`")
    if len(pieces) % 2 == 0:
        return html(text)
    return join(el("code", piece) if i % 2 else piece for i, piece in enumerate(pieces))


def unbroken(text: str) -> Markup:
    """A short figure that does not part from its unit."""
    return el("span", text, class_="n" if text[:1].isdigit() or text[:1] == "≤" else None)


def section(id_: str, title: str, *children: object) -> Markup:
    """A part of the sheet under its heading."""
    return el("section", el("h2", title, id=f"{id_}-head"), *children, id=id_, aria_labelledby=f"{id_}-head")


def note(*words: object) -> Markup:
    """A line in small type."""
    return el("p", *words, class_="note")


def tick(label: str) -> Markup:
    """A box to tick; its square is drawn by the style sheet."""
    return el("input", type="checkbox", class_="tick", aria_label=label, autocomplete="off")


def blank(label: str, wide: bool = False, **data: str | None) -> Markup:
    """A box for a reading or a word, to write in with a pen or on the screen; `data` are further attributes."""
    return el("input", type="text", class_="blank wide" if wide else "blank", aria_label=label, autocomplete="off",
              inputmode=None if wide else "decimal", **data)
