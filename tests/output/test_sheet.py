"""The bench sheet: whole and safe as HTML, complete, right in its volts, within the page in a real browser."""

import base64
import hashlib
import json
import math
import os
import re
import subprocess
import sys
import time
from functools import cache
from html.parser import HTMLParser

import numpy as np
import pytest
from support import ROOT, outside_tool

from pipeline.bench.bringup import VARIABLE, bring_up
from pipeline.bench.replacements import advise
from pipeline.checks.check import check
from pipeline.output.page import CAUTIONS
from pipeline.output.quantities import named, numbers
from pipeline.output.render import style
from pipeline.output.safe import clean, css_text, given, html
from pipeline.output.sheet import SheetError, files, sheet, write_sheet
from pipeline.output.sheet.drawn import largest_uf, waves_of
from pipeline.output.sheet.expected import expected
from pipeline.output.sheet.markup import el
from pipeline.output.sheet.page import read_paper
from pipeline.records import replace
from pipeline.unit import load
from pipeline.unit.readings import BEYOND_PARTS, CONDITIONS, names_of

DEMO = ("hall-amplifier", "record-player", "table-radio")
VOID = {"input", "meta", "br"}


def words(text: str) -> set[str]:
    return set(text.split())


TAGS = words("html head meta title style body header nav main section article h1 h2 h3 p ul li dl div dt dd a span b "
             "small bdi code script table caption thead tbody tr th td input figure figcaption svg desc text path circle rect")
INERT = words("lang charset name http-equiv content id class href scope type autocomplete inputmode role style aria-label "
              "aria-labelledby aria-describedby xmlns viewbox width height font-family x y font-size text-anchor "
              "font-weight fill stroke stroke-width stroke-dasharray stroke-linejoin d cx cy r "
              "hidden download data-at data-reading data-unit data-condition data-note data-field")
WIDE_ID = "".join(chr(0x30A2 + i % 40) for i in range(60)) + "W" * 140
HOSTILE = (
    f'name = "</title><script>alert(1)</script><style>*{{display:none}}</style>\\"\'&{"W" * 120}"\n'
    f'mains_v = 121\nmains_hz = 60\ndesign_mains_v = 117\n[[winding]]\nid = "{WIDE_ID}"\nvolts = 6.3\namps = 0.5\n'
    '[supply]\nrectifier = "V2"\ncircuit = "full-wave"\nsecondary_v = 300\nsecondary_ohm = 90\n[[supply.node]]\n'
    f'id = "{"M" * 200}"\ncapacitors = ["C1"]\nload_a = 0.05\n[[supply.node]]\nid = "<b onclick=x>&amp;"\n'
    f'from = "{"M" * 200}"\nthrough = "R1"\ncapacitors = ["C2"]\nload_a = 0.01\n')
LONG = "W" * 100_000
ATTACK = '<img src=x onerror=alert(1)>"\'`</td></table><script>alert(2)</script>&#60;'
TURNED = "C\u202e4321\u2066\u200f\u0007\u001b[31m A" + "\u0301" * 400
HOSTILE_PARTS = f'''V1,6SN7GT,,{WIDE_ID},,"{ATTACK.replace('"', '""')}"
V2,5Y3GT,rectifier,,,{TURNED}
C1,20 µF 450 V {LONG},reservoir,,,{LONG}
C2,{TURNED},smoothing,,,
R1,1k 5W,dropping,,,
"<s/onx=1>&""'",{LONG},,,,
WWWWWWWWWWWWWWWWWWWW,"{ATTACK.replace('"', '""')}",,,,
\u05d0\u05d1\u05d2,.01 600,coupling,,,=cmd()
X1,"{ATTACK.replace('"', '""')}",line to line,,,
T1,{LONG},,,,{TURNED}'''
CHOKE = '''name = "choke"
mains_v = 121
mains_hz = 60
design_mains_v = 117
[supply]
rectifier = "V1"
circuit = "full-wave"
input = "choke"
secondary_v = 400
secondary_ohm = 60
[[supply.node]]
id = "B1"
capacitors = ["C1"]
through = "L1"
load_a = 0.1
'''
CHOKE_PARTS = "V1,5U4GB,rectifier,,,\nC1,40 µF 600 V,smoothing,,,\nL1,10 H 120 ohm,choke,,,"


