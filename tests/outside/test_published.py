"""What was read in makers' documents, row by row, against the built catalogue.

`published/` holds the rows as the readers of the documents handed them over: page by page from scans, nine documents
read twice by two readers apart. Every number of every row must stand in the catalogue, in one and the same row, with
its document and its grade; and no number of these documents may stand there that the readers did not hand over.
"""

import csv
import math
import re
from collections import defaultdict
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "published"
NOT_A_FIGURE = ("type", "section", "service", "arrangement", "input", "circuit", "source_id", "locator", "evidence",
                "note", "kind", "function", "envelope", "base", "basing", "heating", "rating_system", "connection",
                "pins", "designation", "system", "nearness")
OWN_TYPES = {("tung-sol-12sr7gt-1943", "12SR7"): "12SR7GT", ("tad-rt6922-2012", "6922"): "6922TAD",
             ("philips-eabc80-1955", "6AK8"): "EABC80"}
"""(document, type it was handed over as) → the type of its own that the document is of."""
PLACES = {"sections": ("sections", "section_uses"), "operating_points": ("operating_points", "resistance_coupled")}
"""Table as handed over → tables of the catalogue that its figures may stand in."""
MORE = {"plate_v": ("plate_v", "supply_v"), "gm_s": ("gm_s", "conversion_gm_s")}
"""Column as handed over → columns that it may be: the note says supply, or conversion."""
SCALES = (1.0, 1e-3, 1e3, 1e6, 1e-6, 2e-3)
"""From a number in a note to SI: milli, kilo, mega, micro; 2x46 mA are 92 mA of a pair."""


def handed(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((FOLDER / f"{name}.csv").open(encoding="utf-8")))


def type_of(row: dict[str, str]) -> str:
    return OWN_TYPES.get((row["source_id"], row["type"]), row["type"])


@pytest.fixture(scope="module")
def rows(catalogue):
    """(table, document) → its rows in the catalogue: type, grade, and every number by column, the key's included."""
    found = defaultdict(dict)
    schemas = {resource["name"]: resource["schema"] for resource in catalogue.package["resources"]}
    keys = {name: schema.get("primaryKey") or schema["uniqueKeys"][0] for name, schema in schemas.items()}
    for table, subject, type_, quantity, value, source, grade, file, line in catalogue.query(
            'select "table", subject, type, quantity, value, source_id, evidence, raw_file, raw_line from {figures} '
            "order by raw_file, raw_line"):
        row = found[table, source].setdefault((file, line), (type_, grade, _key_numbers(subject, keys.get(table, []))))
        if value is not None:
            row[2][quantity] = value
    return {place: list(of.values()) for place, of in found.items()}


def _key_numbers(subject: str, key: list[str]) -> dict[str, float]:
    """The numbers in a subject, under the key's column names; a type such as 80 is none."""
    names = [name for name in key if name != "point"]
    cells = subject.partition("#")[0].rsplit("/", len(names) - 1) if names else []
    return {name: float(cell) for name, cell in zip(names, cells, strict=False)
            if name != "type" and re.fullmatch(r"[0-9.]+(e[+-]?[0-9]+)?", cell)}


def numbers(row: dict[str, str]) -> dict[str, float]:
    return {k: float(v) for k, v in row.items() if v and k not in NOT_A_FIGURE}


def holds(figures: dict[str, float], wanted: dict[str, float]) -> bool:
    return all(any(n in figures and math.isclose(figures[n], value, rel_tol=1e-6) for n in MORE.get(name, (name,)))
               for name, value in wanted.items())


TABLES = ("tubes", "heater_options", "operating_points", "rectifiers", "rectifier_ratings", "rectifier_operation")


@pytest.mark.parametrize("name", TABLES)
def test_every_row_stands_whole_in_the_catalogue(name, rows):
    missing = []
    for row in handed(name):
        mine = [r for table in PLACES.get(name, (name,)) for r in rows.get((table, row["source_id"]), ())]
        if not any(type_ == type_of(row) and grade == "published" and holds(figures, numbers(row))
                   for type_, grade, figures in mine) and numbers(row):
            missing.append((row["type"], row["source_id"], numbers(row)))
    assert missing == []


def test_every_limit_and_characteristic_of_a_section(rows):
    """The limits of one use stand in a table of their own, so a section's numbers may be parted among rows."""
    missing = []
    for row in handed("sections"):
        mine = [r for table in PLACES["sections"] for r in rows.get((table, row["source_id"]), ())]
        of_type = [figures for type_, grade, figures in mine if type_ == type_of(row) and grade == "published"]
        missing += [(row["type"], row["source_id"], k, v) for k, v in numbers(row).items()
                    if not any(holds(figures, {k: v}) for figures in of_type)]
    assert missing == []


