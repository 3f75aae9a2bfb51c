"""The whole sheet: one HTML page that needs nothing else, for paper, phone and screen."""

from pipeline import __version__
from pipeline.bench.bringup import LAMP, bring_up
from pipeline.bench.replacements import advise
from pipeline.catalogue import Catalogue
from pipeline.checks.check import Checked
from pipeline.output.page import CAUTIONS
from pipeline.output.render import render, style
from pipeline.output.safe import css_text, given
from pipeline.output.sheet.bringup import bringup_section
from pipeline.output.sheet.findings import findings_section
from pipeline.output.sheet.heaters import heaters_section
from pipeline.output.sheet.markup import Markup, blank, el, section
from pipeline.output.sheet.parts import parts_section, unseen_section
from pipeline.output.sheet.sources import figures_of, recalled_section, sources_of, sources_section
from pipeline.output.sheet.supply import supply_section
from pipeline.output.sheet.tubes import pins_by_type, tubes_section


def sheet(checked: Checked, catalogue: Catalogue, way: str = LAMP) -> str:
    """The bench sheet of a checked unit as one HTML page without script, network or foreign font.

    `way` is what the user has for the first power-up, one of `pipeline.bench.bringup.WAYS`' values.
    Every text from the unit's files is escaped; controls are shown as �, and what is too long is cut in sight.
    """
    advice, pins = advise(checked, catalogue), pins_by_type(checked, catalogue)
    made = bring_up(checked, catalogue, way)
    used = figures_of(checked, advice, made)
    sources = sources_of(used, catalogue)
    parts = [
        findings_section(checked), heaters_section(checked), supply_section(checked), tubes_section(checked, pins),
        parts_section(advice, checked.unit), bringup_section(made), unseen_section(checked),
        recalled_section(used, pins, sources), sources_section(used, sources)]
    shown = [p for p in parts if p]
    name = given(checked.unit.name)
    return render("sheet.html", name=name, style=Markup(style("base.css", "sheet.css").replace(
        "/*UNIT*/", css_text(name))), head=_head(checked), contents=_contents(shown), cautions=_cautions(), parts=shown)


def _head(checked: Checked) -> Markup:
    mains, unit = checked.mains, checked.unit
    high = f"{mains.high_v:g} V" + (f", {mains.region}" if mains.region and unit.mains_high_v is None else "")
    facts = (("Mains today", f"{mains.today_v:g} V {mains.hertz:g} Hz"), ("At most", high),
             ("Nameplate", f"{mains.design_v:g} V"))
    return el("header", el("p", f"Bench sheet, Tubewright {__version__}", class_="kicker"), el("h1", given(unit.name)),
              el("dl", *(el("div", el("dt", k), el("dd", v)) for k, v in facts),
                 *(el("div", el("dt", k), el("dd", blank(k, wide=True))) for k in ("Date", "By")), class_="facts"),
              el("p", "What is typed into the boxes stays only while the page is open: print it, or write it down.",
                 class_="note screen"))


def _contents(shown: list[Markup]) -> Markup:
    """Links to the parts of the page, for the phone; not printed."""
    names = {"findings": "Findings", "heaters": "Heaters", "supply": "Supply", "tubes": "Tubes", "parts": "Parts",
             "bringup": "Bring-up", "recalled": "Look up", "sources": "Sources"}
    links = [el("li", el("a", word, href=f"#{id_}")) for id_, word in names.items()
             if any(f'<section id="{id_}"' in p[:60] for p in shown)]
    return el("nav", el("ul", *links), aria_label="Parts of this sheet")


def _cautions() -> Markup:
    """The safety words of every sheet, sentence by sentence."""
    sentences = [s.strip().rstrip(".") + "." for s in CAUTIONS.split(". ")]
    return section("cautions", "Before you touch anything", el("ul", *(el("li", s) for s in sentences)))
