"""Which readings count: the latest full one, brought to today's mains; those of another day or state do not."""

import pytest

from pipeline.point.point import operating_point
from pipeline.point.readings import readings_of
from pipeline.unit import Place, load

TOML = """name = "Invented"
mains_v = 120
mains_high_v = 126
mains_hz = 60
design_mains_v = 120
[[supply]]
source = "battery"
volts = 250
[[supply.node]]
id = "B1"
load_a = 0.01
"""
HALVES = (Place("V1", "A"), Place("V1", "B"))
HEADER = "date,at,reading,value,condition,mains,by,note\n"


@pytest.fixture
def read(make_unit, catalogue):
    def read(lines, parts="V1,12AX7,,,plate 150 V,\nR1,1k,,,2 V,", places=HALVES):
        folder = make_unit(TOML, parts)
        (folder / "readings.csv").write_text(HEADER + lines, encoding="utf-8")
        unit = load(folder, catalogue)
        return readings_of(unit, list(places))

    return read


def test_the_parts_lists_own(read):
    found = read("")
    assert found.across == {"R1": 2.0} and found.of(("V1", "A")) == {"plate_v": 150} and found.of(("V9", None)) == {}
    assert found.nodes == {} and found.any


@pytest.mark.parametrize(("lines", "volts"), [
    ("2024-05-01,B1,DC,240 V,,,,\n2024-06-01,B1,DC,230 V,,,,\n", 230), ("2024-06-01,B1,DC,230 V,,,,\n2024-05-01,B1,DC,240 V,,,,\n", 230),
    (",B1,DC,230 V,,,,\n2024-05-01,B1,DC,240 V,,,,\n", 240),
    ("2024-05-01,B1,DC,240 V,,,,\n2024-06-01,B1,DC,100 V,lamp,,,\n", 240), ("2024-06-01,B1,DC,100 V,cold,,,\n", None),
    ("2024-06-01,B1,DC,230 V,,110,,\n", 230 * 120 / 110), ("2024-06-01,B1,DC,230 V,full,120,,\n", 230)])
def test_the_latest_full_one_at_todays_mains(read, lines, volts):
    assert read(lines).nodes == ({} if volts is None else {"B1": pytest.approx(volts)})


def test_tubes_and_parts(read):
    found = read("2024-06-01,V1,plate,160 V,,,,\n2024-06-01,V1B,cathode,1.5 V,,,,\n2024-06-01,R1,volts,3 V,,,,\n")
    assert found.of(("V1", "A")) == {"plate_v": 160} and found.of(("V1", "B")) == {"plate_v": 160, "cathode_v": 1.5}
    assert found.across == {"R1": 3.0}


def test_nothing_read(make_unit, catalogue):
    unit = load(make_unit(TOML, "V1,12AX7,,,,"), catalogue)
    assert not readings_of(unit, [Place("V1", "A")]).any


def test_a_reading_moves_the_point_and_not_what_is_expected(make_unit, catalogue):
    folder = make_unit(TOML + '[[supply.node]]\nid = "B2"\nfrom = "B1"\nthrough = "R1"\nload_a = 0.01\n', "R1,1k 1W 5%,,,,")
    (folder / "readings.csv").write_text(HEADER + "2024-06-01,B2,DC,220 V,,,,\n", encoding="utf-8")
    point = operating_point(load(folder, catalogue), catalogue)
    found = point.get("B2", "dc_v")
    assert (found.value, found.origin, found.expected) == (220, "measured", pytest.approx(240, rel=1e-3))
    assert point.get("R1", "resistor_v").value == pytest.approx(30, rel=1e-3)


def test_volts_read_hold_at_design_mains_in_proportion(make_unit, catalogue):
    """What was read today is not a sum any more: at design mains it is the reading times the mains' ratio."""
    toml = ('name = "Invented"\nmains_v = 242\nmains_high_v = 250\nmains_hz = 50\ndesign_mains_v = 220\n'
            '[[supply]]\nrectifier = "V9"\ncircuit = "full-wave"\nsecondary_v = 280\nsecondary_ohm = 150\n'
            '[[supply.node]]\nid = "B1"\n[[supply.node]]\nid = "B2"\nfrom = "B1"\nthrough = "R1"\n'
            '[[stage]]\ntubes = ["V1"]\nplate = "B2"\nplate_through = "R2"\n')
    parts = "V9,EZ80,rectifier,,,\nC1,32 µF 450 V,reservoir,B1,,\nR1,1k 5W,dropping,B2,,\nR2,1k 5W,plate,V1,,\nR3,180 2W,cathode,V1,,\n"
    summed = operating_point(load(make_unit(toml, parts + "V1,EL84,,,,\n"), catalogue), catalogue).get("V1", "plate_v")
    found = operating_point(load(make_unit(toml, parts + "V1,EL84,,,plate 220 V,\n"), catalogue), catalogue)
    plate = found.get("V1", "plate_v")
    assert plate.value == pytest.approx(220, rel=1e-3) and plate.design == pytest.approx(220 * 220 / 242, rel=1e-2)
    assert summed.design > plate.design * 1.1 and summed.most == pytest.approx(plate.most), "high mains stay with the sum"
