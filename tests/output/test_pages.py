"""The catalogue as pages: right against the tables, whole, valid, harmless, the same each time, within their size."""

import io
import json
import random
import re
import subprocess
import sys
import zipfile
from functools import partial
from html import unescape
from urllib.parse import unquote
from xml.etree import ElementTree

import duckdb
import html5lib
import pytest
from support import ROOT

from pipeline.build.export import rendered
from pipeline.build.history import Change, History
from pipeline.output.pages.finding import register, search_data, sections_of
from pipeline.output.pages.folder import demo_units, write_pages
from pipeline.output.pages.known import Known, file_names
from pipeline.output.pages.site import Asked, Pages, site
from pipeline.output.pages.types import type_page

FEW = ("12AX7", "6BQ5", "6GW8", "5AR4", "0A2", "01A", "35", "6SN7GT")
BLOCKS = ("tubes", "sections", "rectifiers", "regulators", "barretters", "ballasts")
SCALES = {"mA": 1e-3, "µA": 1e-6, "mA/V": 1e-3, "kohm": 1e3, "Mohm": 1e6, "pF": 1e-6}
"""What a page's unit is worth in the table's; others stand as they are."""
LARGEST_PAGE, LARGEST_FOLDER = 100_000, 60_000_000
SPACE = re.compile(r"\s+")


def words(html: str) -> str:
    return SPACE.sub(" ", unescape(re.sub(r"<[^>]+>", " ", html)))


@pytest.fixture(scope="module")
def pages(catalogue):
    """The pages of the committed catalogue, made one by one."""
    return Pages(Known(catalogue), Asked())


@pytest.fixture(scope="module")
def folder(catalogue):
    """The whole folder, as the command writes it."""
    return site(catalogue, Asked(units=demo_units(catalogue), csv=rendered(catalogue.folder)))


def figures_of(type_: str) -> list[tuple]:
    """Chosen figures of a type's blocks as the built table holds them, read without our own reader."""
    return duckdb.execute(
        f"select \"table\", quantity, value, text, unit, evidence, raw_file, raw_line from '{ROOT}/data_built/figures.parquet' "
        f"where type = ? and chosen and \"table\" in {BLOCKS}", [type_]).fetchall()


def shown_in(page: str) -> list[tuple[float | str, str]]:
    """Values of the page's blocks in the table's units, each with its grade, read back from the HTML."""
    body = page.partition("<details>")[0]
    rows = re.findall(r'<tr><th scope="row">[^<]*</th><td>([^<]*)</td><td><span class="g (\w+)"', body)
    return [(number_of(unescape(value)), grade) for value, grade in rows]


def number_of(shown: str) -> float | str:
    said = re.sub(r"^at (?:most|least) ", "", shown).replace("\u2212", "-")
    found = re.fullmatch(r"(-?[\d.]+)(?: (\S+))?", said)
    return float(found[1]) * SCALES.get(found[2], 1.0) if found else said


def holds(page: str, type_: str) -> None:
    """The page says every figure of the tables with its grade and raw file, and no other."""
    wanted = [(number_of(t) if v is None else v, e) for _, _, v, t, _, e, _, _ in figures_of(type_)]
    shown = shown_in(page)
    assert len(shown) == len(wanted), type_
    for value, grade in wanted:
        alike = [s for s in shown if s[1] == grade and (
            s[0] == value or (isinstance(value, float) and isinstance(s[0], float) and s[0] == pytest.approx(value)))]
        assert alike, f"{type_}: {value} ({grade}) is not on its page"
    text = words(page)
    assert all(f"{file}:" in text for *_, file, _ in figures_of(type_))


@pytest.mark.long
@pytest.mark.parametrize("type_", FEW)
def test_a_page_says_what_the_tables_hold(pages, type_):
    page = pages.type(type_)[0][1]
    holds(page, type_)
    assert page.count("<h1>") == 1 and len(page.encode()) < LARGEST_PAGE
    html5lib.HTMLParser(strict=True).parse(page)


def test_what_is_not_known_is_said_and_makes_no_empty_table(pages):
    known = pages.known
    poorest = min(known.tubes, key=lambda t: (sum(map(len, known.by_type[t].values())), t))
    page = pages.type(poorest)[0][1]
    assert "Not known here:" in page and "limits" in words(page)
    assert not re.search(r"<tbody>\s*</tbody>|<table[^>]*>\s*(<caption>[^<]*</caption>)?\s*</table>|<ul>\s*</ul>", page)


