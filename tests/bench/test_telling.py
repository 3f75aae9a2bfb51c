"""The unit itself, told line by line: what each demo unit's file holds can be said, and is read as it stands there."""

import random
import re
import shutil

import pytest
import support
from bench_units import WINDING
from support import ROOT

from pipeline.bench.still_needed import still_needed
from pipeline.bench.taking_stock import Stock
from pipeline.output.telling import described, is_told
from pipeline.point.wiring import wire
from pipeline.records import replace
from pipeline.unit import load

UNITS = ROOT / "data_raw/units"
SAID = {
    "fixed-bias-amplifier": """
        name Harrowmere Studio 35 fixed-bias amplifier (invented)
        mains 121 V 60 Hz, nameplate 117 V, at most 126 V
        heater winding H1 6.3 V 5 A
        winding H2 5 V 2 A for the rectifier
        supply B+ full-wave GZ34 300-0-300 V 60 ohm 150 mA, primary 2.2 ohm
        B1 C1+C2 standby S2
        B1 to B2 through L1, C3
        B3 from B2 through R10 C4
        supply bias half-wave D1 45 V 25 ohm negative, winding tap
        C- C5
        C- to C-2 through R20, C6
        V3 V4 plate B1 through T2, screen B2 through R8 R9, grid C-2 through R5 R6, push-pull
        V1A plate to B3 through R11, cathode R12
        V1B plate B3 through R13 cathode R14
        V2A and V2B plate B3 through R16 R17, cathode R15, grid on V1B plate""",
    "hall-amplifier": """
        name Tarnside PA-40 village hall amplifier (invented)
        mains 121 V, 60 c/s, made for 117 V, max 126
        winding H1 6.3 V 3 A
        winding H2 5V 3A
        supply V6 full wave 2 x 375 V, each half 62 ohm, rated 180 mA, primary 3.1 ohm, capacitor input
        node B1 C1 load 125 mA
        B1 to B2 through L1 C2A 12 mA
        B2 to B3 through R7, C2B, 9 mA""",
    "ac-dc-set": """
        name Lindhaag Duo 220 AC/DC set (invented)
        mains 226 V 50 Hz nameplate 220
        string S1 0.1 A order V5 V4 V1 V2 V3 dropper BR1
        supply half-wave V5 220 V 4 ohm, surge 165 ohm
        B1 C1A
        B1 to B2 via R1 C1B load 10 mA
        V4 anode B1 through T2 g2 B2 cathode R2 grid R3
        stage V2 plate B2, screen B2 through R4, cathode R5, AVC
        V3 triode plate B2 through R6 grid R7 grid leak biased""",
    "battery-portable": """
        name Osprey Lane Companion battery portable (invented)
        winding A 1.5 V 300 mA
        supply B battery 90 V, fresh 98 V, flat 65 V, 40 ohm, minus through R8
        node B1 C1
        V4 plate B1 through T2, screen B1 through R4, grid B- through R5
        V3 pentode plate B1 through R1, screen B1 through R2, grid R3, grid leak bias
        V2 plate B1 screen B1 AVC""",
    "tape-recorder": """
        name Vossmark Bandelle 4 tape machine (invented)
        mains 228 V 50 Hz, 220 V on the nameplate
        winding H1 6.3 V 3 A
        supply full-wave EZ80 250-0-250 160 ohm 80 mA primary 28 ohm
        B1 C1A
        B2 from B1 through R20, C1B, 12 mA
        B2 to B3 through R21 C2
        V1 plate B3 through R1, screen B3 through R2, cathode R3
        V2A plate B3 through R4 cathode R5
        V2B plate B3 through R7 cathode R8
        V3 pentode plate B1 through T2, screen B2, cathode R6, grid R9"""}
SERVICES = {"grid leak": "grid leak bias", "grid leak biased": "grid leak bias", "push-pull": "push-pull", "AVC": "AVC"}


