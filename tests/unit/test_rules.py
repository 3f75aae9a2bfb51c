"""What a unit's files mean where two readers could take them differently: each rule of the unit as it is built."""

import pytest

from pipeline.unit import MainsSupply, Place, load

TOP = """name = "Made up"
mains_v = 233
mains_hz = 50
design_mains_v = 220
[[winding]]
id = "H1"
volts = 6.3
[[winding]]
id = "H2"
volts = 12.6
[[winding]]
id = "H 3"
volts = 5
"""
SUPPLY = """
[[supply]]
rectifier = "V5"
circuit = "full-wave"
secondary_v = 300
secondary_ohm = 95
"""
NODE = """
[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_a = 0.04
"""
PARTS = """V1,12AX7,,H1,,
V2,ECL82,,H1,,
V3,EL84,,H1,,
V4,EL84,,H1,,
V5,GZ34,,H2,,
V7,OA2,,,,
V8,OA2,,,,
C1,16 uF 450 V,,,,
C2,20-20 uF 450 V,,,,
C3,50 uF 300 V,,,,
C4,50 uF 300 V,,,,
C5,40-20-10 uF 450 V,,,,
R1,1k 5W,,,,
R2,270 1W,,,,
R3,220k,,,,
R4,220k,,,,
D1,1N4007,,,,
S2,100k,,,,
"""


@pytest.fixture
def unit(make_unit, catalogue):
    """The unit of a TOML text behind the base's head, and of parts lines added to the base's."""
    return lambda toml="", parts="", top=TOP, base=PARTS: load(make_unit(top + toml, base + parts), catalogue)


def at(unit, ref):
    return [str(place) for place in unit.parts[ref].at]


# --- refs and places


@pytest.mark.parametrize(("written", "places"), [
    ("H1", ["H1"]), ("h1", ["H1"]), ("H 3", ["H 3"]), ("H  3", ["H 3"]), ("V3 V4", ["V3", "V4"]), ("V3;V4", ["V3", "V4"]),
    ("V3 ; V4", ["V3", "V4"]), ("V1A V1B", ["V1A", "V1B"]), ("V2 pentode", ["V2 pentode"]), ("v2 Pentode", ["V2 pentode"]),
    ("V2 pentode V3 H 3", ["V2 pentode", "V3", "H 3"]), ("V2 V3", ["V2", "V3"]), ("C2B", ["C2B"]), ("V1 A", ["V1A"]),
    ("V3 V3", ["V3"]), ("\uff36\uff13", ["V3"]), ("\u04123 V4", None),
])
def test_at_is_taken_whole_then_split_longest_first(unit, written, places):
    if places is None:  # Cyrillic В looks like B, and there is no B3
        with pytest.raises(Exception, match="'B3'|no winding, string, node or part"):
            unit(parts=f"R9,1k,,{written},,\n")
        return
    assert at(unit(parts=f"R9,1k,,{written},,\n"), "R9") == places


def test_a_part_of_that_ref_goes_before_a_section(unit):
    """`V1A` is the part of that ref if there is one, else section A of V1."""
    assert unit(parts="R9,1k,,V1A,,\n").parts["R9"].at == (Place("V1", "A"),)
    assert unit(parts="R9,1k,,V1A,,\nV1A,6AV6,,H1,,\n").parts["R9"].at == (Place("V1A"),)


def test_look_alike_letters_are_one_ref(unit):
    """Cyrillic С and В, full-width letters and a second blank are resolved where they enter."""
    found = unit('[[supply]]\nrectifier = "\uff36\uff15"\ncircuit = "full-wave"\nsecondary_v = 300\n'
                 '[[supply.node]]\nid = "\u04121"\ncapacitors = ["\u04211", "\uff23\uff12A"]\n', "\u04219,8 uF 450 V,smoothing,B1,,\n")
    assert found.nodes["B1"].capacitor_names == ["C1", "C2A", "C9"] and found.supplies[0].rectifier == "V5"


