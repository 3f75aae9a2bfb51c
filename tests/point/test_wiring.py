"""Who hangs on whom: stages as they are written, roles of parts, shared and separate leads."""

import pytest

from pipeline.point.leads import Lead
from pipeline.point.wiring import driven, lead_ohms, read_alone, wire
from pipeline.unit import load

TOML = """name = "Invented"
mains_v = 230
mains_hz = 50
[[supply]]
source = "battery"
volts = 250
[[supply.node]]
id = "B1"
{node}
[[supply.node]]
id = "B2"
from = "B1"
through = "R99"
load_a = 0.001
"""
FILTER = "\nR99,1k,,,,"


@pytest.fixture
def wired(make_unit, catalogue):
    """{(ref, section): wired} of a unit, and the unit."""

    def wired(parts, stage="", node=""):
        text = TOML.format(node=node) + (f"[[stage]]\n{stage}\n" if stage else "")
        unit = load(make_unit(text, parts + FILTER), catalogue)
        return {w.at: w for w in wire(unit)}, unit

    return wired


def test_each_electrode_by_the_roles_of_the_parts(wired):
    found, _ = wired("V1,EL84,,,,\nR1,120,cathode,V1,,\nR2,470k,grid leak,V1,,\nR3,5k,plate load,V1,,\nR4,1k,screen,V1,,",
                     'tubes = ["V1"]\nplate = "B1"\nscreen = "B2"')
    one = found["V1", None]
    assert (one.plate, one.screen, one.cathode, one.grid) == (Lead("B1", "R3"), Lead("B2", "R4"), Lead(None, "R1"), Lead(None, "R2"))
    assert len(one.leads) == 4 and one.section == "whole" and not one.missing


def test_what_the_stage_says_comes_before_the_roles(wired):
    found, _ = wired("V1,EL84,,,,\nR1,120,cathode,V1,,\nR5,150,,,,\nR6,2k,,,,\nR7,3k,,,,\nR8,1M,,,,",
                     'tubes = ["V1"]\nplate = "B1"\nplate_through = "R6"\nscreen_through = "R7"\ncathode_through = "R5"\ngrid_through = "R8"\ngrid = -7.5\nservice = "class A"')
    one = found["V1", None]
    assert [lead.through for lead in one.leads] == ["R6", "R7", "R5", "R8"]
    assert (one.screen.to, one.grid_v, one.service) == ("B1", -7.5, "class a")


@pytest.mark.parametrize(("screen", "lead"), [('screen = "plate"', Lead("B1", "R6")), ("", Lead("B1", None)), ('screen = "B2"', Lead("B2", None))])
def test_the_screens_lead(wired, screen, lead):
    found, _ = wired("V1,EL84,,,,\nR1,120,cathode,V1,,\nR6,2k,,,,", f'tubes = ["V1"]\nplate = "B1"\nplate_through = "R6"\n{screen}')
    assert found["V1", None].screen == lead


def test_a_triode_has_none(wired):
    found, _ = wired("V1,12AX7,,,,\nR1,1.5k,cathode,V1,,", 'tubes = ["V1"]\nplate = "B1"')
    assert set(found) == {("V1", "A"), ("V1", "B")}
    assert all(w.screen is None and len(w.leads) == 3 and w.section == "each" for w in found.values())


def test_halves_share_one_part_or_have_one_each(wired):
    shared, _ = wired("V1,12AX7,,,,\nR1,1.5k,cathode,V1,,", 'tubes = ["V1"]\nplate = "B1"')
    assert {w.cathode.end for w in shared.values()} == {("R1", 0)}
    each, _ = wired("V1,12AX7,,,,\nR1,1.5k,cathode,V1,,\nR2,1.5k,cathode,V1,,", 'tubes = ["V1"]\nplate = "B1"')
    assert [w.cathode.through for w in each.values()] == ["R1", "R2"]
    named, _ = wired("V1,12AX7,,,,\nR1,1.5k,cathode,V1B,,\nR2,1.5k,cathode,V1A,,", 'tubes = ["V1"]\nplate = "B1"')
    assert [w.cathode.through for w in named.values()] == ["R2", "R1"]
    one, _ = wired("V1,12AX7,,,,\nR1,1.5k,cathode,V1B,,", 'tubes = ["V1B"]\nplate = "B1"')
    assert set(one) == {("V1", "B")}