def plain(unit):
    """What was told of a unit, without the lines it stands on and labels that are free."""
    def supply(each):
        nodes = tuple(replace(n, capacitors=tuple(sorted(n.capacitors))) for n in each.nodes)
        return replace(each, line=0, nodes=nodes, id="B+" if each.id == "B" else each.id, winding=None)

    def stage(each):
        return replace(each, line=0, service=SERVICES.get(each.service, each.service))
    return {"mains": (unit.name, unit.mains_v, unit.mains_hz, unit.design_mains_v, unit.mains_high_v, unit.mains_low_v),
            "windings": unit.windings, "strings": unit.strings, "supplies": [supply(s) for s in unit.supplies],
            "stages": sorted((stage(s) for s in unit.stages), key=lambda s: str(s.tubes))}


@pytest.mark.parametrize("name", SAID)
def test_what_a_demo_unit_says_can_be_told(name, catalogue, tmp_path):
    folder = tmp_path / name
    shutil.copytree(UNITS / name, folder)
    (folder / "unit.toml").write_text("# nothing told yet\n", encoding="utf-8")
    parts = (folder / "parts.csv").read_text(encoding="utf-8")
    (folder / "parts.csv").write_text(re.sub(r",(?:[AHS]\d?|B\d|[BC]-\d?)(?=,)", ",", parts), encoding="utf-8")
    stock = Stock(folder, catalogue)
    for line in SAID[name].strip().splitlines():
        assert stock.take(line.strip()).fact is not None, line
    (folder / "parts.csv").write_text(parts, encoding="utf-8")
    assert plain(load(folder, catalogue)) == plain(load(UNITS / name, catalogue))


@pytest.fixture
def stock(make_unit, catalogue):
    return Stock(make_unit(WINDING, "V5,5Y3GT,rectifier,H1,,\nV1,12AX7,,H1,,\nV3,6V6GT,,H1,,\nV4,6V6GT,,H1,,\nR3,1k,,,,\n"
                           "R7,270,,,,\nR6,470k,,,,\nT2,output transformer,,,,\nL1,10 H,,,,\nD1,1N4007,,,,\nC1,16 by 450,,,,\n"
                           "VR1,0A2,,,,\nS2,standby switch,,,,\nR20,100 10W,,,,"), catalogue)


def told(stock, *lines):
    """The supplies and stages after some lines."""
    for line in lines:
        stock.take(line)
    data = stock.known().toml.data
    return data.get("supply", []), data.get("stage", [])


SUPPLY = "supply full-wave V5 300-0-300 V 95 ohm"


@pytest.mark.parametrize(("line", "keys"), [
    ("supply B full-wave 5Y3 from T1 350-0-350 winding 48 ohm",
     {"rectifier": "V5", "circuit": "full-wave", "secondary_v": 350, "secondary_ohm": 48}),
    ("supply 5Y3GT full wave 350 V each half, 48 ohm each half, 120 mA",
     {"rectifier": "V5", "circuit": "full-wave", "secondary_v": 350, "secondary_ohm": 48, "secondary_a": 0.12}),
    ("supply V5 300-0-300 choke input", {"rectifier": "V5", "circuit": "full-wave", "secondary_v": 300, "input": "choke"}),
    ("supply bridge D1 250V 30 Ω primary 4,5 ohm",
     {"rectifier": "D1", "circuit": "bridge", "secondary_v": 250, "secondary_ohm": 30, "primary_ohm": 4.5}),
    ("supply D1 voltage doubler 117 V 3 ohm 22 ohm in series",
     {"rectifier": "D1", "circuit": "doubler", "secondary_v": 117, "secondary_ohm": 3, "added_ohm": 22}),
    ("supply half wave D9 230 V", {"rectifier": "D9", "circuit": "half-wave", "secondary_v": 230}),
    ("battery 90 V fresh 98 flat 65 V", {"source": "battery", "volts": 90, "high_v": 98, "low_v": 65}),
    ("vibrator 250 V 115 Hz V5 200 ohm",
     {"source": "vibrator", "volts": 250, "hertz": 115, "rectifier": "V5", "secondary_ohm": 200})])
