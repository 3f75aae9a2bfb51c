"""One rule, one id, at least one tiny bad raw folder → the exact list of faults that a whole build of it names.

The list is exact: a slip that echoes through other rules fails here. `TUBEWRIGHT_FUZZ` sets how many single slips are
put into good folders (default 100).
"""

import ast
import json
import os
import random
from pathlib import Path

import pytest
from bad_rows import SOURCES, Case, place, write
from bad_rows import cell as as_cell
from bad_rows.meaning import CASES as MEANING
from bad_rows.meaning import PENTODE, TRIODE, TUBE, TWIN, USUAL
from bad_rows.rows import CASES as ROWS

from pipeline.build import cells
from pipeline.build.audit import LINKS, WAIVABLE
from pipeline.build.catalogue import assemble
from pipeline.build.faults import BadTables
from pipeline.build.rules import RULES
from pipeline.build.run import build
from pipeline.output.built import changes_as, faults, faults_as
from schemas.tables import TABLES
from tests.support import ROOT

SLIPS = int(os.environ.get("TUBEWRIGHT_FUZZ", "100"))


def with_usual(tables):
    """Tables of `meaning` as rows of text; every column of theirs that is usual is filled in."""
    return {name: [{k: as_cell(v) for k, v in (USUAL | row).items()} for row in rows]
            for name, rows in tables.items()}


def case_of(rule: str) -> Case:
    tables, (table, line, column), _ = MEANING[rule]
    rows = with_usual(tables)
    return Case(rule, "", rows, [(table, line, column, rows[table][line - 2].get(column, ""))])


CASES = [*ROWS, *map(case_of, MEANING)]


def found(root: Path) -> list[tuple[str, int, str, str, str]]:
    """What a whole build of `root` names, short of writing files: file, line, column, rule and value of each fault."""
    try:
        assemble(root)
    except BadTables as bad:
        return [(f.file, f.line, f.column, f.rule, f.value) for f in bad.faults]
    return []


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.rule} {case.name}".strip())
def test_a_build_names_exactly_these(case, tmp_path):
    root = write(tmp_path / "raw", case.tables)
    if case.rule == "no-raw-files":
        root /= "nowhere"
    expected = [(name if "." in name else place(name) if name else str(root), line, column, case.rule, value)
                for name, line, column, value in case.faults]
    assert found(root) == expected


@pytest.mark.parametrize("rule", MEANING)
def test_the_mended_case_builds(rule, tmp_path):
    assert found(write(tmp_path / "raw", with_usual(MEANING[rule][2]))) == []


def ids_in_the_code() -> set[str]:
    """Every rule id that a call in the build names as a literal."""
    found = set()
    for path in [*(ROOT / "pipeline/build").rglob("*.py"), ROOT / "pipeline/textfile.py"]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "").strip("_").lower() in ("fault", "problem") \
                    and node.args and isinstance(node.args[0], ast.Constant):
                found.add(node.args[0].value)
    return found


def test_the_registry_holds_every_rule_of_the_code_and_each_has_a_bad_folder():
    functions = cells.RULES.keys() | LINKS.keys() | WAIVABLE.keys()
    told = ids_in_the_code()
    assert {"csv-broken", "not-utf-8", "correction-guard", "waiver-unused", "row-twice"} <= told, "the search finds none"
    given_apart = {"semicolons", "tabs", "decimal-comma", "number-form", "not-a-number"}
    assert RULES.keys() == functions | told | given_apart
    assert {case.rule for case in CASES} == RULES.keys()
    assert len(RULES) >= 40


def test_every_rule_says_in_one_line_what_must_hold():
    for rule, text in RULES.items():
        assert 10 < len(text) < 170 and "\n" not in text, f"{rule}: {text}"
    assert len(set(RULES.values())) == len(RULES)


def test_every_bad_folder_has_a_name_of_its_own():
    names = [(case.rule, case.name) for case in CASES]
    assert len(set(names)) == len(names)


# One slip, one fault, wherever it is made.

DAMAGE = {"padding": lambda cell: cell + " ", "no-break-space": lambda cell: cell + "\u00a0",
          "control-character": lambda cell: "\x07" + cell, "spreadsheet-error": lambda cell: "#REF!",
          "mojibake": lambda cell: cell + "Âµ"}


def slips():
    """(rule of the damage, mended case, table, row, column): every filled cell of every good folder."""
    for rule, (_, _, tables) in MEANING.items():
        rows = with_usual(tables)
        for name, of_table in rows.items():
            for number, row in enumerate(of_table):
                for column in TABLES[name].columns:
                    if ({"source_id": "book"} | row).get(column):
                        yield from ((damage, rule, name, number, column) for damage in DAMAGE)


@pytest.mark.long
def test_one_slip_is_one_fault_wherever_it_is_made(tmp_path):
    every = sorted(slips())
    assert len(every) > 4_000
    chosen = every if len(every) <= SLIPS else random.Random(os.environ.get("TUBEWRIGHT_SEED", "1")).sample(every, SLIPS)
    for number, (damage, rule, name, row, column) in enumerate(chosen):
        tables = with_usual(MEANING[rule][2])
        cell = DAMAGE[damage](tables[name][row][column])
        tables[name][row] |= {column: cell}
        root = write(tmp_path / str(number), tables)
        assert found(root) == [(place(name), row + 2, column, damage, cell)], (rule, number)


def test_a_lost_row_is_not_missed_by_those_that_point_to_it(tmp_path):
    tables = with_usual(MEANING["heater-pins"][2])
    root = write(tmp_path / "raw", tables)
    path = root / place("tubes")
    path.write_text(path.read_text(encoding="utf-8").rstrip("\n") + ",\n", encoding="utf-8")
    assert [f[3] for f in found(root)] == ["cell-count"]


