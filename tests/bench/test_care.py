"""Advice about parts beyond electronics: every kind has some, and the things that must never be done stand in it.

The advice itself is practice of the trade; that new belts are cut 3 to 6 % shorter than the path, that motor capacitors
see 1.2 to 1.6 times the line, and that a 50 Hz machine runs 20 % fast on 60 Hz: theory notes, section D.
"""

import sys

import pytest
from bench_units import WINDING

from pipeline.bench.care import TASKS, aids_for, care_of, part_care
from pipeline.bench.drive import belt_advice, speed_advice
from pipeline.bench.knowledge import figures_of
from pipeline.notation.kinds import BEYOND
from pipeline.notation.measured import read_measured
from pipeline.notation.read import read
from pipeline.point.mains import Mains
from pipeline.records import replace
from pipeline.unit import Part, load

MAINS = Mains(230.0, 253.0, 207.0, 230.0, 50.0, None, ())


def part(ref, marking, role=None, measured="", note="", kind=None):
    reading = read(marking, names={}, ref=ref, role=role, kind=kind)
    return Part(ref, marking, role, measured=read_measured(measured), note=note, reading=reading)


@pytest.fixture(scope="module")
def table(catalogue):
    return figures_of(catalogue, "care")


def test_a_further_kind_is_one_file_and_one_row(tmp_path, monkeypatch):
    """A family dropped beside the others is in the registry; its advice is a row of the table."""
    from pipeline.notation import kinds

    (tmp_path / "clockwork.py").write_text(
        "from pipeline.notation.kinds.kind import Kind, words\n"
        "KINDS = (Kind(name='clockwork', words=words('mainspring;governor'), refs=('CW',), holds=('rpm',)),)\n")
    monkeypatch.setattr(kinds, "__path__", [*kinds.__path__, str(tmp_path)])
    monkeypatch.setitem(sys.modules, "pipeline.notation.kinds.clockwork", None)
    monkeypatch.delitem(sys.modules, "pipeline.notation.kinds.clockwork")
    found = kinds._gathered()
    assert found["clockwork"].holds == ("rpm",) and set(kinds.NAMES) < set(found)


@pytest.mark.parametrize("kind", BEYOND)
def test_every_kind_beyond_electronics_has_advice(table, kind):
    tasks = {subject.split("/")[1] for subject in table if subject.startswith(f"{kind}/")}
    assert tasks and tasks <= set(TASKS)
    assert tasks & {"replace", "leave", "clean", "adjust", "measure"}


def test_what_must_never_be_done_is_said(table):
    """The list of the trade: no oil on belts and rubber, no contact fluid in motors or near polystyrene, heads with
    alcohol and no metal tools."""
    def never(kind):
        return " ".join(str(row["never"].value) for subject, row in table.items()
                        if subject.startswith(f"{kind}/") and "never" in row)

    assert "no oil" in never("belt") and "rubber" in never("belt")
    assert "no oil" in never("drive wheel")
    assert "no contact fluid" in never("motor")
    assert "polystyrene" in never("switch") and "polystyrene" in never("coil") and "motors" in never("switch")
    assert "no metal tool" in never("head")
    assert "isopropyl alcohol" in str(table["head/clean"]["uses"].value)
    assert "light machine oil" not in " ".join(str(table[f"belt/{task}"].get("uses", "")) for task in ("clean", "replace"))


def test_every_row_is_practice_and_what_it_buys_has_a_counter(table):
    for subject, row in table.items():
        assert {figure.evidence for figure in row.values()} == {"practice"}, subject
        assert ("buy" in row) == ("counter" in row), subject


def test_what_the_advice_is_done_with_is_in_the_table_of_chemicals(catalogue, table):
    known = figures_of(catalogue, "chemicals")
    named = {name for row in table.values() if "uses" in row for name in str(row["uses"].value).split(";")}
    assert named <= set(known)


def test_a_unit_gets_advice_and_each_chemical_once(catalogue, make_unit):
    parts = ("LS1,8 ohm 5 W,,,,\nB1,belt 1.5 mm square,,,path 200 mm,\nM1,motor 220 V 50 Hz,,,,\nRP1,tape head 300 ohm,,,,\n"
             "EH1,erase head,,,,\nV1,12AX7,,,,\nC1,??,,,,")
    unit = load(make_unit("mains_v = 120\nmains_hz = 60\n", parts), catalogue)
    care = care_of(unit, catalogue)
    assert {row.ref for row in care} == {"LS1", "B1", "M1", "RP1", "EH1", "V1"}
    assert [row.ref for row in care] == sorted((r.ref for r in care), key=list(unit.parts).index)
    assert all(row.evidence == "practice" for row in care if row.rests_on)
    aids = aids_for(care, catalogue)
    assert len({aid.name for aid in aids}) == len(aids)
    alcohol = next(aid for aid in aids if aid.name == "isopropyl alcohol")
    assert alcohol.refs == ("B1", "M1", "RP1", "EH1") and alcohol.counter == "rubber and chemicals"
    belt = next(row for row in care if row.ref == "B1" and row.task == "replace")
    assert belt.buy == "belt 188 to 194 mm inside, square 1.5 mm" and belt.as_dict()["counter"] == "rubber and chemicals"
    assert any("20 % fast" in row.how for row in care if row.ref == "M1")


def test_belt_of_a_known_path_is_three_to_six_percent_shorter(catalogue):
    size = belt_advice(part("B1", "belt 1.5 mm square", measured="path 200 mm"), catalogue.allowances)
    assert (size.low_mm, size.high_mm) == (pytest.approx(188), pytest.approx(194))
    assert "square 1.5 mm" in size.buy and [f.evidence for f in size.rests_on] == ["practice"] * 2


