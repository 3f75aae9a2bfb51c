"""Text files as people save them: what is refused, on which line, and in letters that print."""

import time
import tomllib

import pytest

from pipeline.textfile import BadRecord, Problem, decode, printable, records
from pipeline.tomlfile import TomlFile


@pytest.mark.parametrize(("data", "line", "shown"), [
    (b"a\nb \x92", 2, "0x92, in CP1252 \u2019"), (b"\x81", 1, "0x81)"), (b"a\n\n\xa0", 3, "0xa0)"), (b"\x9b31m", 1, "0x9b")])
def test_a_byte_that_is_no_utf8_is_shown_without_harm(data, line, shown):
    problem = decode(data)
    assert isinstance(problem, Problem) and problem.rule == "not-utf-8"
    assert problem.line == line and shown in problem.what and problem.what.isprintable()


def test_what_does_not_print_is_written_as_an_escape():
    assert printable("16 µF \x1b[31m\u202e\n") == r"16 µF \x1b[31m\u202e\n"
    assert printable("16 µF, Ω") == "16 µF, Ω"


def test_records_carry_the_line_they_start_on():
    assert records('a,b\n1,"x\ny"\n\n2,z') == [(1, ["a", "b"]), (2, ["1", "x\ny"]), (4, []), (5, ["2", "z"])]
    assert [n for n, _ in records("a,b\r\n1,2\r\n")] == [1, 2]


@pytest.mark.parametrize(("text", "line", "what"), [
    ('a,b\n1,"x\n2,y\n', 2, "never closed"), ('a,b\n1,"x\n2,y\n3,"\n4,z\n', 2, "looks like rows"),
    ('a,b\n1,2\n"x" y,2\n', 3, "behind a closing"), ("a,b\n" + "9" * 140_000, 2, "131072")])
def test_a_quotation_mark_swallows_no_row(text, line, what):
    with pytest.raises(BadRecord, match=what) as bad:
        records(text)
    assert bad.value.line == line and str(bad.value).startswith(f"line {line}: ")


def test_raw_tables_name_the_cell_that_holds_rows_themselves():
    assert len(records('a,b\n1,"x\n2,y\n3,"\n', lines_in_cells=True)) == 2


@pytest.mark.parametrize(("text", "line"), [
    ("a = 1\nb", 2), ("a", 1), ("a = " + "[" * 3000, 1), ("x = 1\na = " + "9" * 5000 + "\nb = 2\n", 2),
    ("x = 1\na" + ".a" * 30_000 + " = 1", 2), ("a = 1\na = 2\n", 2), ('a = "\x1b"', 1), ("#" * 1_000_001, 1)])
def test_what_is_no_toml_names_its_line_at_once(text, line):
    start = time.process_time()
    with pytest.raises(tomllib.TOMLDecodeError, match=rf"\(at line {line},") as bad:
        TomlFile(text)
    assert str(bad.value).isprintable() and time.process_time() - start < 1


@pytest.mark.parametrize(("text", "line"), [
    ("mains_v = 0x" + "f" * 8000, 1), ("mains_v" + ".a" * 150 + " = 1", 1), ("# \u2028 \x85\nmains_v = 'x'", 2),
    ('"\\u001b[31m" = 1', 1), ("mains_v = inf", 1), ("mains_v = nan", 1), ("mains_v = true", 1)])
def test_a_wrong_value_is_told_on_one_line(text, line):
    file = TomlFile(text)
    file.top("mains_v").number("mains_v", 80, 480)
    assert file.faults and (line in {at for at, _ in file.faults} or "u001b" in text)
    assert all(what.isprintable() and len(what) < 200 for _, what in file.faults)
