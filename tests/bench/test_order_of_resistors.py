"""Resistors that no shop has in one piece, and what an order that is refused ends with."""

from pipeline.bench.closing import close
from pipeline.bench.order import make_order
from pipeline.checks.check import check
from pipeline.output.ordering import write_order
from pipeline.unit import load

BLEEDER = 'name = "x"\nmains_v = 120\nmains_hz = 60\n[[supply]]\nsource = "battery"\nvolts = 400\n[[supply.node]]\nid = "B1"\n'


def test_a_resistor_beyond_the_stock_is_bought_as_two(make_unit, catalogue, tmp_path):
    """100 k at 400 V burns 1.6 W: twice that no stocked 100 k bears (metal oxide ends at 3 W), but two of 200 k do."""
    checked = check(load(make_unit(BLEEDER, "R1,100k 1W,bleeder,B1,,\nR2,1k2 ½W,,,,burnt"), catalogue), catalogue)
    closed = close(checked, catalogue)
    line = next(x for x in closed.advice.buy if x.ref == "R1")
    assert (line.quantity, line.arrangement, line.value) == (2, "in parallel", 200_000)
    assert line.watts * 2 >= 2 * 400**2 / 100_000 and "two of 200 kΩ" in line.why
    after = closed.after.unit.parts["R1"]
    assert (after.reading.ohms, after.reading.watts) == (100_000, line.watts * 2) and "2 of 200 kΩ in parallel" in after.note
    assert not closed.faults() and {f.verdict for f in closed.after.findings if f.subject == "R1"} <= {"pass", "caution"}
    order = make_order([("x", checked)], catalogue, "usual", 0.0)
    assert [x.quantity for x in order.lines if x.part.ref == "R1"] == [2]
    assert next(x for x in closed.advice.buy if x.ref == "R2").why.endswith("called burnt.")


def test_an_order_refused_for_what_is_not_known_alone_says_so_by_its_status(make_unit, catalogue):
    """3 where something is unknown and nothing stops, 1 where something stops: as `check` does."""
    folder = make_unit(BLEEDER, "C5,0.1 400V,,,,leaking")
    status, said = write_order(catalogue, [folder], "usual", "0%", None, None, False, False)
    assert status == 3 and "unknown: C5" in said
    folder = make_unit(BLEEDER, "R1,100 1W,bleeder,B1,,\nC5,0.1 400V,,,,leaking")
    assert write_order(catalogue, [folder], "usual", "0%", None, None, False, False)[0] == 1