def test_a_supply(stock, line, keys):
    if "battery" not in line:
        keys = {"rectifier": "V5", **keys}
    found = told(stock, line)[0][0]
    assert {k: v for k, v in found.items() if k not in ("id", "node")} == keys
    assert [n["id"] for n in found["node"]] == ["B1"]


def test_a_supply_is_corrected_and_completed(stock):
    supplies, _ = told(stock, SUPPLY, "supply 52 ohm", "supply B+ primary 6 ohm", "B+ 320 V")
    assert supplies == [{"rectifier": "V5", "circuit": "full-wave", "secondary_v": 320, "secondary_ohm": 52,
                         "primary_ohm": 6, "node": [{"id": "B1"}]}]
    supplies, _ = told(stock, "supply screen from B1", "bias supply half-wave D1 50 V")
    assert [(s.get("id"), s.get("from"), s.get("polarity"), s["node"][0]["id"]) for s in supplies] == [
        (None, None, None, "B1"), ("screen", "B1", None, "B2"), ("bias", None, "negative", "C-")]


@pytest.mark.parametrize(("line", "keys"), [
    ("B1 to B2 through R3", {"id": "B2", "from": "B1", "through": "R3"}),
    ("B1 to B2 through R3, 12 mA", {"id": "B2", "from": "B1", "through": "R3", "load_a": 0.012}),
    ("B2 from B1 through choke L1", {"id": "B2", "from": "B1", "through": "L1"}),
    ("node B2 from B1 via R3 C1 draws V3 V4",
     {"id": "B2", "from": "B1", "through": "R3", "capacitors": ["C1"], "tubes": ["V3", "V4"]}),
    ("B1 to b2 through R3 regulator VR1", {"id": "B2", "from": "B1", "through": "R3", "regulator": "VR1"}),
    ("node B2 from B1 through R3 load 4k7", {"id": "B2", "from": "B1", "through": "R3", "load_ohm": 4700}),
    ("B1 to B2 directly, standby S2", {"id": "B2", "from": "B1", "standby": "S2"})])
def test_a_node(stock, line, keys):
    if "directly" in line:
        line = line.replace("directly, ", "")
    assert told(stock, SUPPLY, line)[0][0]["node"][1] == keys


@pytest.mark.parametrize(("line", "keys"), [
    ("V3 plate to B1 through T2, cathode R7, grid R6",
     {"tubes": ["V3"], "plate": "B1", "plate_through": "T2", "cathode_through": "R7", "grid_through": "R6"}),
    ("stage V3 V4 plate B1 T2 screen plate 43 % grid -38 V push-pull",
     {"tubes": ["V3", "V4"], "plate": "B1", "plate_through": "T2", "screen": "plate 43 %", "grid": -38, "service": "push-pull"}),
    ("V3, V4 plate B1 through T2 ultralinear 20 % cathode R7",
     {"tubes": ["V3", "V4"], "plate": "B1", "plate_through": "T2", "screen": "plate 20 %", "cathode_through": "R7"}),
    ("V3 plate B1 through T2 screen to plate cathode R7",
     {"tubes": ["V3"], "plate": "B1", "plate_through": "T2", "screen": "plate", "cathode_through": "R7"}),
    ("V3 triode connected plate B1 through T2", None),
    ("V3 V4 push-pull plate B1 through T2", {"tubes": ["V3", "V4"], "plate": "B1", "plate_through": "T2", "service": "push-pull"}),
    ("V3 single-ended, plate B1 through T2", {"tubes": ["V3"], "plate": "B1", "plate_through": "T2", "service": "single-ended"}),
    ("V1A anode B1 through R3, cathode to chassis, grid on V1B anode",
     {"tubes": ["V1A"], "plate": "B1", "plate_through": "R3", "grid": "V1B plate"}),
    ("V1 plate B1 through R3 cathode R7",
     {"tubes": ["V1"], "plate": "B1", "plate_through": "R3", "cathode_through": "R7"}),
    ("V8 plate B1 through R3", None), ("stage V8 plate B1 through R3",
     {"tubes": ["V8"], "plate": "B1", "plate_through": "R3"}),
    ("V3 plate B1 through T2 signal 80 mA class AB1",
     {"tubes": ["V3"], "plate": "B1", "plate_through": "T2", "service": "class AB1", "signal_a": 0.08})])