class Page(HTMLParser):
    """A page taken apart: every tag must close in turn."""

    def __init__(self, html: str):
        super().__init__()
        self.open: list[tuple[str, dict]] = []
        self.elements: list[tuple[str, dict]] = []
        self.texts: list[tuple[str, str]] = []
        self.feed(html)
        self.close()
        assert not self.open, f"never closed: {self.open}"

    def handle_starttag(self, tag, attrs):
        assert len(attrs) == len(dict(attrs)), f"an attribute stands twice: {attrs}"
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append((tag, dict(attrs)))

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open and self.open.pop()[0] == tag, f"</{tag}> closes nothing"

    def handle_data(self, data):
        where = " ".join(f"{t}.{a.get('class', '')}#{a.get('id', '')}" for t, a in self.open)
        self.texts.append((where, data))

    @cache  # noqa: B019
    def text(self, within: str = "") -> str:
        """The words of the page inside elements `within` (`article.finding stop#`), without styles and script."""
        return re.sub(r"\s+", " ", "".join(d for w, d in self.texts if within in w and "style." not in w and "script." not in w))


@pytest.fixture(scope="module")
def checked(catalogue):
    """Name → checked unit: the demo units, a hostile one, one without a supply, one with a choke first, one unknown."""
    found = {name: check(load(ROOT / "data_raw/units" / name, catalogue), catalogue) for name in DEMO}
    return found


@pytest.fixture
def page_of(checked, catalogue, make_unit):
    def build(name: str):
        if name in checked:
            return checked[name]
        toml, parts = {
            "hostile": (HOSTILE, HOSTILE_PARTS), "choke": (CHOKE, CHOKE_PARTS),
            "bare": ("mains_v = 230\nmains_hz = 50\n", "V1,EL34,,,,\nV2,no such tube,,,,"),
            "unsolved": (CHOKE.replace("secondary_ohm = 60\n", ""), CHOKE_PARTS)}[name]
        checked[name] = check(load(make_unit(toml, parts), catalogue), catalogue)
        return checked[name]

    def both(name: str):
        if name not in PAGES:
            PAGES[name] = sheet(build(name), catalogue)
        return build(name), PAGES[name]

    return both


PAGES: dict[str, str] = {}
"""Pages made so far: one of each is enough."""
ALL = (*DEMO, "hostile", "choke", "bare", "unsolved")
every = pytest.mark.parametrize("name", ALL)


# What every page owes

@pytest.mark.long
@every
def test_well_formed_inert_and_of_known_parts(name, page_of):
    html = page_of(name)[1]
    page = Page(html)
    assert html.startswith("<!DOCTYPE html>\n<html lang=")
    assert {tag for tag, _ in page.elements} <= TAGS
    assert {a for _, attributes in page.elements for a in attributes} <= INERT
    scripts = [data for where, data in page.texts if where.endswith("script.#")]
    assert scripts == [style("sheet.js")] and [t for t, _ in page.elements].count("script") == 1
    policy = next(a["content"] for t, a in page.elements if a.get("http-equiv") == "Content-Security-Policy")
    own = base64.b64encode(hashlib.sha256(scripts[0].encode()).digest()).decode()
    assert policy.startswith("default-src 'none'; ") and f"script-src 'sha256-{own}'" in policy
    ids = [a["id"] for _, a in page.elements if "id" in a]
    assert len(ids) == len(set(ids))
    for _, a in page.elements:
        assert a.get("href", "#").startswith("#") and a.get("href", "#")[1:] in ("", *ids)
        assert all(ref in ids for k in ("aria-labelledby", "aria-describedby") for ref in a.get(k, "").split())


@every
def test_nothing_comes_from_outside(name, page_of):
    html = page_of(name)[1]
    style = html.partition("<style>")[2].partition("</style>")[0]
    assert "@import" not in style and "url(" not in html.replace("&#39;", "") and "@font-face" not in style
    assert set(re.findall(r"[a-z]+://[^\s\"'<&]+", html)) <= {"http://www.w3.org/2000/svg"}


@every
def test_a_screen_reader_finds_its_way(name, page_of):
    page = Page(page_of(name)[1])
    heads = [(a.get("scope"), t) for t, a in page.elements if t == "th"]
    assert heads and {s for s, _ in heads} == {"col", "row"}
    tables = [i for i, (t, _) in enumerate(page.elements) if t == "table"]
    assert all(page.elements[i + 1][0] == "caption" for i in tables)
    assert all(a.get("aria-label") for t, a in page.elements if t == "input")
    assert all(a.get("role") == "img" and a.get("aria-labelledby") for t, a in page.elements if t == "svg")
    assert all(a.get("aria-labelledby") for t, a in page.elements if t == "section")
    levels = [int(t[1]) for t, _ in page.elements if t in ("h1", "h2", "h3")]
    assert levels[0] == 1 and levels.count(1) == 1 and all(b - a <= 1 for a, b in zip(levels, levels[1:], strict=False))


