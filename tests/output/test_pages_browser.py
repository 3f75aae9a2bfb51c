"""The pages in a real browser, opened from a folder: search, filters, keys, the back button, without script, in print.

Driven through Playwright; the browser is the one that is installed (Chromium). Nothing may leave the folder.
"""

import pytest

from pipeline.build.export import rendered
from pipeline.output.pages.folder import demo_units, write_pages
from pipeline.output.pages.site import Asked

pytestmark = pytest.mark.long
TYPES = ("12AX7", "6BQ5", "6GW8", "5AR4", "0A2", "01A")
"""A triode, a pentode, a triode-pentode, a rectifier, a regulator, a filament tube."""
PAGES = ("index.html", "sources.html", "wanted.html", "disagreements.html", "data.html", "names/V.html", "function/pentode.html",
         "table/sections.html", *(f"type/{t}.html" for t in TYPES))
CONTRAST = """
() => {
  const shades = text => text.match(/[\\d.]+/g).map(Number);
  const light = ([r, g, b]) => [r, g, b].map(c => c / 255).map(c => c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4)
    .reduce((sum, c, i) => sum + c * [0.2126, 0.7152, 0.0722][i], 0);
  const ground = e => { for (; e; e = e.parentElement) { const c = shades(getComputedStyle(e).backgroundColor); if (c.length < 4 || c[3] > 0) return c; } return [255, 255, 255]; };
  const poor = [];
  for (const e of document.querySelectorAll("body *")) {
    const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (!own || ["SCRIPT", "STYLE", "title", "desc"].includes(e.tagName) || !e.getClientRects().length) continue;
    const style = getComputedStyle(e), ink = shades(e.tagName === "text" ? style.fill : style.color);
    const [a, b] = [light(ink), light(ground(e))].sort((x, y) => x - y), ratio = (b + 0.05) / (a + 0.05);
    if (ratio < 4.5) poor.push(`${e.tagName} ${e.textContent.trim().slice(0, 30)}: ${ratio.toFixed(2)}`);
  }
  return poor;
}
"""


@pytest.fixture(scope="module")
def folder(catalogue, tmp_path_factory):
    out = tmp_path_factory.mktemp("pages") / "out"
    write_pages(catalogue, Asked(units=demo_units(catalogue), csv=rendered(catalogue.folder)), out, False, lambda a, b: None)
    return out


@pytest.fixture
def opened(chromium, folder):
    """Opens a page of the folder; at the end nothing may have been said on the console or fetched from elsewhere."""
    faults, contexts = [], []

    def go(path, **context):
        contexts.append(chromium.new_context(**({"viewport": {"width": 1000, "height": 900}} | context)))
        contexts[-1].set_default_timeout(10_000)
        page = contexts[-1].new_page()
        page.on("console", lambda message: faults.append(message.text))
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("request", lambda r: r.url.startswith((folder.as_uri(), "data:")) or faults.append(f"left the folder: {r.url}"))
        page.on("requestfailed", lambda r: faults.append(f"not there: {r.url}"))
        page.goto(f"{folder.as_uri()}/{path}")
        return page

    yield go
    for context in contexts:
        context.close()
    assert not faults


def said(page):
    return page.inner_text("#said")


def found(page):
    return page.locator("#found a").all_inner_texts()


@pytest.mark.parametrize(("typed", "first"), [
    ("12ax7", "12AX7"), ("ECC 83", "12AX7"), ("6н8с", "6SN7GT"), ("6Н8С", "6SN7GT"), ("vt-231", "6SN7GT"), ("OA2", "0A2"),
    ("6N8S", "6SN7GT"), ("35/51", "35")])
def test_any_printed_name_finds_its_type(opened, typed, first):
    page = opened("index.html")
    page.fill("[name=name]", typed)
    assert found(page)[0] == first
    page.press("[name=name]", "Enter")
    page.wait_for_url("**/type/*")
    assert page.inner_text("h1") == first


def test_a_name_of_several_types_is_a_choice(opened):
    page = opened("index.html")
    page.fill("[name=name]", "PCF82")
    assert "printed on 2 types" in said(page) and set(found(page)) >= {"9U8", "9U8A"}
    page.fill("[name=name]", "no such tube")
    assert "No type fits" in said(page) and not found(page)