def test_an_id_may_be_a_supply_s_and_a_node_s(unit):
    """The default id of a supply, `B+`, is no place, so a node may be called so."""
    found = unit(SUPPLY + NODE.replace("B1", "B+"))
    assert found.supplies[0].id == "B+" and list(found.nodes) == ["B+"]


@pytest.mark.parametrize(("marking", "written", "place"), [
    ("6AV6", "triode", Place("V9")), ("6AV6", "diode", Place("V9", "diode")), ("EL84", "pentode", Place("V9")),
    ("6DR7", "unit 2", Place("V9", "unit 2")), ("6C10", "C", Place("V9", "C")), ("qwertz 17", "pentode", Place("V9", "pentode")),
    ("ECH11", "hexode", Place("V9", "hexode")), ("12AX7", "b", Place("V9", "B")),
])
def test_sections_by_letter_or_by_the_catalogue_s_name(unit, marking, written, place):
    """Single sections may be named too; of a tube that the catalogue does not know any usual name holds."""
    assert unit(parts=f"V9,{marking},,H1,,\nR9,1k,,V9 {written},,\n").parts["R9"].at == (place,)


# --- capacitors of a node


@pytest.mark.parametrize(("written", "names"), [
    ('["C1"]', ["C1"]), ('["C3+C4"]', ["C3+C4"]), ('["C2A", "C5B+C5C"]', ["C2A", "C5B+C5C"]), ('["C2"]', ["C2A", "C2B"]),
    ('["C3 + C4"]', ["C3+C4"]), ('["C1A"]', ["C1"]), ('"C1"', ["C1"]),
])
def test_capacitors_are_chains(unit, written, names):
    found = unit(SUPPLY + NODE.replace('["C1"]', written))
    assert found.nodes["B1"].capacitor_names == names
    assert found.nodes["B1"].capacitors[-1][-1].ref in found.parts


def test_a_can_named_whole_beside_one_of_its_sections_is_its_first(unit):
    """As in every unit so far: `C2` at one node and `C2B` at another."""
    found = unit(SUPPLY + NODE.replace("C1", "C2")
                 + '[[supply.node]]\nid = "B2"\nfrom = "B1"\nthrough = "R1"\ncapacitors = ["C2B"]\n')
    assert [node.capacitor_names for node in found.nodes.values()] == [["C2A"], ["C2B"]]


@pytest.mark.parametrize("written", ['["C3", "C4"]', '["C3+C4"]'])
def test_the_halves_of_a_doubler_are_written_in_two_ways(unit, written):
    found = unit(SUPPLY.replace("full-wave", "doubler") + NODE.replace('["C1"]', written))
    assert found.nodes["B1"].capacitors == ((Place("C3"),), (Place("C4"),))
    assert unit(SUPPLY.replace("full-wave", "half-wave doubler") + NODE.replace('["C1"]', '["C3+C4"]')) \
        .nodes["B1"].capacitors == ((Place("C3"), Place("C4")),)


@pytest.mark.parametrize(("line", "names"), [
    ("C9,8 uF 450 V,reservoir,B1,,", ["C1", "C9"]), ("C9,8 uF 450 V,smoothing,B1,,", ["C1", "C9"]),
    ("C9,8 uF 450 V,bias filter,B1,,", ["C1", "C9"]), ("C9,8-4 uF 450 V,smoothing,B1,,", ["C1", "C9A", "C9B"]),
    ("C9,8 uF 450 V,coupling,B1,,", ["C1"]), ("C9,8 uF 450 V,,B1,,", ["C1"]), ("C9,?,smoothing,B1,,", ["C1", "C9"]),
    ("R9,10k,bleeder,B1,,", ["C1"]), ("C9,8 uF 450 V,smoothing,H1,,", ["C1"]),
])
def test_a_capacitor_that_only_the_list_puts_at_a_node_counts_there(unit, line, names):
    assert unit(SUPPLY + NODE, line + "\n").nodes["B1"].capacitor_names == names


def test_a_can_at_as_many_nodes_as_it_has_sections_has_one_at_each(unit):
    found = unit(SUPPLY + NODE + '[[supply.node]]\nid = "B2"\nfrom = "B1"\nthrough = "R1"\n', "C9,40-20 uF 450 V,smoothing,B1 B2,,\n")
    assert [node.capacitor_names for node in found.nodes.values()] == [["C1", "C9A"], ["C9B"]]


