"""One can on two lines: asked about, never counted twice."""

from pipeline.notation.cans import asked_about


def _read(reads, **markings):
    return asked_about({ref: reads(marking, ref) for ref, marking in markings.items()})


def test_the_whole_can_on_both_lines_is_asked_about(reads):
    found = _read(reads, C1A="16+16 µF 450 V", C1B="16+16 µF 450V", C2="8+8 µF 450 V")
    assert found["C1A"].kind is None and found["C1B"].kind is None
    assert "C1A and C1B" in found["C1A"].why and "16 µF 450 VDC" in found["C1A"].why
    assert found["C1A"].marking == "16+16 µF 450 V"
    assert found["C2"].kind == "capacitor"


def test_sections_of_their_own_are_left_alone(reads):
    found = _read(reads, C1A="40 µF 450 V", C1B="20 µF 25 V", C3A="40-40 µF 450 V", C3B="20 µF 25 V")
    assert all(reading.kind == "capacitor" for reading in found.values())


def test_two_cans_with_numbers_of_their_own_are_two(reads):
    found = _read(reads, C1="16+16 µF 450 V", C2="16+16 µF 450 V")
    assert all(reading.kind == "capacitor" for reading in found.values())


def test_a_unit_asks_instead_of_doubling(catalogue, make_unit):
    from pipeline.checks.check import check
    from pipeline.unit import load

    toml = 'mains_v = 120\nmains_hz = 60\n'
    unit = load(make_unit(toml, 'C1A,16+16 µF 450 V,smoothing,,,\nC1B,16+16 µF 450 V,smoothing,,,'), catalogue)
    told = [f for f in check(unit, catalogue).findings if f.check == "unknown-part"]
    assert {f.subject for f in told} == {"C1A", "C1B"} and "each bear all 2 sections" in told[0].why
