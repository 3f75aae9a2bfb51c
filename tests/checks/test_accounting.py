"""No part is passed over: each is in a finding, or told under what is not judged with what would settle it."""

import random
import re

import pytest
from support import ROOT

from pipeline.bench.folders import unit_folders
from pipeline.checks.accounting import parts_of
from pipeline.checks.check import check
from pipeline.checks.findings import Finding
from pipeline.unit import load
from tests.benchmarks.units import generate

MAINS = 'name = "Made up for a test"\nmains_v = 120\nmains_hz = 60\n'
FULL = MAINS + """design_mains_v = 120
[[winding]]
id = "H1"
volts = 6.3
amps = 3
[supply]
rectifier = "D1"
circuit = "half-wave"
secondary_v = 120
secondary_ohm = 30
[[supply.node]]
id = "B1"
capacitors = ["C1"]
load_a = 0.05
"""
RECTIFIED = "D1,1N4007,rectifier,,,\nC1,40 µF 250 V,reservoir,B1,,\n"
DRAWN = ("12AX7", "6V6GT", "EL84", "6QQ77", "5Y3GT", "?", "470k 1W", "1k", "0.05 400V", "20 µF 450 V", "4n7 Y2", "5 H 200 ohm choke",
         "1 A fuse", "#47", "power transformer", "speaker 8 ohm", "1N4007", "0A2", "500k pot", "switch", "cord", "motor", "6.3 V lamp")
ROLES = ("", "", "coupling", "reservoir", "smoothing", "cathode", "grid leak", "plate load", "line to chassis", "cathode bypass", "bleeder", "lamp")
PLACES = ("", "", "H1", "B1", "V1", "V2", "V1 V2")
READINGS = ("", "", "20 V", "1 kohm", "cathode 10 V")


def accounted(checked):
    """Refs that a finding covers or names in its subject, told without the program's own reading of it."""
    refs = set()
    for found in checked.findings:
        refs |= set(found.covers)
        words = re.findall(r"\w+", found.subject)
        refs |= {ref for ref in checked.unit.parts for word in words if word == ref or re.fullmatch(re.escape(ref) + "[A-H]", word)}
    return refs


def hold(checked):
    told = [n.ref for n in checked.not_judged]
    assert accounted(checked) | set(told) >= set(checked.unit.parts)
    order = list(checked.unit.parts)
    assert told == sorted(told, key=order.index)
    for one in checked.not_judged:
        assert one.why and one.do and one.marking == checked.unit.parts[one.ref].marking
        by_kind = "only its kind is judged" in one.why and {f.check for f in checked.findings if one.ref in f.covers or
                                                           re.search(rf"\b{re.escape(one.ref)}\b", f.subject)} == {"capacitor-kind"}
        assert checked.unit.parts[one.ref].kind == "tube" or by_kind or one.ref not in accounted(checked), one


@pytest.mark.parametrize("name", sorted(p.name for p in (ROOT / "data_raw/units").iterdir()))
def test_every_part_of_the_demo_units(name, catalogue):
    hold(check(load(ROOT / "data_raw/units" / name, catalogue), catalogue))


def test_every_part_of_generated_units(tmp_path, catalogue):
    generate(tmp_path, 4, seed=3)
    for folder in unit_folders(tmp_path):
        hold(check(load(folder, catalogue), catalogue))


@pytest.mark.parametrize("seed", range(12))
def test_every_part_of_a_random_list(make_unit, catalogue, seed):
    """Whatever markings, roles, places and readings come together, as far as they can be read at all."""
    rng = random.Random(seed)
    lines = ["V1,6V6GT,,H1,,", "V2,12AX7,,H1,,"]
    for number in range(3, 15):
        at = rng.choice(PLACES if seed % 2 else PLACES[:-1])
        lines.append(f"X{number},{rng.choice(DRAWN)},,{at},{rng.choice(READINGS[:3])}," if rng.random() < 0.5 else
                     f"R{number},{rng.choice(('1k 1W', '470k', '100 ohm'))},{rng.choice(('', 'cathode', 'grid leak', 'bleeder'))},{at},{rng.choice(READINGS[:4])},")
    for number in range(15, 19):
        lines.append(f"C{number},{rng.choice(('0.05 400V', '20 µF 450 V', '4n7 Y2', '0.1'))},{rng.choice(ROLES[2:5])},{rng.choice(PLACES)},,")
    hold(check(load(make_unit(FULL, RECTIFIED + "\n".join(lines)), catalogue), catalogue))


@pytest.mark.parametrize(("part", "why"), [
    ("R9,1k,,,,", "its role is not given"), ("R9,1k,grid leak,,,", "what flows through it is not known"), ("R9,1k,cathode,V1,,", "what flows"),
    ("C9,0.1 400V,,,,", "its role is not given"), ("PL1,#47,lamp,,,", "no winding, string or tube feeds it"), ("F1,1 A fuse,,,,", "what the set draws"),
    ("L1,5 H 200 ohm choke,,,,", "no supply names it"), ("D9,1N4007,,,,", "no supply names it"), ("T1,power transformer,,,,", "no sum looks at a transformer"),
    ("LS1,speaker 8 ohm,,,,", "no sum looks at a speaker"), ("SW1,switch,,,,", "no sum looks at a switch")])
