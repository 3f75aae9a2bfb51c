"""The bench sheet in a real browser: readings saved from its boxes and read by `compare`, no script, no network, paper."""

import csv
import re
import subprocess

import pytest
from support import ROOT, outside_tool
from test_pages_browser import CONTRAST

from pipeline.bench.bringup import BEFORE_POWER
from pipeline.bench.compare import compare
from pipeline.checks.check import check
from pipeline.output.sheet import sheet, write_sheet
from pipeline.records import replace
from pipeline.unit import load
from pipeline.unit.readings import load_readings

pytestmark = pytest.mark.long
UNITS = sorted(p.parent.name for p in (ROOT / "data_raw/units").glob("*/unit.toml"))
PAPER_PX = {"A4": 695, "Letter": 717}
"""CSS pixels of the paper's width between the margins of the style sheet: (210 or 215.9 mm - 26 mm) x 96/25.4."""
PRINTED = """
() => {
  const poor = [], least = 8 * 96 / 72;
  for (const e of document.querySelectorAll("body *")) {
    if (!e.getClientRects().length || ["SCRIPT", "STYLE", "title", "desc"].includes(e.tagName)) continue;
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    const svg = e.closest("svg"), said = e.tagName + " " + e.textContent.trim().slice(0, 40);
    const scale = svg ? svg.getBoundingClientRect().width / svg.viewBox.baseVal.width : 1;
    const size = parseFloat(getComputedStyle(e).fontSize) * scale;
    if (own && size < least - 0.05) poor.push(`${said}: ${size} px`);
    if (["TD", "TH"].includes(e.tagName) && e.scrollWidth > e.clientWidth + 1) poor.push(`${said}: beyond its cell`);
  }
  return poor;
}
"""


@pytest.fixture(scope="module")
def checked(catalogue):
    return {name: check(load(ROOT / "data_raw/units" / name, catalogue), catalogue) for name in UNITS}


@pytest.fixture
def opened(chromium, tmp_path):
    """Opens a page from a file; nothing may be said on the console or asked of anything else."""
    faults, contexts = [], []

    def go(html, **context):
        file = tmp_path / "sheet.html"
        file.write_text(html, encoding="utf-8")
        contexts.append(chromium.new_context(**({"viewport": {"width": 1000, "height": 900}} | context)))
        contexts[-1].set_default_timeout(10_000)
        page = contexts[-1].new_page()
        page.on("console", lambda message: faults.append(message.text))
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("dialog", lambda dialog: (faults.append("a dialog"), dialog.dismiss()))
        page.on("request", lambda request: request.url.startswith(("file:", "blob:")) or faults.append(request.url))
        page.goto(file.as_uri())
        return page

    yield go
    for context in contexts:
        context.close()
    assert not faults, faults


def saved(page, path):
    """What the page saves."""
    with page.expect_download() as found:
        page.click("#save")
    assert found.value.suggested_filename == "readings.csv"
    found.value.save_as(path)
    return path


def fill(page, label, text):
    box = page.get_by_label(label, exact=True).first
    box.fill(text)
    return box


def test_typed_readings_are_saved_and_compared(checked, catalogue, opened, tmp_path):
    before = checked["record-player"]
    node = before.state.nodes[0].id
    page = opened(sheet(before, catalogue))
    volts = round(before.state.today_v(node))
    fill(page, f"DC volts read at {node}", f"{volts}")
    fill(page, "volts read at V3 7 plate", "251,2")
    fill(page, "volts read at V1 1 plate, V1A", "118 V")
    cold = page.locator("input[data-condition=cold][data-reading=ohms]").first
    cold.fill("12.5")
    fill(page, "Date", "2026-03-01")
    fill(page, "By", 'Ada, "the bench"')
    fill(page, "Mains read, V", "232")
    rows = list(csv.reader(saved(page, tmp_path / "readings.csv").open(encoding="utf-8", newline="")))
    assert rows[0] == ["at", "reading", "value", "note", "date", "by", "condition", "mains"]
    same = ["2026-03-01", 'Ada, "the bench"']
    at = cold.get_attribute("data-at")
    assert [node, "dc_v", f"{volts} V", "", *same, "full", "232"] in rows
    assert ["V3", "plate_v", "251,2 V", "", *same, "full", "232"] in rows
    assert [at, "ohms", f"12.5 {cold.get_attribute('data-unit')}", BEFORE_POWER, *same, "cold", "232"] in rows
    assert len(rows) == 5 and "4 readings saved" in page.inner_text("#saved")
    read = load_readings(tmp_path / "readings.csv", before.unit)
    assert {(r.at, r.section, r.reading, r.condition) for r in read} == {
        (node, None, "dc_v", "full"), ("V3", None, "plate_v", "full"), ("V1", "A", "plate_v", "full"),
        (at, None, "ohms", "cold")}
    verdicts = {r.reading.at: r.verdict for r in compare(before, read, catalogue).rows}
    assert verdicts[node] == "within" and len(verdicts) == 4


