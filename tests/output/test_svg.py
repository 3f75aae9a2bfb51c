"""Figures: right by the trade's conventions, safe with hostile text, whole within their frame, the same each time."""

import html
import itertools
import math
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path

import duckdb
import numpy as np
import pytest

from pipeline.amounts import plain
from pipeline.output.svg import draw
from pipeline.output.svg.axes import log_ticks, step_for, tick_words, ticks_within
from pipeline.output.svg.base import TEXT_WIDTH, base_drawing, base_text
from pipeline.output.svg.bases import BASES, base_of
from pipeline.output.svg.budget import Member, WindingLoad, heater_budget
from pipeline.output.svg.electrodes import pin_words
from pipeline.output.svg.supply import LEFT, RIGHT, capacitor_curve, waveform

NS = "{http://www.w3.org/2000/svg}"
BUILT = Path(__file__).parents[2] / "data_built"
HOSTILE = "<script>alert(1)</script>&\"'\x00\x1b[2J\u202e]]>" + "W" * 500


def pins(tokens: str, evidence: str = "published") -> list[dict]:
    """`1:t2_p 2:k+g3` as rows of the pins table."""
    rows = []
    for token in tokens.split():
        pin, _, rest = token.partition(":")
        section, electrode = re.match(r"^(?:(t\d?|p\d?|h\d?|d\d?|o)_)?(.+)$", rest).groups()
        rows.append({"pin": pin, "section": section, "electrode": electrode, "evidence": evidence})
    return rows


TWIN = pins("1:t2_g 2:t2_p 3:t2_k 4:t1_g 5:t1_p 6:t1_k 7:h 8:h")
NINE = pins("1:h_g2+h_g4 2:h_g1 3:k+h_g5 4:h 5:h 6:h_p 7:h_g3 8:t_p 9:t_g", "recalled")


def full(name: str) -> list[dict]:
    return pins(" ".join(f"{i + 1}:g{i + 1}" for i in range(len(BASES[name].angles))))


def windings() -> list[WindingLoad]:
    return [WindingLoad("H1", 6.3, 4.0, [Member("V1 6SN7GT", 0.6), Member("V3 6L6GC", 0.9), Member("PL1", 0.15)]),
            WindingLoad("H2", 5.0, 2.0, [Member("V5 5U4GB", 3.0)]),
            WindingLoad("H3", 12.6, None, [Member("V7", 0.15), Member("V8", None)])]


TIME = np.linspace(0, 1 / 30, 1201)
PULSE = np.where((TIME * 60) % 1 < 0.14, 0.21, 0.0)
RIPPLE = {"B1": 390 + 7 * np.sin(2 * np.pi * 120 * TIME), "B2": 352 + 0.1 * np.sin(2 * np.pi * 120 * TIME)}
UF = np.geomspace(2, 100, 40)
CURVE = (UF, 340 + 30 * np.log10(UF), 0.1 + 0.2 * np.log10(UF))


def figures() -> dict[str, str]:
    """One of every kind, hostile ones among them."""
    found = {name: base_drawing(name, name, full(name), volts={"1": 251.0, "2": "6.3 V AC"}) for name in BASES}
    found |= {
        "twin": base_drawing("6SN7GT", "octal", TWIN, volts={str(i): -123.0 for i in range(1, 9)}),
        "nine": base_drawing("6AJ8", "noval", NINE, volts={str(i): -123.0 for i in range(1, 10)}),
        "cap": base_drawing("ECH35", "octal", pins("1:nc 2:h 8:k cap:h_g1"), volts={"cap": -1.2}),
        "list": base_drawing("AL1", "B5", pins("1:p 2:g1 3:f"), volts={"1": 250}),
        "hostile": base_drawing(HOSTILE, "octal", [{"pin": str(i), "section": HOSTILE, "electrode": HOSTILE}
                                                   for i in range(1, 12)], volts={"2": HOSTILE}),
        "hostile list": base_drawing(HOSTILE, HOSTILE, [{"pin": HOSTILE, "section": None, "electrode": HOSTILE}],
                                     volts={HOSTILE: HOSTILE}),
        "budget": heater_budget(windings()),
        "hostile budget": heater_budget([WindingLoad(HOSTILE, 6.3, 1.0, [Member(HOSTILE, 0.15)] * 60)]),
        "wave": waveform(TIME, RIPPLE, {"plate 1": PULSE, "plate 2": np.roll(PULSE, 300)}),
        "hostile wave": waveform(TIME, {HOSTILE: RIPPLE["B1"]}, {HOSTILE: PULSE}),
        "smooth": waveform(TIME, {"B1": np.full_like(TIME, 1234.5)}, np.zeros_like(TIME)),
        "curve": capacitor_curve(*CURVE, limit_a=0.4, fitted_uf=16, largest_uf=30),
        "bare curve": capacitor_curve(*CURVE),
    }
    return found