@pytest.mark.parametrize("sources", [SOURCES.replace("\nbook,", "\nbook ,"), SOURCES.replace("\nbook", "\n,book"),
                                     SOURCES.replace(",", ";"), "\ufeff" + SOURCES])
def test_a_source_that_cannot_be_read_is_one_fault(sources, tmp_path):
    assert [f[0] for f in found(write(tmp_path, {"sources": sources}))] == ["sources/a.csv"]


def test_rows_whose_keys_cannot_be_read_are_no_doubles(tmp_path):
    tables = with_usual(MEANING["mu-gm-rp"][2])
    row = tables["sections"][0]
    tables["sections"] = [row | {"section": "whole "}, row | {"section": " whole"}]
    assert [f[1:4] for f in found(write(tmp_path, tables))] == [(2, "section", "padding"), (3, "section", "padding")]


ACQUITTED = {
    "a tapped heater that makes an E of a 12.6 V tube": (
        {"tubes": [TWIN], "heater_options": [{"type": "12AX7", "arrangement": "parallel", "heater_v": 6.3, "heater_a": 0.3}],
         "designations": [{"designation": "ECC83", "type": "12AX7", "system": "European"}]}, "heater_options"),
    "a map of its own where the code's does not fit": (
        {"tubes": [TUBE | {"basing": "9A"}], "basings": [{"basing": "9A", "pins": TRIODE}],
         "tube_pins": [{"type": "6BQ5", "pins": PENTODE}],
         "designation_exceptions": [{"type": "6BQ5", "rule": "pins-against-code", "reason": "made up"}]}, "tube_pins"),
}


@pytest.mark.parametrize("column", ["type", "note"])
@pytest.mark.parametrize("case", ACQUITTED)
def test_a_faulty_row_still_acquits_its_type(case, column, tmp_path):
    tables, acquitting = with_usual(ACQUITTED[case][0]), ACQUITTED[case][1]
    assert found(write(tmp_path / "good", tables)) == []
    row = tables[acquitting][0]
    row[column] = row.get(column, "seen") + " "
    assert [f[0::3] for f in found(write(tmp_path / "bad", tables))] == [(place(acquitting), "padding")]
    row[column] = row[column].strip()
    lost = write(tmp_path / "lost", tables) / place(acquitting)
    lost.write_text(lost.read_text(encoding="utf-8").rstrip("\n") + ",\n", encoding="utf-8")
    assert [f[0::3] for f in found(tmp_path / "lost")] == [(place(acquitting), "cell-count")]


def test_faults_of_every_stage_are_named_in_one_run(tmp_path):
    """A file that cannot be read, a bad cell, a bad word, an unknown type and a figure without sense, all at once."""
    tables = with_usual(MEANING["mu-gm-rp"][0] | {"lamps": [{"type": "47", "lamp_v": 6.3, "lamp_a": "150 mA"}]})
    tables["rectifiers"] = b"\xef\xbb\xbftype\n"
    tables["designations"] = [{"designation": "EL84", "type": "6BQ6", "system": "Europe", "nearness": "same"}]
    assert [(f[0].split("/")[1], f[3]) for f in found(write(tmp_path / "raw", tables))] == [
        ("lamps", "not-a-number"), ("rectifiers", "byte-order-mark"), ("designations", "word-unknown"),
        ("designations", "type-unknown"), ("sections", "mu-gm-rp")]


# How faults are told.

def bad_run(tmp_path) -> BadTables:
    tables = {"tubes/tubes/b.csv": "ty\x1bpe\n", "lamps": [{"type": str(n), "lamp_v": "x"} for n in range(100, 170)]}
    with pytest.raises(BadTables) as bad:
        build(write(tmp_path / "raw", tables), tmp_path / "out")
    return bad.value


def test_as_text_fifty_are_printed_and_no_terminal_is_moved(tmp_path):
    bad = bad_run(tmp_path)
    lines = faults(bad.faults).splitlines()
    assert len(bad.faults) == 71 and len(lines) == 52
    assert lines[-2:] == ["and 21 more faults", "71 faults; the catalogue was left as it was"]
    assert all(line.isprintable() for line in [*lines, *map(str, bad.faults)])
    assert str(bad.faults[-1]).startswith(r"tubes/tubes/b.csv:1: -: 'ty\x1bpe': no header of tubes: ")


def test_as_json_every_one_is_there(tmp_path):
    bad = bad_run(tmp_path)
    told = json.loads(faults_as(bad.faults, "json", RULES))
    assert told["count"] == 71 == len(told["faults"])
    assert told["faults"][0] == {
        "file": "parts/lamps/a.csv", "line": 2, "column": "lamp_v", "value": "x", "rule": "not-a-number",
        "what": "not a plain number", "mend": "only digits and a decimal point, in V", "means": RULES["not-a-number"]}
    assert told["faults"][-1]["value"] == "ty\x1bpe"
    assert faults_as(bad.faults, "csv", RULES).startswith("file,line,column,value,rule,what,mend,means\n"
                                                          "parts/lamps/a.csv,2,lamp_v,x,not-a-number,")
    assert faults_as(bad.faults, "text", RULES) == faults(bad.faults) + "\n"


def test_changes_as_json(tmp_path):
    done = build(write(tmp_path / "raw", {}), tmp_path / "out")
    told = json.loads(changes_as(done, "json", False))
    assert told["changed"] is True
    assert {"table": "tubes", "rows_before": None, "rows": 1, "what": "new"} in told["tables"]
    assert "tubes,,1,new\n" in changes_as(done, "csv", False)
    again = json.loads(changes_as(build(tmp_path / "raw", tmp_path / "out"), "json", False))
    assert again["changed"] is False and len(again["tables"]) == len(told["tables"])
