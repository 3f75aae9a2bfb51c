"""Every rule of a unit's files: one bad fixture each, and the exact list of what is told about it.

The base unit is sound; each case changes one thing of it, and all its faults come in one run, without echoes.
"""

import os
import time

import pytest

from pipeline.unit import UnitError, load

TOP = """name = "Made up"
mains_v = 121
mains_hz = 60
design_mains_v = 117
"""
HEAT = """
[[winding]]
id = "H1"
volts = 6.3
amps = 4
"""
SUPPLY = """
[supply]
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
SECOND = """
[[supply.node]]
id = "B2"
from = "B1"
through = "R1"
capacitors = ["C2A", "C3+C4"]
load_a = 0.01
"""
STAGE = """
[[stage]]
tubes = ["V3"]
plate = "B1"
screen = "B2"
cathode_through = "R2"
"""
BASE = TOP + HEAT + SUPPLY + NODE + SECOND + STAGE
PARTS = """V1,12AX7,,H1,,
V2,ECL82,,H1,,
V3,6AQ5,,H1,,
V5,5Y3GT,,,,
C1,16 uF 450 V,,,,
C2,20-20 uF 450 V,,,,
C3,50 uF 300 V,,,,
C4,50 uF 300 V,,,,
R1,1k 5W,,,,
R2,270 1W,cathode,V3,,
"""


def told(folder, catalogue) -> list[str]:
    """The messages about a unit, without its folder; none where it is sound."""
    try:
        load(folder, catalogue)
    except UnitError as error:
        assert all(message.isprintable() for message in error.messages)
        return [message.removeprefix(f"{folder}/") for message in error.messages]
    return []


def test_the_base_is_sound(make_unit, catalogue):
    assert told(make_unit(BASE, PARTS), catalogue) == []


WAYS = {
    # --- the top
    "heater volts for mains": ("mains_v = 121", "mains_v = 6.3", [
        "2: mains_v: 6.3 cannot be right: this is the outlet, expected 80 to 480; a heater's volts stand in a [[winding]], a battery's in a [supply] with source = \"battery\"",
    ]),
    "mains not a number": ("mains_v = 121", "mains_v = nan", [
        "2: mains_v: 'nan' is no number: give a number between 80 and 480",
    ]),
    "mains with its unit": ("mains_v = 121", 'mains_v = "121 V"', [
        "2: mains_v: '121 V' is text: write a plain number without quotation marks or unit",
    ]),
    "no hertz": ("mains_hz = 60\n", "", [
        "1: mains_hz: is missing: give a number between 15 and 500",
    ]),
    "high mains below": ("mains_hz = 60", "mains_hz = 60\nmains_high_v = 110", [
        "4: mains_high_v: is below mains_v: it is the most the outlet ever gives",
    ]),
    "low mains above": ("mains_hz = 60", "mains_hz = 60\nmains_low_v = 130", [
        "4: mains_low_v: is above mains_v: it is the least the outlet ever gives",
    ]),
    "long name": ("Made up", "M" * 300, [
        "1: name: 'MMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMMM' is no short text: write at most 200 letters that print",
    ]),
    "slip in a key": ("mains_hz", "mains_herz", [
        "3: mains_herz: is no key here: did you mean mains_hz?",
    ]),
    "decimal comma": ("mains_v = 121", "mains_v = 121,5", [
        "2: not valid TOML: expected newline or end of document after a statement: write a decimal point, 121.5",
    ]),
    "curled quotes": ('name = "Made up"', "name = “Made up”", [
        "1: not valid TOML: invalid value: write straight quotation marks",
    ]),
    # --- windings and strings
    "slip in a winding's table": ("[[winding]]", "[[windng]]", [
        "6: windng: is no key here: did you mean winding?",
    ]),
    "winding without id": ('id = "H1"\n', "", [
        '6: winding.id: is missing: write id = "..."',
    ]),
    "winding's milliamperes": ("amps = 4", "amps = 4000", [
        "9: winding.amps: 4000 cannot be right: amperes are asked for: did you mean 4 (4000 mA)?",
    ]),
    "winding named as a part": (HEAT, HEAT + HEAT.replace("H1", "V2"), [
        "12: winding.id: V2 is already a part: give each winding its own id, which no other place has",
    ]),
    "winding twice in another case": (HEAT, HEAT + HEAT.replace("H1", "h1"), [
        "12: winding.id: h1 is already a winding as H1: give each winding its own id, which no other place has",
    ]),
    "string in milliamperes": (HEAT, HEAT + '[[string]]\nid = "S1"\namps = 150\norder = ["V1"]\n', [
        "12: string.amps: 150 cannot be right: amperes are asked for: did you mean 0.15 (150 mA)?",
    ]),
    "string without amperes": (HEAT, HEAT + '[[string]]\nid = "S1"\n', [
        "10: string.amps: is missing: give the string's amperes, such as 0.15",
    ]),
    "heater twice in a string": (HEAT, HEAT + '[[string]]\nid = "S1"\namps = 0.15\norder = ["V1", "V2", "V1"]\n', [
        "13: string.order: V1 stands twice: name each heater once, from the line side on",
    ]),
    # --- supplies
    "no rectifier": ('rectifier = "V5"\n', "", [
        "11: supply.rectifier: is missing: name the rectifier's ref, as rectifier = \"V5\"",
    ]),
    "unknown rectifier": ('rectifier = "V5"', 'rectifier = "V55"', [
        "12: supply.rectifier: no part 'V55' in parts.csv: did you mean V5?",
    ]),
    "rectifier that is none": ('rectifier = "V5"', 'rectifier = "R1"', [
        "12: supply.rectifier: R1 (1k 5W) is a resistor: name a tube or diode",
    ]),
    "unknown circuit": ("full-wave", "fullwave3", [
        "13: supply.circuit: 'fullwave3' is not known: one of half-wave, full-wave, bridge, doubler, half-wave doubler",
    ]),
    "volts for secondary_v": ("secondary_v = 300", "volts = 300", [
        "14: supply.volts: does not go with a supply from the mains: write secondary_v",
    ]),
    "winding's milliamperes in the supply": ("secondary_ohm = 95", "secondary_a = 120", [
        "15: supply.secondary_a: 120 cannot be right: amperes are asked for: did you mean 0.12 (120 mA)?",
    ]),
    "two supplies of one id": (STAGE, SUPPLY.replace("[supply]", "[[supply]]"), [
        "29: not valid TOML: cannot overwrite a value: it stands twice: where there are several, write each as [[supply]]",
    ]),
    "battery with a rectifier": (SUPPLY, '[supply]\nsource = "battery"\nvolts = 90\nrectifier = "V5"\n', [
        "13: supply.rectifier: does not go with the source battery: take it out",
    ]),
    "battery without volts": (SUPPLY, '\n[supply]\nsource = "battery"\n', [
        "11: supply.volts: is missing: give a number between 0.5 and 1000",
    ]),
    "battery flat above fresh": (SUPPLY, '\n[supply]\nsource = "battery"\nvolts = 90\nhigh_v = 80\nlow_v = 95\n', [
        "14: supply.high_v: is below volts: it is what fresh cells or a charged battery give",
        "15: supply.low_v: is above volts: it is what flat cells give",
    ]),
    "vibrator with secondary_v": (SUPPLY, '\n[supply]\nsource = "vibrator"\nsecondary_v = 250\nhertz = 115\n', [
        "13: supply.secondary_v: does not go with the source vibrator: write the square wave's volts of each half as volts",
    ]),
    "vibrator without hertz": (SUPPLY, '\n[supply]\nsource = "vibrator"\nvolts = 250\n', [
        "11: supply.hertz: is missing: give a number between 15 and 1000",
    ]),
    "node as the source, unnamed": ("[supply]", '[supply]\nsource = "node"', [
        "11: supply.from: is missing: say which node of another supply it is taken from",
        "15: supply.secondary_v: does not go with the source node: take it out",
    ]),
    "battery taken from a node": (SUPPLY, '\n[supply]\nsource = "battery"\nvolts = 90\nfrom = "B2"\n', [
        "14: supply.from: does not go with the source battery: leave one of the two out",
    ]),
    "supply fed by itself": (SUPPLY, '\n[supply]\nfrom = "B2"\n', [
        "12: supply.from: B2 hangs on this very supply: name a node that something else feeds",
    ]),
    "heats nothing known": ("secondary_ohm = 95", 'heats = "H9"', [
        "15: supply.heats: no winding or string 'H9': did you mean H1?",
    ]),
    # --- nodes
    "milliamperes": ("load_a = 0.04", "load_a = 42", [
        "20: supply.node.load_a: 42 cannot be right: amperes are asked for: did you mean 0.042 (42 mA)?",
    ]),
    "node from nowhere": ('from = "B1"', 'from = "B9"', [
        "24: supply.node.from: B9 is no node above this one: list the nodes from the rectifier on",
    ]),
    "node from itself": ('from = "B1"', 'from = "B2"', [
        "24: supply.node.from: B2 is no node above this one: list the nodes from the rectifier on",
    ]),
    "node without from": ('from = "B1"\n', "", [
        '22: supply.node.from: is missing: say which node feeds it, as from = "B1"',
    ]),
    "node twice": ('id = "B2"', 'id = "B1"', [
        "23: supply.node.id: B1 stands twice: give each node its own id, which no other place has",
    ]),
    "section the can does not have": ("C2A", "C2D", [
        "26: supply.node.capacitors: C2 (20-20 uF 450 V) has no section 'D': write C2A or C2B",
    ]),
    "section of a resistor": ("C2A", "R2A", [
        "26: supply.node.capacitors: R2 (270 1W) has no sections, so there is no 'A' of it: write R2",
    ]),
    "capacitor at two nodes": ('"C2A", ', '"C1", ', [
        "26: supply.node.capacitors: C1 stands at B1 already: name each capacitor, or section of one, once",
    ]),
    "capacitor that is none": ('"C2A", ', '"R2", ', [
        "26: supply.node.capacitors: R2 (270 1W) is a resistor: name a capacitor",
    ]),
    "whole can in a chain": ("C3+C4", "C3+C2", [
        "26: supply.node.capacitors: C2 in a series chain has 2 sections: say which, as C2A",
    ]),
    "unknown link of a chain": ("C3+C4", "C3+C9", [
        "26: supply.node.capacitors: no part 'C9' in parts.csv: did you mean C4?",
    ]),
    "unknown regulator": ("load_a = 0.01", 'load_a = 0.01\nregulator = "V3+V9"', [
        "28: supply.node.regulator: no part 'V9' in parts.csv: did you mean V5?",
        "28: supply.node.regulator: V3 (6AQ5) is no regulator tube: name the one that holds the node's volts, such as an 0A2 or 85A2",
    ]),
    "a resistor that regulates": ("load_a = 0.01", 'load_a = 0.01\nregulator = "R1"', [
        "28: supply.node.regulator: R1 (1k 5W) is a resistor: name a tube or diode or lamp",
    ]),
    "unknown switch": ("load_a = 0.01", 'load_a = 0.01\nstandby = "S1"', [
        "28: supply.node.standby: no part 'S1' in parts.csv: did you mean V1?",
    ]),
    "capacitors as a number": ('["C1"]', "5", [
        '19: supply.node.capacitors: must be a list of refs: write capacitors = ["C1", "C2"]',
    ]),
    # --- stages
    "stage without tubes": ('tubes = ["V3"]\n', "", [
        '29: stage.tubes: is missing: name its tubes, as tubes = ["V3"]',
    ]),
    "stage without plate": ('plate = "B1"\n', "", [
        '29: stage.plate: is missing: name the node that feeds the plate, as plate = "B1"',
    ]),
    "stage of a resistor": ('tubes = ["V3"]', 'tubes = ["R1"]', [
        "30: stage.tubes: R1 (1k 5W) is a resistor: name a tube",
    ]),
    "section by a wrong name": ('tubes = ["V3"]', 'tubes = ["V2 pentod"]', [
        "30: stage.tubes: V2 (ECL82) has no section 'pentod': write V2 pentode or V2 triode",
    ]),
    "letter of unlike sections": ('tubes = ["V3"]', 'tubes = ["V2A"]', [
        "30: stage.tubes: V2 (ECL82) has no section 'A': write V2 pentode or V2 triode",
    ]),
    "half that is not there": ('tubes = ["V3"]', 'tubes = ["V1C"]', [
        "30: stage.tubes: V1 (12AX7) has no section 'C': write V1A or V1B",
    ]),
    "half of a single tube": ('tubes = ["V3"]', 'tubes = ["V3A"]', [
        "30: stage.tubes: V3 (6AQ5) has no sections, so there is no 'A' of it: write V3",
    ]),
    "tube in two stages": (STAGE, STAGE + STAGE, [
        "36: stage.tubes: V3 has its stage already on line 29: name each tube, or each of its sections, once",
    ]),
    "half of a tube that has its stage": (STAGE, STAGE.replace("V3", "V1") + STAGE.replace("V3", "V1B"), [
        "36: stage.tubes: V1B has its stage already on line 29: name each tube, or each of its sections, once",
    ]),
    "whole tube of which a half has its stage": (STAGE, STAGE.replace("V3", "V1B") + STAGE.replace("V3", "V1"), [
        "36: stage.tubes: V1 has its stage already on line 29: name each tube, or each of its sections, once",
    ]),
    "plate fed by a winding": ('plate = "B1"', 'plate = "H1"', [
        "31: stage.plate: no node 'H1': did you mean B1?",
    ]),
    "screen tap without sense": ('screen = "B2"', 'screen = "plate 430 %"', [
        "32: stage.screen: no node 'plate 430 %': name the node that feeds it, \"plate\", or a tap as \"plate 43 %\"",
    ]),
    "grid volts as text": ('screen = "B2"', 'grid = "-38 V"', [
        "32: stage.grid: '-38 V' is text: write volts without quotation marks, as grid = -38",
    ]),
    "grid volts absurd": ('screen = "B2"', "grid = -3800", [
        "32: stage.grid: -3800 cannot be right: expected -500 to 500",
    ]),
    "grid from an unknown plate": ('screen = "B2"', 'grid = "V9 plate"', [
        "32: stage.grid: no part 'V9' in parts.csv: did you mean V5?",
    ]),
    "grid on its own plate": (STAGE, STAGE + 'grid = "V3 plate"\n', [
        "34: stage.grid: hangs on V3 plate, its own tube's: name the plate of the tube before it; a capacitor between them joins no volts",
    ]),
    "two halves in a ring": (STAGE, STAGE + "".join(f'[[stage]]\ntubes = ["V1{a}"]\nplate = "B1"\ngrid = "V1{b} plate"\n' for a, b in ("AB", "BA")), [
        "37: stage.grid: hangs in a ring: the plates of V1A and V1B feed each other's grids: name the plate of the tube before it; a capacitor between them joins no volts",
    ]),
    "grid on the plate of one of two halves": (STAGE, STAGE + 'grid = "V1 plate"\n', [
        '34: stage.grid: V1 has 2 sections: write "V1A plate" or "V1B plate"',
    ]),
    "grid on the plate of a resistor": (STAGE, STAGE + 'grid = "R1 plate"\n', [
        "34: stage.grid: R1 (1k 5W) is a resistor: name a tube",
    ]),
    "parts that are no pair": ('cathode_through = "R2"', 'cathode_through = ["R1", "R2"]', [
        "33: stage.cathode_through: lists 2 parts for 1 tube: name one that they share, or one for each",
    ]),
    "cathode to an unknown node": ('cathode_through = "R2"', 'cathode_to = "C-"', [
        "33: stage.cathode_to: no node 'C-': known: B1, B2",
    ]),
    "signal current in milliamperes": ('screen = "B2"', "signal_a = 80", [
        "32: stage.signal_a: 80 cannot be right: amperes are asked for: did you mean 0.08 (80 mA)?",
    ]),
}
"""What is changed, into what, and what is told: line and message."""


@pytest.mark.parametrize("case", WAYS)
def test_each_rule_of_unit_toml(case, make_unit, catalogue):
    old, new, messages = WAYS[case]
    assert old in BASE
    assert told(make_unit(BASE.replace(old, new, 1), PARTS), catalogue) == [f"unit.toml:{m}" for m in messages]


PART_WAYS = {
    "no ref": ("V1,12AX7,,H1,,", ",12AX7,,H1,,", ["2: ref: empty: every part needs a ref such as V1 or C3"]),
    "ref too long": ("V1,12AX7", "V" * 21 + ",12AX7", [
        f"2: ref: '{'V' * 20}': too long or unprintable: use one such as V1 or C3"]),
    "ref that does not print": ("V1,12AX7", "V\u200b1,12AX7", [
        "2: ref: 'V\\\\u200b1': too long or unprintable: use one such as V1 or C3"]),
    "ref twice": ("V2,ECL82", "V1,12AU7", [
        "3: ref: V1 stands already on line 2: give each part its own ref"]),
    "ref twice in another case": ("C1,16 uF 450 V,,,,", "C1,16 uF 450 V,,,,\nc1,8 uF 450 V,,,,", [
        "7: ref: c1 stands already on line 6 as C1: give each part its own ref"]),
    "ref twice in look-alike letters": ("C1,16 uF 450 V,,,,", "C1,16 uF 450 V,,,,\n\u04211,8 uF 450 V,,,,", [
        "7: ref: C1 stands already on line 6: give each part its own ref"]),
    "ref twice in small look-alike letters": ("C1,16 uF 450 V,,,,", "C1,16 uF 450 V,,,,\n\u04411,8 uF 450 V,,,,", [
        "7: ref: \u04411 stands already on line 6 as C1: give each part its own ref"]),
    "no marking": ("R1,1k 5W", "R1,", ["10: marking: empty for R1: type what is printed on the part, or ?"]),
    "unknown role": ("1W,cathode", "1W,brake", ["11: role: unknown role 'brake'; nearest: erase head, drive, speaker"]),
    "unknown place": ("V1,12AX7,,H1", "V1,12AX7,,H7", [
        "2: at: 'H7' is no winding, string, node or part: did you mean H1?"]),
    "two unknown places among known ones": ("R2,270 1W,cathode,V3", "R2,270 1W,cathode,V3 H8;B9 V1A", [
        "11: at: 'H8' is no winding, string, node or part: did you mean H1?",
        "11: at: 'B9' is no winding, string, node or part: did you mean B2?"]),
    "slip in a section": ("R2,270 1W,cathode,V3", "R2,270 1W,cathode,V2 pentod", [
        "11: at: V2 (ECL82) has no section 'pentod': write V2 pentode or V2 triode"]),
    "section of another tube": ("R2,270 1W,cathode,V3", "R2,270 1W,cathode,V1 pentode", [
        "11: at: V1 (12AX7) has no section 'pentode': write V1A or V1B"]),
    "reading without unit": ("V3,6AQ5,,H1,,", "V3,6AQ5,,H1,plate 248,", [
        "4: measured: 'plate 248': no unit: write for example 'plate 248 V'"]),
    "reading of a section that is not there": ("V2,ECL82,,H1,,", "V2,ECL82,,H1,heptode plate 99 V,", [
        "3: measured: 'heptode plate 99 V': V2 has no section heptode: its sections are pentode and triode"]),
    "too many cells": ("R1,1k 5W,,,,", "R1,1k 5W,,,,,0,38", [
        "10: 8 cells under 6 columns: put quotation marks round a cell that holds a comma, such as 0,38"]),
    "quotation mark left open": ("R1,1k 5W", 'R1,"1k 5W', [
        "10: not CSV: a quotation mark is opened and never closed: mend its quotation marks"]),
}


@pytest.mark.parametrize("case", PART_WAYS)
def test_each_rule_of_the_parts_list(case, make_unit, catalogue):
    old, new, messages = PART_WAYS[case]
    assert old in PARTS
    assert told(make_unit(BASE, PARTS.replace(old, new, 1)), catalogue) == [f"parts.csv:{m}" for m in messages]


def test_the_kind_column(make_unit, catalogue):
    header = "ref,marking,kind"
    assert told(make_unit(TOP, "X1,30 cm,belts\nX2,470k,pot\n", header), catalogue) == []
    (message,) = told(make_unit(TOP, "X1,30 cm,belts\nX2,470k,qqqqq\n", header), catalogue)
    assert message.startswith("parts.csv:3: kind: ")


HEADERS = {
    "ref,marking,rolle,at,measured,note": ["1: unknown column 'rolle': did you mean role?"],
    "ref,marking,role,at,role,note": ["1: the column role stands twice: keep one"],
    "ref,markings,role,at,measured,note": [
        "1: the column marking is missing: the header is ref,marking,role,at,measured,note,kind",
        "1: unknown column 'markings': did you mean marking?"],
}


@pytest.mark.parametrize("header", HEADERS)
def test_each_rule_of_the_header(header, make_unit, catalogue):
    assert told(make_unit(BASE, PARTS, header), catalogue) == [f"parts.csv:{m}" for m in HEADERS[header]]


def test_too_many_tables(make_unit, catalogue):
    """More nodes, supplies, stages, windings than any set has are refused at the first that is too many."""
    nodes = "".join(f'[[supply.node]]\nid = "N{i}"\nfrom = "B1"\nload_a = 0.001\n' for i in range(200))
    assert told(make_unit(TOP + HEAT + SUPPLY + NODE + nodes, PARTS), catalogue) == [
        "unit.toml:178: supply.node.id: more than 40 nodes: is this one unit's file?"]
    windings = "".join(f'[[winding]]\nid = "W{i}"\nvolts = 6.3\n' for i in range(60))
    assert told(make_unit(TOP + HEAT + windings, PARTS), catalogue) == [
        "unit.toml:128: winding.id: more than 40 windings: is this one unit's file?"]


def test_all_faults_of_all_files_in_one_run(make_unit, catalogue):
    """Three files, each with its own faults, in their order; what the broken parts list would have said is not echoed."""
    folder = make_unit(BASE.replace("121", "12100").replace("load_a = 0.04", "load_a = 40"),
                       PARTS.replace("V3,6AQ5", ",6AQ5").replace("1k 5W", ""))
    (folder / "readings.csv").write_text("at,reading,value\nB1,colour,3\nB1,,\n", encoding="utf-8")
    assert told(folder, catalogue) == [
        "unit.toml:2: mains_v: 12100 cannot be right: expected 80 to 480",
        "unit.toml:20: supply.node.load_a: 40 cannot be right: amperes are asked for: did you mean 0.04 (40 mA)?",
        "parts.csv:4: ref: empty: every part needs a ref such as V1 or C3",
        "parts.csv:10: marking: empty for R1: type what is printed on the part, or ?",
        "readings.csv:2: reading: 'colour' is not known: known are dc_v, ac_v, ripple_v, cathode_v, plate_v, screen_v, "
        "grid_v, heater_v, volts, ohms, uf, leakage_a, esr_ohm, dc_a, ac_a, ohms_to_chassis",
        "readings.csv:3: value: empty: write the reading, such as 412 V",
    ]


def test_at_most_fifty_are_told(make_unit, catalogue):
    parts = "\n".join(f"R{i},1k,,Z{i},," for i in range(60))
    with pytest.raises(UnitError) as error:
        load(make_unit(TOP, parts), catalogue)
    lines = str(error.value).split("\n")
    assert len(lines) == 51 and lines[-1] == "and 10 more faults" and len(error.value.messages) == 60
    assert error.value.in_short == error.value.messages[0] + " (and 59 more faults)"


@pytest.mark.long
def test_large_and_odd_files_take_no_time(make_unit, catalogue):
    """Thousands of unknown names, cells of a hundred thousand letters, and what is no file at all: told within seconds."""
    many = "".join(f"R{i},1k,,Z{i} Y{i},,\n" for i in range(6000))
    folder = make_unit(BASE.replace('tubes = ["V3"]', "tubes = " + str(["Q1"] * 5000).replace("'", '"')), PARTS + many
                       + f"R7000,1k,,{'a ' * 50_000},,\nR7001,1k,,{'a' * 100_000},,\n")
    begin = time.process_time()
    found = told(folder, catalogue)
    assert time.process_time() - begin < 10 and len(found) > 10_000
    assert found[-1] == "parts.csv:6013: at: longer than 400 letters: name only the places where it hangs"
    (folder / "readings.csv").mkdir()
    (folder / "parts.csv").unlink()
    os.mkfifo(folder / "parts.csv")
    assert told(folder, catalogue)[-2:] == ["parts.csv:1: is no file: put a text file in its place",
                                           "readings.csv:1: is no file: put a text file in its place"]


@pytest.mark.parametrize(("missing", "message"), [
    ("unit.toml", "unit.toml:1: no such file: a unit is a folder with unit.toml and parts.csv"),
    ("parts.csv", "parts.csv:1: no such file: a unit is a folder with unit.toml and parts.csv"),
])
def test_a_missing_file_is_the_only_fault(missing, message, make_unit, catalogue):
    folder = make_unit(BASE, PARTS)
    (folder / missing).unlink()
    assert told(folder, catalogue) == [message]
