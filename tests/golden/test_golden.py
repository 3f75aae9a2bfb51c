"""Row counts and column sums of every built table, kept in one small sorted file that is read in review.

A changed figure, a lost row or a column gone empty shows as one changed line in `tables.csv`. Where the change is
meant, regenerate the file and look through its diff:

    python tests/golden/test_golden.py

`known` counts the cells that are not empty. `digest` is the sum of a column of numbers, and the count of different
values of a column of words or flags. Line numbers of the raw files are left out: they move with every insertion.
"""

import csv
import sys
from pathlib import Path

GOLDEN = Path(__file__).with_name("tables.csv")
ROOT = Path(__file__).resolve().parents[2]
COLUMNS = ("table", "rows", "column", "known", "digest")
NUMBERS = ("DOUBLE", "BIGINT", "INTEGER", "FLOAT", "HUGEINT")


def measured(folder: Path) -> list[tuple[str, ...]]:
    """Every column of every built table in `folder`: rows, known cells, and sum or count of different values."""
    import duckdb

    lines = []
    for path in sorted(folder.glob("*.parquet")):
        table = duckdb.read_parquet(path.as_posix())
        kinds = {name: str(kind) for name, kind in zip(table.columns, table.types, strict=True) if name != "raw_line"}
        asked = [f'count("{name}"), ' + (f'sum("{name}"::double order by "{name}")' if kind in NUMBERS
                                         else f'count(distinct "{name}")') for name, kind in kinds.items()]
        rows, *cells = table.aggregate("count(*), " + ", ".join(asked)).fetchall()[0]
        for column, known, digest in zip(kinds, cells[::2], cells[1::2], strict=True):
            lines.append((path.stem, str(rows), column, str(known), f"{digest or 0:.10g}"))
    return lines


def test_rows_and_sums_are_those_last_reviewed():
    golden = [tuple(line) for line in csv.reader(GOLDEN.open(encoding="utf-8"))][1:]
    now = measured(ROOT / "data_built")
    changed = [f"{line}" for line in sorted(set(golden) ^ set(now))]
    assert changed == [], "regenerate with `python tests/golden/test_golden.py` if the change is meant"


def test_the_golden_file_is_sorted_by_table_and_covers_every_built_table():
    golden = list(csv.DictReader(GOLDEN.open(encoding="utf-8")))
    assert [line["table"] for line in golden] == sorted(line["table"] for line in golden)
    assert {line["table"] for line in golden} == {p.stem for p in (ROOT / "data_built").glob("*.parquet")}


if __name__ == "__main__":
    import tempfile

    sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
    from golden.outcomes import write_all
    from golden.sums import write_sums
    from golden.told import write_told

    from pipeline.catalogue import Catalogue

    with GOLDEN.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([COLUMNS, *measured(ROOT / "data_built")])
    write_sums()
    with tempfile.TemporaryDirectory() as folder:
        write_all(Catalogue(ROOT / "data_built"), Path(folder))
        write_told(Catalogue(ROOT / "data_built"), Path(folder))
    print(f"{GOLDEN.relative_to(ROOT)} and the outcomes of the units beside it were written", file=sys.stderr)
