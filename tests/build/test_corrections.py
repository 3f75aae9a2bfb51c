"""Corrections: taken while the raw cell is as printed, a fault as soon as it is not, and seen in the log of changes."""

import pytest
from bad_rows import TUBE, text

from pipeline.build.catalogue import assemble
from pipeline.build.faults import BadTables
from pipeline.build.history import compare
from pipeline.build.run import build

HEADER = "table,subject,column,printed_in,printed,corrected,status,reason,source_id,locator,evidence,note\n"
GOOD = "tubes,6J5,heater_a,book,0.4,0.3,accepted,slip of the printer,errata,slip,published,\n"
SOURCES = ("source_id,title,publisher,year,edition,kind,licence,found_at\nbook,A Book,,1950,,handbook,,\n"
           "errata,Errata to A Book,,1951,,handbook,,\n")
TUBES = text("tubes", [TUBE | {"heater_a": 0.4, "heater_cathode_negative_max_v": 90.0, "locator": "page 1",
                               "evidence": "published"}])


@pytest.fixture
def raw(tmp_path):
    def make(corrections: str = HEADER, tubes: str = TUBES):
        root = tmp_path / "raw"
        for folder, rows in (("sources", SOURCES), ("tubes/tubes", tubes), ("corrections", corrections)):
            (root / folder).mkdir(parents=True, exist_ok=True)
            (root / folder / "a.csv").write_text(rows, encoding="utf-8")
        return root

    return make


def faults(root) -> list[tuple[str, str, int, str]]:
    with pytest.raises(BadTables) as bad:
        assemble(root)
    return [(f.rule, f.file, f.line, f.column) for f in bad.value.faults]


def figures(root) -> dict[str, dict]:
    return {r["quantity"]: r for r in assemble(root)["figures"].to_pylist() if r["table"] == "tubes"}


def test_the_corrected_value_is_built_and_says_so(raw):
    found = figures(raw(HEADER + GOOD))
    assert found["heater_a"]["value"] == 0.3
    assert found["heater_a"]["note"] == "heater_a corrected from 0.4: slip of the printer"
    assert (found["heater_a"]["raw_file"], found["heater_a"]["raw_line"]) == ("tubes/tubes/a.csv", 2)
    assert found["base"]["note"] is None, "the other cells of the row are as they were"
    assert assemble(raw(HEADER + GOOD))["corrections"].to_pylist()[0]["printed"] == "0.4"


def test_a_corrected_figure_is_no_stronger_than_its_correction(raw):
    found = figures(raw(HEADER + GOOD.replace("published", "practice")))
    assert found["heater_a"]["evidence"] == "practice"
    assert found["heater_v"]["evidence"] == "practice", "volts and amps only mean something together"
    assert found["heater_cathode_negative_max_v"]["evidence"] == "published"


def test_the_wide_row_stays_one(raw):
    rows = assemble(raw(HEADER + GOOD))["tubes"].to_pylist()
    assert len(rows) == 1
    assert (rows[0]["heater_v"], rows[0]["heater_a"], rows[0]["base"]) == (6.3, 0.3, "octal")


def test_a_misprint_beyond_all_reason_can_be_corrected(raw):
    tubes = TUBES.replace("6.3,0.4,", "6.3,300 mA?,")
    assert figures(raw(HEADER + GOOD.replace(",0.4,0.3", ",300 mA?,0.3"), tubes))["heater_a"]["value"] == 0.3


def test_a_value_known_to_be_wrong_can_be_withdrawn(raw):
    found = figures(raw(HEADER + GOOD.replace(",0.4,0.3,", ",0.4,,")))
    assert "heater_a" not in found and found["heater_v"]["value"] == 6.3


def test_a_proposed_correction_is_not_taken(raw):
    rows = assemble(raw(HEADER + GOOD.replace("accepted", "proposed")))
    assert rows["tubes"].to_pylist()[0]["heater_a"] == 0.4
    assert rows["corrections"].num_rows == 1


def test_a_correction_of_an_unknown_table_names_the_nearest(raw):
    with pytest.raises(BadTables) as bad:
        assemble(raw(HEADER + GOOD.replace("tubes,", "tubs,")))
    assert [(f.rule, f.column) for f in bad.value.faults] == [("correction-place", "table")]
    assert "tubes" in bad.value.faults[0].mend


def test_the_guard_does_not_echo_a_fault_of_the_raw_file(raw):
    found = faults(raw(HEADER + GOOD, TUBES.replace("6.3,0.4,", "6.3,0.4 ,")))
    assert found == [("padding", "tubes/tubes/a.csv", 2, "heater_a")]


def test_a_changed_value_is_logged_with_the_reason_of_its_correction(raw, tmp_path):
    build(raw(), tmp_path / "old")
    build(raw(HEADER + GOOD), tmp_path / "new")
    history = compare(tmp_path / "old", tmp_path / "new")
    change = next(c for c in history.changes if c.table == "tubes")
    assert (change.kind, change.subject, change.column) == ("value", "6J5", "heater_a")
    assert (change.old, change.new) == (0.4, 0.3)
    assert change.why == "corrected from 0.4 (printed in book): slip of the printer"
    assert history.step == "patch"
