"""Rules over one cell as typed: what spreadsheets and wrong encodings do to text.

One rule, one id, one function: the function `date_name` is the rule `date-name`, the first line of its docstring says
what must hold. A rule is given the column and the cell, and answers what is wrong and how to mend it, or None. The
first that answers names the cell; the others are silent about it.
"""

import re
import unicodedata
from collections.abc import Callable

Slip = tuple[str, str] | None
Rule = Callable[[str, str], Slip]

NAMES = ("type", "designation", "substitute", "basing", "base", "symbol", "code")
"""Columns of names, which a spreadsheet takes for numbers or dates where they look like one."""
_TYPES = ("type", "designation", "substitute")
_WATCHED = (*NAMES, "pins", "locator")
"""Columns that rules of their own look at."""
_ANEW = "type the name as text, in a column set to text"
_MONTH = r"(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[a-zä]*\.?"
_DAY = r"\d{1,2}"
_YEAR = r"(?:\d{4}|\d\d)"
_DATE = re.compile(rf"{_DAY}[-/. ]+{_MONTH}(?:[-/. ]+{_YEAR})?|{_MONTH}-{_YEAR}|\d{{4}}-\d\d-\d\d(?: 00:00:00)?"
                   rf"|{_DAY}/{_DAY}/{_YEAR}|{_DAY}\.{_DAY}\.{_YEAR}|{_DAY}-{_DAY}-\d{{4}}", re.IGNORECASE | re.ASCII)
_EXPONENT = re.compile(r"\d+(?:[.,]\d+)?e[+-]?\d+", re.IGNORECASE | re.ASCII)
_CODE_NAME = re.compile(r"\d{1,2}e\d{1,2}", re.IGNORECASE | re.ASCII)
_GARBLED = re.compile("�|[ÂÃ][\u00a1-\u00bf€‚ƒ„…†‡ˆ‰Š‹ŒŽ‘’“”•–—˜™š›œžŸ]|Â |â€|â„|Î[©¼]|ï»¿|√[©ºμµ∂]|Œ©|¬µ")
_ERRORS = ("#NAME?", "#REF!", "#VALUE!", "#N/A", "#DIV/0!", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")


def no_break_space(column: str, cell: str) -> Slip:
    """A blank is the plain one: text with a no-break space, or a narrow one, is never found again."""
    if any(c != " " and unicodedata.category(c) == "Zs" for c in cell):
        return "holds a no-break space", "use a plain blank"
    return None


def padding(column: str, cell: str) -> Slip:
    """No blanks stand before or after the text."""
    return ("blanks before or after", "run `tubewright tidy`") if cell != cell.strip() else None


def line_break(column: str, cell: str) -> Slip:
    """A cell is one line."""
    broken = any(c in cell for c in "\n\r\v\f\x85\u2028\u2029")
    return ("a line break inside the cell", "write it on one line") if broken else None


def control_character(column: str, cell: str) -> Slip:
    """Every character prints: none that moves the cursor, turns the reading direction or has no width."""
    hidden = any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Co", "Cn") for c in cell)
    return ("holds a control character", "type the cell anew") if hidden else None


def spreadsheet_error(column: str, cell: str) -> Slip:
    """No error word of a spreadsheet stands in the place of a value."""
    wrong = cell.upper() in _ERRORS or set(cell) == {"#"}
    return ("a spreadsheet's error value", "type what the document prints") if wrong else None


def mojibake(column: str, cell: str) -> Slip:
    """No letter was garbled by a wrong encoding: µ is not Âµ."""
    garbled = not cell.isascii() and (_GARBLED.search(cell) or _was_read_wrongly(cell))
    return ("letters garbled by a wrong encoding", "type them anew and save as UTF-8") if garbled else None


def _was_read_wrongly(cell: str) -> bool:
    """Whether the letters are the very bytes of UTF-8 shown as CP1252, which hardly any true text is."""
    try:
        cell.encode("cp1252").decode("utf-8")
    except UnicodeError:
        return False
    return True


def exponent_name(column: str, cell: str) -> Slip:
    """No name was turned into a number with an exponent: 6E5 into 6.00E+05 or 600000."""
    number = _EXPONENT.fullmatch(cell) and not _CODE_NAME.fullmatch(cell) or re.fullmatch("[0-9]{1,3}0{4,}", cell)
    if column in NAMES and number:
        return "a spreadsheet turned a name such as 6E5 into a number", _ANEW
    return None


def date_name(column: str, cell: str) -> Slip:
    """No name, pin map or page was turned into a date: 1-2 into 2-Jan."""
    if column in _WATCHED and _DATE.fullmatch(cell):
        return "a spreadsheet turned a name into a date", "type it as text, in a column set to text"
    return None


def decimal_name(column: str, cell: str) -> Slip:
    """No name was turned into a number with decimals: 6267 into 6267.0."""
    if column in _TYPES and re.fullmatch(r"[0-9]+[.,]0+", cell):
        return f"a spreadsheet turned the name {re.split('[.,]', cell)[0]} into a number", _ANEW
    return None


def lost_zeros(column: str, cell: str) -> Slip:
    """No name has lost its leading zeros: 01 is not 1."""
    if column in _TYPES and re.fullmatch("[0-9]", cell):
        return "a name of one figure: a spreadsheet drops leading zeros", _ANEW
    return None


def mixed_letters(column: str, cell: str) -> Slip:
    """A name is written in one alphabet: a Cyrillic А in 12AX7 makes another name."""
    scripts = {unicodedata.name(c, "").split()[0] for c in cell if c.isalpha()} & {"LATIN", "CYRILLIC", "GREEK"}
    if column in NAMES and len(scripts) > 1:
        return "letters of two alphabets in one name", "type all of it in one alphabet"
    return None


RULES: dict[str, Rule] = {rule.__name__.replace("_", "-"): rule for rule in (
    no_break_space, padding, line_break, control_character, spreadsheet_error, mojibake, exponent_name, date_name,
    decimal_name, lost_zeros, mixed_letters)}
"""Rule id → rule, in the order in which they are asked."""


def first_slip(column: str, cell: str) -> tuple[str, str, str] | None:
    """The id of the first rule that the cell breaks, what is wrong and how to mend it; None where it breaks none."""
    if column not in _WATCHED and cell.isascii() and cell.isprintable() and cell[0] != " " != cell[-1] \
            and "#" not in cell:
        return None  # as most cells are
    for name, rule in RULES.items():
        if slip := rule(column, cell):
            return name, *slip
    return None
