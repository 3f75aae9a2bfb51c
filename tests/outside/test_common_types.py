"""The 200 commonest types against the limits that the rules judge by (table `common_types`)."""

from benchmarks.common_types import common, missing

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