def test_compare_reads_every_box_of_every_unit(checked, catalogue, opened, tmp_path):
    """A number in each box that has a name in the file: no line of it is refused."""
    for name, unit in checked.items():
        page = opened(sheet(unit, catalogue, "variable transformer"))
        boxes = page.evaluate("""() => {
            const found = [...document.querySelectorAll("input[data-at]")];
            for (const box of found) box.value = "7";
            return new Set(found.map(b => [b.dataset.at, b.dataset.reading, b.dataset.condition, b.dataset.note].join("|"))).size;
        }""")
        read = load_readings(saved(page, tmp_path / f"{name}.csv"), unit.unit)
        assert len(read) == boxes > 10, name


def test_boxes_of_one_reading_are_one_and_what_has_no_name_is_told(checked, catalogue, opened, tmp_path):
    page = opened(sheet(checked["hall-amplifier"], catalogue))
    page.click("#save")
    assert page.inner_text("#saved") == "Nothing is typed in yet."
    node = checked["hall-amplifier"].state.nodes[0].id
    fill(page, f"DC volts read at {node}", "400")
    twins = page.locator(f"input[data-at={node}][data-reading=dc_v]:not([data-condition])")
    assert twins.count() > 1 and {twins.nth(i).input_value() for i in range(twins.count())} == {"400"}
    other = page.locator("#tubes input.blank:not([data-at])").first  # a rectifier's plate: AC, which a file has no name for
    other.fill("388")
    text = saved(page, tmp_path / "readings.csv").read_text(encoding="utf-8")
    assert text.count("\n") == 2 and re.search(rf"^{node},dc_v,400 V,,\d{{4}}-\d\d-\d\d,,full,$", text, re.M)
    assert other.get_attribute("aria-label") in page.inner_text("#saved")


def test_without_script_the_page_is_whole(checked, catalogue, opened):
    page = opened(sheet(checked["table-radio"], catalogue), java_script_enabled=False)
    assert not page.locator("#saving").is_visible() and page.locator("input[data-at]").first.is_visible()
    assert "print it, or write it down" in page.locator("header").inner_text()


def test_a_script_in_the_units_files_does_not_run(checked, catalogue, opened):
    bad = replace(checked["table-radio"].unit, name="<script>alert(1)</script><img src=x onerror=alert(2)>")
    page = opened(sheet(check(bad, catalogue), catalogue))
    assert page.locator("h1").inner_text().startswith("<script>alert(1)")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_ink_stands_off_its_ground(checked, catalogue, opened, scheme):
    """WCAG 2.2, 1.4.3: 4.5 to 1 at least, measured in the browser."""
    page = opened(sheet(checked["hall-amplifier"], catalogue), color_scheme=scheme)
    assert page.evaluate(CONTRAST) == []


@pytest.mark.parametrize("paper", PAPER_PX)
def test_nothing_is_printed_small_or_beyond_its_cell(checked, catalogue, opened, paper):
    for name, unit in checked.items():
        page = opened(sheet(unit, catalogue, paper=paper), viewport={"width": PAPER_PX[paper], "height": 1000})
        page.emulate_media(media="print")
        assert page.evaluate(PRINTED) == [], name


@pytest.mark.parametrize(("paper", "size"), [("A4", "A4"), ("Letter", "letter")])
def test_pages_of_paper(checked, catalogue, tmp_path, paper, size):
    """The bench's part is over by the third page; the whole takes ten at most (the largest demo unit, on Letter)."""
    outside_tool("chromium")
    for name, unit in checked.items():
        target = tmp_path / f"{name}.pdf"
        write_sheet(sheet(unit, catalogue, paper=paper), None, target)
        info = subprocess.run([outside_tool("pdfinfo"), target], capture_output=True, text=True, check=True).stdout
        assert size in info.lower() or size in info
        assert int(re.search(r"Pages: +(\d+)", info)[1]) <= 10, name
        text = subprocess.run([outside_tool("pdftotext"), target, "-"], capture_output=True, text=True, check=True).stdout
        starts = next(i for i, words in enumerate(text.split("\f"), 1) if "APPENDIX" in words.upper())
        assert starts <= 3, name
