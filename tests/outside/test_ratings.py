"""Ratings taken straight from the documents, kept apart from the raw tables, against the built catalogue.

`ratings.csv` was written from the project's reference tables (makers' sheets, articles and standards that were read,
graded `read`, and figures from memory, graded `recalled`), from the standards on fuses and mains, and from the
descriptions of KiCad's diode symbols; the document of each row stands in its `source` column. A row holds in one of
two ways: `chosen`, the built cell has that value; `observed`, some source in the catalogue has it while the built
cell is another, and `reason` says why. `tolerance` is relative; 0 means equal to nine digits.
"""

import csv
import math
from collections import defaultdict
from pathlib import Path

import pytest

ROWS = list(csv.DictReader((Path(__file__).parent / "ratings.csv").open(encoding="utf-8")))
READ_AT_LEAST, ALL_AT_LEAST = 150, 300


def name(row: dict[str, str]) -> str:
    return f"{row['table']} {row['subject']} {row['quantity']} {row['value']}"


@pytest.fixture(scope="module")
def figures(catalogue) -> dict[tuple[str, str, str], list[tuple[float, str, bool]]]:
    """(table, subject, quantity) → value, unit and whether it is the chosen one, for every observation of a number."""
    found = defaultdict(list)
    rows = catalogue.query('select "table", subject, quantity, value, unit, chosen from {figures} '
                           "where value is not null")
    for table, subject, quantity, value, unit, chosen in rows:
        found[table, subject, quantity].append((value, unit, chosen))
    return found


def same(row: dict[str, str], value: float) -> bool:
    return math.isclose(float(row["value"]), value, rel_tol=max(float(row["tolerance"]), 1e-9))


@pytest.mark.parametrize("row", ROWS, ids=name)
def test_the_catalogue_has_the_rating_of_the_document(row, figures):
    seen = figures[row["table"], row["subject"], row["quantity"]]
    assert seen, f"{row['source']} gives {row['value']} {row['unit']}, the catalogue nothing"
    assert {unit for _, unit, _ in seen} == {row["unit"]}
    chosen = [value for value, _, picked in seen if picked]
    assert len(chosen) == 1
    if row["how"] == "chosen":
        assert same(row, chosen[0]), f"{row['source']} gives {row['value']}, the catalogue {chosen[0]:g}"
    else:
        assert any(same(row, value) for value, _, _ in seen), f"{row['source']} is in no observation: {seen}"
        assert not same(row, chosen[0]), "now it is the chosen figure: say so in `how`, and drop the reason"


def test_every_row_names_its_source_and_every_difference_its_reason():
    assert all(row["source"] and row["grade"] in ("read", "recalled") and row["how"] in ("chosen", "observed")
               for row in ROWS)
    assert [name(r) for r in ROWS if bool(r["reason"]) != (r["how"] == "observed")] == []


def test_enough_ratings_were_read_rather_than_remembered():
    assert sum(row["grade"] == "read" for row in ROWS) >= READ_AT_LEAST
    assert len(ROWS) >= ALL_AT_LEAST


def test_no_rating_stands_twice():
    keys = [(r["table"], r["subject"], r["quantity"], r["value"], r["source"]) for r in ROWS]
    assert len(keys) == len(set(keys))