# --- supplies


def test_several_supplies(unit):
    """A bias supply on a tap of the same winding, DC heaters on a heater winding, one taken from a node, a back bias."""
    found = unit(SUPPLY + 'winding = "S1"\nminus_through = "R2"\n' + NODE + """
[[supply]]
id = "bias"
polarity = "negative"
winding = "S1"
rectifier = "D1"
circuit = "half-wave"
secondary_v = 50
[[supply.node]]
id = "C-"
load_ohm = 47000
[[supply]]
id = "heaters"
winding = "h2"
rectifier = "D1"
circuit = "bridge"
heats = "H1"
[[supply.node]]
id = "F1"
load_a = 6.5
[[supply]]
id = "screens"
from = "B1"
[[supply.node]]
id = "B9"
through = "R1"
regulator = "V7+V8"
standby = "S2"
""")
    high, bias, heaters, screens = found.supplies
    assert [s.id for s in found.supplies] == ["B+", "bias", "heaters", "screens"]
    assert isinstance(high, MainsSupply) and high.minus == "B-" and high.winding == "S1"
    assert bias.polarity == "negative" and bias.secondary_v == 50 and bias.minus is None
    assert heaters.secondary_v == 12.6 and heaters.heats == "H1" and heaters.nodes[0].load_a == 6.5
    assert (screens.source, screens.origin, screens.rectifier, screens.circuit) == ("node", "B1", None, None)
    assert screens.nodes[0].regulator == ("V7", "V8") and screens.nodes[0].standby == "S2"
    assert found.supply is high


def test_one_table_without_double_brackets_stays_valid(unit):
    found = unit(SUPPLY.replace("[[supply]]", "[supply]") + NODE)
    assert len(found.supplies) == 1 and found.supplies[0].id == "B+" and list(found.nodes) == ["B1"]


BATTERY = """name = "Made up"
[[winding]]
id = "H1"
volts = 1.4
[[winding]]
id = "H2"
volts = 1.4
[[winding]]
id = "H 3"
volts = 1.4
[[supply]]
source = "battery"
volts = 90
[[supply.node]]
id = "B1"
load_a = 0.012
"""
VIBRATOR = """[[supply]]
id = "vibrator"
source = "vibrator"
volts = 240
hertz = 115
secondary_ohm = 200
[[supply.node]]
id = "B2"
load_a = 0.05
"""


def test_without_mains(unit):
    """Where every supply is battery or vibrator the mains may be left out; a vibrator without rectifier is synchronous."""
    found = unit(BATTERY + VIBRATOR, top="")
    assert (found.mains_v, found.mains_hz, found.design_mains_v, found.supply) == (None, None, None, None)
    battery, vibrator = found.supplies
    assert (battery.volts, battery.ohms, battery.rectifier, battery.circuit) == (90, 0, None, None)
    assert (vibrator.volts, vibrator.hertz, vibrator.rectifier, vibrator.circuit) == (240, 115, None, "full-wave")


def test_with_one_supply_from_the_mains_the_mains_must_be_given(unit):
    with pytest.raises(Exception, match="mains_v: is missing") as error:
        unit(BATTERY.replace("[[supply]]", '[[supply]]\nid = "dry"') + SUPPLY + NODE.replace("B1", "B3"), top="")
    assert "mains_hz: is missing" in str(error.value)
    with pytest.raises(Exception, match="mains_v: is missing"):
        unit("[[winding]]\nid='H1'\nvolts=6.3\n", top="name = 'Made up'\n")


# --- stages

STAGE = """
[[stage]]
tubes = ["V3", "V4"]
plate = "B1"
"""


