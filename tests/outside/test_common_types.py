"""The 200 commonest types against the limits that the rules judge by (table `common_types`)."""

from copy import deepcopy
from types import SimpleNamespace

import pytest
from benchmarks.common_types import common, missing

from pipeline.checks.check import check
from pipeline.point.laws import section_law
from pipeline.unit import load

ENOUGH = 195


def test_every_limit_a_rule_uses_is_there_for_nearly_all_common_types_and_all_their_rectifiers(catalogue):
    rated = common(catalogue)
    gaps = {name: lacking for name, each in rated.items() if (lacking := missing(each))}
    rectifiers = [name for name, each in rated.items() if "rectifier" in str(each.figure("tubes", "function").value)]
    assert len(rated) == 200
    assert len(rectifiers) > 25
    assert {name: gaps[name] for name in rectifiers if name in gaps} == {}
    assert len(rated) - len(gaps) >= ENOUGH, gaps


def test_a_type_without_limits_is_found_lacking(catalogue):
    """The count can fail: a type whose sheet rates nothing is told with all that it lacks."""
    rated = deepcopy(catalogue.ratings(["0G3", "6X4"]))
    assert missing(rated["6X4"]) == []
    del rated["6X4"].tables["rectifiers"]["6X4"]["drop_v"]
    assert missing(rated["6X4"]) == ["6X4 drop_v"]


AMPLIFYING = ("triode", "power triode", "pentode", "remote-cutoff pentode", "power pentode", "beam tetrode", "tetrode")
OSCILLATES = ("hexode", "heptode", "octode", "pentagrid", "indicator")
"""Words in the function of tubes whose sections are published as converters, oscillators and indicators only."""
NOT_REMEMBERED = {"1AH5"}  # the AF pentode of the DAF96: no point with its bias is remembered


def test_every_amplifying_section_of_a_common_type_has_a_point_that_fixes_its_law(catalogue):
    """A stage is solved from one complete class A point with its transconductance (and mu, for triodes)."""
    without, count = [], 0
    for name, ratings in common(catalogue).items():
        if any(word in str(ratings.figure("tubes", "function").value) for word in OSCILLATES):
            continue
        for subject, row in ratings.rows("sections").items():
            if "kind" in row and row["kind"].value in AMPLIFYING:
                count += 1
                part = SimpleNamespace(ratings=ratings, power_section=None)
                if section_law(part, subject.rpartition("/")[2], 250.0, 250.0) is None:
                    without.append(name)
    assert count > 130
    assert set(without) == NOT_REMEMBERED


@pytest.mark.parametrize(("volts", "verdict"), [(250, "pass"), (380, "stop")])
def test_a_screen_rated_by_its_supply_is_judged_by_it(make_unit, catalogue, volts, verdict):
    """6CF6: the sheet rates the screen's supply, 300 V (RCA, recalled), and the screen itself by a chart."""
    assert "screen_max_v" not in catalogue.ratings(["6CF6"])["6CF6"].rows("sections")["6CF6/whole"]
    toml = (f'mains_v = 120\nmains_hz = 60\n[[supply]]\nid = "B+"\nsource = "battery"\nvolts = {volts}\n'
            '[[supply.node]]\nid = "B1"\n[[stage]]\ntubes = ["V1"]\nplate = "B1"\nscreen = "B1"\n'
            'cathode_through = "R1"\nplate_through = "R2"\n')
    parts = "V1,6CF6,,,,\nR1,180 ohm,cathode,V1,,\nR2,10K 2W,plate load,V1,,"
    found = check(load(make_unit(toml, parts), catalogue), catalogue).findings
    assert [(f.verdict, f.limit) for f in found if f.check == "screen-voltage"] == [(verdict, 300.0)]
