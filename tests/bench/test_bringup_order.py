"""The order of a bring-up: bias before output tubes, a load before power, standby, batteries; what when it is not so."""

import json
from pathlib import Path

import pytest
from bench_units import LINE, WINDING, checked_unit

from pipeline.bench.bringup import BIAS_FIRST, LAMP, NEITHER, VARIABLE, bring_up
from pipeline.bench.powered import side_of
from pipeline.checks.check import check
from pipeline.output.bench import print_bringup
from pipeline.unit import load

ROOT = Path(__file__).resolve().parents[2]
BIASED = WINDING + """
[[supply]]
rectifier = "V6"
circuit = "full-wave"
secondary_v = 240
secondary_ohm = 90
[[supply.node]]
id = "B1"
standby = "S2"
[[supply]]
id = "bias"
polarity = "negative"
rectifier = "D1"
circuit = "half-wave"
secondary_v = 12
secondary_ohm = 50
[[supply.node]]
id = "C-"
load_ohm = 22000
[[stage]]
tubes = ["V3", "V4"]
plate = "B1"
screen = "B1"
grid = "C-"
"""
PARTS = """V3,EL84,,H1,,
V4,EL84,,H1,,
V6,EZ81,rectifier,H1,,
D1,1N4007,rectifier,,,
S2,standby switch,standby,,,
C1,50 uF 450 V,reservoir,B1,,
C4,50 uF 63 V,bias filter,C-,,
"""
WAYS = [LAMP, VARIABLE, NEITHER]


@pytest.fixture
def checked(make_unit, catalogue):
    return checked_unit(make_unit, catalogue, BIASED, PARTS)


def titles(made):
    return [step.title for step in made.steps]


@pytest.mark.parametrize("way", WAYS)
def test_bias_is_proved_before_the_output_tubes_go_in(checked, catalogue, way):
    made = bring_up(checked, catalogue, way)
    assert titles(made).index(BIAS_FIRST) == 2, "after discharging, before anything else under power"
    step = made.steps[2]
    assert step.do[0].startswith("Take V3, V4 out, and the rectifier V6")
    assert any("V3 pin 2" in x for x in step.do), "EL84: control grid on pin 2 (Philips, 3.3.1955)"
    rows = {(x.at, x.reading): x for x in step.expect}
    grid, node = rows["V3", "grid_v"], rows["C-", "dc_v"]
    assert grid.low < grid.value < grid.high < 0 and node.high < 0 and not grid.beside
    assert "stay out" in step.stop[0] and "Without bias V3 burns" in step.stop[0]


def test_silicon_leaves_b_plus_on_and_says_so(make_unit, catalogue):
    made = bring_up(checked_unit(make_unit, catalogue, BIASED, PARTS.replace("V6,EZ81", "V6,1N4007")), catalogue, LAMP)
    assert any("B+ is up and not loaded" in x for x in made.steps[2].do)


@pytest.mark.parametrize("way", WAYS)
def test_every_supply_at_every_step_with_signs(checked, catalogue, way):
    made = bring_up(checked, catalogue, way)
    under_power = [s for s in made.steps[3:] if any(x.at == "B1" and x.reading == "dc_v" for x in s.expect)]
    assert under_power
    for step in under_power:
        bias = next(x for x in step.expect if x.at == "C-" and x.reading == "dc_v")
        assert bias.low <= bias.value <= bias.high <= 0
    assert any(x.startswith("C-: up to -") for x in made.steps[1].do)
    assert next(x for x in made.steps[0].expect if x.at == "C-").why.startswith("black lead")


def test_load_first_and_standby_open_then_closed(checked, catalogue):
    made = bring_up(checked, catalogue, LAMP)
    assert any("never work into an open output transformer" in x and "V3, V4" in x for x in made.steps[0].do)
    assert "standby switch S2 open" in made.steps[3].do[0] and made.steps[4].do[0].startswith("Close S2")


def test_what_when_it_is_not_so(checked, catalogue):
    last = bring_up(checked, catalogue, LAMP).steps[-1]
    said = [x for x in last.otherwise if x.startswith("C- ")]
    assert any("not negative enough: its rectifier" in x for x in said) and any("too negative" in x for x in said)
    assert all(" Next: " in x for x in last.otherwise)
    grid = next(x for x in last.expect if (x.at, x.reading) == ("V3", "grid_v"))
    assert side_of(grid, "high") == "not negative enough" and side_of(grid, "within") == "within"


@pytest.mark.parametrize("unit", sorted(p.name for p in (ROOT / "data_raw/units").iterdir()))
@pytest.mark.parametrize("way", WAYS)
def test_demo_units_hold_every_value_in_its_band_and_say_when_to_stop(unit, way, catalogue):
    made = bring_up(check(load(ROOT / "data_raw/units" / unit, catalogue), catalogue), catalogue, way)
    assert all(s.stop for s in made.steps[2:]) and all(s.wait_s for s in made.steps[2:-1])
    for x in (x for step in made.steps for x in step.expect):
        assert x.value is None or (x.low is None or x.low <= x.value) and (x.high is None or x.value <= x.high), x


def test_only_a_bias_supply_is_proved_first(catalogue):
    """Tubes that bias themselves by grid current, and those of a series string, stay where they are."""
    for unit, first in (("fixed-bias-amplifier", True), ("ac-dc-set", False), ("record-player", False)):
        made = bring_up(check(load(ROOT / "data_raw/units" / unit, catalogue), catalogue), catalogue, LAMP)
        assert (BIAS_FIRST in titles(made)) == first, unit


def test_batteries_filaments_first_and_no_plug(make_unit, catalogue):
    toml = LINE.split("mains_v")[0] + """
[[winding]]
id = "H1"
volts = 1.4
[[supply]]
id = "A"
source = "battery"
volts = 1.5
heats = "H1"
[[supply.node]]
id = "A1"
[[supply]]
id = "B+"
source = "battery"
volts = 90
[[supply.node]]
id = "B1"
load_a = 0.005
"""
    made = bring_up(checked_unit(make_unit, catalogue, toml, "V1,1T4,,H1,,"), catalogue, LAMP)
    filaments, tubes = made.steps[2:4]
    assert filaments.title.startswith("Filament volts, before the tubes") and "H1" in {x.at for x in filaments.expect}
    assert {x.at for x in tubes.expect} == {"B1"} and not any("lamp" in x for s in made.steps for x in s.do)
    assert not any("no supply" in n for n in made.notes)
    assert made.way == "its own battery" and "mains" not in made.steps[-1].title
    assert any(x.startswith("A1, B1 low: the battery is run down") for x in made.steps[-1].otherwise)
    assert made.steps[0].do[0].startswith("Batteries out.")


def test_printed_and_as_json(checked, catalogue, capsys):
    made = bring_up(checked, catalogue, LAMP)
    print_bringup(made, "text")
    text = capsys.readouterr().out
    assert "If not: " in text and "3. Bias, before the output tubes go in" in text
    assert all(len(line) <= 80 for line in text.splitlines())
    print_bringup(made, "json")
    assert json.loads(capsys.readouterr().out)["steps"][-1]["otherwise"]
