"""A spreadsheet file made with the standard library alone: sheets of text and numbers, never a formula.

The parts are those that ECMA-376 (Office Open XML, part 1) asks of the smallest workbook (recalled). Text stands in
the cells themselves, so no cell is ever run; a text that would be a formula once typed again is defused as well.
"""

import io
import zipfile
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from pipeline.output.safe import defused

_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELATIONS = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_OFFICE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
_DECLARATION = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\n'
_LONGEST = 32_767
"""Characters that a cell may hold."""
_WHEN = (1980, 1, 1, 0, 0, 0)
"""One time for every part, so that the same order gives the same bytes."""
PLAIN, HEAD, WRAPPED = range(3)

Cell = str | float | int | None


class Sheet(NamedTuple):
    """One sheet: its rows, the first `heads` of them in bold, column widths in characters, words on each page."""

    name: str
    rows: list[list[Cell]]
    widths: list[float]
    heads: int = 1
    page_head: str = ""
    page_foot: str = ""


def workbook(sheets: list[Sheet]) -> bytes:
    """The bytes of an XLSX file with these sheets; raises ValueError where there is none."""
    if not sheets:
        raise ValueError("sheets: a workbook needs at least one")
    parts = {"[Content_Types].xml": _content_types(len(sheets)), "_rels/.rels": _top_relation(),
             "xl/workbook.xml": _book(sheets), "xl/_rels/workbook.xml.rels": _relations(len(sheets)),
             "xl/styles.xml": _STYLES}
    parts |= {f"xl/worksheets/sheet{i}.xml": _sheet(sheet) for i, sheet in enumerate(sheets, 1)}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in parts.items():
            info = zipfile.ZipInfo(name, _WHEN)
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, (_DECLARATION + text).encode())
    return out.getvalue()


def _content_types(count: int) -> str:
    sheets = "".join(f'<Override PartName="/xl/worksheets/sheet{i}.xml" ContentType="{_OFFICE}.worksheet+xml"/>'
                     for i in range(1, count + 1))
    return (f'<Types xmlns="{_PACKAGE}/content-types">'
            '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
            '<Default Extension="xml" ContentType="application/xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{_OFFICE}.sheet.main+xml"/>'
            f'<Override PartName="/xl/styles.xml" ContentType="{_OFFICE}.styles+xml"/>{sheets}</Types>')


def _top_relation() -> str:
    return (f'<Relationships xmlns="{_PACKAGE}/relationships"><Relationship Id="rId1" '
            f'Type="{_RELATIONS}/officeDocument" Target="xl/workbook.xml"/></Relationships>')


def _relations(count: int) -> str:
    sheets = "".join(f'<Relationship Id="rId{i}" Type="{_RELATIONS}/worksheet" Target="worksheets/sheet{i}.xml"/>'
                     for i in range(1, count + 1))
    return (f'<Relationships xmlns="{_PACKAGE}/relationships">{sheets}<Relationship Id="rId{count + 1}" '
            f'Type="{_RELATIONS}/styles" Target="styles.xml"/></Relationships>')


def _book(sheets: list[Sheet]) -> str:
    named = "".join(f'<sheet name={quoteattr(sheet.name)} sheetId="{i}" r:id="rId{i}"/>'
                    for i, sheet in enumerate(sheets, 1))
    return f'<workbook xmlns="{_MAIN}" xmlns:r="{_RELATIONS}"><sheets>{named}</sheets></workbook>'


_STYLES = (
    f'<styleSheet xmlns="{_MAIN}"><fonts count="2"><font><sz val="11"/><name val="Calibri"/></font>'
    '<font><b/><sz val="11"/><name val="Calibri"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill><fill><patternFill patternType="gray125"/></fill>'
    '</fills><borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="3"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0" applyAlignment="1">'
    '<alignment vertical="top"/></xf>'
    '<xf numFmtId="0" fontId="1" fillId="0" borderId="0" xfId="0" applyFont="1"/>'
    '<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0" applyAlignment="1">'
    '<alignment vertical="top" wrapText="1"/></xf></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles></styleSheet>')


def _sheet(sheet: Sheet) -> str:
    widths = "".join(f'<col min="{i}" max="{i}" width="{width:g}" customWidth="1"/>'
                     for i, width in enumerate(sheet.widths, 1))
    rows = "".join(_row(number, cells, number <= sheet.heads) for number, cells in enumerate(sheet.rows, 1))
    frozen = (f'<sheetViews><sheetView workbookViewId="0"><pane ySplit="{sheet.heads}" '
              f'topLeftCell="A{sheet.heads + 1}" activePane="bottomLeft" state="frozen"/></sheetView></sheetViews>'
              if sheet.heads else "")
    pages = (f"<headerFooter><oddHeader>{_page_words(sheet.page_head)}</oddHeader>"
             f"<oddFooter>{_page_words(sheet.page_foot)}</oddFooter></headerFooter>")
    return (f'<worksheet xmlns="{_MAIN}">{frozen}<cols>{widths}</cols><sheetData>{rows}</sheetData>'
            '<pageMargins left="0.4" right="0.4" top="0.8" bottom="0.8" header="0.3" footer="0.3"/>'
            f'<pageSetup orientation="landscape" fitToHeight="0"/>{pages}</worksheet>')


def _page_words(text: str) -> str:
    """Page headers hold 255 characters and take & for a command."""
    return escape("&C" + text.replace("&", "and")[:240]) if text else ""


def _row(number: int, cells: list[Cell], head: bool) -> str:
    return f'<row r="{number}">' + "".join(
        _cell(f"{_letters(column)}{number}", value, HEAD if head else PLAIN)
        for column, value in enumerate(cells) if value not in (None, "")) + "</row>"


def _cell(place: str, value: Cell, style: int) -> str:
    if isinstance(value, int | float):
        return f'<c r="{place}" s="{style}"><v>{value!r}</v></c>'
    text = defused(str(value))
    text = text if len(text) <= _LONGEST else text[:_LONGEST - 1] + "…"
    style = WRAPPED if style == PLAIN and len(text) > 40 else style
    return f'<c r="{place}" s="{style}" t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'


def _letters(column: int) -> str:
    """Column 0 is A, 26 is AA."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name
