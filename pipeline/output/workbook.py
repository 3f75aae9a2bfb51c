"""A spreadsheet file: sheets of text and numbers, never a formula, made to be printed as well as read.

XlsxWriter makes the file; it is loaded only here. A text that would be a formula once typed again is defused as well.
"""

import io
from datetime import datetime
from typing import Any, NamedTuple

from pipeline.output.safe import defused

_LONGEST = 32_767
"""Characters that a cell may hold."""
_MOST_PAGE_WORDS = 240
"""Page heads and feet hold 255 characters."""
_WHEN = datetime(1980, 1, 1)
"""One time for every file, so that the same order gives the same bytes."""
_A4, _MARGIN_IN, _FOOT_IN = 9, 0.4, 0.8
_SETTINGS = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
             "nan_inf_to_errors": False}

Cell = str | float | int | None


class Sheet(NamedTuple):
    """One sheet: its rows under `above`, words that stand once over the whole width.

    The first `heads` rows are bold, stay in sight and are repeated on every page; `widths` of the columns are in
    characters, and the first `printed` of them (all where it is 0) fit one page's width. `page_head` and `page_foot`
    stand on every page.
    """

    name: str
    rows: list[list[Cell]]
    widths: list[float]
    heads: int = 1
    page_head: str = ""
    page_foot: str = ""
    above: str = ""
    printed: int = 0


def workbook(sheets: list[Sheet]) -> bytes:
    """The bytes of an XLSX file with these sheets; raises ValueError where there is none."""
    if not sheets:
        raise ValueError("sheets: a workbook needs at least one")
    from xlsxwriter import Workbook  # a tenth of a second that only this format costs

    out = io.BytesIO()
    book = Workbook(out, _SETTINGS)
    book.set_properties({"created": _WHEN})
    looks = {"plain": book.add_format({"valign": "top", "text_wrap": True}),
             "head": book.add_format({"bold": True, "valign": "top", "text_wrap": True, "bottom": 1}),
             "above": book.add_format({"bold": True, "valign": "top", "text_wrap": True, "border": 1})}
    for sheet in sheets:
        _fill(book.add_worksheet(sheet.name), sheet, looks)
    book.close()
    return out.getvalue()


def _fill(page: Any, sheet: Sheet, looks: dict[str, Any]) -> None:
    """Write one sheet's cells and how it is printed."""
    first = 1 if sheet.above else 0
    printed = sheet.printed or len(sheet.widths)
    for column, width in enumerate(sheet.widths):
        page.set_column(column, column, width)
    if sheet.above:
        across = sum(sheet.widths[:printed])
        page.set_row(0, 15 * (1 + len(sheet.above) // max(across * 0.9, 1)))
        page.merge_range(0, 0, 0, max(printed - 1, 1), "", looks["above"])
        page.write_string(0, 0, _text(sheet.above), looks["above"])
    for number, cells in enumerate(sheet.rows):
        look = looks["head" if number < sheet.heads else "plain"]
        for column, value in enumerate(cells):
            _write(page, number + first, column, value, look)
    last = first + len(sheet.rows) - 1
    if sheet.heads:
        page.freeze_panes(first + sheet.heads, 0)
        page.repeat_rows(first, first + sheet.heads - 1)
    page.print_area(0, 0, max(last, 0), printed - 1)
    page.set_landscape()
    page.set_paper(_A4)
    page.fit_to_pages(1, 0)
    page.set_margins(_MARGIN_IN, _MARGIN_IN, _FOOT_IN, _FOOT_IN)
    page.set_header(_page_words(sheet.page_head))
    page.set_footer(_page_words(sheet.page_foot))


def _write(page: Any, row: int, column: int, value: Cell, look: Any) -> None:
    if isinstance(value, int | float):
        page.write_number(row, column, value, look)
    elif value not in (None, ""):
        page.write_string(row, column, _text(str(value)), look)


def _text(text: str) -> str:
    text = defused(text)
    return text if len(text) <= _LONGEST else text[:_LONGEST - 1] + "…"


def _page_words(text: str) -> str:
    """Words for a page's head or foot, which take & for a command."""
    return "&C" + text.replace("&", "and")[:_MOST_PAGE_WORDS] if text else ""
