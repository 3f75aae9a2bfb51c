"""One bad case per audit rule → the exact rule, row and column; the same case mended → nothing."""

import time

import pytest
from bad_rows.meaning import CASES, PENTODE, POINT, SECTION, TUBE, TWIN, USUAL

from pipeline.build.audit import LINKS, WAIVABLE, audit
from pipeline.build.normalise import TypedRow
from schemas.tables import TABLES


def typed(**tables):
    """Typed rows from cells; the line counts from 2, as in a file with a header."""
    found = {name: [] for name in TABLES}
    found["sources"] = [TypedRow("sources.csv", 2, dict.fromkeys(TABLES["sources"].columns) | {"source_id": "book"})]
    for name, rows in tables.items():
        columns = TABLES[name].columns
        found[name] = [TypedRow(f"{name}.csv", line, {c: ({**USUAL, **row}).get(c) for c in columns})
                       for line, row in enumerate(rows, 2)]
    return found


def faults(rows, bad=frozenset()):
    return [(f.rule, f.file.removesuffix(".csv"), f.line, f.column) for f in audit(rows, bad)]


@pytest.mark.parametrize("rule", CASES)
def test_rule_names_the_place(rule):
    bad, place, _ = CASES[rule]
    assert faults(typed(**bad)) == [(rule, *place)]


@pytest.mark.parametrize("rule", CASES)
def test_the_mended_case_passes(rule):
    assert faults(typed(**CASES[rule][2])) == []


def test_every_rule_has_a_case_and_a_reason():
    rules = LINKS | WAIVABLE
    assert CASES.keys() == rules.keys()
    for name, rule in rules.items():
        assert rule.__doc__ and len(rule.__doc__) > 30, name


@pytest.mark.parametrize("rule", sorted(WAIVABLE))
def test_a_waiver_silences_its_rule_for_its_type(rule):
    bad = CASES[rule][0]
    if rule == "pin-beyond-base":
        bad = {"tubes": [TUBE], "tube_pins": [{"type": "6BQ5", "pins": PENTODE + " 10:ic"}]}
    rows = typed(**bad)
    about = next(h.about for h in WAIVABLE[rule](_ground(rows)))
    waived = typed(**bad, designation_exceptions=[{"type": about, "rule": rule, "reason": "known"}])
    assert rule in {f[0] for f in faults(rows)}
    assert rule not in {f[0] for f in faults(waived)}


def _ground(rows):
    from pipeline.build.audit import Ground

    return Ground(rows)


def test_a_waiver_that_nothing_needs_is_a_fault():
    rows = typed(tubes=[TUBE], designation_exceptions=[{"type": "6BQ5", "rule": "retma-heater", "reason": "x"}])
    assert faults(rows) == [("waiver-unused", "designation_exceptions", 2, "rule")]


def test_a_waiver_of_no_rule_names_the_nearest():
    rows = typed(tubes=[TUBE], designation_exceptions=[{"type": "6BQ5", "rule": "retma-heter", "reason": "x"}])
    (fault,) = audit(rows)
    assert (fault.rule, fault.line, fault.mend) == ("rule-unknown", 2, "perhaps retma-heater")


def test_rows_with_an_earlier_fault_are_not_weighed():
    rows = typed(tubes=[TUBE | {"heater_v": 63.0}])
    assert {f[0] for f in faults(rows)} == {"heater-watts", "retma-heater"}
    assert faults(rows, {("tubes.csv", 2, "heater_v")}) == []


def test_a_fault_carries_file_line_and_figure():
    (fault,) = audit(typed(tubes=[TUBE | {"heater_v": 5.0}]))
    assert str(fault) == ("tubes.csv:2: heater_v: '5': the number in 6BQ5 stands for 5.6 to 6.6 V, the heater has 5 V: "
                          "mend the figure, or name the exception in designation_exceptions [retma-heater]")


@pytest.mark.parametrize(("type_", "volts", "amps", "base"), [
    ("7F7", 6.3, 0.3, "loctal"), ("14F7", 12.6, 0.15, "loctal"), ("35L6GT", 35.0, 0.15, "octal"),
    ("18GV8", 17.5, 0.3, "noval"), ("1R5", 1.4, 0.05, "miniature 7-pin"), ("25L6GT", 25.0, 0.3, "octal")])
def test_numbers_that_fit_their_heater(type_, volts, amps, base):
    """RETMA: the number is the voltage, rounded; lock-in types run at 6.3 and 12.6 V (Radiotron Designer's
    Handbook, 4th ed., as reproduced online; heater figures recalled)."""
    tube = TUBE | {"type": type_, "heater_v": volts, "heater_a": amps, "base": base, "function": "beam power tetrode",
                   "heating": "filament" if volts < 2 else "heater"}
    assert faults(typed(tubes=[tube])) == []


def test_a_tapped_heater_counts_by_its_best_arrangement():
    option = {"type": "12AX7", "arrangement": "parallel", "heater_v": 6.3, "heater_a": 0.3}
    name = {"designation": "ECC83", "type": "12AX7", "system": "European"}
    assert faults(typed(tubes=[TWIN], designations=[name], heater_options=[option])) == []
    assert faults(typed(tubes=[TWIN], designations=[name])) == [("european-heater", "designations", 2, "designation")]


@pytest.mark.long
def test_ten_thousand_rows_in_under_a_third_of_a_second():
    many = [TUBE | {"type": f"6{a}{b}{n}"} for a in "ABCDEFGHJK" for b in "ABCDEFGHJK" for n in range(3, 23)]
    rows = typed(tubes=many, sections=[SECTION | {"type": t["type"]} for t in many],
                 operating_points=[POINT | {"type": t["type"]} for t in many],
                 tube_pins=[{"type": t["type"], "pins": PENTODE} for t in many],
                 designations=[{"designation": f"X{t['type']}", "type": t["type"], "system": "maker"} for t in many])
    taken = []
    for _ in range(3):
        start = time.process_time()
        assert audit(rows) == []
        taken.append(time.process_time() - start)
    assert sum(map(len, rows.values())) > 10_000
    assert min(taken) < 0.3