def test_a_stage(stock, line, keys):
    told(stock, SUPPLY)
    try:
        stages = told(stock, line)[1]
    except ValueError:
        stages = []
    assert stages == ([] if keys is None else [keys])


def test_a_stage_grows_line_by_line_and_what_it_leaves_out_stays(stock):
    _, stages = told(stock, SUPPLY, "V3 plate B1 through T2", "V3 cathode R7", "V3 grid R6", "stage V3 V4 plate B1",
                     "V3 V4 without R6")
    assert stages == [{"tubes": ["V3", "V4"], "plate": "B1", "plate_through": "T2", "cathode_through": "R7"}]
    with pytest.raises(ValueError, match="V3 shares the stage of V3 V4"):
        stock.take("V3 cathode R3")
    assert stock.drop("stage V3 V4") == "stage of V3 V4" and told(stock)[1] == []
    assert stock.undo() == "stage of V3 V4" and len(told(stock)[1]) == 1


def test_ohms_said_by_the_way_are_the_parts_own(stock):
    told(stock, SUPPLY, "V3 plate to B1 through T2 200 ohm")
    assert stock.now.parts["T2"].measured == {"ohms": 200}


@pytest.mark.parametrize(("line", "said"), [
    ("mains", "'mains' is not understood here: say for example mains 121 V 60 Hz"),
    ("mains 12 V", "cannot be right: this is the outlet"),
    ("mains 121 V 117 V 60 Hz", "121 V and 117 V are said"),
    ("winding R7 6.3 V", "R7 is already a part"),
    ("winding H2 300 V 2 A", "300 cannot be right"),
    ("supply ful-wave V5 300 V", "'ful-wave' is not understood here"),
    ("supply full-wave EZ81 300 V", "no part is a EZ81: list it first"),
    ("supply full-wave 6V6 300-0-250 V", "two unlike halves"),
    ("supply full-wave 6V6GT 300 V", "2 parts are 6V6GT"),
    ("supply full-wave R7 300 V", "'R7' is not understood"),
    ("B2 from B1 through R3", "is no ref|no node B1"),
    ("stage plate B1", "which tubes"),
    ("stage V3 plate chassis", "has no volts"),
    ("node B2", "no supply has a node B2 yet"),
    ("B1 to R7 through R3", "B1 is no part and no node yet"),
    ("stage V3 plate B1 screen 38 V", "'38 V' is not understood"),
    ("V3 V4 at H1", "'H1' is not understood"),
    ("stage R7 plate B1", "which tubes")])
def test_what_cannot_be_told_changes_nothing(stock, line, said):
    before = [(stock.folder / name).read_bytes() for name in ("parts.csv", "unit.toml")]
    with pytest.raises(ValueError, match=said):
        stock.take(line)
    assert [(stock.folder / name).read_bytes() for name in ("parts.csv", "unit.toml")] == before