@pytest.mark.parametrize(("key", "field", "value"), [
    ('screen = "b1"', "screen", "B1"), ('screen = "plate"', "screen", "plate"), ('screen = "Plate 43 %"', "screen_tap", 0.43),
    ('screen = "plate 20,5%"', "screen_tap", 0.205), ('screen_through = "R2"', "screen_through", ("R2",)),
    ('cathode_through = ["R3", "R4"]', "cathode_through", ("R3", "R4")), ('cathode_through = "R2"', "cathode_through", ("R2",)),
    ('grid = "C-"', "grid", "C-"), ("grid = -38", "grid_v", -38.0), ("grid = -38.5", "grid_v", -38.5),
    ('grid = "V1A plate"', "grid_from", Place("V1", "A")), ('grid = "V2 triode anode"', "grid_from", Place("V2", "triode")),
    ('grid = "chassis"', "grid", None), ('cathode_to = "C-"', "cathode_to", "C-"), ('service = "push-pull"', "service", "push-pull"),
    ("signal_a = 0.12", "signal_a", 0.12), ('plate_through = "T2"', "plate_through", ("T2",)),
])
def test_keys_of_a_stage(unit, key, field, value):
    found = unit(SUPPLY + NODE + '[[supply]]\nid = "bias"\npolarity = "negative"\nrectifier = "D1"\ncircuit = "half-wave"\n'
                 'secondary_v = 50\n[[supply.node]]\nid = "C-"\nload_ohm = 47000\n' + STAGE + key + "\n", "T2,output transformer,,,,\n")
    assert getattr(found.stages[0], field) == value
    assert found.stages[0].tubes == (Place("V3"), Place("V4"))


@pytest.mark.parametrize(("tubes", "of_stage", "left"), [
    ('["V3", "V4"]', '["V3"]', ["V4"]), ('["V1", "V2"]', '["V1A"]', ["V1B", "V2"]), ('["V1", "V2"]', '["V2 pentode"]', ["V1", "V2 triode"]),
    ('["V1A", "V1B"]', '["V1"]', []), ('["V1A"]', '["V1B"]', ["V1A"]),
])
def test_a_stage_takes_its_tubes_out_of_the_nodes(unit, tubes, of_stage, left):
    found = unit(SUPPLY + NODE + f"tubes = {tubes}\n" + STAGE.replace('["V3", "V4"]', of_stage))
    assert [str(place) for place in found.nodes["B1"].tubes] == left


# --- measured


@pytest.mark.parametrize(("ref", "cell", "own", "sections"), [
    ("V1", "plate 120 V", {"plate_v": 120}, {}),
    ("V1", "A plate 120 V; B plate 98 V; B cathode 1.2 V", {}, {"A": {"plate_v": 120}, "B": {"plate_v": 98, "cathode_v": 1.2}}),
    ("V1", "a 120 V", {"plate_v": 120}, {}),
    ("V2", "pentode plate 240 V; triode plate 90,5 V; cathode 16 V", {"cathode_v": 16}, {"pentode": {"plate_v": 240}, "triode": {"plate_v": 90.5}}),
    ("V3", "pentode plate 240 V", {"plate_v": 240}, {}),
    ("R2", "14,2 V", {"volts": 14.2}, {}),
])
def test_a_reading_may_name_its_section(unit, ref, cell, own, sections):
    lines = "".join(line if not line.startswith(f"{ref},") else f'{ref},{line.split(",")[1]},,,"{cell}",\n'
                    for line in PARTS.splitlines(keepends=True))
    part = unit(base=lines).parts[ref]
    assert part.measured == own and part.measured_sections == sections


def test_a_reading_without_section_is_of_the_power_section(unit):
    """Of an ECL82 the pentode's, of alike halves either one's (as units were read so far)."""
    found = unit(parts='V9,ECL82,,H1,"plate 240 V; triode plate 90 V",\nV10,12AX7,,H1,"plate 120 V; B plate 98 V",\n')
    assert found.parts["V9"].power_section == "pentode"
    assert found.parts["V9"].measured_of("pentode") == {"plate_v": 240} and found.parts["V9"].measured_of("triode") == {"plate_v": 90}
    assert found.parts["V10"].measured_of("A") == {"plate_v": 120} and found.parts["V10"].measured_of("B") == {"plate_v": 98}


