"""Text from a parts list made harmless: for a spreadsheet, for a Markdown page."""

import unicodedata

_FORMULA = ("=", "+", "-", "@", "＝", "＋", "－", "＠")
"""What a spreadsheet takes for the start of a formula, full-width forms too."""
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
