"""The Python door: tables, what-ifs, swaps and drawings, as a notebook asks for them."""

import doctest
import subprocess
import sys

import pytest
from support import ROOT

import pipeline
from pipeline import Catalogue, check, door


@pytest.fixture(scope="module")
def player():
    return check(ROOT / "data_raw/units/record-player", ROOT / "data_built")


def test_its_examples_run(monkeypatch):
    monkeypatch.chdir(ROOT)
    found = doctest.testmod(door)
    assert found.attempted >= 4 and found.failed == 0


def test_a_unit_as_tables(player):
    assert player.status == 1 and set(player.findings["verdict"]) >= {"stop", "pass"}
    operating = player.operating
    plate = operating[(operating["at"] == "V3") & (operating["quantity"] == "plate_w")]
    assert 9 < plate["value"].item() < 16
    assert player.arrow("findings").num_rows == len(player.findings)
    assert {"ref", "marking", "why", "do"} <= set(player.not_judged.columns)
    with pytest.raises(KeyError, match="no such table"):
        player.rows("nonsense")


def test_what_if_mends_what_was_wrong(player):
    """A 47 µF first capacitor is within what the EZ81's maker allows, 50 µF (Philips, recalled)."""
    def stops(unit):
        found = unit.findings
        return set(found[(found["verdict"] == "stop") & (found["check"] == "largest-input-capacitor")]["subject"])

    assert stops(player) == {"C1A"} and stops(player.what_if(C1A="47 µF 400 V")) == set()
    with pytest.raises(KeyError, match="C99"):
        player.what_if(C99="1 µF")


def test_swap_and_drawings(player):
    assert player.swap("V5", "6CA4").verdict.startswith("fits")
    assert player.base("V3").svg.startswith("<svg") and "<svg" in player.supply()._repr_svg_()
    assert "<script" not in player._repr_html_() and "stop" in player._repr_html_()
    with pytest.raises(KeyError):
        player.swap("C1A", "6CA4")


def test_ratings_by_any_name():
    known = Catalogue(ROOT / "data_built")
    assert known.rating("ECC83").equals(known.rating("12AX7"))
    assert {"value", "unit", "evidence", "source_id", "locator"} == set(known.rating("EL84").columns)
    assert len(known.table("lamps")) > 10
    with pytest.raises(KeyError):
        known.rating("nonsense")


def test_the_door_is_lazy_and_typed():
    code = "import sys, pipeline; print([m for m in ('duckdb', 'numpy', 'pandas', 'pipeline.door') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
    assert (ROOT / "pipeline/py.typed").is_file()
    with pytest.raises(AttributeError):
        pipeline.nonsense  # noqa: B018


def test_a_catalogue_by_its_folder_in_words_or_as_a_path():
    by_words, by_path = Catalogue(str(ROOT / "data_built")), Catalogue(ROOT / "data_built")
    assert by_words.folder == by_path.folder
    assert by_words.rating("12AX7").equals(by_path.rating("12AX7"))