def test_what_the_parts_say_is_not_typed_twice(make_unit, catalogue):
    """Node and stage follow from roles and places, in whatever order the lines come."""
    stock = Stock(make_unit(WINDING, ""), catalogue)
    lines = ["R1 220k ½W plate load V1A B2", "R5 1k5 cathode V1A", "V1 12AX7 at H1", "C2 16 by 450 smoothing B2",
             "R3 1k 2W B1-B2", "T2 output transformer 250 ohm V3 B1", "V3 6V6 at H1", "R8 470 screen V3 from B2",
             "V5 5Y3 at H1 note its own winding is not traced", "C1 16 by 450 reservoir B1", SUPPLY]
    supplies, stages = told(stock, *lines)
    assert supplies[0]["node"] == [{"id": "B1"}, {"id": "B2", "from": "B1", "through": "R3"}]
    assert sorted(stages, key=lambda s: s["tubes"]) == [
        {"tubes": ["V1A"], "plate": "B2"}, {"tubes": ["V3"], "plate": "B1", "plate_through": "T2", "screen": "B2"}]
    unit = load(stock.folder, catalogue)
    assert [w.plate.through for w in wire(unit)] == ["T2", "R1"] or [w.plate.through for w in wire(unit)] == ["R1", "T2"]
    assert {p.ref: [str(a) for a in p.at] for p in unit.parts.values() if p.role in ("reservoir", "smoothing")} == {
        "C1": ["B1"], "C2": ["B2"]}
    assert not [p for p in unit.parts.values() if "not listed yet" in p.note]


def test_a_twins_half_must_be_said(make_unit, catalogue):
    stock = Stock(make_unit(WINDING, ""), catalogue)
    told(stock, "V5 5Y3 at H1", SUPPLY, "V1 12AX7 at H1", "R1 220k plate load V1 B1")
    assert told(stock)[1] == []
    assert told(stock, "R1 at V1B B1")[1] == [{"tubes": ["V1B"], "plate": "B1"}]


def test_a_lone_supply_and_remarks_stay_as_they_were(make_unit, catalogue):
    toml = WINDING + '\n[supply]          # the only one\nrectifier = "V5"\ncircuit = "full-wave"\nsecondary_v = 300 # marked\n'
    folder = make_unit(toml + '\n[[supply.node]]\nid = "B1"\n', "V5,5Y3,,,,\nD1,1N4007,,,,")
    Stock(folder, catalogue).take("supply bias half-wave D1 50 V negative")
    text = (folder / "unit.toml").read_text(encoding="utf-8")
    assert text.startswith(toml.replace("[supply]", "[[supply]]")) and text.count("[[supply]]") == 2
    assert {s.id: s.polarity for s in load(folder, catalogue).supplies} == {"B+": "positive", "bias": "negative"}


def test_unit_toml_that_cannot_be_read_is_left_alone(make_unit, catalogue):
    folder = make_unit("mains_v = \n", "V5,5Y3,,,,")
    with pytest.raises(ValueError):
        Stock(folder, catalogue).take("winding H1 6.3 V 3 A")
    assert (folder / "unit.toml").read_text(encoding="utf-8") == "mains_v = \n"


def test_each_tube_of_a_pair_has_its_own_screen_resistor(make_unit, catalogue):
    """R8 feeds V3 and R9 V4: neither is taken for one that both share, whichever is listed first."""
    stock = Stock(make_unit(WINDING, "V5,5U4GB,rectifier,H1,,"), catalogue)
    _, stages = told(stock, SUPPLY, "V3 6L6GC at H1", "V4 6L6GC at H1", "T2 output transformer 110 ohm CT V3 V4 B1",
                     "R8 470 1W screen V3 B1", "R9 470 1W screen V4 B1", "V3 V4 push-pull cathode R7")
    assert stages == [{"tubes": ["V3", "V4"], "plate": "B1", "plate_through": "T2", "screen": "B1",
                       "service": "push-pull", "cathode_through": "R7"}]
    stock.take("R7 250 10W cathode V3 V4")
    wired = wire(load(stock.folder, catalogue))
    assert [(str(w.place), w.screen.through, w.plate.through, w.cathode.through) for w in wired] == [
        ("V3", "R8", "T2", "R7"), ("V4", "R9", "T2", "R7")]


def test_a_battery_is_corrected_as_one(make_unit, catalogue):
    stock = Stock(make_unit('name = "x"\n[[winding]]\nid = "H1"\nvolts = 1.4\n', ""), catalogue)
    supplies, _ = told(stock, "battery 67.5 V", "supply B+ 90 V, 50 ohm, fresh 98")
    assert supplies == [{"source": "battery", "volts": 90, "ohms": 50, "high_v": 98, "node": [{"id": "B1"}]}]


