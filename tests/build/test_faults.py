"""One tiny bad raw folder per rule → the exact place and rule that is named."""

import shutil

import pytest

from pipeline.build.catalogue import assemble
from pipeline.build.faults import BadTables

SOURCES = "source_id,title,publisher,year,edition,kind,licence\nbook,A Book,,1950,,handbook,\n"
TUBES = ("type,function,envelope,base,basing,heating,heater_v,heater_a,heater_tolerance_pct,warm_up_s,"
         "heater_cathode_negative_max_v,heater_cathode_positive_max_v,rating_system,source_id,locator,evidence,note\n")
GOOD = "6J5,triode,,octal,,heater,6.3,0.3,,,,,,book,,recalled,\n"

CASES = {
    "byte-order-mark": (b"\xef\xbb\xbf" + (TUBES + GOOD).encode(), 1, "-"),
    "not-utf-8": ((TUBES + GOOD).encode() + "6V6,triode,µ\n".encode("cp1252"), 3, "-"),
    "empty-file": (b"", 1, "-"),
    "semicolons": (TUBES.replace(",", ";").encode() + b"6J5;triode\n", 1, "-"),
    "column-missing": (TUBES.replace("heater_a,", "").encode(), 1, "heater_a"),
    "column-unknown": (TUBES.replace("heater_a", "heater_amps").encode(), 1, "heater_amps"),
    "column-twice": (TUBES.replace("envelope", "base").encode(), 1, "base"),
    "column-order": (TUBES.replace("heater_v,heater_a", "heater_a,heater_v").encode(), 1, "-"),
    "line-ends": ((TUBES + GOOD).replace("\n", "\r\n").encode(), 1, "-"),
    "final-newline": ((TUBES + GOOD).rstrip("\n").encode(), 2, "-"),
    "blank-line": ((TUBES + "\n" + GOOD).encode(), 2, "-"),
    "cell-count": ((TUBES + GOOD.replace("book", "book,x")).encode(), 2, "-"),
    "no-break-space": ((TUBES + GOOD.replace("octal", "oct\u00a0al")).encode(), 2, "base"),
    "padding": ((TUBES + GOOD.replace("octal", "octal ")).encode(), 2, "base"),
    "line-break": ((TUBES + GOOD.replace("recalled,", 'recalled,"one\ntwo"')).encode(), 2, "note"),
    "control-character": ((TUBES + GOOD.replace("octal", "oct\x07al")).encode(), 2, "base"),
    "spreadsheet-error": ((TUBES + GOOD.replace("octal", "#NAME?")).encode(), 2, "base"),
    "mojibake": ((TUBES + GOOD.replace("recalled,", "recalled,0.1 Âµ")).encode(), 2, "note"),
    "exponent-name": ((TUBES + GOOD.replace("6J5", "6.00E+05")).encode(), 2, "type"),
    "date-name": ((TUBES + GOOD.replace("6J5", "2-Jan")).encode(), 2, "type"),
    "not-a-number": ((TUBES + GOOD.replace("6.3,0.3", '"6,3",0.3')).encode(), 2, "heater_v"),
    "cell-missing": ((TUBES + GOOD.replace("book", "")).encode(), 2, "source_id"),
    "word-unknown": ((TUBES + GOOD.replace("triode", "triod")).encode(), 2, "function"),
    "out-of-range": ((TUBES + GOOD.replace("6.3,", "630,")).encode(), 2, "heater_v"),
    "row-twice": ((TUBES + GOOD + GOOD).encode(), 3, "type"),
    "source-unknown": ((TUBES + GOOD.replace("book", "bok")).encode(), 2, "source_id"),
}


@pytest.fixture
def raw(tmp_path):
    (tmp_path / "sources").mkdir()
    (tmp_path / "sources/a.csv").write_text(SOURCES, encoding="utf-8")
    (tmp_path / "tubes/tubes").mkdir(parents=True)
    return tmp_path


@pytest.mark.parametrize("rule", CASES)
def test_rule_names_the_place(raw, rule):
    data, line, column = CASES[rule]
    (raw / "tubes/tubes/a.csv").write_bytes(data)
    with pytest.raises(BadTables) as bad:
        assemble(raw)
    found = [(f.rule, f.file, f.line, f.column) for f in bad.value.faults]
    assert (rule, "tubes/tubes/a.csv", line, column) in found
    assert len({f[0] for f in found}) <= 2, f"one slip must not echo through other rules: {found}"


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
