"""The whole sheet: one HTML page that needs nothing else, for paper, phone and screen."""

import base64
import hashlib

from pipeline import __version__
from pipeline.bench.bringup import LAMP, bring_up
from pipeline.bench.care import care_of
from pipeline.bench.replacements import advise
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked
from pipeline.output.page import CAUTIONS
from pipeline.output.render import render, style
from pipeline.output.safe import css_text, given
from pipeline.output.sheet.boxes import boxed
from pipeline.output.sheet.bringup import bringup_section
from pipeline.output.sheet.drawn import drawn_section
from pipeline.output.sheet.findings import findings_section
from pipeline.output.sheet.heaters import heaters_section
from pipeline.output.sheet.markup import Markup, blank, el, section
from pipeline.output.sheet.parts import care_section, parts_section, reasons_section, unseen_section
from pipeline.output.sheet.record import record_section
from pipeline.output.sheet.short import short_section
from pipeline.output.sheet.sources import figures_of, recalled_section, sources_of, sources_section
from pipeline.output.sheet.supply import supply_section
from pipeline.output.sheet.tubes import pins_by_type, tubes_section

PAPERS = ("A4", "Letter")


def read_paper(text: str) -> str:
    """The paper meant; raises ValueError for one that is not known."""
    found = next((p for p in PAPERS if p.lower() == text.strip().lower()), None)
    if found is None:
        raise ValueError(f"{text!r} is not known: one of {', '.join(PAPERS)}")
    return found


def sheet(checked: Checked, catalogue: Catalogue, way: str = LAMP, paper: str = "A4") -> str:
    """The bench sheet of a checked unit as one HTML page without network or foreign font.

    What one needs at the bench comes first, on a page or two; the rest is its appendix. One small script, the page's
    own and the only one that its policy lets run, saves what was typed; without it the page is whole.
    `way` is what the user has for the first power-up, one of `pipeline.bench.bringup.WAYS`' values; `paper` one of
    PAPERS. Every text from the unit's files is escaped; controls are shown as �, and what is too long is cut in sight.
    """
    advice, pins = advise(checked, catalogue), pins_by_type(checked, catalogue)
    made = bring_up(checked, catalogue, way)
    care = care_of(checked.unit, catalogue)
    used = figures_of(checked, advice, made, care)
    sources = sources_of(used, catalogue)
    bench = [p for p in (short_section(checked), supply_section(checked), heaters_section(checked),
                         tubes_section(checked, pins), parts_section(advice)) if p]
    appendix = [p for p in (
        bringup_section(made, boxed(bench)), findings_section(checked), reasons_section(advice, checked.unit),
        care_section(care), unseen_section(checked), record_section(checked), recalled_section(used, pins, sources),
        sources_section(used, sources), drawn_section(checked)) if p]
    name, script = given(checked.unit.name), style("sheet.js")
    look = style("base.css", "sheet.css").replace("/*UNIT*/", css_text(name)).replace("/*PAPER*/", paper)
    return render("sheet.html", name=name, style=Markup(look), head=_head(checked), cautions=_cautions(),
                  contents=_contents([*bench, *appendix]), bench=bench, appendix=appendix,
                  script=Markup(script), hash=_hash(script))


def _hash(script: str) -> str:
    """The script as the page's policy names it."""
    return "sha256-" + base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()


def _head(checked: Checked) -> Markup:
    mains, unit = checked.mains, checked.unit
    high = f"{mains.high_v:g} V" + (f", {mains.region}" if mains.region and unit.mains_high_v is None else "")
    facts: tuple[tuple[str, str], ...] = (
        ("Mains today", f"{mains.today_v:g} V {mains.hertz:g} Hz"), ("At most", high),
        ("Nameplate", f"{mains.design_v:g} V"))
    if mains.battery:
        facts = (("Batteries", f"{mains.today_v:g} V"), ("Fresh", high))
    boxes = (("Batteries read, V" if mains.battery else "Mains read, V", "mains"), ("Date", "date"), ("By", "by"))
    return el("header", el("p", f"Bench sheet, Tubewright {__version__}", class_="kicker"), el("h1", given(unit.name)),
              el("dl", *(el("div", el("dt", k), el("dd", v)) for k, v in facts),
                 *(el("div", el("dt", k), el("dd", blank(k, wide=True, data_field=f))) for k, f in boxes),
                 class_="facts"),
              el("p", "What is typed into the boxes stays only while the page is open: print it, or write it down.",
                 class_="note screen"),
              el("p", "Or ", el("a", "save it as readings.csv", id="save", href="#saving", download="readings.csv"),
                 ", which ", el("code", "tubewright compare"), " reads. ", el("span", id="saved", role="status"),
                 id="saving", class_="note screen", hidden=True))


def _contents(shown: list[Markup]) -> Markup:
    """Links to the parts of the page, for the phone; not printed."""
    names = {"short": "In short", "supply": "Supply", "heaters": "Heaters", "tubes": "Tubes", "parts": "Parts",
             "bringup": "Bring-up", "findings": "Findings", "care": "Care", "record": "Record",
             "recalled": "Look up", "sources": "Sources", "drawn": "Drawn"}
    links = [el("li", el("a", word, href=f"#{id_}")) for id_, word in names.items()
             if any(f'<section id="{id_}"' in p[:60] for p in shown)]
    return el("nav", el("ul", *links), aria_label="Parts of this sheet")


def _cautions() -> Markup:
    """The safety words of every sheet, sentence by sentence."""
    sentences = [s.strip().rstrip(".") + "." for s in CAUTIONS.split(". ")]
    return section("cautions", "Before you touch anything", el("ul", *(el("li", s) for s in sentences)))