def test_every_drop_of_the_curve_and_every_point_of_the_chart(rows):
    drops = {(f["drop_v"], f["drop_at_a"]) for _, _, f in rows["rectifier_curves", "mazda-ez80-1963"]}
    chart = {(f["rectification_efficiency"], f["dc_a"], f["plate_peak_max_a"])
             for _, _, f in rows["rectifier_efficiency", "mazda-ez80-1963"]}
    read = handed("curves")
    assert drops == {(float(r["x_value"]), float(r["y_value"])) for r in read if r["x_name"] == "plate_v"}
    assert chart == {(float(r["x_value"]), float(r["y_value"]), float(r["parameter_value"]))
                     for r in read if r["x_name"] != "plate_v"}


def test_every_quoted_drop(rows, catalogue):
    """As quoted, or as a correction says that it was printed."""
    mended = {(c["subject"], c["printed_in"], c["printed"]) for c in catalogue.rows("corrections")}
    missing = [(r["type"], r["source_id"], r["drop_v"]) for r in handed("rectifiers_quoted")
               if (r["type"], r["source_id"], r["drop_v"]) not in mended
               and not any(type_ == r["type"] and grade == "quoted" and holds(figures, numbers(r))
                           for type_, grade, figures in rows["rectifiers", r["source_id"]])]
    assert missing == []


def test_every_document_is_a_source_of_its_own(catalogue):
    read = {r["source_id"]: r for r in (*handed("sources"), *handed("sources_quoted"))}
    known = catalogue.sources(read)
    assert {i: (known[i]["title"], known[i]["publisher"] or "", known[i]["year"] or "") for i in known} == {
        i: (r["title"], r["publisher"], r["year"]) for i, r in read.items()}


def test_every_pin_goes_to_what_the_document_draws(catalogue):
    """The words differ (`2_g` there, `t2_g` here); pin for pin the electrodes must be as many, and free pins free."""
    text = dict(((type_, source), value) for type_, source, value in catalogue.query(
        "select type, source_id, text from {figures} where \"table\" = 'tube_pins' and evidence = 'published'"))
    wrong = []
    for row in handed("tube_pins"):
        theirs, ours = (dict(token.split(":") for token in pins.split()) for pins in (
            row["pins"], text[type_of(row), row["source_id"]]))
        if theirs.keys() != ours.keys() or any(not _alike(theirs[p], ours[p]) for p in theirs):
            wrong.append((row["type"], row["pins"], ours))
    assert wrong == []


def _alike(theirs: str, ours: str) -> bool:
    def bare(electrode: str) -> str:
        word = electrode.rpartition("_")[2] if not electrode.endswith("_ct") else electrode
        return {"hm": "h_ct", "fm": "f_ct"}.get(word, word)

    a, b = (sorted(map(bare, e.split("+"))) for e in (theirs, ours))
    return a == b or [x for x in a if x != "g3"] == [x for x in b if x != "bp"]


def test_no_number_of_these_documents_was_not_read(rows):
    """Each published number is one that was handed over, or stands in the note of such a row, in other units."""
    said = defaultdict(list)
    for name in ("tubes", "heater_options", "sections", "operating_points", "rectifiers", "rectifier_ratings",
                 "rectifier_operation", "curves"):
        for row in handed(name):
            words = re.findall(r"\d+(?:\.\d+)?", " ".join(row.values()))
            said[row["source_id"]] += [float(w) for w in words]
    invented = [(table, type_, source, name, value)
                for (table, source), of in rows.items() if source in said
                for type_, grade, figures in of if grade == "published"
                for name, value in figures.items() if name != "tube_count" and not _was_said(abs(value), said[source])]
    assert sorted(invented) == sorted(DERIVED)


DERIVED = [("tubes", "6922EH", "eh-6922eh", "heater_tolerance_pct", 4.8)]
"""A tolerance that the document prints as its limits: 6.0 to 6.6 V."""


def _was_said(value: float, words: list[float]) -> bool:
    return any(math.isclose(value, word * scale, rel_tol=1e-4) for word in words for scale in SCALES)


def test_enough_was_read():
    assert len(handed("operating_points")) == 477
    assert sum(len(handed(name)) for name in ("tubes", "heater_options", "sections", "tube_pins")) == 211