@every
def test_cautions_stand_first_and_whole(name, page_of):
    html = page_of(name)[1]
    page = Page(html)
    said = page.text("section.#cautions")
    assert all(sentence.strip(". ") in said for sentence in CAUTIONS.split(". "))
    assert html.index('id="cautions"') < html.index('id="findings"')


@every
def test_the_same_each_time(name, page_of, catalogue):
    checked, html = page_of(name)
    assert sheet(checked, catalogue) == html


# Hostile text

def test_hostile_text_stays_text(page_of):
    html = page_of("hostile")[1]
    page = Page(html)
    assert "<img src=x onerror" in page.text() and "<script>alert(2)</script>" in page.text()
    assert "</title><script>" in page.text("h1.") and "</title><script>" in page.text("title.")
    assert not [c for c in html if not c.isprintable() and c != "\n"]
    assert "\ufffd4321\ufffd\ufffd\ufffd\ufffd[31m" in html
    assert "\u0301\u0301\u0301" not in html, "no tower of accents"


def test_long_cells_are_cut_in_sight(page_of):
    html = page_of("hostile")[1]
    assert f"[cut: {len(LONG)} letters]" in html and "W" * 400 not in html
    assert len(html) < 300_000


def test_a_megabyte_in_a_cell(checked, catalogue):
    before = checked["hall-amplifier"]
    unit = before.unit
    for ref in ("C1", "V1", "R8"):
        unit = unit.with_part(replace(unit.parts[ref], marking="<" * 10**6, note="&" * 10**6))
    began = time.perf_counter()
    html = sheet(check(unit, catalogue), catalogue)
    assert time.perf_counter() - began < 5
    assert "[cut: 1000000 letters]" in html and len(html) < 300_000
    stops = [f for f in before.findings if f.verdict == "stop" and f.subject == "C1"]
    assert stops and all(f.why in Page(html).text("article.finding stop") for f in stops)


def test_escaping_and_cleaning():
    assert html("<a href=\"x\">&'") == "&lt;a href=&#34;x&#34;&gt;&amp;&#39;"
    assert el("p", "a", None, ["<b>", el("b", "c")], class_="x'", hidden=False) == \
        '<p class="x&#39;">a&lt;b&gt;<b>c</b></p>'
    assert clean("a\x00b\u202e\ud800\nc") == "a\ufffdb\ufffd\ufffd c"
    assert clean("e\u0301\u0301\u0301\u0301") == "e\u0301\u0301"
    assert given("x" * 81) == "x" * 80 + "… [cut: 81 letters]" and given(" µF ") == "µF"
    assert css_text('a"}\\</style>é b') == "a\\000022 \\00007d \\00005c \\00003c \\00002f style\\00003e \\0000e9  b"


# Completeness

@every
def test_every_finding_stands_with_its_numbers_and_advice(name, page_of):
    checked, html = page_of(name)
    page = Page(html)
    for f in checked.findings:
        if f.verdict != "pass":
            said = page.text(f"article.finding {f.verdict}")
            assert f.do.replace("`", "") in said and numbers(f) in said
            assert name == "hostile" or f.subject in said and f.why.replace("`", "") in said
    passed = page.text("table.passed")
    assert all(f.check.replace("-", " ") in passed for f in checked.findings if f.verdict == "pass")
    order = [html.find(f'class="finding {v}"') for v in ("stop", "unknown", "caution")]
    assert [o for o in order if o >= 0] == sorted(o for o in order if o >= 0)


@pytest.mark.parametrize("name", DEMO)
def test_bring_up_has_every_step_and_a_box_for_every_reading(name, page_of, catalogue):
    checked = page_of(name)[0]
    made = bring_up(checked, catalogue, VARIABLE)
    page = Page(sheet(checked, catalogue, VARIABLE))
    said = page.text("section.#bringup")
    boxes = [a["aria-label"] for t, a in page.elements if t == "input"]
    for number, step in enumerate(made.steps, 1):
        assert f"{number}. {step.title}" in said and f"step {number} done" in boxes
        assert all(x.replace("`", "") in said for x in (*step.do, *step.stop))
        assert sum(b.startswith(f"step {number}: ") for b in boxes) == len(step.expect)
    assert all(x.replace("`", "") in said for x in made.notes) and "variable transformer" in said


