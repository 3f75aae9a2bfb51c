"""Orders: merging, spares, refusal, drafts, every format opened by a program that is not ours."""

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import duckdb
import openpyxl
import pandas
import pytest
from bench_units import LINE, SELENIUM, TRANSFORMER, WINDING, checked_unit

from pipeline.bench.order import labels, make_order, merged, read_spares
from pipeline.bench.parts import Replacement
from pipeline.output.order import COLUMNS, DRAFT, FORMATS, format_of, render
from pipeline.output.page import CAUTIONS
from pipeline.output.workbook import Sheet, workbook

ROOT = Path(__file__).resolve().parents[2]
GOOD = "V1,6V6GT,,H1,,\nC1,20 uF 25 V,cathode bypass,,,\nC2,.05 400V,coupling,,,\nC3,.05 400V,coupling,,,\n"
HOSTILE = [
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2",
    "@SUM(A1)",
    "<script>alert(1)</script>",
    '=HYPERLINK("http://x")',
    "a|b `c` [d](javascript:e)",
    "\u202e0.1",
    "＝1+1",
]


def order_of(make_unit, catalogue, toml, parts, depth="usual", spares=0.0):
    return make_order([("unit", checked_unit(make_unit, catalogue, toml, parts))], catalogue, depth, spares)


def line(ref, **other):
    given = {
        "ref": ref,
        "marking": "m",
        "kind": "film",
        "value": 0.1,
        "unit": "µF",
        "volts": 630.0,
        "quantity": 1,
        "verdict": "pass",
        "why": "w",
    } | other
    return ref, Replacement(**given)


def run(*words, cwd=ROOT):
    return subprocess.run(
        [sys.executable, "-c", "from pipeline.cli import main; main()", *map(str, words)],
        cwd=cwd,
        capture_output=True,
        text=True,
    )


def test_like_lines_are_one_line_with_all_refs():
    found = merged([line("a:C1"), line("b:C9"), line("C3", volts=400.0), line("C1", quantity=2)], 0)
    assert [(x.quantity, x.refs) for x in found] == [(1, ("C3",)), (4, ("a:C1", "b:C9", "C1 x2"))]
    assert found[1].why == ("a:C1, b:C9, C1: w",)


@pytest.mark.parametrize(
    ("needed", "percent", "total"), [(1, 0, 1), (1, 10, 2), (10, 10, 11), (11, 10, 13), (3, 100, 6)]
)
def test_spares_are_rounded_up(needed, percent, total):
    assert merged([line("C1", quantity=needed)], percent)[0].quantity == total


def test_unknown_lines_are_never_merged_and_get_no_spares():
    found = merged([line("C1", verdict="unknown", kind=None), line("C2", verdict="unknown", kind=None)], 50)
    assert [x.quantity for x in found] == [1, 1]


@pytest.mark.parametrize(("text", "percent"), [("10%", 10), ("10", 10), (" 7,5 % ", 7.5), ("0%", 0)])
def test_spares_are_read(text, percent):
    assert read_spares(text) == percent


@pytest.mark.parametrize("text", ["ten", "-5%", "1e9", "900%", "", "nan"])
def test_absurd_spares_are_refused(text):
    with pytest.raises(ValueError, match="share of spares"):
        read_spares(text)


def test_units_of_one_name_are_told_apart(tmp_path):
    assert labels([tmp_path / "a" / "radio", tmp_path / "b" / "radio"]) == ["a/radio", "b/radio"]
    with pytest.raises(ValueError, match="given twice"):
        labels([tmp_path, tmp_path])


def test_what_the_order_cures_does_not_stop_it(make_unit, catalogue):
    """An electrolytic as motor capacitor is a stop that the new part mends; a line capacitor goes, with an earthed cord."""
    found = order_of(make_unit, catalogue, WINDING, GOOD + "C4,4 MFD 450V,motor run,,,\nC5,.01 400V,line to chassis,,,")
    assert not found.blocked and [ref for ref, _ in found.out] == ["C5"]
    refs = {ref for line in found.lines for ref in line.refs}
    assert {"C1", "C2", "C3", "C4", "three-wire cord"} <= refs and "C5" not in refs


@pytest.mark.parametrize(
    ("parts", "toml", "subject"),
    [
        (GOOD + "V2,6L6GC,,H1,,\nV3,6L6GC,,H1,,\nV4,6L6GC,,H1,,\nV9,6L6GC,,H1,,", WINDING, "H1"),
        (GOOD + "C7,.05 400V,,,,", WINDING, "C7"),
        (GOOD + "C8,16 uF,smoothing,,,", WINDING, "C8"),
        (
            "V5,1V2,rectifier,H1,,\nR1,1k 5W,dropping,B2,,\nC1,32 uF 450 V,reservoir,B1,,\n"
            "C2,32 uF 450 V,smoothing,B2,,",
            TRANSFORMER,
            "V5",
        ),
    ],
)
def test_what_stays_dangerous_or_unknown_is_named(make_unit, catalogue, parts, toml, subject):
    assert subject in [b.subject for b in order_of(make_unit, catalogue, toml, parts).blocked]


