"""What spreadsheets do to markings: exponents, dates, error words, lost text."""

from __future__ import annotations

import re
from decimal import Decimal

from pipeline.notation.lexing import speaks_of

_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_ANY_MONTH = "|".join(_MONTHS)
_DAY_MONTH = rf"([0-9]{{1,2}})-({_ANY_MONTH})"
_MONTH_DAY = rf"({_ANY_MONTH})-([0-9]{{1,2}})"
_LONG_DATE = (
    r"(?:(?:19|20)[0-9]{2}[-./][0-9]{1,2}[-./][0-9]{1,2}|[0-9]{1,2}[-./][0-9]{1,2}[-./](?:19|20)[0-9]{2})"
    r"(?:[ t][0-9]{1,2}:[0-9]{2}(?::[0-9]{2})?)?"
)
_MEND = "type the marking again, in a column set to text"


def damage(text: str, kinds: tuple[str, ...] = ()) -> str | None:
    """Return why a marking looks broken by a spreadsheet, or None.

    Parameters
    ----------
    text : str
        A cleaned marking.
    kinds : tuple of str
        What ref and role expect; a plain number such as 600000 is damage only where a tube is expected.
    """
    key = text.lower()
    if match := re.fullmatch(r"([0-9])(?:[.,]([0-9]+))?e([+-]?)([0-9]{1,3})", key):
        if match[3] or match[2]:
            return f"a spreadsheet turned {_exponent(match)} into a number: {_MEND}"
    elif "tube" in kinds and re.fullmatch(r"[1-9]0{4,9}", key):
        return f"a spreadsheet may have turned {text[0]}E{len(text) - 1} into a number: {_MEND}"
    if re.fullmatch(r"#(?:name\?|ref!?|value!?|n/?a|num!?|null!?|div/0!?|#+)", key):
        return f"a spreadsheet's error word stands in its place: {_MEND}"
    if (day := _date(key)) is not None:
        return f"a spreadsheet turned it into a date{day}: {_MEND}"
    if "�" in text or (speaks_of(text, "ã", "â", "î") and re.search(r"Ã.|Â[µ°Ω±½]|Î©|Âµ|Î¼", text)):
        return "its letters were broken when the file was saved: save it as UTF-8, or type it again"
    return None


def _exponent(match: re.Match[str]) -> str:
    """Return the type that an exponent was: 6.00E+05 was 6E5."""
    figures, power = (match[1] + (match[2] or "")).rstrip("0") or "0", int(match[4])
    if match[3] == "-" or len(figures) > 3:
        return "it"
    return f"{Decimal(figures)}E{power - len(figures) + 1}"


def _date(key: str) -> str | None:
    """Return what the date may have been, ' (1-2?)' or '', or None if it is none."""
    if not speaks_of(key, "-", ".", "/"):
        return None
    if match := re.fullmatch(_DAY_MONTH, key) or re.fullmatch(_MONTH_DAY, key):
        first, second = match.groups()
        month = first if first in _MONTHS else second
        other = second if first in _MONTHS else first
        number = _MONTHS.index(month) + 1
        return f" ({number}-{int(other)} or {int(other)}-{number} before?)"
    return "" if speaks_of(key, "19", "20") and re.fullmatch(_LONG_DATE, key) else None
