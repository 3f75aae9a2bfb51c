"""Taking stock: typed at a terminal and from a script, read back, corrected, undone, saved after every line."""

import csv
import os
import signal

import pytest
from bench_units import WINDING
from terminal import Terminal, run

from pipeline.bench.still_needed import still_needed
from pipeline.bench.taking_stock import Stock, Taken
from pipeline.unit import UnitError, load


@pytest.fixture
def folder(make_unit):
    return make_unit(WINDING, "")


@pytest.fixture
def stock(folder, catalogue):
    return Stock(folder, catalogue)


def questions(stock, ref):
    """What is asked of a part that was just listed."""
    return list(stock.questions(Taken(stock.now.parts[ref], ref)))


def rows(folder):
    with (folder / "parts.csv").open(encoding="utf-8", newline="") as file:
        return {row["ref"]: row for row in csv.DictReader(file)}


def test_the_three_lines_of_the_help(stock, folder, catalogue):
    for line in ("V1 6V6 at H1", "C1 16 by 450 reservoir B1", "R7 270 1W cathode V1"):
        stock.take(line)
    found = rows(folder)
    assert found["V1"]["at"] == "H1" and (found["R7"]["role"], found["R7"]["at"]) == ("cathode", "V1")
    assert (found["C1"]["marking"], found["C1"]["role"], found["C1"]["at"]) == ("16 by 450", "reservoir", "")
    unit = load(folder, catalogue)
    assert unit.parts["V1"].reading.type == "6V6GT" and unit.parts["R7"].reading.ohms == 270


def test_a_place_waits_in_the_note_until_something_bears_its_name(stock, folder, catalogue):
    assert stock.take("R7 270 1W cathode V3 note scorched").later == "V3"
    assert stock.take("C1 16 by 450 reservoir B1").later == "B1"
    assert rows(folder)["R7"]["note"] == "scorched; at V3, not listed yet"
    needed, _ = still_needed(folder, catalogue, stock.now)
    assert ("C1", "B1 is not listed, and no winding or node yet") in [(n.ref, n.what) for n in needed]
    stock.take("V3 EL84 at H1")
    assert (rows(folder)["R7"]["at"], rows(folder)["R7"]["note"]) == ("V3", "scorched")
    toml = WINDING + '[[supply]]\nsource = "battery"\nvolts = 90\n[[supply.node]]\nid = "B1"\n'
    (folder / "unit.toml").write_text(toml, encoding="utf-8")
    Stock(folder, catalogue).take("C2 8 by 450 smoothing B1")
    assert (rows(folder)["C1"]["at"], rows(folder)["C1"]["note"]) == ("B1", "")


def test_a_part_is_no_node_that_another_waits_for(stock, folder):
    """A belt called B1 is not what the reservoir capacitor hangs at, nor is a capacitor called V9 a tube."""
    stock.take("C1 16 by 450 reservoir B1")
    with pytest.raises(ValueError, match="C1 hangs at a node B1"):
        stock.take("B1 drive belt 225 mm")
    stock.take("R7 270 1W cathode V9")
    stock.take("V9 is missing socket")
    assert rows(folder)["R7"]["at"] == "" and rows(folder)["C1"]["at"] == ""
    stock.take("V9 6V6 at H1")
    assert rows(folder)["R7"]["at"] == "V9"


def test_the_same_ref_corrects_and_keeps_the_rest(stock, folder):
    stock.take("V1 6V6 at H1 reads plate 248 V")
    taken = stock.take("v1 6V6GT")
    assert taken.before.marking == "6V6" and rows(folder)["V1"] == {
        "ref": "V1", "marking": "6V6GT", "role": "", "at": "H1", "measured": "plate 248 V", "note": ""}
    stock.take("C5 .05 600")
    stock.take("C5 coupling")
    assert (rows(folder)["C5"]["marking"], rows(folder)["C5"]["role"]) == (".05 600", "coupling")


def test_undo_goes_back_line_by_line_and_drop_takes_out(stock, folder):
    stock.take("V1 6V6 at H1")
    stock.take("V1 6L6")
    stock.take("C3 .05 600 coupling")
    assert stock.drop("c3") == "C3" and "C3" not in rows(folder)
    assert [stock.undo(), stock.undo(), stock.undo()] == ["C3", "C3", "V1"]
    assert rows(folder)["V1"]["marking"] == "6V6" and list(rows(folder)) == ["V1"]
    stock.undo()
    assert not rows(folder)
    with pytest.raises(ValueError, match="nothing to undo"):
        stock.undo()
    with pytest.raises(ValueError, match="C3"):
        stock.drop("C3")


def test_what_another_program_wrote_is_kept_and_not_undone(stock, folder):
    stock.take("V1 6V6 at H1")
    with (folder / "parts.csv").open("a", encoding="utf-8") as file:
        file.write("R1,1k,,,,\n")
    with pytest.raises(ValueError, match="another program"):
        stock.undo()
    stock.take("R2 2k2")
    assert list(rows(folder)) == ["V1", "R1", "R2"]


@pytest.mark.parametrize(("line", "said"), [
    ("and now the capacitors", "'and' is no ref"),
    ("H1 play head", "'play head' is not understood here"),
    ("R12", "what is printed on it"),
    ("V1 6V6 at H1 reads plate 248 furlongs", "measured: .*not known"),
    ("C1 8 by 450 filter B1", "more than one role"),
    ("X" * 30 + "1 6V6", "too long"),
    ("7 6V6", "no ref")])