def test_what_is_unknown_of_parts_that_stay_holds_nothing_up(make_unit, catalogue):
    parts = GOOD + "V7,9Z9XYZ,,,,\nS1,two-pole switch,,,,\nBELT1,belt,,,,"
    checked = checked_unit(make_unit, catalogue, WINDING, parts)
    found = make_order([("unit", checked)], catalogue)
    assert checked.status == 3 and not found.blocked and any("BELT1" in note for note in found.notes)


def test_selenium_order_is_complete(make_unit, catalogue):
    found = order_of(make_unit, catalogue, SELENIUM, "SR1,selenium 65 mA,rectifier,,,\nC1,40 uF 150 V,reservoir,B1,,")
    assert sorted(x.part.kind for x in found.lines) == ["electrolytic", "metal oxide", "silicon diode"]
    assert "SR1 series" in [r for x in found.lines for r in x.refs] and not found.blocked


@pytest.fixture
def record_player(catalogue):
    from pipeline.checks.check import check
    from pipeline.unit import load

    return make_order(
        [("record-player", check(load(ROOT / "data_raw/units/record-player", catalogue), catalogue))],
        catalogue,
        "usual",
        10,
    )


@pytest.mark.parametrize("format", FORMATS)
def test_cautions_stand_in_every_format(record_player, format):
    data = render(record_player, format)
    if format == "xlsx":
        book = openpyxl.load_workbook(io.BytesIO(data))
        assert all([c.value for row in sheet for c in row].count(CAUTIONS) == 1 for sheet in book)
        assert "lethal" in book.worksheets[0].oddFooter.center.text
    else:
        text = " ".join(data.decode().split())
        assert "lethal voltage" in text and "isolating transformer" in text


def test_csv_as_pandas_and_duckdb_read_it(record_player, tmp_path):
    path = tmp_path / "order.csv"
    path.write_bytes(render(record_player, "csv"))
    frame = pandas.read_csv(path)
    rows = duckdb.sql(f"select * from read_csv('{path}')").fetchall()
    assert list(frame.columns) == list(COLUMNS) and len(frame) == len(rows) == len(record_player.lines)
    assert frame["quantity"].tolist() == [x.quantity for x in record_player.lines] == [r[0] for r in rows]
    assert set(frame["status"]) == {"checked"}


def test_xlsx_as_openpyxl_reads_it(record_player):
    book = openpyxl.load_workbook(io.BytesIO(render(record_player, "xlsx")))
    _, head, *rows = book["Order"].values
    assert {str(name).replace(" ", "_") for name in head} == set(COLUMNS) - {"cautions"}
    assert [r[0] for r in rows] == [x.quantity for x in record_player.lines]
    assert "µF" in rows[0][1] and book["Order"].freeze_panes == "A3"
    assert render(record_player, "xlsx") == render(record_player, "xlsx")


def test_xlsx_fits_the_page_with_its_head_on_every_one(record_player):
    page = openpyxl.load_workbook(io.BytesIO(render(record_player, "xlsx")))["Order"]
    assert page.sheet_properties.pageSetUpPr.fitToPage and page.page_setup.fitToHeight == 0
    assert page.page_setup.orientation == "landscape" and page.print_title_rows == "$2:$2"
    assert page.print_area == f"'Order'!$A$1:$I${len(record_player.lines) + 2}"
    across = sum(page.column_dimensions[letter].width for letter in "ABCDEFGHI")
    assert across <= 1.35 * 11 * 96 / 7, "type of 11 points printed in no less than 8: 11 inches at 7 px a character"


