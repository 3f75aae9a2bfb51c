"""Text from a parts list or a table made harmless: for a spreadsheet, for a Markdown page, for HTML and SVG."""

import unicodedata

from markupsafe import Markup, escape

_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
"""What a spreadsheet takes for the start of a formula, full-width forms too."""
MOST_TEXT = 4000
MOST_GIVEN = 80
"""Letters of a marking or note that are shown; no part has more printed on it."""
MOST_MARKS = 2
"""Combining marks in a row: more would paint over the lines above and below."""
_MARKDOWN = str.maketrans({c: f"\\{c}" for c in "\\`*_[]|#~!"} | {"&": "&amp;", "<": "&lt;", ">": "&gt;"})


def plain(text: str) -> str:
    """The text on one line, without control characters, lone halves of pairs and what turns the reading direction."""
    return "".join(" " if c in "\n\r\t\v\f\u2028\u2029" else "" if _hidden(c) else c for c in text)


def _hidden(char: str) -> bool:
    return unicodedata.category(char) in ("Cc", "Cf", "Cs", "Cn", "Co")


def defused(text: str) -> str:
    """The text on one line, with an apostrophe before what a spreadsheet would run as a formula."""
    text = plain(text)
    return "'" + text if text.lstrip().startswith(_FORMULA) else text


def markdown(text: str) -> str:
    """The text on one line, with every mark that Markdown or HTML would act on made plain."""
    return plain(text).translate(_MARKDOWN)


def clean(text: object, most: int = MOST_TEXT) -> str:
    """`text` in one line: controls and marks that turn the reading order as �, cut in sight after `most` letters."""
    whole = str(text)
    kept = whole if len(whole) <= most else whole[:most]
    if not (kept.isascii() and kept.isprintable()):
        kept = _plain(kept)
    return kept if len(whole) <= most else f"{kept.rstrip()}… [cut: {len(whole)} letters]"


def _plain(text: str) -> str:
    found, marks = [], 0
    for letter in text:
        marks = marks + 1 if unicodedata.combining(letter) or unicodedata.category(letter) == "Me" else 0
        if marks <= MOST_MARKS:
            found.append(letter if letter.isprintable() else " " if letter.isspace() else "\ufffd")
    return "".join(found)


def given(text: object) -> str:
    """A marking, note or name as the user typed it, no longer than a label."""
    return clean(text, MOST_GIVEN).strip()


def html(text: object) -> Markup:
    """`text` cleaned and escaped for an element or a quoted attribute; markup as it is."""
    return text if isinstance(text, Markup) else escape(clean(text))


def css_text(text: str) -> str:
    """`text` for inside a CSS string: every letter that is not plain as an escape, so that nothing can end it.

    A blank ends each escape, which CSS takes as part of it: the blank that may follow in the text stays.
    """
    return "".join(c if c.isascii() and (c.isalnum() or c == " ") else f"\\{ord(c):06x} " for c in text)