def test_why_a_part_is_not_judged(make_unit, catalogue, part, why):
    found = check(load(make_unit(MAINS, part + "\nV1,6V6GT,,,,"), catalogue), catalogue).not_judged
    mine = [n for n in found if n.ref == part.partition(",")[0]]
    assert len(mine) == 1 and mine[0].why.startswith(why), found


@pytest.mark.parametrize(("drawn", "marking", "why"), [
    ("load_a = 0.02", "8 H 200 ohm choke", "the amps it may carry are not marked"),
    ('tubes = ["V1"]', "8 H 200 ohm 60 mA choke", "what flows through it is not known"),
    ("load_a = 0.02", "8 H 200 ohm 60 mA choke", None)])
def test_a_choke_that_a_supply_names(make_unit, catalogue, drawn, marking, why):
    toml = FULL + f'[[supply.node]]\nid = "B2"\nfrom = "B1"\nthrough = "L1"\n{drawn}\n'
    unit = load(make_unit(toml, RECTIFIED + f"L1,{marking},,,,\nV1,6QQ77,,H1,,\nF1,1 A fuse,,,,"), catalogue)
    mine = [n.why for n in check(unit, catalogue).not_judged if n.ref == "L1"]
    assert mine == ([why] if why else [])


@pytest.mark.parametrize(("service", "marking", "why", "do"), [
    ("", "470k", "no current to speak of flows through it to V1's grid, and the most ohms", "a fifth above 470 kohm"),
    ("grid leak", "10M", "it carries only the current by which V1 biases itself, microamperes", "a fifth above 10 Mohm")])
def test_what_can_be_said_of_a_grid_resistor(make_unit, catalogue, service, marking, why, do):
    toml = 'name = "Invented"\n[[supply]]\nsource = "battery"\nvolts = 90\n[[supply.node]]\nid = "B1"\n' \
           f'[[stage]]\ntubes = ["V1"]\nplate = "B1"\ngrid_through = "R5"\nservice = "{service}"\n'
    found = check(load(make_unit(toml, f"V1,6C4,,,,\nR5,{marking},,,,\nR6,1k 1W,cathode,V1,,"), catalogue), catalogue)
    mine = [n for n in found.not_judged if n.ref == "R5"]
    assert len(mine) == 1 and mine[0].why.startswith(why) and do in mine[0].do, mine


@pytest.mark.parametrize(("parts", "toml", "whys"), [
    ("V1,6V6GT,,,,", MAINS, ["no winding or string feeds its heater", "its stage is not described"]),
    ("V1,6V6GT,,H1,,\n" + RECTIFIED, FULL, ["its stage is not described"]), ("V1,6QQ77,,H1,,\n" + RECTIFIED, FULL, []),
    ("V1,6V6GT,,H1,,\nR1,240 2W,cathode,V1,,\n" + RECTIFIED, FULL + '[[stage]]\ntubes = ["V1"]\nplate = "B1"\n', []),
    ("V1,0A2,,,,\n", MAINS, ["its stage is not described"]), ("V1,0A2,,,,\nR1,4.7k 2W,,,,\n" + RECTIFIED, FULL + '[[supply.node]]\nid = "B2"\nfrom = "B1"\nthrough = "R1"\nload_a = 0.001\nregulator = ["V1"]\n', [])])
def test_what_is_not_known_of_a_tube(make_unit, catalogue, parts, toml, whys):
    found = [n.why for n in check(load(make_unit(toml, parts), catalogue), catalogue).not_judged if n.ref == "V1"]
    assert len(found) == len(whys) and all(a.startswith(b) for a, b in zip(found, whys, strict=True)), found


@pytest.mark.parametrize(("subject", "covers", "refs"), [
    ("C1", (), {"C1"}), ("C1A", (), {"C1"}), ("C1 and C2B", (), {"C1", "C2"}), ("C1A+C2", (), {"C1", "C2"}), ("V1 pentode", (), {"V1"}), ("H1", ("V1", "V9"), {"V1"}),
    ("C1Z", (), set()), ("C10", (), set()), ("C3 A", (), {"C3 A"})])
def test_whom_a_finding_speaks_of(subject, covers, refs):
    class Unit:
        parts = dict.fromkeys(("C1", "C2", "V1", "C3 A"))

    assert set(parts_of(Finding("c", subject, "pass", None, None, None, "", covers=covers), Unit)) == refs


@pytest.mark.parametrize(("line", "do"), [
    ("C9,.05 µF 400 V,coupling,,,", "Write the node or tube it hangs at in its `at` column."),
    ("C9,.05 µF 400 V,coupling,V1,,", "Describe the stage of V1, or measure that tube's volts."),
    ("C9,100 pF,rf,,,", "Write the node or tube it hangs at in its `at` column."),
    ("C9,.05 µF 400 V,coupling,B1,,", None),
    ("C9,4n7 Y2,line to chassis,,,", None),
    ("C9,0.1 µF 275 V~ X2,line to line,,,", None),
    ("C9,10 µF 25 V,coupling,V1,,", None)])
def test_a_capacitor_judged_by_its_kind_alone_is_told(make_unit, catalogue, line, do):
    """The right kind says nothing of the volts: that is told, unless a finding is about them or it goes anyway."""
    checked = check(load(make_unit(FULL, RECTIFIED + "V1,6V6GT,,H1,,\n" + line), catalogue), catalogue)
    told = [n for n in checked.not_judged if n.ref == "C9"]
    assert [(n.why, n.do) for n in told] == ([] if do is None else [
        ("only its kind is judged: the volts on it are not known", do)])