@pytest.mark.parametrize("name", DEMO)
def test_recalled_figures_are_marked_and_listed(name, page_of):
    checked, html = page_of(name)
    page = Page(html)
    listed = page.text("table.lookup")
    assert checked.recalled and all(named(f) in listed for f in checked.recalled)
    for f in checked.findings:
        if f.verdict == "stop" and f.evidence == "recalled":
            assert "recalled†" in page.text("article.finding stop")
    sources = {f.source_id for x in checked.findings for f in x.rests_on} - {""}
    assert sources and "Pin maps from memory" in page.text("section.#recalled")
    assert html[html.index("Documents named"):].count("<tr>") - 1 >= len(sources)


@pytest.mark.parametrize("name", DEMO)
def test_parts_to_change_have_boxes(name, page_of, catalogue):
    checked, html = page_of(name)
    page, advice = Page(html), advise(checked, catalogue)
    assert advice.buy
    ticks = [a["aria-label"] for t, a in page.elements if t == "input" and a["type"] == "checkbox"]
    said = page.text("table.parts")
    assert all(f"{line.ref} changed" in ticks and line.buy in said for line in advice.buy)
    unseen = page.text("section.#unseen")
    assert all(p.ref in unseen for p in checked.not_judged)


@pytest.mark.parametrize("name", DEMO)
def test_every_tube_and_node_has_its_place_and_boxes(name, page_of):
    checked, html = page_of(name)
    page = Page(html)
    boxes = [a["aria-label"] for t, a in page.elements if t == "input"]
    for part in checked.unit.parts.values():
        if part.kind == "tube":
            assert f"{part.ref} {part.called}" in page.text("article.tube")
            assert sum(b.startswith(f"volts read at {part.ref} ") for b in boxes) >= 3
    assert html.count("seen from below</text>") == sum(p.kind == "tube" for p in checked.unit.parts.values())
    for node in checked.state.nodes:
        assert f"DC volts read at {node.id}" in boxes
        assert f"{checked.state.today_v(node.id):.0f} V" in page.text("section.#supply")


def test_what_is_not_known_is_said(page_of):
    checked, html = page_of("unsolved")
    assert checked.state.missing in Page(html).text("section.#supply") and "<svg" not in \
        html[html.index('id="supply"'):html.index('id="tubes"')]
    assert "A choke comes first" in Page(page_of("choke")[1]).text("section.#drawn")
    assert 'id="supply"' not in page_of("bare")[1]


BIASED = CHOKE.replace("[supply]", '''[[winding]]
id = "H1"
volts = 6.3
amps = 3
[[supply]]''') + '''[[supply]]
id = "bias"
polarity = "negative"
rectifier = "D1"
circuit = "half-wave"
secondary_v = 50
secondary_ohm = 30
[[supply.node]]
id = "C-"
capacitors = ["C2"]
load_a = 0.001
'''
BIASED_PARTS = CHOKE_PARTS + '''
D1,1N4007,,,,
C2,50 µF 100 V,bias filter,,,
V2,QQ77XZ,,H1,,found with a cracked base
C3,.1 400,coupling,,0.12 µF,replaced in March'''
READ = '''at,reading,value,date,by,condition,mains
B1,dc_v,310 V,2026-01-10,AB,full,119
B1,dc_v,325 V,2026-02-11,AB,full,121
C-,dc_v,-61 V,2026-02-11,AB,full,121'''


@pytest.fixture(scope="module")
def biased(catalogue, tmp_path_factory):
    """Words of the sheet of a unit with a bias supply, a tube nobody knows, and a record."""
    folder = tmp_path_factory.mktemp("biased")
    for name, text in (("unit.toml", BIASED), ("readings.csv", READ + "\n"),
                       ("parts.csv", f"ref,marking,role,at,measured,note\n{BIASED_PARTS}\n")):
        (folder / name).write_text(text, encoding="utf-8")
    return Page(sheet(check(load(folder, catalogue), catalogue), catalogue))


