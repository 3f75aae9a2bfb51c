"""What a type's rows become: limits as one document's set, operating points told apart by what they were set to."""

import pytest
from bad_rows import write

from pipeline.build.catalogue import assemble

DOCUMENTS = [
    {"source_id": "sheet", "title": "Sheet", "kind": "maker's sheet", "year": "1960", "publisher": "One"},
    {"source_id": "older", "title": "Older sheet", "kind": "maker's sheet", "year": "1950", "publisher": "Two"},
    {"source_id": "manual", "title": "Manual", "kind": "handbook", "year": "1962", "publisher": "Three"}]
TUBE = {"type": "6V6GT", "function": "beam power tetrode", "base": "octal", "heating": "heater", "heater_v": 6.3,
        "heater_a": 0.45, "source_id": "manual"}
READ = {"type": "6V6GT", "section": "whole", "evidence": "published", "locator": "page 1"}
POINT = READ | {"service": "class A1", "plate_v": 250.0, "screen_v": 250.0, "tube_count": 1.0}


@pytest.fixture
def built(tmp_path):
    """The built table of that name, from these rows of it."""
    def make(table: str, *rows: dict) -> list[dict]:
        tables = {"sources": DOCUMENTS, "tubes": [TUBE], table: list(rows)}
        return assemble(write(tmp_path / "raw", tables))[table].to_pylist()

    return make


def section(built, *rows: dict) -> dict:
    (row,) = built("sections", *(READ | row for row in rows))
    return row


def test_a_set_of_limits_is_one_document_s_and_not_the_best_of_each(built):
    row = section(built, {"plate_max_v": 315.0, "rating_system": "design-centre", "source_id": "sheet"},
                  {"plate_max_v": 350.0, "screen_max_v": 315.0, "rating_system": "design-maximum", "source_id": "older"})
    assert (row["plate_max_v"], row["screen_max_v"], row["rating_system"]) == (315.0, None, "design-centre")


def test_a_gap_is_filled_from_the_same_rating_system_and_the_figure_says_so(built, tmp_path):
    row = section(built, {"plate_max_v": 315.0, "rating_system": "design-centre", "source_id": "sheet"},
                  {"plate_max_v": 300.0, "screen_max_v": 285.0, "rating_system": "design-centre", "source_id": "older"})
    assert (row["plate_max_v"], row["screen_max_v"]) == (315.0, 285.0)
    notes = {f["quantity"]: f["note"] for f in assemble(tmp_path / "raw")["figures"].to_pylist()
             if f["table"] == "sections" and f["chosen"]}
    assert notes["screen_max_v"] == "fills a gap of another document's set, same rating system, design-centre"
    assert notes["plate_max_v"] is None


def test_a_document_without_a_system_takes_that_of_one_that_agrees_with_it(built):
    agreeing = {"plate_max_v": 315.0, "screen_max_v": 285.0, "rating_system": "design-centre", "source_id": "manual",
                "evidence": "recalled"}
    row = section(built, {"plate_max_v": 315.0, "source_id": "sheet"}, agreeing)
    assert (row["rating_system"], row["screen_max_v"]) == ("design-centre", 285.0)
    row = section(built, {"plate_max_v": 350.0, "source_id": "sheet"}, agreeing)
    assert (row["plate_max_v"], row["rating_system"]) == (350.0, None), "what another says of its set is not said here"


def test_among_documents_of_one_grade_those_that_name_their_system_speak(built):
    row = section(built, {"plate_max_v": 350.0, "source_id": "sheet"},
                  {"plate_max_v": 315.0, "rating_system": "design-centre", "source_id": "older"})
    assert (row["plate_max_v"], row["rating_system"]) == (315.0, "design-centre")
    row = section(built, {"plate_max_v": 350.0, "source_id": "sheet"},
                  {"plate_max_v": 315.0, "rating_system": "design-centre", "source_id": "older", "evidence": "recalled"})
    assert (row["plate_max_v"], row["rating_system"]) == (350.0, None), "grade before system"


def test_characteristics_are_still_taken_one_by_one(built):
    row = section(built, {"plate_max_v": 315.0, "gm_s": 0.0041, "source_id": "sheet"},
                  {"rp_ohm": 50000.0, "source_id": "manual", "evidence": "recalled"})
    assert (row["gm_s"], row["rp_ohm"]) == (0.0041, 50000.0)


def points(built, *rows: dict) -> list[tuple]:
    return [(row["point"], row["bias_v"], row["plate_a"], row["evidence"])
            for row in built("operating_points", *(POINT | row for row in rows))]


def test_one_source_s_rows_are_different_points(built):
    found = points(built, {"bias_v": -12.5, "plate_a": 0.045, "source_id": "sheet"},
                   {"bias_v": -14.0, "plate_a": 0.036, "source_id": "sheet"})
    assert {p[1:3] for p in found} == {(-12.5, 0.045), (-14.0, 0.036)}
    assert [p[0] for p in found] == [1, 2]


def test_another_source_s_row_is_the_same_point_where_it_agrees(built):
    found = points(built, {"bias_v": -12.5, "plate_a": 0.045, "source_id": "sheet"},
                   {"bias_v": -13.0, "plate_a": 0.047, "source_id": "manual", "evidence": "recalled"})
    assert found == [(1, -12.5, 0.045, "published")], "a bias stated a little apart is an observation of the same point"


@pytest.mark.parametrize("other", [{"screen_v": 100.0}, {"connected": "triode", "screen_v": None},
                                   {"bias_v": -5.0}, {"load_ohm": 14000.0}, {"supply_v": 300.0, "bias_v": -5.0}])
def test_another_screen_connection_bias_or_load_is_another_point(built, other):
    row = {"bias_v": -12.5, "plate_a": 0.045, "load_ohm": 5000.0, "source_id": "sheet"}
    found = points(built, row, row | {"source_id": "manual", "plate_a": 0.04} | other)
    assert [p[0] for p in found] == [1, 2]


def test_the_usual_connection_comes_first_though_a_weaker_source_gives_it(built):
    found = points(built, {"connected": "triode", "screen_v": None, "bias_v": -15.0, "plate_a": 0.0375,
                           "source_id": "sheet"},
                   {"bias_v": -12.5, "plate_a": 0.045, "source_id": "manual", "evidence": "recalled"})
    assert found[0] == (1, -12.5, 0.045, "recalled")