FIGURES = figures()
each = pytest.mark.parametrize("name", FIGURES)


def texts(svg: str) -> list[ET.Element]:
    return list(ET.fromstring(svg).iter(NS + "text"))


def said(svg: str) -> str:
    return " ".join(t.text or "" for t in texts(svg))


# What every figure owes

@each
def test_well_formed_and_inert(name):
    root = ET.fromstring(FIGURES[name])
    allowed = {"svg", "title", "desc", "text", "path", "circle", "rect"}
    assert {e.tag.removeprefix(NS) for e in root.iter()} <= allowed
    names = {a for e in root.iter() for a in e.attrib}
    assert not [a for a in names if a.startswith("on") or "href" in a]
    assert "url(" not in FIGURES[name] and "@import" not in FIGURES[name]
    assert all(c.isprintable() for c in FIGURES[name])


@each
def test_a_screen_reader_gets_name_and_description(name):
    root = ET.fromstring(FIGURES[name])
    assert root.get("role") == "img"
    title, desc = root[0], root[1]
    assert (title.tag, desc.tag) == (NS + "title", NS + "desc")
    assert root.get("aria-labelledby") == title.get("id") and root.get("aria-describedby") == desc.get("id")
    assert len(title.text) > 8 and len(desc.text) > 30


@each
def test_no_text_leaves_the_frame(name):
    root = ET.fromstring(FIGURES[name])
    left, top, width, height = map(float, root.get("viewBox").split())
    for element in root.iter(NS + "text"):
        size, x, y = (float(element.get(a)) for a in ("font-size", "x", "y"))
        size *= 1.1 if element.get("font-weight") else 1
        wide = sum(HELVETICA.get(c, 1000) for c in element.text) / 1000 * size
        start = x - {"start": 0, "middle": wide / 2, "end": wide}[element.get("text-anchor")]
        assert left <= start and start + wide <= width, element.text
        assert top <= y - size * 0.75 and y + size * 0.25 <= height, element.text


@each
def test_type_is_never_small(name):
    # 8 points on paper at 82 mm, as narrow as the sheet prints a figure; a point is 1/72 inch
    units_a_point = 400 / (82 / 25.4 * 72)
    assert min(float(t.get("font-size")) for t in texts(FIGURES[name])) >= 8 * units_a_point
    assert ET.fromstring(FIGURES[name]).get("viewBox").startswith("0 0 400 ")


def test_the_same_each_time():
    assert figures() == FIGURES


def test_ids_are_unique_where_a_key_is_given():
    drawn = [base_drawing("6SN7GT", "octal", TWIN, key=ref) for ref in ("V1", "V2")]
    ids = [i for svg in drawn for i in re.findall(r' id="([^"]+)"', svg)]
    assert len(ids) == 4 == len(set(ids))


def test_text_colours_reach_wcag_aa():
    # WCAG 2.2, 1.4.3: 4.5:1 for text; 1.4.11: 3:1 for lines that carry meaning; relative luminance as defined there.
    def luminance(colour: str) -> float:
        parts = [int(colour[i:i + 2], 16) / 255 for i in (1, 3, 5)]
        red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    def contrast(one: str, other: str) -> float:
        low, high = sorted((luminance(draw.TONES[one]), luminance(draw.TONES[other])))
        return (high + 0.05) / (low + 0.05)

    assert contrast("ink", "tint") >= 7
    assert all(contrast(tone, "paper") >= 7 for tone in ("ink", "quiet", "accent"))
    assert contrast("rule", "paper") >= 3 and contrast("accent", "tint") >= 3
    used = {t.get("fill") for svg in FIGURES.values() for t in texts(svg)}
    assert used <= {draw.TONES[t] for t in ("ink", "quiet", "accent")}