def test_every_supply_has_its_table(biased):
    said = biased.text("section.#supply")
    assert "bias: volts to expect, DC to chassis" in said and "-61 V measured" in said and "325 V measured" in said
    boxes = [(a["data-at"], a["data-reading"]) for t, a in biased.elements if t == "input" and "data-at" in a]
    assert ("C-", "dc_v") in boxes and ("B1", "dc_v") in boxes and ("H1", "ac_v") in boxes


def test_a_tube_nobody_knows_keeps_an_empty_card(biased):
    said = biased.text("article.tube")
    assert "V2 QQ77XZ" in said and "No pin map is held for it" in said
    boxes = {a["data-reading"] for t, a in biased.elements if t == "input" and a.get("data-at") == "V2"}
    assert {"plate_v", "screen_v", "cathode_v"} <= boxes


def test_the_record_tells_before_and_after(biased):
    said = biased.text("section.#record")
    assert said.index("310 V 2026-01-10") < said.index("325 V 2026-02-11") and "found with a cracked base" in said
    assert "replaced in March" in said and "capacitance 0.12 µF" in said


def test_a_unit_without_a_record_has_no_table_of_it(page_of):
    assert 'id="record"' not in page_of("bare")[1]


@every
def test_the_bench_comes_first_with_a_line_for_every_stop(name, page_of):
    checked, html = page_of(name)
    order = [html.find(f'id="{id_}"') for id_ in ("cautions", "short", "tubes", "parts", "bringup", "findings", "sources")]
    assert [o for o in order if o >= 0] == sorted(o for o in order if o >= 0) and min(order[0], order[1]) > 0
    said = Page(html).text("table.short")
    for f in checked.findings:
        if f.verdict in ("stop", "unknown", "caution") and name != "hostile":
            assert f.subject in said and f.check.replace("-", " ") in said and f.do.replace("`", "") in said


@every
def test_boxes_that_are_saved_name_what_a_file_of_readings_may_name(name, page_of):
    checked, html = page_of(name)
    names, boxes = names_of(checked.unit), [a for t, a in Page(html).elements if t == "input" and "data-at" in a]
    for box in boxes if name != "hostile" else []:
        assert box["data-at"] in BEYOND_PARTS or names.place(box["data-at"])
        assert box["data-unit"] and box.get("data-condition", "cold") in CONDITIONS


def test_a_reading_at_full_mains_is_printed_once(page_of):
    """On paper the last step names the boxes of the first pages instead of repeating them; on the screen all stand."""
    page = Page(page_of("hall-amplifier")[1])
    again, last = page.text("table.steps screen"), page.text("section.#bringup")
    assert "Here too: the boxes under Supply volts" in last and again.count("heater") >= 5
    full = [(a["data-at"], a["data-reading"]) for t, a in page.elements if "data-at" in a and "data-condition" not in a]
    assert len(full) > len(set(full)), "each of them has its twin on the first pages"


def test_paper_is_one_that_is_known(checked, catalogue):
    assert read_paper("letter") == "Letter" and "size: Letter;" in sheet(checked["table-radio"], catalogue, paper="Letter")
    with pytest.raises(ValueError, match="A4, Letter"):
        read_paper("foolscap")


# Volts to expect

def expect(checked, catalogue, ref: str):
    part = checked.unit.parts[ref]
    return expected(part, checked, list(catalogue.rows("pins", "type = ?", [part.ratings.type])))


def test_heater_volts_follow_the_mains(checked, catalogue):
    found = expect(checked["hall-amplifier"], catalogue, "V1")  # 6.3 V x 121/117 = 6.515 V, by hand
    assert (found.heater_pins, found.heater) == ("7 to 8", "6.52 V AC")
    assert found.pins == {"7": "6.52 V AC to 8", "8": "6.52 V AC to 7"}


BATTERY = '''[[winding]]
id = "A"
volts = 1.4
[[supply]]
id = "B"
source = "battery"
volts = 90
[[supply.node]]
id = "B1"
capacitors = ["C1"]
[[stage]]
tubes = ["V1"]
plate = "B1"
'''


def test_a_set_on_batteries_has_dc_on_its_filaments(make_unit, catalogue):
    folder = make_unit(BATTERY, "V1,1T4,,A,,\nC1,10 µF 150 V,smoothing,,,")
    battery = check(load(folder, catalogue), catalogue)
    found = expect(battery, catalogue, "V1")
    assert found.heater == "1.4 V DC" and not any("cathode" in words for words in found.unplaced)
    page = Page(sheet(battery, catalogue))
    assert "1.4 V DC" in page.text("section.#heaters") and "B: volts to expect" in page.text("section.#supply")
    assert "filament" in page.text("article.tube") and "are not known: ." not in page.text()


