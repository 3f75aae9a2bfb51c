"""Where figures become verdicts, and figures' grades those of a finding: every way it can go."""

import pytest
from support import ROOT

from pipeline.catalogue import Figure
from pipeline.checks.check import check
from pipeline.checks.findings import Finding, in_order, weakest
from pipeline.checks.rule import Fact, Measure, finding, passed, verdict
from pipeline.unit import load

GRADES = ("measured", "published", "quoted", "practice", "recalled")
"""From strong to weak, as the contributor's guide has them; what a meter reads is above all."""


def measure(figure, limit, **given):
    return Measure("V1", figure, limit, "V", "why", "do", **given)


@pytest.mark.parametrize(("found", "said"), [
    (measure(100, 100), "pass"), (measure(100.1, 100), "stop"), (measure(99, 100), "pass"),
    (measure(100.1, 100, gravest="caution"), "caution"),
    (measure(99, 100, adverse=100), "pass"), (measure(99, 100, adverse=100.1), "caution"),
    (measure(101, 100, adverse=90), "stop"), (measure(101, 100, adverse=110, gravest="caution"), "caution"),
    (measure(100, 100, sense="at least"), "pass"), (measure(99.9, 100, sense="at least"), "stop"),
    (measure(101, 100, sense="at least", adverse=99.9), "caution"), (measure(101, 100, sense="at least", adverse=100), "pass"),
    (measure(99, 100, careful=True), "caution"), (measure(101, 100, careful=True), "stop"),
    (measure(None, 100), "unknown"), (measure(99, None), "unknown"), (measure(101, 100, missing=True), "unknown"),
    (measure(101, 100, maker="document"), "pass"), (measure(99, 100, adverse=101, maker="document"), "pass"),
    (measure(99, 100, careful=True, maker="document"), "pass"), (measure(99, 100, missing=True, maker="document"), "unknown"),
])
def test_what_comes_of_a_measure(found, said):
    assert verdict(found) == said
    whole = finding("check", found)
    assert (whole.verdict, whole.check, whole.subject, whole.unit, whole.limit) == (said, "check", "V1", "V", found.limit)
    assert whole.do == ("" if said == "pass" else "do") and whole.sense == found.sense


@pytest.mark.parametrize(("off", "beyond"), [(0.0, False), (1e-10, False), (1e-8, True)])
def test_at_its_limit_but_for_rounding_is_within_it(off, beyond):
    for limit in (100.0, -100.0, 1e-3):
        assert passed(limit + abs(limit) * off, limit) == beyond
        assert passed(limit - abs(limit) * off, limit, "at least") == beyond


@pytest.mark.parametrize(("found", "shown"), [
    (measure(90, 100), 90), (measure(90, 100, adverse=95), 95), (measure(90, 100, adverse=105), 105),
    (measure(110, 100, adverse=120), 120), (measure(110, 100, adverse=120, stands=True), 110),
    (measure(90, 100, adverse=105, stands=True), 105), (measure(110, None, adverse=120, stands=True), 110),
    (measure(110, 100, adverse=120, maker="document"), 110), (measure(None, 100, adverse=120), None)])
def test_the_figure_that_is_shown(found, shown):
    assert finding("check", found).figure == shown


@pytest.mark.parametrize(("holds", "gravest", "said"), [
    (True, "stop", "pass"), (False, "stop", "stop"), (False, "caution", "caution"), (None, "stop", "unknown")])
def test_what_comes_of_a_fact(holds, gravest, said):
    found = finding("check", Fact("C1", holds, "why", "do", gravest, covers=("C2",)))
    assert (found.verdict, found.do, found.covers) == (said, "" if said == "pass" else "do", ("C2",))
    assert found.figure is None and found.limit is None and found.excess is None


@pytest.mark.parametrize("strong", range(len(GRADES)))
@pytest.mark.parametrize("weak", range(len(GRADES)))
def test_a_finding_is_as_good_as_its_weakest_figure(strong, weak):
    used = [Figure("6V6GT", f"q{n}", 1.0, "V", GRADES[n], "") for n in (strong, weak, 0)]
    for order in (used, used[::-1]):
        expected = GRADES[max(strong, weak)]
        assert weakest(f.evidence for f in order) == expected
        for found in (measure(1, 2, rests_on=(None, *order)), Fact("V1", True, "", rests_on=tuple(order))):
            told = finding("check", found)
            assert (told.evidence, told.as_dict()["evidence"]) == (expected, expected)
            assert set(told.rests_on) == set(used)


def test_what_the_user_typed_in_counts_as_measured():
    assert weakest([]) == "measured" == finding("check", measure(1, 2)).evidence


def test_excess_follows_the_sense():
    assert Finding("c", "V1", "stop", 3.0, 1.0, "V", "").excess == 2.0
    assert Finding("c", "V1", "stop", 1.0, 3.0, "V", "", sense="at least").excess == 2.0
    assert Finding("c", "V1", "unknown", None, 3.0, "V", "").excess is None


def test_the_gravest_stands_first_and_the_rest_as_it_came():
    said = ["pass", "caution", "unknown", "stop", "caution", "stop"]
    found = [Finding("c", str(n), v, None, None, None, "") for n, v in enumerate(said)]
    assert [f.subject for f in in_order(found)] == ["3", "5", "2", "1", "4", "0"]


@pytest.mark.parametrize("name", ["hall-amplifier", "table-radio", "record-player"])
def test_every_finding_of_the_demo_units_is_as_good_as_its_weakest_figure(name, catalogue):
    checked = check(load(ROOT / "data_raw/units" / name, catalogue), catalogue)
    for found in checked.findings:
        ranks = [GRADES.index(f.evidence) for f in found.rests_on]
        assert GRADES.index(found.evidence) == max(ranks, default=0), found.why
    recalled = {f for found in checked.findings for f in found.rests_on if f.evidence == "recalled"}
    assert set(checked.recalled) == recalled and len(checked.recalled) == len(recalled)
    assert checked.recalled == sorted(checked.recalled, key=lambda f: (f.subject, f.quantity))


@pytest.mark.parametrize(("marking", "status"), [("1k 1W,,,20 V,", 0), ("1k 1W,,,29 V,", 0), ("1k 1W,,,40 V,", 1), ("1k,,,20 V,", 3)])
def test_the_status_is_that_of_the_gravest(make_unit, catalogue, marking, status):
    unit = load(make_unit('name = "x"\nmains_v = 120\nmains_hz = 60\n', f"R1,{marking}"), catalogue)
    assert check(unit, catalogue).status == status