# Type and escaping

_GROUPS = {222: "ijl", 278: "ft !,./:;[]\\I", 333: "-`()r", 355: '"', 191: "'", 260: "|", 334: "{}", 389: "*", 469: "^",
           500: "cksvxyzJ", 556: "abdeghnopqu0123456789#$?_L", 584: "+<=>~", 611: "FTZ", 667: "ABEKPSVXY&",
           722: "CDHNRUw", 778: "GOQ", 833: "mM", 889: "%", 944: "W", 1015: "@"}
HELVETICA = {c: w for w, letters in _GROUPS.items() for c in letters}
"""Advance widths of Helvetica in thousandths of an em: Adobe's core font metrics, recalled."""


def test_estimated_widths_are_not_below_helvetica():
    short = {c: w for c, w in HELVETICA.items() if draw.text_width(c, 1000) < w}
    assert not short and len(HELVETICA) == 95


def test_escaping_keeps_the_text():
    text = "<b>R&D</b> 'x' \"y\" µF − 5\u2009V"
    assert ET.fromstring(f'<a b="{draw.escape(text)}"/>').get("b") == draw.clean(text)
    assert draw.clean("a\x00b\u202ec\nd\ud800") == "a\ufffdb\ufffdc d\ufffd"
    assert len(draw.clean("x" * 10 ** 6)) == draw.MOST_CHARACTERS


def test_wrapping():
    assert draw.wrap("heptode grids 2 + 4", 100, 14) == ["heptode", "grids 2 + 4"]
    assert draw.wrap("internal shield", 60, 14) == ["internal", "shield"]
    long = draw.wrap("x" * 400, 100, 14, most=3)
    assert len(long) == 3 and long[-1].endswith("…")
    assert all(draw.text_width(row, 14) <= 100 for row in long)
    assert draw.wrap_list(["V1 0.3 A", "V2 0.3 A", "V3 0.3 A"], 130, 12) == ["V1 0.3 A, V2 0.3 A,", "V3 0.3 A"]
    rows = draw.wrap_list([str(i) for i in range(900)], 100, 12, most=3)
    shown = sum(len(row.split()) for row in rows[:-1])
    assert len(rows) == 3 and rows[0].startswith("0, 1, 2,") and rows[-1] == f"and {900 - shown} more"


# Bases

def pin_places(svg: str) -> dict[int, tuple[float, float]]:
    """Pin number → (x, y): the texts that are nothing but a number, in the middle of a pin."""
    marks = [(float(c.get("cx")), float(c.get("cy"))) for c in ET.fromstring(svg).iter(NS + "circle")]
    marks += [(float(r.get("x")) + float(r.get("width")) / 2, float(r.get("y")) + float(r.get("height")) / 2)
              for r in ET.fromstring(svg).iter(NS + "rect")]
    found = {}
    for element in texts(svg):
        x, y = float(element.get("x")), float(element.get("y")) - 4.3
        if element.text.isdecimal() and any(math.dist((x, y), mark) < 0.3 for mark in marks):
            assert int(element.text) not in found, "a pin is drawn twice"
            found[int(element.text)] = (x, y)
    return found