# --- European spreadsheets, and readings beside the parts


EUROPEAN = """ref;marking;role;at;measured;note
V1;12AX7;;H1;plate 120,5 V;
C1;"0,1 uF; 400 V";coupling;;;"gemessen; warm"
R1;4,7k 0,5W;cathode;V1;1,25 V;
"""


@pytest.mark.parametrize(("text", "what"), [
    (EUROPEAN, "plain"), ("\ufeff" + EUROPEAN, "byte-order mark"), (EUROPEAN.replace("\n", "\r\n"), "Windows line ends"),
    (EUROPEAN.replace("\n", "\r"), "old line ends"), ("sep=;\n" + EUROPEAN, "its own line about the delimiter"),
    (EUROPEAN.replace("\n", ";;;\n"), "empty columns behind"), (EUROPEAN + ";;;;;\n\n", "empty lines"),
    ('"ref";"marking";"role";"at";"measured";"note"\n' + EUROPEAN.split("\n", 1)[1], "a quoted header"),
])
def test_a_european_spreadsheet_is_read(text, what, make_unit, catalogue):
    folder = make_unit(TOP.replace("\n", "\r\n"), "")
    (folder / "parts.csv").write_bytes(text.encode())
    found = load(folder, catalogue)
    assert found.parts["V1"].measured == {"plate_v": 120.5} and found.parts["R1"].measured == {"volts": 1.25}
    assert found.parts["C1"].note == "gemessen; warm" and found.parts["R1"].reading.ohms == 4700


def test_readings_of_several_days_stand_beside_the_parts(make_unit, catalogue):
    folder = make_unit(TOP + SUPPLY + NODE, PARTS)
    (folder / "readings.csv").write_text(
        "at;reading;value;date;by;condition;mains\nB1;;242,5 V;2026-01-05;J.;full;231 V\nb1;;120 V;5.1.2026;J.;half mains;115\n"
        "B1;;301 V;2026-02-01;;;\nV2 triode;plate;88 V;;;;\nmains;;233 V;;;;\nR2;;270 ohm;;;cold;\n", encoding="utf-8")
    found = load(folder, catalogue).readings
    assert [(r.at, r.section, r.reading, r.value) for r in found] == [
        ("B1", None, "dc_v", 242.5), ("B1", None, "dc_v", 120), ("B1", None, "dc_v", 301), ("V2", "triode", "plate_v", 88),
        ("mains", None, "ac_v", 233), ("R2", None, "ohms", 270)]
    assert [(r.date, r.by, r.condition, r.mains) for r in found[:3]] == [
        ("2026-01-05", "J.", "full", 231), ("2026-01-05", "J.", "half mains", 115), ("2026-02-01", "", "full", None)]
    assert found[5].condition == "cold" and [r.line for r in found] == [2, 3, 4, 5, 6, 7]


def test_every_place_is_read_back_from_how_it_is_written(unit):
    """`str(place)` in an `at` cell gives the place again, alone and beside others; `part_of` finds its part."""
    base = unit(SUPPLY + NODE)
    places = [Place(ref, section) for ref, part in base.parts.items() for section in (None, *part.sections)]
    places += [Place(name) for name in (*base.windings, *base.nodes)]
    assert len(places) > 30
    cells = [[place] for place in places] + [places[i:i + 3] for i in range(0, len(places), 3)]
    lines = "".join(f"X{i},1k,,{' '.join(map(str, cell))},,\n" for i, cell in enumerate(cells))
    found = unit(SUPPLY + NODE, lines)
    assert [found.parts[f"X{i}"].at for i in range(len(cells))] == [tuple(cell) for cell in cells]
    assert all(found.part_of(str(p)).ref == p.ref for p in places if p.ref in found.parts)
    assert found.part_of("V3A") is None and found.part_of("C9") is None and found.part_of("") is None


def test_unit_toml_as_windows_saves_it(make_unit, catalogue):
    folder = make_unit(TOP + SUPPLY + NODE, PARTS)
    plain = load(folder, catalogue)
    path = folder / "unit.toml"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert load(folder, catalogue) == plain
