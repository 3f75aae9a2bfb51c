"""What faults leave alone: the old catalogue, the other rows, the bytes of the same input."""

import shutil

import pytest
from bad_rows import GOOD, SOURCES
from bad_rows import HEADER as TUBES

from pipeline.build.catalogue import assemble
from pipeline.build.faults import BadTables


@pytest.fixture
def raw(tmp_path):
    (tmp_path / "sources").mkdir()
    (tmp_path / "sources/a.csv").write_text(SOURCES, encoding="utf-8")
    (tmp_path / "tubes/tubes").mkdir(parents=True)
    return tmp_path


def test_good_rows_build(raw):
    (raw / "tubes/tubes/a.csv").write_text(TUBES + GOOD, encoding="utf-8")
    tables = assemble(raw)
    assert tables["tubes"].num_rows == 1
    figures = {r["quantity"]: r for r in tables["figures"].to_pylist() if r["table"] == "tubes"}
    assert figures["heater_v"]["value"] == 6.3
    assert (figures["heater_v"]["raw_file"], figures["heater_v"]["raw_line"]) == ("tubes/tubes/a.csv", 2)


def test_a_fault_does_not_touch_the_old_catalogue(raw, tmp_path):
    from pipeline.build.run import build

    out = tmp_path / "out"
    (raw / "tubes/tubes/a.csv").write_text(TUBES + GOOD, encoding="utf-8")
    build(raw, out)
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    (raw / "tubes/tubes/a.csv").write_text(TUBES + GOOD.replace("6.3", "x"), encoding="utf-8")
    with pytest.raises(BadTables):
        build(raw, out)
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_every_fault_is_named_in_one_run(raw):
    rows = GOOD.replace("6.3", "630") + GOOD.replace("6J5", "6C5").replace("triode", "triod")
    (raw / "tubes/tubes/a.csv").write_text(TUBES + rows, encoding="utf-8")
    with pytest.raises(BadTables) as bad:
        assemble(raw)
    assert [(f.line, f.rule) for f in bad.value.faults] == [(2, "out-of-range"), (3, "word-unknown")]


@pytest.mark.long
def test_same_input_gives_the_same_bytes(tmp_path):
    from pathlib import Path

    from pipeline.build.run import build

    root = Path(__file__).resolve().parents[2]
    copy = tmp_path / "raw"
    shutil.copytree(root / "data_raw", copy)
    build(copy, tmp_path / "one")
    build(copy, tmp_path / "two")
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes(), path.name


@pytest.mark.parametrize(("cells", "rule", "column"), [
    ({"type": "6.00E+05"}, "exponent-name", "type"), ({"heater_v": "6,3"}, "decimal-comma", "heater_v"),
    ({"note": "a\u202eb"}, "control-character", "note"), ({"base": "oct\u00a0al"}, "no-break-space", "base")])
def test_a_new_row_is_held_to_the_same_rules(raw, cells, rule, column):
    from pipeline.build.add import add_row

    row = {"type": "6C5", "function": "triode", "source_id": "book", "evidence": "recalled"} | cells
    with pytest.raises(BadTables) as bad:
        add_row(raw, "tubes", row)
    assert [(f.rule, f.line, f.column) for f in bad.value.faults] == [(rule, 2, column)]
    assert not (raw / "tubes/tubes/added.csv").exists()


def test_a_stray_file_is_noticed_after_a_build(raw, tmp_path):
    from pipeline.build.run import build

    (raw / "tubes/tubes/a.csv").write_text(TUBES + GOOD, encoding="utf-8")
    build(raw, tmp_path / "out")
    (raw / "tubes/tube").mkdir()
    (raw / "tubes/tube/more.csv").write_text(TUBES + GOOD, encoding="utf-8")
    with pytest.raises(BadTables) as bad:
        build(raw, tmp_path / "out")
    assert [(f.rule, f.file) for f in bad.value.faults] == [("file-stray", "tubes/tube/more.csv")]
