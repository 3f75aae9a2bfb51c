"""A supply of which no capacitor is listed yet: told as not known, never a fault of the program."""

import pytest

from pipeline.checks.check import check
from pipeline.unit import load

SUPPLIES = {
    "mains": 'rectifier = "V5"\ncircuit = "full-wave"\nsecondary_v = 250\nsecondary_ohm = 180',
    "choke input": 'rectifier = "V5"\ncircuit = "full-wave"\ninput = "choke"\nsecondary_v = 250\nsecondary_ohm = 180',
    "doubler": 'rectifier = "V5"\ncircuit = "doubler"\nsecondary_v = 120\nsecondary_ohm = 30',
    "vibrator": 'source = "vibrator"\nvolts = 250\nhertz = 115\nrectifier = "V5"\nsecondary_ohm = 180'}
HEAD = 'name = "x"\nmains_v = 230\nmains_hz = 50\n[[winding]]\nid = "H1"\nvolts = 6.3\namps = 3\n[[supply]]\n'
NODE = '\n[[supply.node]]\nid = "B1"\nload_a = 0.04\n'


@pytest.mark.parametrize("kind", SUPPLIES)
def test_no_capacitor_at_the_first_node(make_unit, catalogue, kind):
    unit = load(make_unit(HEAD + SUPPLIES[kind] + NODE, "V5,EZ80,,H1,,\n"), catalogue)
    found = [f for f in check(unit, catalogue).findings if f.verdict == "unknown"]
    assert found and any("no capacitor stands at B1" in f.why for f in found)
    assert any(f.do == "Write its reservoir into the list, with B1 as its place." for f in found)


def test_with_it_the_same_supply_is_worked_out(make_unit, catalogue):
    parts = "V5,EZ80,,H1,,\nC1,32 µF 350 V,reservoir,B1,,\n"
    unit = load(make_unit(HEAD + SUPPLIES["mains"] + NODE, parts), catalogue)
    assert not [f for f in check(unit, catalogue).findings if f.verdict == "unknown"]
