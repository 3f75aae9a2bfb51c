"""A parts list as its file stands: lines added, changed and taken out, all other cells left as they were typed."""

import csv
import io
import re
from collections.abc import Iterable, Mapping

from pipeline.textfile import BadRecord, records
from pipeline.unit.lists import DELIMITERS, delimiter_of
from pipeline.unit.parts import PART_COLUMNS
from pipeline.unit.places import folded

Cells = dict[str, str]


class EditedList:
    """The lines of a parts list by ref; `text` writes them with the delimiter and line ends they were read with."""

    def __init__(self, text: str):
        told = re.match(r"sep=(.)\r?\n", text)
        self._head = told[0] if told else ""
        body = text[len(self._head):]
        self._delimiter = told[1] if told and told[1] in DELIMITERS else delimiter_of(body)
        self._end = "\r\n" if "\r\n" in body else "\n"
        self._header, self.rows = self._read(body)

    def _read(self, body: str) -> tuple[list[str], list[Cells]]:
        """Names of the columns, and the lines below them; raises ValueError where they cannot be told apart."""
        try:
            lines = [cells for _, cells in records(body, delimiter=self._delimiter) if any(c.strip() for c in cells)]
        except BadRecord as error:
            raise ValueError(str(error)) from None
        header = [cell.strip().lower() for cell in lines[0]] if lines else list(PART_COLUMNS[:6])
        return header, [dict(zip(header, map(str.strip, cells), strict=False)) for cells in lines[1:]]

    def find(self, ref: str) -> Cells | None:
        """The line of a ref, whatever its letters' case."""
        return next((row for row in self.rows if folded(row.get("ref", "")) == folded(ref)), None)

    def put(self, cells: Mapping[str, str]) -> None:
        """Change the given cells of the line of that ref, or add it as the last."""
        row = self.find(cells["ref"])
        if row is None:
            self.rows.append(row := {})
        row.update({name: cell for name, cell in cells.items() if name != "ref" or not row.get("ref")})

    def drop(self, ref: str) -> None:
        """Take the line of a ref out."""
        self.rows = [row for row in self.rows if folded(row.get("ref", "")) != folded(ref)]

    @property
    def text(self) -> str:
        """The whole file."""
        used = [name for name in PART_COLUMNS if name not in self._header and any(row.get(name) for row in self.rows)]
        header = [*self._header, *used]
        return self._head + _written([header, *([row.get(name, "") for name in header] for row in self.rows)],
                                     self._delimiter, self._end)


def _written(lines: Iterable[list[str]], delimiter: str, end: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator=end).writerows(lines)
    return out.getvalue()