@pytest.mark.parametrize("format", FORMATS)
def test_a_draft_says_so_on_every_row_and_page(make_unit, catalogue, format):
    order = order_of(make_unit, catalogue, WINDING, GOOD + "C7,.05 400V,,,,")
    data = render(order, format, draft=True)
    if format == "xlsx":
        book = openpyxl.load_workbook(io.BytesIO(data))
        _, head, *rows = book["Order"].values
        assert {r[head.index("status")] for r in rows} == {DRAFT}
        assert all("DRAFT" in sheet.oddHeader.center.text for sheet in book)
    elif format == "csv":
        assert {r["status"] for r in csv.DictReader(io.StringIO(data.decode()))} == {DRAFT}
    elif format == "json":
        made = json.loads(data)
        assert made["draft"] and {x["status"] for x in made["lines"]} == {DRAFT} and made["blocked"]
    else:
        assert data.decode().count(DRAFT) >= len(order.lines) + 2


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_parts_lists_stay_text(make_unit, catalogue, text):
    cell = '"' + text.replace('"', '""') + '"'
    order = order_of(make_unit, catalogue, LINE, f"C1,20 uF 25 V,cathode bypass,,,{cell}\nC2,{cell},coupling,,,")
    order.units = [text]
    for row in csv.reader(io.StringIO(render(order, "csv", True).decode())):
        assert not any(c.lstrip().startswith(("=", "+", "-", "@", "＝")) for c in row)
    book = openpyxl.load_workbook(io.BytesIO(render(order, "xlsx", True)))
    for cells in (row for sheet in book for row in sheet):
        assert all(c.data_type != "f" and not str(c.value or "").startswith(("=", "+", "-", "@")) for c in cells)
    page = render(order, "md", True).decode()
    assert "<script" not in page and "d](" not in page and "\u202e" not in page
    assert json.loads(render(order, "json", True))["units"] == [text]
    assert all(c.isprintable() or c == "\n" for c in render(order, "text", True).decode())


def test_workbook_takes_what_xml_does_not():
    data = workbook([Sheet("A & <B>", [["x\x00\x1b\ud800y", "a" * 40_000, 1.5, None, 0]], [10], 0, "P & Q", "")])
    sheet = openpyxl.load_workbook(io.BytesIO(data)).worksheets[0]
    values = [c.value for c in sheet[1]]
    assert sheet.title == "A & <B>" and values[0] == "xy" and len(values[1]) == 32_767
    assert values[2:] == [1.5, None, 0]
    with pytest.raises(ValueError, match="sheets"):
        workbook([])


def test_format_by_ending():
    paths = ["a.csv", "a.XLSX", "a.md", "a.txt", "a"]
    assert [format_of(Path(p), None) for p in paths] == ["csv", "xlsx", "md", "text", "text"]
    with pytest.raises(ValueError, match="no format known"):
        format_of(Path("a.pdf"), None)


@pytest.mark.long
def test_command_refuses_names_and_leaves_nothing(tmp_path):
    path = tmp_path / "order.csv"
    done = run("order", "data_raw/units/table-radio", "data_raw/units/hall-amplifier", "-o", path)
    assert done.returncode == 1 and "hall-amplifier:H1" in done.stderr and "Traceback" not in done.stderr
    assert not path.exists() and not list(tmp_path.iterdir())
    drafted = run("order", "data_raw/units/table-radio", "--draft", "-o", path)
    assert drafted.returncode == 0 and DRAFT in path.read_text(encoding="utf-8")


@pytest.mark.long
def test_command_writes_whole_and_not_over(tmp_path):
    path = tmp_path / "order.xlsx"
    words = ("order", "data_raw/units/record-player", "--spares", "10%", "-o", path)
    assert run(*words).returncode == 0
    first = path.read_bytes()
    again = run(*words, "--depth", "all")
    assert again.returncode == 2 and "--force" in again.stderr and path.read_bytes() == first
    assert run(*words, "--depth", "supply", "--force").returncode == 0 and path.read_bytes() != first
    assert [p.name for p in tmp_path.iterdir()] == ["order.xlsx"]


@pytest.mark.long
@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["data_raw/units/none"], "no such unit folder"),
        (["data_raw/units/record-player"] * 2, "given twice"),
        (["data_raw/units/record-player", "--spares", "much"], "share of spares"),
        (["data_raw/units/record-player", "--format", "xlsx"], "-o FILE"),
        (["data_raw/units/record-player", "-o", "/no/such/folder/a.csv"], "a.csv"),
        (["data_raw/units/record-player", "-o", "a.pdf"], "no format known"),
    ],
)
def test_command_bad_input(words, said):
    done = run("order", *words)
    assert done.returncode == 2 and said in done.stderr and len(done.stderr.strip().splitlines()) == 1


def test_the_faults_of_every_unit_are_told_at_once(tmp_path, catalogue):
    from pipeline.output.ordering import write_order

    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "unit.toml").write_text("mains_v = 6.3\nmains_hz = 50\n", encoding="utf-8")
        (tmp_path / name / "parts.csv").write_text("ref,marking\nV1,\n", encoding="utf-8")
    status, said = write_order(catalogue, [tmp_path / "one", tmp_path / "two"], "usual", "0%", None, None, False, False)
    assert status == 2 and [line.split("/")[-2] for line in said.split("\n") if ".csv" in line] == ["one", "two"]
    assert said.count("\n") == 3