def test_what_cannot_be_taken_changes_nothing(stock, folder, line, said):
    before = (folder / "parts.csv").read_bytes()
    with pytest.raises(ValueError, match=said):
        stock.take(line)
    assert (folder / "parts.csv").read_bytes() == before


def test_a_european_list_keeps_its_semicolons_line_ends_and_mark(make_unit, catalogue):
    folder = make_unit(WINDING, "")
    given = "\ufeffref;marking;note\r\nV1;EL84;lose, wackelt\r\nC1;0,1 µF 630 V;\r\n"
    (folder / "parts.csv").write_bytes(given.encode())
    Stock(folder, catalogue).take("V1 at H1")
    written = (folder / "parts.csv").read_bytes().decode()
    assert written == "\ufeffref;marking;note;at\r\nV1;EL84;lose, wackelt;H1\r\nC1;0,1 µF 630 V;;\r\n"


def test_only_what_is_missing_is_asked(stock):
    stock.take("V1 6V6 at H1")
    stock.take("V2 6V6")
    stock.take("V3 12AX7")
    stock.take("R7 270 1W cathode")
    stock.take("C1 16 by 450")
    ask = {ref: questions(stock, ref) for ref in ("V1", "V2", "R7", "C1")}
    assert not ask["V1"]
    assert (ask["V2"][0].column, ask["V2"][0].default) == ("at", "H1"), "6.3 V on the only winding of 6.3 V"
    assert ask["R7"][0].column == "at" and set(ask["R7"][0].known) == {"V1", "V2", "V3"}
    assert ask["C1"][0].column == "role" and "reservoir" in ask["C1"][0].known
    stock.answer(ask["R7"][0], "V1")
    assert not questions(stock, "R7")
    with pytest.raises(ValueError, match="unknown role"):
        stock.answer(ask["C1"][0], "quux")


def test_what_does_not_print_never_reaches_the_file(stock, folder):
    stock.take("R7 270 1W\x00 cathode \x1b[31m")
    stock.take("C1 16 by 450 reservoir")
    stock.answer(questions(stock, "C1")[0], "B\x007")
    assert (folder / "parts.csv").read_text(encoding="utf-8").replace("\n", "").isprintable()


def test_a_part_that_the_unit_names_is_not_dropped(make_unit, catalogue):
    toml = WINDING + '[[supply]]\nsource = "battery"\nvolts = 90\n[[supply.node]]\nid = "B1"\ncapacitors = ["C1"]\n'
    stock = Stock(make_unit(toml, "C1,8 by 450,,,,"), catalogue)
    with pytest.raises(ValueError, match="still named.*unit.toml"):
        stock.drop("C1")
    taken = Stock(make_unit(toml, ""), catalogue).take("C1 8 by 450")
    assert taken.part.kind == "capacitor", "what unit.toml names may be listed last"


def test_no_unit_no_list(tmp_path, catalogue):
    with pytest.raises(UnitError, match="tubewright start"):
        Stock(tmp_path, catalogue)


@pytest.mark.long
def test_from_a_script(folder):
    done = run("list", folder, lines=b"V1 6V6 at H1\n\n# the power stage\nC1 16 by 450 reservoir B1\nnonsense here\nundo\n"
                       b"R7 270 1W cathode V1\nC9 \xe9\xff 1\n")
    said, out = done.stderr.decode(), done.stdout.decode()
    assert done.returncode == 2 and "line 5: 'nonsense' is no ref" in said and "Traceback" not in said
    assert "?" not in said.replace("What", ""), "a script is asked nothing"
    assert "V1: tube 6V6GT" in out and "STILL NEEDED FOR A VERDICT" in out
    assert {"V1", "R7"} <= rows(folder).keys() and "C1" not in rows(folder)
    assert run("list", folder, lines=b"R7 270 1W\n").returncode == 0


def test_at_a_terminal(folder):
    at = Terminal("list", folder)
    at.until("part> ")
    at.type("V1 6V6")
    at.until("V1: tube 6V6GT")
    at.until("Which winding or string heats V1? (H1) Empty for H1")
    assert rows(folder)["V1"]["at"] == "", "the line is on the disk before anything is asked"
    at.type("")
    at.until("at H1")
    at.type("C1 16 by 450")
    at.until("What does C1 do?")
    at.type("filter")
    at.until("more than one role")
    at.type("reservoir")
    at.until("At which node is C1?")
    at.type("B1")
    at.until("B1 is not listed")
    at.type("gibberish")
    at.until("'gibberish' is no ref")
    at.type("R7 270 1W cathode V1")
    at.until("R7: resistor, 270 ohm, 1 W; cathode; at V1")
    at.type("undo")
    at.until("R7 is as it was before")
    at.type("R7 240 1W cathode V1")
    at.until("part> ")
    at.type("done")
    at.until("STILL NEEDED FOR A VERDICT")
    at.until("supply none is described yet. Type: supply full-wave V… 300-0-300 V 95 ohm")
    assert at.status() == 0, "a person's slip was corrected: nothing is left refused"
    assert rows(folder)["R7"]["marking"] == "240 1W" and rows(folder)["C1"]["role"] == "reservoir"


def test_breaking_off_loses_no_line(folder):
    at = Terminal("list", folder)
    at.until("part> ")
    at.type("V1 6V6 at H1")
    at.until("V1: tube 6V6GT")
    at.type("C1 16 by 450")
    at.until("What does C1 do?")
    os.kill(at.pid, signal.SIGINT)
    at.until("broken off: 2 lines are in")
    assert at.status() == 130 and list(rows(folder)) == ["V1", "C1"]