def turned(places: dict[int, tuple[float, float]]) -> list[float]:
    """Degrees of each pin clockwise from the foot of the page, about the middle of the ring (all on one circle)."""
    (ax, ay), (bx, by), (cx, cy) = (places[1 + len(places) * k // 3] for k in range(3))
    d = 2 * (ax * (by - cy) + bx * (cy - ay) + cx * (ay - by))
    squares = [x * x + y * y for x, y in ((ax, ay), (bx, by), (cx, cy))]
    ox = (squares[0] * (by - cy) + squares[1] * (cy - ay) + squares[2] * (ay - by)) / d
    oy = (squares[0] * (cx - bx) + squares[1] * (ax - cx) + squares[2] * (bx - ax)) / d
    return [math.degrees(math.atan2(ox - places[n][0], places[n][1] - oy)) % 360 for n in sorted(places)]


@pytest.mark.parametrize("name", BASES)
def test_pins_run_clockwise_from_the_mark_and_stand_once(name):
    # Seen from below, pin 1 first clockwise from key or gap: EIA RS-209 and every handbook's basing page (recalled).
    places = pin_places(FIGURES[name])
    assert sorted(places) == list(range(1, len(BASES[name].angles) + 1))
    angles = turned(places)
    assert angles == sorted(angles)
    assert angles[0] == pytest.approx(360 - angles[-1], abs=0.6), "the mark stands midway between last and first"


# Pad places in mm of KiCad 6.0.10's footprints (kicad-footprints, Valve.pretty), as read; the page's y runs down.
# A board carries the tube on its top, so a footprint shows the socket from above: our view is its mirror image.
KICAD = {
    "noval": ("Valve_ECC-83-1", [(0, 0), (2.15, -2.93), (2.15, -6.58), (0, -9.51), (-3.45, -10.65), (-6.91, -9.51),
                                 (-9.06, -6.58), (-9.06, -2.97), (-6.91, 0)], 0.6),
    "octal": ("Valve_Octal", [(0, 0), (2.54, -7.62), (0, -15.24), (-7.62, -17.78), (-15.24, -15.24), (-17.78, -7.62),
                              (-15.24, 0), (-7.62, 2.54)], 10.0),
    "miniature7pin": ("Valve_Mini_P", [(0, 0), (0, -5.08), (-3.81, -8.89), (-8.89, -8.89), (-12.7, -5.08), (-12.7, 0),
                                       (-8.89, 3.81)], 10.0),
}


@pytest.mark.parametrize("name", KICAD)
def test_pin_places_against_kicad_footprints(name):
    # Octal and miniature pads are moved to KiCad's grid, hence the wider tolerances; the steps are compared, as KiCad
    # turns some footprints by an arbitrary angle.
    _, pads, within = KICAD[name]
    theirs = turned({i + 1: (-x, y) for i, (x, y) in enumerate(pads)})
    ours = list(BASES[name].angles)
    steps = [[(b - a) % 360 for a, b in itertools.pairwise([*angles, angles[0]])] for angles in (theirs, ours)]
    assert steps[0] == pytest.approx(steps[1], abs=within)


@pytest.mark.parametrize("asked, name", [("Noval", "noval"), ("UX4", "UX-4"), ("miniature 7-pin", "miniature 7-pin"),
                                         ("B9A", "noval"), ("B8A", "rimlock"), ("side contact", "side-contact"),
                                         ("steel 8-pin", "steel 8-pin"), ("Mazda octal", "Mazda octal")])
def test_base_names(asked, name):
    assert base_of(asked).name == name


def test_larger_filament_pins():
    # Four-, six- and seven-pin bases have larger filament pins, first and last; the five-pin base has not (recalled).
    assert {n: b.large for n, b in BASES.items() if b.large} == {"ux4": (1, 4), "ux6": (1, 6), "ux7": (1, 7)}
    radii = sorted(float(c.get("r")) for c in ET.fromstring(FIGURES["ux4"]).iter(NS + "circle"))
    assert radii == [11, 11, 14.5, 14.5, 86]


def test_unknown_base_gives_a_list_and_no_pins_gives_nothing():
    assert "Where the pins lie is not held" in said(FIGURES["list"])
    assert "clockwise" not in FIGURES["list"]
    assert base_drawing("X", None, TWIN) is not None
    assert base_drawing("6SN7GT", "octal", []) is None and base_text("octal", []) == []


def test_functions_and_volts_stand_on_the_pin_side():
    svg = base_drawing("6SN7GT", "octal", TWIN, volts={"2": 248.0, "5": 251.4, "3": 8.25})
    at = {t.text: (float(t.get("x")), t.get("text-anchor")) for t in texts(svg)}
    # pin 2 is on the left, pin 5 on the right
    assert at["248 V"] == at["section 2"] and at["248 V"][1] == "end"
    assert at["251 V"] == at["section 1"] and at["251 V"][1] == "start" and "8.2 V" in at
    assert "Pin 5: plate, section 1, 251 V." in svg and "Pins clockwise" not in svg


def test_pins_not_in_the_map_and_pins_the_base_has_not():
    svg = base_drawing("5Y3GT", "octal", pins("2:f 4:d2_p 6:d1_p 8:f 12:g"))
    assert sorted(pin_places(svg)) == list(range(1, 9))
    assert "unused or no pin" in said(svg) and "This base has no such pin: 12 grid" in said(svg)


@pytest.mark.parametrize("grade, words", [("recalled", "pin map recalled, to be confirmed"), ("published", ""),
                                          ("quoted", "pin map quoted from another work")])
def test_the_pin_map_says_how_good_it_is(grade, words):
    svg = base_drawing("6SN7GT", "octal", [p | {"evidence": grade} for p in TWIN])
    assert ("pin map" in said(svg)) == bool(words) and words in said(svg)


def test_weak_evidence_of_one_pin_is_enough():
    assert "pin map recalled" in said(base_drawing("X", "octal", [*TWIN[:-1], TWIN[-1] | {"evidence": "recalled"}]))


@pytest.mark.parametrize("tokens, words", [
    ("1:t2_p 9:h_ct 4:h", ["plate, section 2", "heater", "heater centre tap"]),
    ("1:h_g2+h_g4 3:k+h_g5 6:h_p 8:t_p", ["heptode grids 2 + 4", "cathode + heptode grid 5", "heptode plate",
                                           "triode plate"]),
    ("4:t_g+h_g3 5:h_g2+h_g4", ["triode grid + hexode grid 3", "hexode grids 2 + 4"]),
    ("2:p_k+p_g3 3:p_g1 4:p_g2", ["pentode cathode + suppressor", "pentode control grid", "pentode screen"]),
    ("4:t1_k+t1_g 5:t2_g", ["cathode + grid, section 1", "grid, section 2"]),
    ("1:t_g 2:t2_p 5:d2_p 6:d1_p 8:k+bp", ["triode grid", "triode 2 plate", "diode 2 plate", "diode 1 plate",
                                           "cathode + beam plates"]),
    ("1:g3+g5 2:nc 3:ic 4:f_ct+g3 5:target cap:g1", ["grids 3 + 5", "no connection", "internal, leave free",
                                                    "heater centre tap + grid 3", "target", "grid 1"]),
])
def test_electrodes_in_words(tokens, words):
    assert [w.words for w in pin_words(pins(tokens))] == words


def test_grids_that_do_other_work_keep_their_numbers():
    # 46: a power triode with two grids, the second joined to the plate in class A and to the first in class B
    # (Langford-Smith, Radiotron Designer's Handbook: recalled)
    assert [w.words for w in pin_words([row | {"type": "46"} for row in pins("3:g1 4:g2")])] == ["grid 1", "grid 2"]


@pytest.mark.parametrize("name", BASES)
def test_base_as_text(name):
    rows = base_text(name, full(name))
    assert len(rows) <= 14 and max(map(len, rows)) <= TEXT_WIDTH
    numbers = [int(n) for row in rows for n in re.findall(r"\((\d+)\)", row)]
    assert sorted(numbers) == list(range(1, len(BASES[name].angles) + 1))
    assert all(f"grid {n}" in "\n".join(rows) for n in numbers)


def test_base_as_text_reads_like_the_figure():
    rows = base_text("octal", TWIN)
    assert rows[1].split() == ["grid,", "section", "1", "───────", "(4)", "(5)", "───────", "plate,", "section", "1"]
    assert rows[9].split() == ["grid,", "section", "2", "───────", "(1)", "(8)", "───────", "heater"]
    assert "cap: hexode grid 1" in "\n".join(base_text("octal", pins("1:nc cap:h_g1")))


def test_base_as_text_with_hostile_words():
    for base in ("octal", HOSTILE, None):
        rows = base_text(base, [{"pin": pin, "section": None, "electrode": HOSTILE}
                                for pin in ("1", "2", "77", "cap", HOSTILE)])
        assert all(row.isprintable() and len(row) <= TEXT_WIDTH for row in rows)


@pytest.mark.long
def test_every_tube_of_the_catalogue_is_drawn():
    names = ("pin", "section", "electrode", "evidence")
    found = duckdb.sql(f"select t.type, t.base, {', '.join('p.' + n for n in names)} from '{BUILT}/pins.parquet' p "
                       f"join '{BUILT}/tubes.parquet' t using (type) order by t.type, p.pin").fetchall()
    tubes = {}
    for type_, base, *pin in found:
        tubes.setdefault((type_, base), []).append(dict(zip(names, pin, strict=True)))
    assert len(tubes) > 100
    for (type_, base), rows in tubes.items():
        svg = base_drawing(type_, base, rows)
        assert "has no such pin" not in svg, type_
        for word in pin_words(rows):
            assert word.words.split()[-1] in said(svg), type_


# Heater budget

def test_budget_bars_are_to_scale():
    root = ET.fromstring(FIGURES["budget"])
    tint = [r for r in root.iter(NS + "rect") if r.get("fill") == draw.TONES["tint"] and r.get("stroke")]
    widths = [float(r.get("width")) for r in tint]
    per_amp = widths[0] / 0.6
    assert widths == pytest.approx([a * per_amp for a in (0.6, 0.9, 0.15, 3.0, 0.15)], abs=0.4)
    heavy = [p for p in root.iter(NS + "path") if p.get("stroke-width") == "3"]
    at = [float(re.match(r"M([\d.]+)", p.get("d"))[1]) - float(tint[0].get("x")) for p in heavy]
    assert at == pytest.approx([4 * per_amp, 2 * per_amp], abs=0.5)  # the third winding's rating is not known


@pytest.mark.parametrize("rated", [0.3, 0.45, 0.62, 0.9, 1.2])
def test_the_rating_strikes_through_no_name(rated):
    svg = heater_budget([WindingLoad("H1", 6.3, rated, [Member("V1 6SN7GT", 0.6), Member("V2 6SL7GT", 0.3)])])
    root = ET.fromstring(svg)
    line = float(re.match(r"M([\d.]+)", next(p.get("d") for p in root.iter(NS + "path") if p.get("stroke-width") == "3"))[1])
    inside = [t for t in root.iter(NS + "text") if t.get("text-anchor") == "middle" and t.text.startswith("V")]
    assert inside
    for t in inside:
        half = draw.text_width(t.text, float(t.get("font-size"))) / 2
        assert abs(float(t.get("x")) - line) > half + 1


def test_budget_in_words():
    words = said(FIGURES["budget"])
    assert "H1, 6.3 V: 1.65 A of 4 A" in words and "H2, 5 V: 3 A of 2 A, 1 A too much" in words
    assert "at least 0.15 A; rating not known" in ET.fromstring(FIGURES["budget"])[1].text
    assert "V8 not known" in words and heater_budget([]) is None
    many = heater_budget([WindingLoad("H1", 6.3, 9.0, [Member(f"V{i} 12AX7", 0.15) for i in range(1, 121)])])
    heard = ET.fromstring(many)[1].text
    assert "V100 12AX7 0.15 A." in heard and "V101" not in heard and heard.endswith("And 20 more.")
    assert "and 49 more" in said(FIGURES["hostile budget"])


@pytest.mark.parametrize("amps", [-0.1, math.nan, math.inf])
def test_budget_refuses_what_is_no_current(amps):
    with pytest.raises(ValueError, match="winding H9"):
        heater_budget([WindingLoad("H9", 6.3, 1.0, [Member("V1", amps)])])


# Supply

def test_waveform_in_words_and_no_peak_lost():
    words = said(FIGURES["wave"])
    assert "B1: 390 V, ripple 14 V peak to peak" in words and "plate 1: 210 mA at the peak" in words
    spike = np.zeros_like(TIME)
    spike[777] = 0.5  # one sample of many: thinning must keep it
    root = ET.fromstring(waveform(TIME, RIPPLE, spike))
    curve = [p.get("d") for p in root.iter(NS + "path") if p.get("stroke-width") == "1.8"][-1]
    points = [tuple(map(float, p.split())) for p in curve[1:].split("L")]
    top = min(points, key=lambda p: p[1])
    assert top[0] == pytest.approx(LEFT + (RIGHT - LEFT) * 777 / 1200, abs=0.2)
    assert len(points) <= 310


def test_strips_have_one_scale():
    root = ET.fromstring(FIGURES["wave"])
    curves = [p.get("d") for p in root.iter(NS + "path") if p.get("stroke-width") == "1.8"][:2]
    tall = [np.ptp([float(p.split()[1]) for p in c[1:].split("L")]) for c in curves]
    assert tall[1] / tall[0] == pytest.approx(0.2 / 14, abs=0.002)


@pytest.mark.parametrize("time, volts, amps, named", [
    ([0.0, 0.0], [1, 2], [0, 0], "time_s"), ([0.0], [1], [0], "time_s"), ([0, 1], [1, 2, 3], [0, 0], "node_volts B1"),
    ([0, 1], [1, math.nan], [0, 0], "node_volts B1"), ([0, 1], [1, 2], [0, math.inf], "plate_a")])
def test_waveform_names_what_is_wrong(time, volts, amps, named):
    with pytest.raises(ValueError, match=named):
        waveform(time, {"B1": volts}, amps)


def axes_on_the_left(svg: str) -> list[list[str]]:
    """The words of each axis on the left, from its foot to its head: those that end at one x, foot again foot."""
    found: list[list[str]] = []
    at = {}
    for t in texts(svg):
        if t.get("text-anchor") == "end":
            at.setdefault(t.get("x"), []).append((float(t.get("y")), t.text))
    for (column,) in [(c,) for c in at.values()]:
        last = math.inf
        for y, words in column:
            if y > last or not found:
                found.append([])
            found[-1].append(words)
            last = y
    return found


def number(words: str) -> float:
    return float(words.split()[0].replace("\u2212", "-"))


@pytest.mark.parametrize(("name", "units"), [("wave", ["V", "V", "mA"]), ("smooth", ["V", "mA"]), ("curve", ["V", "mA"])])
def test_every_axis_has_a_real_step_and_its_unit(name, units):
    axes = axes_on_the_left(FIGURES[name])
    assert [axis[-1].split()[1] for axis in axes] == units
    for axis in axes:
        steps = np.diff([number(words) for words in axis])
        assert len(axis) > 1 and steps == pytest.approx(steps[0]) and steps[0] > 0


def test_a_smooth_node_is_not_rounded_away():
    # 420 V with 8 mV of ripple: the line that stood at "400" is 420
    (axis, _) = axes_on_the_left(waveform(TIME, {"B1": 420 + 0.004 * np.sin(754 * TIME)}, PULSE))
    low, high = number(axis[0]), number(axis[-1])
    assert low <= 419.996 and high >= 420.004 and high - low < 1


def test_every_level_is_read_off_its_axis():
    # by the printed numbers alone: the mean of the curve's points, in units between two labels, is the node's mean
    for volts in (352.3, 1234.5, -38.2, 0.7):
        root = ET.fromstring(waveform(TIME, {"B1": np.full_like(TIME, volts)}, PULSE))
        labels = [(float(t.get("y")) - 5, number(t.text)) for t in root.iter(NS + "text") if t.get("text-anchor") == "end"][:2]
        curve = next(p.get("d") for p in root.iter(NS + "path") if p.get("stroke-width") == "1.8")
        y = float(curve[1:].split("L")[0].split()[1])
        (y0, v0), (y1, v1) = labels
        assert v0 + (v1 - v0) * (y - y0) / (y1 - y0) == pytest.approx(volts, abs=0.01)


def test_a_long_name_is_whole_in_its_caption():
    words = said(waveform(TIME, {"the node behind the second choke of the preamplifier": RIPPLE["B1"]}, PULSE))
    assert "ripple 14 V peak to peak" in words and "…" not in words


def test_no_node_no_waveform():
    assert waveform(TIME, {}, PULSE) is None


def test_capacitor_marks_stand_at_their_values():
    root = ET.fromstring(FIGURES["curve"])
    dots = [(float(c.get("cx")), float(c.get("cy"))) for c in root.iter(NS + "circle")]
    place = {u: LEFT + (RIGHT - LEFT) * math.log(u / 2) / math.log(50) for u in (16, 30)}
    assert [x for x, _ in dots] == pytest.approx([place[16], place[30]] * 2, abs=0.1)
    assert dots[0][1] > dots[1][1], "more volts stand higher"
    ends = re.findall(rf"M{LEFT:g} ([\d.]+)L{RIGHT:g} ([\d.]+)\"[^>]*stroke-width=\"2.4\"", FIGURES["curve"])
    limit = float(ends[0][0])
    for uf, (_, y) in zip((16, 30), dots[2:], strict=True):
        peak = 0.1 + 0.2 * math.log10(uf)
        assert (y > limit) == (peak < 0.4)


def test_capacitor_curve_in_words():
    words = said(FIGURES["curve"])
    assert "fitted 16 µF" in words and "largest 30 µF" in words and "limit 400 mA" in words
    assert "limit not known" in said(FIGURES["bare curve"])
    outside = said(capacitor_curve(*CURVE, fitted_uf=500))
    assert "fitted 500 µF, outside this curve" in outside
    assert "376 V, peak 341 mA" in FIGURES["curve"]  # 340 + 30 log 16 and 0.1 + 0.2 log 16


@pytest.mark.parametrize("given, named", [
    (([2, 1], [1, 1], [1, 1]), "uf"), (([0, 1], [1, 1], [1, 1]), "uf"), (([1, 2], [1], [1, 1]), "dc_v"),
    (([1, 2], [1, 1], [1, math.nan]), "peak_a"), (([1, 2], [1, 1], [1, 1], -1.0), "limit_a")])
def test_capacitor_curve_names_what_is_wrong(given, named):
    with pytest.raises(ValueError, match=named):
        capacitor_curve(*given)


# Axes

@pytest.mark.parametrize("span, most, step", [(10, 5, 2), (1, 5, 0.2), (7, 7, 1), (0.033, 7, 0.005), (16, 5, 5),
                                              (60, 4, 20)])
def test_round_steps(span, most, step):
    assert step_for(span, most) == pytest.approx(step)


def test_ticks():
    assert ticks_within(380.2, 396.9, 5) == [385, 390, 395]
    assert log_ticks(2, 100) == [2, 5, 10, 20, 50, 100]
    assert log_ticks(8, 47) == [10, 20, 30, 40] and tick_words(420.0, [420.0]) == "420"
    assert [tick_words(t, [301.0, 301.2, 301.4]) for t in (301.0, 301.2)] == ["301", "301.2"]
    with pytest.raises(ValueError):
        step_for(0, 5)


@pytest.mark.parametrize("value, words", [(0, "0"), (0.0996, "0.0996"), (-1.25, "−1.25"), (389.4, "389"),
                                          (999.6, "1000"), (1e-5, "0.00001"), (100.0, "100")])
def test_numbers_as_a_person_writes_them(value, words):
    assert plain(value) == words


# In a real browser

MEASURE = """<script>const res=[];let n=0;for(const s of document.querySelectorAll('svg')){const v=s.viewBox.baseVal;
const t=[...s.querySelectorAll('text')].map(e=>[e.textContent,e.getBBox()]);n+=t.length;
t.forEach(([w,b],i)=>{if(b.x<0||b.y<-1||b.x+b.width>v.width||b.y+b.height>v.height)res.push('outside: '+w);
for(const [o,c] of t.slice(0,i)){if(Math.min(b.x+b.width,c.x+c.width)-Math.max(b.x,c.x)>1&&
Math.min(b.y+b.height,c.y+c.height)-Math.max(b.y,c.y)>4)res.push('over: '+w+' | '+o)}})}
document.body.innerHTML='<pre id="r"></pre>';
document.getElementById('r').textContent=n+'\\n'+res.join('\\n')</script>"""


@pytest.mark.long
@pytest.mark.skipif(not shutil.which("chromium"), reason="Chromium is not at hand")
def test_no_text_over_another_in_a_browser(tmp_path):
    # The widest of the usual faces, so that the figures hold in any.
    page = tmp_path / "page.html"
    page.write_text("<!doctype html><meta charset=utf-8><style>:root{--face:'DejaVu Sans'}</style><body>"
                    + "".join(FIGURES.values()) + MEASURE, encoding="utf-8")
    done = subprocess.run(["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
                           f"--user-data-dir={tmp_path / 'profile'}", "--dump-dom", page.as_uri()],
                          capture_output=True, text=True, timeout=90)
    found = html.unescape(re.search(r'<pre id="r">(.*?)</pre>', done.stdout, re.S)[1]).split("\n", 1)
    assert int(found[0]) > 250 and found[1].strip() == ""