def test_filters_against_the_catalogue(opened, catalogue):
    page = opened("index.html")
    page.select_option("[name=base]", "noval")
    page.select_option("[name=function]", "twin triode")
    count = catalogue.query("select count(*) from {tubes} where base = 'noval' and function = 'twin triode'")[0][0]
    assert said(page) == f"{count} types"
    page.fill("[name=volts]", "6.3")
    page.fill("[name=amps]", "0,3")
    rows = catalogue.query(
        "select distinct t.type from {tubes} t left join {heater_options} o on o.type = t.type and o.arrangement in ('series', 'parallel') "
        "where base = 'noval' and function = 'twin triode' and ((abs(t.heater_v / 6.3 - 1) <= 0.1 and abs(t.heater_a / 0.3 - 1) <= 0.1) "
        "or (abs(o.heater_v / 6.3 - 1) <= 0.1 and abs(o.heater_a / 0.3 - 1) <= 0.1))")
    assert set(found(page)) == {row[0] for row in rows} and "12AX7" in found(page)
    page.select_option("[name=grade]", "published")
    assert set(found(page)) < {row[0] for row in rows}


def test_the_state_stands_in_the_address_and_the_back_button_goes_through_it(opened):
    page = opened("index.html#base=octal&name=6v6")
    assert page.input_value("[name=name]") == "6v6" and page.input_value("[name=base]") == "octal"
    assert found(page)[0].startswith("6V6")
    page.fill("[name=name]", "")
    page.select_option("[name=base]", "noval")
    page.select_option("[name=holds]", "triode 2")
    before = said(page)
    page.click("#found a >> nth=0")
    page.wait_for_url("**/type/*")
    page.go_back()
    page.wait_for_function("document.querySelectorAll('#found a').length > 0")
    assert said(page) == before and page.input_value("[name=holds]") == "triode 2"
    page.go_back()
    page.wait_for_function("document.forms[0].elements.holds.value === ''")
    assert page.input_value("[name=base]") == "noval" and said(page) != before
    page.click("button[type=reset]")
    assert page.url.endswith("index.html#") and "types" in said(page)


def test_keys(opened):
    page = opened("index.html")
    page.keyboard.press("/")
    page.keyboard.type("6sn7")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("document.activeElement.textContent") == found(page)[1]
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    assert page.evaluate("document.activeElement.name") == "name"
    page.keyboard.press("Escape")
    assert page.input_value("[name=name]") == ""
    page.click("#more")
    assert len(found(page)) > 1000 and page.evaluate("document.activeElement.tagName") == "A"


def test_no_pause_while_typing(opened):
    page = opened("index.html")
    worst = page.evaluate("""() => { const field = document.forms[0].elements.name; let worst = 0;
      for (const text of ["6", "6S", "6SN", "6SN7", "", "1", "V", "E", "EC", "tr", "triode"]) {
        field.value = text; const begin = performance.now();
        field.dispatchEvent(new Event("input", {bubbles: true})); document.body.offsetHeight;
        worst = Math.max(worst, performance.now() - begin); } return worst; }""")
    assert worst < 250, "milliseconds for one letter, on a machine that may be busy"


@pytest.mark.parametrize("path", PAGES)
def test_readable_without_script_and_within_every_page(opened, path):
    for width in (400, 1000):
        for scheme in ("light", "dark"):
            page = opened(path, java_script_enabled=True, color_scheme=scheme, viewport={"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, f"{path} overflows at {width} px"
            assert page.evaluate(CONTRAST) == [], f"{path}, {scheme}: contrast below 4.5 (WCAG 2.2, 1.4.3)"
    bare = opened(path, java_script_enabled=False)
    assert bare.locator("h1").count() == 1 and bare.locator("main a").count() > 0
    if path == "index.html":
        assert not bare.locator("#find").is_visible()
        bare.click("main ul a:text-is(\"octal\")")
        bare.click("main ul a:text-is(\"6SN7GT\")")
        assert bare.inner_text("h1").startswith("6SN7GT")


def test_on_paper_the_page_is_light_and_the_navigation_stays_away(opened):
    page = opened("type/5AR4.html", color_scheme="dark")
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert not page.locator("header nav").is_visible()
    assert page.evaluate(CONTRAST) == []