WORDS = ["mains", "winding", "string", "supply", "node", "stage", "battery", "vibrator", "name", "V1", "V2", "V3", "V3A", "V5", "R1", "R7", "C1", "C1A", "L1", "T2", "D1", "H1", "S1", "B1", "B2", "B3", "C-", "B+", "bias", "to", "from", "through", "at", "on", "plate", "screen", "cathode", "grid", "without", "drop", "chassis", "6.3", "6,3", "V", "300-0-300", "2x", "350", "48", "ohm", "4k7", "12", "mA", "3", "A", "60", "Hz", "43", "%", "-38", "full-wave", "half-wave", "doubler", "negative", "primary", "surge", "load", "regulator", "standby", "heats", "minus", "order", "dropper", "6V6", "12AX7", "5Y3", "1N4007", "16", "by", "450", "reservoir", "smoothing", "dropping", "choke", "output", "transformer", "270", "1W", "missing", "leaking", "replaced", "1972", "reads", "note", "B1-B2", "C1+C2", ",", ";", "=", "½", "Ω", "\u200b", "µ"]


@pytest.mark.parametrize("seed", support.some(2, range(12)))
def test_any_words_are_taken_or_refused(make_unit, catalogue, seed):
    """Whatever is typed: read back or refused in words, the files can be read again, and undo gives them back."""
    draw = random.Random(seed)
    folder = make_unit(WINDING, "")
    stock = Stock(folder, catalogue)
    for _ in range(60):
        line = " ".join(draw.choice(WORDS) for _ in range(draw.randint(1, 9)))
        before = stock.files.texts()
        try:
            taken = stock.take(line) if draw.random() < 0.9 else None
            what = stock.drop(line) if taken is None else ""
        except ValueError as error:
            assert str(error) and "\n" not in str(error), line
            assert stock.files.texts() == before, line
            continue
        described_ = [described(kind, name, stock.known()) for kind, name in is_told(stock.known())]
        assert (what or taken.ref) and all(described_) and not stock._listed(stock.files.texts()).faults, line
        if draw.random() < 0.3:
            stock.undo()
            assert stock.files.texts() == before, line
        for question in list(stock.questions(taken)) if taken else ():
            assert question.words and question.column


def test_sections_of_a_can_stand_at_nodes_of_their_own(stock):
    """A section is no part to list anew; named at a node it goes there alone, and the whole can is not said of it."""
    told(stock, SUPPLY, "C1 40/20 at 450 reservoir B1")
    with pytest.raises(ValueError, match="C1A is a section of C1.*node B1 capacitors C1A"):
        stock.take("C1A reservoir B1")
    stock.take("node B1 capacitors C1A")
    assert described("node", "B1", stock.known()).endswith("capacitors C1A")
    assert told(stock)[0][0]["node"] == [{"id": "B1", "capacitors": ["C1A"]}]


def test_the_line_for_a_half_names_its_own_resistor(make_unit, catalogue):
    stock = Stock(make_unit(WINDING, ""), catalogue)
    told(stock, "V5 5Y3 at H1", "V2 6SN7GT at H1", SUPPLY, "R10 47k plate V2A", "R11 47k plate V2B", "R12 1k cathode V2")
    needed, _ = still_needed(stock.folder, catalogue, stock.now)
    assert "V2A plate B1 through R10" in [n.line for n in needed]


def test_bare_volts_of_a_listed_resistor_are_a_reading(stock):
    """They are no marking of a resistor, and what is printed on it stays."""
    stock.take("R7 14.2 V")
    assert stock.now.parts["R7"].marking == "270" and stock.now.parts["R7"].measured_of(None) == {"volts": 14.2}
    stock.take("C1 25 V")
    assert stock.now.parts["C1"].marking == "25 V"