def test_tapped_heater_as_wired(checked, catalogue):
    # ECC83 on 6.3 V: pins 4 and 5 together against 9, as every data sheet of it shows (recalled).
    found = expect(checked["record-player"], catalogue, "V1")
    assert found.heater_pins == "4+5 to 9" and set(found.pins) == {"4", "5", "9"}
    assert found.pins["9"] == "6.67 V AC to 4+5"


def test_rectifier_pins_carry_ac_and_b_plus(checked, catalogue):
    state = checked["hall-amplifier"].state
    found = expect(checked["hall-amplifier"], catalogue, "V6").pins  # 375 V x 121/117 = 387.8 V, by hand
    dc = f"{state.today_v('B1'):.0f} V DC"
    assert found == {"4": "388 V AC", "6": "388 V AC", "2": dc, "8": dc}


def test_a_plate_has_its_band_and_a_reading_takes_its_place(checked, catalogue):
    before = checked["record-player"]
    plate = before.point.get("V3", "plate_v")
    assert expect(before, catalogue, "V3").pins["7"] == f"{plate.low:.0f} to {plate.high:.0f} V"
    read = replace(before.unit.parts["V3"], measured={"plate_v": 251.2, "screen_v": 244.0, "cathode_v": 7.31})
    pins = expect(check(before.unit.with_part(read), catalogue), catalogue, "V3").pins
    assert (pins["7"], pins["9"], pins["3"]) == ("251 V measured", "244 V measured", "7.31 V measured")


def test_a_reading_that_two_pins_could_mean_is_not_placed(checked, catalogue):
    before = checked["record-player"]
    read = replace(before.unit.parts["V1"], measured={"plate_v": 120.0})
    found = expect(check(before.unit.with_part(read), catalogue), catalogue, "V1")
    assert found.unplaced == ("plate 120 V measured",) and "1" not in found.pins and "6" not in found.pins


def test_a_string_with_a_wrong_tube_promises_no_heater_volts(checked, catalogue):
    before = checked["table-radio"]
    assert expect(before, catalogue, "V4").heater == ""
    right = replace(before.unit, parts=before.unit.parts | {"V2": replace(
        before.unit.parts["V1"], ref="V2")})
    assert expect(check(right, catalogue), catalogue, "V4").heater == "about 50 V AC"


def test_drawn_supply_agrees_with_the_table(checked):
    for name in DEMO:
        state = checked[name].state
        waves, pulses = waves_of(state)
        for i, node in enumerate(state.nodes):
            assert waves.node_v[0, i].mean() == pytest.approx(state.today_v(node.id), rel=5e-3)
            assert np.ptp(waves.node_v[0, i]) == pytest.approx(state.ripple_v(node.id), rel=0.05, abs=0.01)
        assert waves.time_s[0, -1] == pytest.approx(2 / state.mains.hertz)
        assert [len(p) for p in pulses.values()] == [len(waves.time_s[0])] * len(pulses)


def test_the_two_plates_of_a_full_wave_rectifier_take_turns(checked):
    waves, pulses = waves_of(checked["hall-amplifier"].state)
    first, second = pulses.values()
    half = (len(first) - 1) // 4
    assert np.allclose(first[: 3 * half], second[half : 4 * half]) and float((first * second).max()) < 1e-3
    assert len(waves_of(checked["table-radio"].state)[1]) == 1


def test_largest_first_capacitor_is_that_of_the_finding(checked):
    for name in DEMO:
        found = next(f for f in checked[name].findings if f.check == "largest-input-capacitor")
        assert largest_uf(checked[name].state) == found.limit


# Colour