@pytest.mark.parametrize(("note", "known"), [("new, from the service manual", True), ("stretched", False), ("", False)])
def test_only_a_new_belts_own_length_is_a_size(catalogue, note, known):
    size = belt_advice(part("B1", "belt 210 mm, flat 5 x 0.6 mm", note=note), catalogue.allowances)
    assert (size.low_mm == 210) is known
    if not known:
        assert size.buy == "" and "thread over the pulleys" in size.why


def test_a_length_that_does_not_fit_the_path_is_told(catalogue):
    size = belt_advice(part("B1", "belt 400 mm 2 mm round", measured="path 200 mm"), catalogue.allowances)
    assert "measure both again" in size.why


def test_fifty_hertz_machine_on_sixty(catalogue):
    (how, _), = speed_advice(part("M1", "motor 120 V 50 Hz", measured="pulley 9.6 mm"), 60, 120, catalogue.allowances)
    assert "20 % fast" in how and "8.00 mm" in how


def test_sixty_hertz_motor_on_fifty_runs_slow_and_hot(catalogue):
    slow, hot = (how for how, _ in speed_advice(part("M1", "motor 117 V 60 Hz"), 50, 117, catalogue.allowances))
    assert "17 % slow" in slow and "1.200 times" in slow
    assert "20 % more flux" in hot and "at most 98 V" in hot  # 117 * 50 / 60 = 97.5


@pytest.mark.parametrize("marking", ["motor 220 V 50 Hz", "universal motor 120 V 60 Hz", "motor 12 V DC", "motor"])
def test_no_speed_advice_where_none_is_due(catalogue, marking):
    assert speed_advice(part("M1", marking), 50, 230, catalogue.allowances) == []


def test_other_capacitors_are_none_of_its_business(catalogue, table):
    unread = replace(part("C2", "??"), note="")
    assert part_care(unread, table, catalogue.allowances) == []


@pytest.mark.parametrize(("ref", "marking", "note", "due"), [
    ("BELT1", "belt 1.5 mm square", "", True), ("PW1", "pinch roller", "rubber hard", True), ("PW1", "pinch roller", "", False),
    ("SW1", "DPST", "arcs", True), ("SW1", "DPST", "renewed last year", False), ("VR1", "500k log", "scratchy", True)])
def test_what_is_to_be_replaced_now(catalogue, table, ref, marking, note, due):
    row = next(care for care in part_care(part(ref, marking, note=note), table, catalogue.allowances) if care.task == "replace")
    assert row.due is due and row.when in ("always", "if faulty")


def test_a_belt_without_a_size_is_not_bought_yet(catalogue, table):
    row = next(care for care in part_care(part("BELT1", "belt"), table, catalogue.allowances) if care.task == "replace")
    assert row.due and row.buy == "" and "thread over the pulleys" in row.own


MACHINE = ("V1,6V6GT,,H1,,\nBELT1,belt,,,path 225 mm,\nBELT2,counter belt,,,,stretched\nPW1,pinch roller,,,,glazed\n"
           "SW1,record switch,,,,scratchy\nCORD1,two-core cord,,,,\n")


def test_check_tells_of_care_short_and_whole(make_unit, catalogue):
    from pipeline.checks.check import check
    from pipeline.output.report import as_dict
    from pipeline.output.text import report

    checked = check(load(make_unit(WINDING, MACHINE), catalogue), catalogue)
    care = care_of(checked.unit, catalogue)
    told = as_dict(checked, [], care)["care"]
    assert {row["ref"] for row in told} == set(checked.unit.parts) and all(row["evidence"] == "practice" for row in told)
    short, whole = (report(checked, [], everything, care).partition("CARE")[2] for everything in (False, True))
    assert "replace now" in short and "No oil" in short and "path 225 mm" in short
    assert len(short.partition("NOT JUDGED")[0]) < len(whole.partition("NOT JUDGED")[0]) and "damp with alcohol" in whole


def test_the_order_buys_what_is_due_and_each_aid_once(make_unit, catalogue):
    from pipeline.bench.order import make_order
    from pipeline.checks.check import check
    from pipeline.output.order import render

    checked = check(load(make_unit(WINDING, MACHINE), catalogue), catalogue)
    order = make_order([("a", checked), ("b", checked)], catalogue)
    lines = {ref: line for line in order.lines for ref in line.refs if line.part.kind != "aid"}
    belt = "belt 212 to 218 mm inside"  # 3 to 6 % below the path of 225 mm
    assert lines["a:BELT1"].part.buy.startswith(belt) and lines["a:BELT1"].quantity == 2
    assert lines["a:CORD1"].part.buy.startswith("three-wire") and "wheel" in lines["a:PW1"].part.buy
    aids = [line.part.ref for line in order.lines if line.part.kind == "aid"]
    assert "isopropyl alcohol" in aids and len(aids) == len(set(aids))
    assert any("BELT2" in note for note in order.notes) and any("SW1" in n and "Clean first" in n for n in order.notes)
    assert not order.blocked
    text = render(order, "text").decode()
    assert text.index("MAINS AND HARDWARE") < text.index("RUBBER AND CHEMICALS")


def test_the_sheet_has_a_care_section(make_unit, catalogue):
    from pipeline.checks.check import check
    from pipeline.output.sheet import sheet

    page = sheet(check(load(make_unit(WINDING, MACHINE), catalogue), catalogue), catalogue)
    assert '<section id="care"' in page and "BELT1, BELT2" in page and "Never: no oil" in page
