"""A list as its file stands: lines added, changed and taken out, all other cells left as they were typed."""

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from pipeline.textfile import BadRecord, records
from pipeline.unit.lists import DELIMITERS, delimiter_of
from pipeline.unit.parts import PART_COLUMNS
from pipeline.unit.places import folded

Cells = dict[str, str]


class EditedList:
    """The lines of a list, of parts by ref; `text` writes them with the delimiter and line ends they were read with.

    `columns` are those it may have, of which the first `first` head a new file; `same` are other words for them.
    """

    def __init__(self, text: str, columns: Sequence[str] = PART_COLUMNS, first: int = 6,
                 same: Mapping[str, str] | None = None):
        self._columns, self._first, self._same = columns, first, same or {}
        told = re.match(r"sep=(.)\r?\n", text)
        self._head = told[0] if told else ""
        body = text[len(self._head):]
        self._delimiter = told[1] if told and told[1] in DELIMITERS else delimiter_of(body)
        self._end = "\r\n" if "\r\n" in body else "\n"
        self._shown, self._header, self.rows = self._read(body)

    def _read(self, body: str) -> tuple[list[str], list[str], list[Cells]]:
        """Header as typed, its columns, and the lines below them; raises ValueError where they cannot be told apart."""
        try:
            lines = [cells for _, cells in records(body, delimiter=self._delimiter) if any(c.strip() for c in cells)]
        except BadRecord as error:
            raise ValueError(str(error)) from None
        shown = [cell.strip() for cell in lines[0]] if lines else list(self._columns[:self._first])
        header = [self._same.get(cell.lower(), cell.lower()) for cell in shown]
        return shown, header, [dict(zip(header, map(str.strip, cells), strict=False)) for cells in lines[1:]]

    def find(self, ref: str) -> Cells | None:
        """The line of a ref, whatever its letters' case."""
        return next((row for row in self.rows if folded(row.get("ref", "")) == folded(ref)), None)

    def put(self, cells: Mapping[str, str]) -> None:
        """Change the given cells of the line of that ref, or add it as the last."""
        row = self.find(cells["ref"])
        if row is None:
            self.rows.append(row := {})
        row.update({name: cell for name, cell in cells.items() if name != "ref" or not row.get("ref")})

    def add(self, cells: Mapping[str, str]) -> None:
        """Add a line as the last."""
        self.rows.append(dict(cells))

    def number(self, value: float) -> str:
        """A number as the list writes it: no exponent, and a decimal comma where semicolons part the cells."""
        text = format(Decimal(f"{value:.6g}"), "f")
        return text.replace(".", ",") if self._delimiter == ";" else text

    def drop(self, ref: str) -> None:
        """Take the line of a ref out."""
        self.rows = [row for row in self.rows if folded(row.get("ref", "")) != folded(ref)]

    @property
    def text(self) -> str:
        """The whole file."""
        used = [name for name in self._columns if name not in self._header and any(row.get(name) for row in self.rows)]
        header = [*self._header, *used]
        lines = [[row.get(name, "") for name in header] for row in self.rows]
        return self._head + _written([[*self._shown, *used], *lines], self._delimiter, self._end)


def _written(lines: Iterable[list[str]], delimiter: str, end: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(lines)
    return out.getvalue()