def luminance(colour: str) -> float:
    """Relative luminance by WCAG 2.2."""
    parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def palettes() -> dict[str, dict[str, str]]:
    """The style sheet's colours in light, dark and print."""
    css = style("base.css", "sheet.css")
    dark = css.index("@media screen and (prefers-color-scheme: dark)")
    paper = css.index("@media print")
    cuts = {"light": css[:dark], "dark": css[dark:css.index("* {")], "print": css[paper:]}
    found = {name: dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", text)) for name, text in cuts.items()}
    return {"light": found["light"], "dark": found["light"] | found["dark"], "print": found["light"] | found["print"]}


@pytest.mark.parametrize("name", ["light", "dark", "print"])
def test_contrast(name):
    tones = palettes()[name]
    for ground in ("paper", "tint"):
        assert all(contrast(tones[ink], tones[ground]) >= 4.5 for ink in ("ink", "quiet", "accent")), ground
    assert contrast(tones["rule"], tones["paper"]) >= 3, "lines that carry meaning: WCAG 2.2, 1.4.11"


def test_print_is_always_light_and_text_colours_are_named():
    css = style("base.css", "sheet.css")
    assert css.count("prefers-color-scheme") == 1 and "@media screen and (prefers-color-scheme: dark)" in css
    used = set(re.findall(r"(?<![-\w])color: ([^;]+);", css.partition("@page")[0]))
    assert used <= {"var(--ink)", "var(--quiet)", "var(--accent)", "inherit"}
    assert not re.search(r"background(-color)?: var\(--(ink|accent)\)", css), "no verdict hangs on a printed ground"


# Files and the command

def run(*words: str, **env: str) -> subprocess.CompletedProcess:
    code = "import sys; from pipeline.cli import main; main()"
    return subprocess.run([sys.executable, "-c", code, *words], cwd=ROOT, capture_output=True, text=True,
                          env=os.environ | env, check=False)


UNIT = "data_raw/units/record-player"


@pytest.mark.long
def test_command_writes_once_and_again_by_force(tmp_path):
    out = tmp_path / "page.html"
    done = run("sheet", UNIT, "-o", str(out))
    assert (done.returncode, done.stdout.strip(), done.stderr) == (1, str(out), "")  # 1: the unit has a stop
    out.write_text("mine", encoding="utf-8")
    refused = run("sheet", UNIT, "-o", str(out))
    assert refused.returncode == 2 and "--force" in refused.stderr and refused.stderr.count("\n") == 1
    assert out.read_text(encoding="utf-8") == "mine"
    assert run("sheet", UNIT, "-o", str(out), "--force").returncode == 1
    assert out.read_text(encoding="utf-8").endswith("</html>\n")
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


@pytest.mark.long
def test_command_without_a_browser_says_what_to_install_and_writes_nothing(tmp_path):
    done = run("sheet", UNIT, "-o", str(tmp_path / "a.html"), "--pdf", str(tmp_path / "a.pdf"), PATH=str(tmp_path))
    if files.browser() and sys.platform == "darwin":
        pytest.skip("a browser that stands in /Applications is found without PATH")
    assert done.returncode == 2 and "install" in done.stderr and done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
@pytest.mark.parametrize("place", ["no/such/page.html", "."])
def test_places_that_cannot_be(tmp_path, place):
    done = run("sheet", UNIT, "-o", str(tmp_path / place), "--force")
    assert done.returncode == 2 and done.stderr.count("\n") == 1 and list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_a_cell_too_large_for_csv_is_refused_in_one_line(make_unit, tmp_path):
    folder = make_unit("mains_v = 120\nmains_hz = 60\n", f"V1,{'W' * 2**20},,,,")
    done = run("sheet", str(folder), "-o", str(tmp_path / "a.html"))
    assert done.returncode == 2 and len(done.stderr) < 400 and not (tmp_path / "a.html").exists()


@pytest.mark.long
def test_a_word_that_is_no_way_to_bring_up():
    done = run("sheet", UNIT, "--with", "candle")
    assert done.returncode == 2 and done.stderr.startswith("--with: ") and done.stdout == ""


def test_one_name_for_two_files(tmp_path):
    with pytest.raises(SheetError, match="two names"):
        write_sheet("x", tmp_path / "a", tmp_path / "b" / ".." / "a")


def test_a_browser_that_fails_is_told(tmp_path, monkeypatch):
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\nexit 7\n", encoding="utf-8")
    broken.chmod(0o755)
    monkeypatch.setattr(files, "browser", lambda: str(broken))
    with pytest.raises(SheetError, match="status 7"):
        write_sheet("x", None, tmp_path / "a.pdf")
    assert [p.name for p in tmp_path.iterdir()] == ["chromium"]


def test_speed(checked, catalogue):
    began = time.perf_counter()
    sheet(checked["hall-amplifier"], catalogue)
    assert time.perf_counter() - began < 1.0  # the whole command must stay under a second


# In a real browser

MEASURE = """<!DOCTYPE html><body>%s<pre id="found"></pre><script>
const found = {};
function measure(frame) {
  const doc = frame.contentDocument, root = doc.documentElement, wide = root.clientWidth, bad = [];
  for (const e of doc.body.querySelectorAll("*")) {
    const box = e.getBoundingClientRect(), name = e.tagName + "." + (e.getAttribute("class") || "");
    const svg = e.closest("svg");
    if (e.tagName == "CAPTION" && box.width <= 1) continue;
    if (box.right > wide + 1 || box.left < -1) bad.push(name + " beyond the page: " + e.textContent.slice(0, 60));
    else if (!svg && e.clientWidth && e.scrollWidth > e.clientWidth + 1 && e.tagName != "INPUT")
      bad.push(name + " wider than its box: " + e.textContent.slice(0, 60));
    if (svg && svg != e && box.width && box.right > svg.getBoundingClientRect().right + 1)
      bad.push(name + " beyond its figure: " + e.textContent.slice(0, 60));
  }
  found[frame.id] = {wide, scroll: root.scrollWidth, count: doc.body.querySelectorAll("*").length, bad};
}
addEventListener("load", () => {
  document.querySelectorAll("iframe").forEach(measure);
  document.getElementById("found").textContent = JSON.stringify(found);
});
</script>"""


def chromium(*words: str) -> subprocess.CompletedProcess:
    program = outside_tool("chromium")
    root = ["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else []
    command = [program, "--headless", "--disable-gpu", "--no-first-run", *root, *words]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)


@pytest.mark.long
def test_nothing_overflows_at_phone_and_desk_width(page_of, tmp_path):
    outside_tool("chromium")
    frames = []
    for name in ALL:
        page = page_of(name)[1].replace("&", "&amp;").replace('"', "&#34;")
        frames += [f'<iframe id="{name}-{w}" style="border:0;width:{w}px;height:900px" srcdoc="{page}"></iframe>'
                   for w in (400, 1000)]
    whole = tmp_path / "frames.html"
    whole.write_text(MEASURE % "".join(frames), encoding="utf-8")
    done = chromium("--dump-dom", f"--user-data-dir={tmp_path / 'profile'}", whole.as_uri())
    found = json.loads(Page(re.search(r'<pre id="found">.*?</pre>', done.stdout, re.S)[0]).text())
    assert len(found) == 2 * len(ALL)
    for frame, seen in found.items():
        assert math.isclose(seen["wide"], int(frame.rpartition("-")[2]), abs_tol=20) and seen["count"] > 60, frame
        assert seen["scroll"] <= seen["wide"] and not seen["bad"], (frame, seen["bad"][:5])


@pytest.mark.long
def test_pdf_is_a4_and_holds_the_words(tmp_path, page_of):
    outside_tool("chromium")
    target = tmp_path / "a.pdf"
    write_sheet(page_of("hall-amplifier")[1], None, target)
    assert [p.name for p in tmp_path.iterdir()] == ["a.pdf"]
    info = subprocess.run([outside_tool("pdfinfo"), target], capture_output=True, text=True, check=True).stdout
    assert "A4" in info and 4 <= int(re.search(r"Pages: +(\d+)", info)[1]) <= 12
    words = subprocess.run([outside_tool("pdftotext"), target, "-"], capture_output=True, text=True, check=True).stdout
    assert "lethal voltage" in words and "Tubes from below" in words and re.search(r"1 of \d", words)


def test_a_half_is_called_as_the_unit_calls_it(make_unit, catalogue):
    """Pins 1 to 3 of a 12AX7 are its half A: alike halves go in the order of their pins."""
    toml = 'name = "Invented"\n[[supply]]\nsource = "battery"\nvolts = 250\n[[supply.node]]\nid = "B1"\n' \
           '[[stage]]\ntubes = ["V1A"]\nplate = "B1"\nplate_through = "R1"\ncathode_through = "R2"\n'
    page = sheet(check(load(make_unit(toml, "V1,12AX7,,,,\nR1,100k,,,,\nR2,1k5,,,,"), catalogue), catalogue), catalogue)
    rows = re.findall(r"<tr>(.*?)</tr>", page, re.S)
    pins = {re.sub(r"<[^>]+>", " ", row).split()[0]: re.sub(r"<[^>]+>", " ", row) for row in rows if "V1A" in row or "V1B" in row}
    assert [pins[n].split("V1")[1][0] for n in ("1", "2", "3", "6", "7", "8")] == list("AAABBB")