def test_every_printed_name_leads_to_its_types(pages):
    found = {p.name: dict(p.types) for many in register(pages.known).values() for p in many}
    names = duckdb.execute(f"select designation, type, nearness from '{ROOT}/data_built/designations.parquet'").fetchall()
    assert all(found[name][type_] == (nearness == "same") for name, type_, nearness in names if type_ != name)
    assert all(type_ in found[type_] for type_ in pages.known.tubes)
    assert found["6Н8С"] == {"6SN7GT": True} and set(found["PCF82"]) == {"9U8", "9U8A"}


def test_search_data_is_json_that_ends_no_script(pages):
    text = search_data(pages.known)
    data = json.loads(text.removeprefix("const CATALOGUE = ").removesuffix(";\n"))
    assert {row[0] for row in data["types"]} == set(pages.known.tubes) and "<" not in text


@pytest.mark.parametrize(("function", "held"), [
    ("double diode triode", {"diode": 2, "triode": 1}), ("triode + power pentode", {"triode": 1, "pentode": 1}),
    ("triode-pentode", {"triode": 1, "pentode": 1}), ("twin power triode", {"triode": 2}),
    ("full-wave rectifier", {"rectifier": 1}), (None, {})])
def test_sections_by_the_function_s_words(function, held):
    assert sections_of(function) == held


def test_file_names_are_plain_and_differ_without_case():
    found = file_names(["35/51", "35-51", "c3g", "C3G", "6Ж8"])
    assert len({name.lower() for name in found.values()}) == 5 and all(re.fullmatch(r"[\w-]+\.html", n) for n in found.values())


def test_what_is_typed_into_tables_stays_text(pages):
    evil = "</title><script>alert(1)</script>\"'&\u202e"
    page = type_page(pages.known, "12AX7")._replace(type=evil, first_names=[evil], missing=[evil], sources=[(evil, evil)])
    made = pages.fill("type.html", "type/x.html", evil, evil, page=page, others="")[1]
    assert "<script>" not in made and "\u202e" not in made and "&lt;script&gt;" in made


@pytest.mark.long
def test_changes_as_a_page_and_a_feed(catalogue):
    history = History("0.1.0", "0.2.0", "minor", (
        Change("value", "tubes", "12AX7", "heater_a", 0.3, 0.15, "corrected"),
        Change("row added", "sections", "35/whole", "", None, None, ""),
        Change("row added", "designations", "ECC83/12AX7", "", None, None, ""),
        Change("row added", "lamps", "47", "", None, None, ""),
        Change("row added", "figures", "tubes/12AX7/heater_a/x", "", None, None, "")))
    pages = Pages(Known(catalogue), Asked("https://tubes.example", history=history, day="2026-11-28"))
    made = dict(pages.changes())
    assert "heater current: 0.15 A, was 0.3 A (corrected)" in words(made["changes.html"])
    atom = "{http://www.w3.org/2005/Atom}"
    feed = ElementTree.fromstring(made["changes.xml"])
    entries = feed.findall(f"{atom}entry")
    assert [e.findtext(f"{atom}title") for e in entries] == ["12AX7: 2 changes", "35: 1 change", "Table lamps"]
    ids = [e.findtext(f"{atom}id") for e in (feed, *entries)]
    assert len(set(ids)) == 4 and all(e.findtext(f"{atom}updated") == "2026-11-28T00:00:00Z" for e in (feed, *entries))
    assert entries[1].find(f"{atom}link").get("href") == "https://tubes.example/type/35.html"
    assert 'rel="canonical" href="https://tubes.example/changes.html"' in made["changes.html"]
    assert 'href="changes.xml"' in pages.type("12AX7")[0][1].replace("../", "")


@pytest.mark.long
def test_200_pages_against_the_tables(pages):
    for type_ in random.Random(13).sample(sorted(pages.known.tubes), 200):
        holds(pages.type(type_)[0][1], type_)


@pytest.mark.long
def test_the_folder_within_its_size_and_the_same_each_time(catalogue, folder):
    assert sum(map(len, folder.values())) < LARGEST_FOLDER
    assert max(len(data) for name, data in folder.items() if name.endswith(".html")) < LARGEST_PAGE
    assert site(catalogue, Asked(units=demo_units(catalogue), csv=rendered(catalogue.folder))) == folder