def test_parts_of_two_tubes_one_for_all_or_one_each(wired):
    parts = "V1,EL84,,,,\nV2,EL84,,,,\nR1,100,,,,\nR2,100,,,,"
    one, _ = wired(parts, 'tubes = ["V1", "V2"]\nplate = "B1"\ncathode_through = "R1"')
    assert [w.cathode.through for w in one.values()] == ["R1", "R1"]
    each, _ = wired(parts, 'tubes = ["V1", "V2"]\nplate = "B1"\ncathode_through = ["R1", "R2"]')
    assert [w.cathode.through for w in each.values()] == ["R1", "R2"]


@pytest.mark.parametrize(("tubes", "through", "service", "halves"), [
    ('["V1", "V2"]', "T1", "", [0, 1]), ('["V1", "V2"]', "T1", "parallel", [0, 0]), ('["V1", "V2"]', "T1", "Single ended", [0, 0]),
    ('["V1", "V2"]', "R1", "", [0, 0]), ('["V1", "V2"]', "L1", "", [0, 0]), ('["V1"]', "T1", "", [0]), ('["V1", "V2", "V3", "V4"]', "T1", "", [0, 1, 0, 1])])
def test_ends_of_a_push_pull_winding(wired, tubes, through, service, halves):
    parts = "".join(f"V{n},EL84,,,,\n" for n in (1, 2, 3, 4)) + "T1,200 ohm output transformer,,,,\nR1,1k,,,,\nL1,5 H 100 ohm choke,,,,\nR2,100,,,,"
    found, _ = wired(parts, f'tubes = {tubes}\nplate = "B1"\nplate_through = "{through}"\ncathode_through = "R2"\nservice = "{service}"')
    assert [w.plate.half for w in found.values()] == halves


def test_a_tube_that_only_a_node_names(wired):
    parts = "V1,EL84,,,,\nV2,EL84,,,,\nR1,120,cathode,V1,,"
    found, unit = wired(parts, node='tubes = ["V1", "V2"]')
    assert set(found) == {("V1", None)} and found["V1", None].plate == Lead("B1")
    assert [p.ref for p in driven(unit, list(found.values()))] == ["V2"]
    found, unit = wired(parts, 'tubes = ["V1"]\nplate = "B2"', 'tubes = ["V1"]')
    assert found["V1", None].plate.to == "B2" and driven(unit, list(found.values())) == []


def test_a_tube_nobody_rates_says_so(wired):
    found, _ = wired("V1,6QQ77,,,,", 'tubes = ["V1"]\nplate = "B1"')
    assert "no ratings for V1" in found["V1", None].missing and found["V1", None].mend


@pytest.mark.parametrize(("parts", "told"), [
    ("V1,EL84,,,\"plate 250 V, cathode 7 V\",\nR1,120,cathode,V1,,", ""), ("V1,EL84,,,\"plate 250 V, cathode 7 V\",", "its cathode resistor is not in the list"),
    ("V1,EL84,,,plate 250 V,\nR1,120,cathode,V1,,", None), ("V1,EL84,,,,\nR1,120,cathode,V1,,", None)])
def test_a_tube_of_which_only_readings_are_known(wired, parts, told):
    found, unit = wired(parts)
    alone = read_alone(unit, list(found.values()))
    assert [w.missing[:len(told)] if told else w.missing for w in alone] == ([] if told is None else [told])
    if told == "":
        assert (alone[0].cathode, alone[0].plate) == (Lead(None, "R1"), None)
        assert read_alone(unit, alone) == []


@pytest.mark.parametrize(("marking", "ohms"), [("400 ohm CT output transformer", 200), ("200 ohm output transformer", 200)])
def test_ohms_of_half_a_winding(wired, catalogue, marking, ohms):
    _, unit = wired(f"T1,{marking},,,,")
    assert lead_ohms(Lead("B1", "T1"), unit, catalogue.allowances, halves=True).nominal == ohms
    assert lead_ohms(Lead("B1"), unit, catalogue.allowances) == (0, 0, 0, ())


@pytest.mark.parametrize(("service", "by_grid", "by_avc"), [("grid leak bias", True, False), ("Contact bias", True, False), ("IF amplifier, AVC", False, True), ("class A", False, False)])
def test_service_in_words(wired, service, by_grid, by_avc):
    found, _ = wired("V1,EL84,,,,\nR1,120,cathode,V1,,", f'tubes = ["V1"]\nplate = "B1"\nservice = "{service}"')
    assert (found["V1", None].by_grid_current, found["V1", None].by_avc) == (by_grid, by_avc)
