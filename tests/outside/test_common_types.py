"""The 200 commonest types against the limits that the rules judge by (table `common_types`)."""

from types import SimpleNamespace

from benchmarks.common_types import common, missing

from pipeline.point.laws import section_law

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
    rated = catalogue.ratings(["0G3", "6X4"])
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