@pytest.mark.long
def test_links_all_resolve_and_nothing_is_fetched(folder):
    ids = {name: set(re.findall(r'\bid="([^"]+)"', data.decode())) for name, data in folder.items() if name.endswith(".html")}
    for name in ids:
        page = folder[name].decode()
        for tag, target in re.findall(r'<(\w+)[^>]*?\s(?:href|src)="([^"]*)"', page):
            if target.startswith("https://"):
                assert tag == "a" and "creativecommons.org" in target, f"{name}: {target}"
                continue
            path, _, fragment = unescape(target).partition("#")
            depth = name.split("/")[:-1]
            for piece in path.split("/"):
                depth = depth[:-1] if piece == ".." else [*depth, piece] if piece else depth
            found = unquote("/".join(depth)) if path else name
            assert found in folder, f"{name}: {target} leads nowhere"
            if fragment and "=" not in fragment:
                assert fragment in ids[found], f"{name}: {target} leads to no place on its page"


@pytest.mark.long
def test_html_is_valid(folder):
    kinds = random.Random(7).sample(sorted(n for n in folder if n.endswith(".html")), 60)
    for name in {*kinds, "index.html", "sources.html", "wanted.html", "disagreements.html", "data.html"}:
        html5lib.HTMLParser(strict=True).parse(folder[name].decode())
        page = folder[name].decode()
        assert re.search(r'<meta name="description" content="[^"]{10,}">', page) and "<title>" in page
        found = re.findall(r'\bid="([^"]+)"', page)
        assert len(found) == len(set(found)), f"{name}: an id stands twice"


@pytest.mark.long
def test_data_to_take_away(folder, catalogue):
    import hashlib

    sums = dict(line.split("  ")[::-1] for line in folder["data/SHA256SUMS"].decode().splitlines())
    assert all(hashlib.sha256(folder[f"data/{name}"]).hexdigest() == sha for name, sha in sums.items())
    assert {f"{t}.parquet" for t in catalogue.tables} <= set(sums)
    with zipfile.ZipFile(io.BytesIO(folder["data/tubewright-csv.zip"])) as archive:
        assert {f"tubewright/{t}.csv" for t in catalogue.tables} <= set(archive.namelist())
    described = re.search(r'<script type="application/ld\+json">(.*?)</script>', folder["data.html"].decode(), re.S)
    made = json.loads(described[1])
    assert made["@type"] == "Dataset" and made["license"] and len(made["distribution"]) == len(catalogue.tables) + 1


@pytest.mark.long
def test_what_units_rest_on_is_wanted_first(folder):
    page = words(folder["wanted.html"].decode())
    assert re.search(r"counted over [1-9]\d* units", page)
    rows = re.findall(r"Verdicts of (\d+) unit", folder["wanted.html"].decode())
    assert rows and [int(n) for n in rows] == sorted(map(int, rows), reverse=True)
    assert "tubewright confirm" in page


@pytest.mark.long
@pytest.mark.parametrize(("words", "told"), [
    (("--date", "soon"), "write the day as 2026-11-28"), (("--since", "nowhere"), "no built catalogue"),
    (("--catalogue", "nowhere"), "no built catalogue")])
def test_the_command_says_in_one_line_what_is_wrong_and_writes_nothing(tmp_path, words, told):
    done = subprocess.run([sys.executable, "-c", "from pipeline.cli import main; main()", "pages", "-o", str(tmp_path / "out"), *words],
                          cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 2 and told in done.stderr and len(done.stderr.splitlines()) == 1
    assert not list(tmp_path.iterdir())


def test_what_is_no_folder_of_pages_is_left_alone(catalogue, tmp_path, monkeypatch):
    monkeypatch.setattr("pipeline.output.pages.folder.site", lambda *_: {"index.html": b"new", "types.js": b"", "type/1.html": b""})
    write = partial(write_pages, catalogue, Asked(), told=lambda a, b: None)
    mine = tmp_path / "mine"
    mine.mkdir()
    (mine / "letter.txt").write_text("dear")
    for force in (False, True):
        with pytest.raises(FileExistsError):
            write(mine, force)
    assert (mine / "letter.txt").read_text() == "dear"
    write(tmp_path / "out", False)
    with pytest.raises(FileExistsError, match="not empty"):
        write(tmp_path / "out", False)
    write(tmp_path / "out", True)
    assert (tmp_path / "out/type/1.html").is_file()
    (tmp_path / "out/type/notes.txt").write_text("mine")
    with pytest.raises(FileExistsError, match="notes.txt"):
        write(tmp_path / "out", True)
