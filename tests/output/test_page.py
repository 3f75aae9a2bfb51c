"""The page of text: never wider than asked, harmless whatever a file holds, quantities as the trade writes them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipeline.amounts import amount
from pipeline.catalogue import Figure
from pipeline.checks.findings import Finding
from pipeline.output import page
from pipeline.output.quantities import WORDS, numbers, sense_of, value


@pytest.fixture(params=[40, 80, 120])
def at(request, monkeypatch):
    monkeypatch.setenv("COLUMNS", str(request.param))
    return min(request.param, page.MOST)


CELLS = st.text(min_size=0, max_size=60) | st.sampled_from(["571 V", "真空管" * 9, "W" * 90, "\x1b[2J\u202e", "µF 5 A"])


@pytest.mark.long
@pytest.mark.parametrize("columns", [40, 80, 120])
@given(cells=st.lists(st.tuples(CELLS, CELLS, CELLS), min_size=1, max_size=4), text=st.lists(CELLS, max_size=9))
def test_nothing_is_wider_than_the_page_and_nothing_moves_the_cursor(cells, text, columns):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("COLUMNS", str(columns))
        for said in (page.table(cells), page.wrapped(" ".join(text), 8, "  V1    ")):
            for line in said.split("\n"):
                assert page.columns(line) <= min(columns, page.MOST)
                assert line.isprintable()


def test_a_pipe_gets_80_columns(monkeypatch):
    monkeypatch.delenv("COLUMNS", raising=False)
    assert page.width() == 80  # pytest holds standard output: no terminal


def test_every_word_of_a_folded_table_stands(at):
    rows = [("V6", "rectifier transient", "3.48 A, at most 4.6 A", "on a recalled rating"), ("C1", "kind", "", "x")]
    assert sorted(page.table(rows).split()) == sorted(" ".join(c for row in rows for c in row).split())


def test_a_number_keeps_its_unit_beside_it(monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    rows = page.wrapped("the section alone of the tube gets about 21.6 V and 0.27 A then").split("\n")
    assert any("21.6 V" in row for row in rows) and any("0.27 A" in row for row in rows)


@pytest.mark.parametrize(("number", "unit", "quantity", "words"), [
    (0.0005, "A", "plate_a", "0.5 mA"), (0.15, "A", "heater_a", "0.15 A"), (0.0016, "S", "gm_s", "1.6 mA/V"),
    (62500, "ohm", "rp_ohm", "62.5 kohm"), (2.5e6, "ohm", "", "2.5 Mohm"), (100, "1", "mu", "100"), (-2, "V", "", "-2 V"),
    (1e-6, "A", "", "1 µA"), (4.7e-4, "µF", "uf", "470 pF"), (30000, "V", "piv_max_v", "30000 V"), (0.162, "A", "", "162 mA")])
def test_amounts_as_the_trade_writes_them(number, unit, quantity, words):
    assert amount(number, unit, quantity) == words


def test_a_word_is_a_value_too():
    assert value(Figure("12AX7/series", "pins", "4-5", None, "recalled", "")) == "4-5"


@pytest.mark.parametrize(("figure", "limit", "unit", "sense", "words"), [
    (571.14, 495.0, "V", "at most", "571 V, at most 495 V"), (36, 15, "ohm", "at least", "36 ohm, at least 15 ohm"),
    (0.000795, 0.0005, "A", "at most", "0.795 mA, at most 0.5 mA"), (3.45, 3.0, "A", "at most", "3.45 A, at most 3 A"),
    (6.9312, 6.93, "V", "at most", "6.931 V, at most 6.93 V"), (1142.1, 1550, "V", "at most", "1142 V, at most 1550 V"),
    (0.146, 0.2854, "A", "at most", "146 mA, at most 285 mA"), (None, 60.0, "V", "at most", "not known, at most 60 V"),
    (0.081, None, "A", "at most", "81 mA, limit not known"), (None, None, None, "at most", "")])
def test_the_two_numbers_of_a_finding(figure, limit, unit, sense, words):
    assert numbers(Finding("rectifier-output", "V1", "pass", figure, limit, unit, "", sense=sense)) == words


def test_heaters_and_fuses_are_in_amperes():
    assert numbers(Finding("heater-load", "H1", "stop", 0.75, 0.7, "A", "")) == "0.75 A, at most 0.7 A"


def test_limits_say_which_way_they_bind():
    asked = [("plate_max_v", "sections"), ("supply_ohm_min", "rectifiers"), ("supply_ohm", "rectifier_ratings"),
             ("dc_a", "rectifier_ratings"), ("supply_ohm", "rectifier_operation"), ("heater_a", "tubes")]
    assert [sense_of(*a) for a in asked] == ["at most", "at least", "at least", "at most", "", ""]


def test_every_figure_that_is_shown_has_words():
    from pipeline.output.type_text import _HEADS
    from schemas.columns import COLUMNS
    from schemas.tables import TABLES

    assert {c for name in _HEADS for c in TABLES[name].values if COLUMNS[c].kind == "number"} <= WORDS.keys()
