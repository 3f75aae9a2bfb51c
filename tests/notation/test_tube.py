"""Tube markings: naming habits of the RETMA system (Radiotron Designer's Handbook, 4th ed.) and trade habit."""

import pytest

# marking, type, a word of via
READS = [
    ("6GW8", "6GW8", "catalogue name"),
    ("6gw8", "6GW8", "catalogue name"),
    ("6 GW 8", "6GW8", "catalogue name"),
    ("6-GW-8", "6GW8", "catalogue name"),
    ("ECL86", "6GW8", "other name: ECL86 (European)"),
    ("ECL 86", "6GW8", "European"),
    ("6GW8/ECL86", "6GW8", "names of one type"),
    ("6GW8 / ECL86", "6GW8", "names of one type"),
    ("ECL86=6GW8", "6GW8", "names of one type"),
    ("ECL86 (6GW8)", "6GW8", "names of one type"),
    ("6BQ5-EL84", "6BQ5", "names of one type"),
    ("6BQ5/EL84/6П14П", "6BQ5", "names of one type"),
    ("ECL86/XXX99", "6GW8", "European"),
    ("EF86", "6267", "European"),
    ("6267", "6267", "catalogue name"),
    ("5751", "5751", "catalogue name"),
    ("300B", "300B", "catalogue name"),
    ("300-B", "300B", "catalogue name"),
    ("24-A", "24A", "catalogue name"),
    ("35/51", "35/51", "catalogue name"),
    ("80", "80", "catalogue name"),
    ("type 80", "80", "catalogue name"),
    ("tube 47", "47", "catalogue name"),
    ("6E5", "6E5", "catalogue name"),
    ("6U8", "6U8", "catalogue name"),
    ("6X4", "6X4", "catalogue name"),
    ("KT 66", "KT66", "catalogue name"),
    ("OA2", "0A2", "letter O read as zero"),
    ("0A2", "0A2", "catalogue name"),
    ("OD3", "0D3", "letter O read as zero"),
    ("VR-150", "0D3", "other name"),
    ("VR 15O", "0D3", "letter O"),
    ("I2AX7", "12AX7", "letter I read as one"),
    ("VT-231", "6SN7GT", "US Army"),
    ("VT231", "6SN7GT", "US Army"),
    ("CV455", "12AT7", "British"),
    ("CV 455", "12AT7", "British"),
    ("JAN-CRC-6SN7GT", "6SN7GT", "military prefix JAN-CRC"),
    ("JAN 6SN7-GT", "6SN7GT", "military prefix JAN"),
    ("JAN-5751", "5751", "military prefix"),
    ("USN CNU 6L6G", "6L6G", "military prefix"),
    ("6Н8С", "6SN7GT", "Soviet"),
    ("6н8с", "6SN7GT", "Soviet"),
    ("6Н8C", "6SN7GT", "Cyrillic"),  # last letter Latin
    ("6H8C", "6SN7GT", "Cyrillic"),  # all Latin
    ("6N8S", "6SN7GT", "Cyrillic"),
    ("6П3С", "6L6G", "Cyrillic"),
    ("6V6", "6V6GT", "only the bulb suffix differs"),
    ("6V6G", "6V6GT", "only the bulb suffix differs"),
    ("6V6GT/G", "6V6GT", "catalogue name"),
    ("50L6", "50L6GT", "only the bulb suffix differs"),
    ("35Z5", "35Z5GT", "only the bulb suffix differs"),
    ("12AX7A", "12AX7", "suffix A left off: ratings may differ"),
    ("12AX7WA", "12AX7", "suffix WA left off: ratings may differ"),
    ("6SN7GTB", "6SN7GT", "suffix B left off"),
    ("6SN7WGT", "6SN7GT", "suffix W left off"),
    ("7591A", "7591", "suffix A left off"),
    ("RCA 6V6-GT", "6V6GT", "catalogue name"),
    ("Telefunken ECC83 W.Germany", "12AX7", "European"),
    ("6GW8 MADE IN JAPAN", "6GW8", "catalogue name"),
    ("GE 12AX7-A", "12AX7", "suffix A left off"),
]
# marking, a word of why
REFUSES = [
    ("6L6GC", "no tube"),
    ("6L6-GC", "no tube"),
    ("6L6 GC", "not taken for 6L6"),
    ("6L6GC RCA", "6L6"),
    ("5U4GB", "no tube"),
    ("6F6GC", "no tube"),
    ("EL84M", "no tube"),
    ("E88CC", "no tube"),
    ("EL84 STR", "not taken for EL84"),
    ("12AX7/12AT7", "two types"),
    ("12AX7 or 12AT7", "two types"),
    ("99ZZ9", "no tube"),
    ("6.00E+05", "turned 6E5"),
    ("6E+05", "turned 6E5"),
    ("1.00E+07", "turned 1E7"),
    ("600000", "turned 6E5"),
    ("1-Feb", "date"),
    ("Feb-01", "date"),
    ("2024-02-01", "date"),
    ("#NAME?", "error word"),
    ("6Ð\x9d8Ð¡", ""),
]


@pytest.mark.parametrize(("marking", "kind", "via"), READS)
def test_reads_where_a_tube_is_expected(reads, marking, kind, via):
    found = reads(marking, "V1")
    assert (found.kind, found.type) == ("tube", kind), found.why
    assert via in found.via


@pytest.mark.parametrize(("marking", "kind", "via"), READS)
def test_reads_without_help_or_says_what_else(reads, marking, kind, via):
    found = reads(marking)
    if found.kind is None:
        assert "tube" in found.could_be and len(found.could_be) > 1
    else:
        assert (found.kind, found.type) == ("tube", kind)


@pytest.mark.parametrize(("marking", "why"), REFUSES)
def test_refuses_with_a_reason(reads, marking, why):
    found = reads(marking, "V1")
    assert found.kind is None
    assert why in found.why


def test_contract_object(reads):
    assert reads("ECL86", "V4").as_dict() == {
        "marking": "ECL86", "kind": "tube", "type": "6GW8", "via": "other name: ECL86 (European)",
    }  # fmt: skip


def test_fallback_is_said_in_notes(reads):
    assert any("not in the catalogue" in note for note in reads("12AX7A", "V1").notes)
    assert any("left out: RCA" in note for note in reads("RCA 6V6-GT", "V1").notes)
    assert any("XXX99" in note for note in reads("ECL86/XXX99", "V1").notes)


def test_nearest_names(reads):
    assert "ECL86" in reads("ECL68", "V1").near
    assert "6L6G" in reads("6L6GC", "V1").near
    assert reads("ZQXJWK", "V1").near == ()


def test_a_near_name_is_said_to_be_only_near():
    from types import SimpleNamespace

    from pipeline.notation.read import read

    names = {"6Н3П": SimpleNamespace(type="2C51", system="Soviet", nearness="near"), "2C51": "2C51"}
    assert any("near" in note for note in read("6Н3П", names=names, ref="V1").notes)
    assert read("2C51", names=names, ref="V1").notes == ()


def test_a_name_of_two_types_is_refused():
    from pipeline.notation.names import Entry, Index
    from pipeline.notation.read import read

    index = Index()
    index.add(Entry("AAA1", "one", "X99"))
    index.add(Entry("BBB1", "two", "X99"))
    found = read("X99", names=index, ref="V1")
    assert found.kind is None and "AAA1" in found.why and "BBB1" in found.why


def test_tube_own_name_beats_a_designation():
    from pipeline.notation.names import index

    known = index({"7025": "12AX7", "12AX7": "12AX7"})
    known_own = index({"7025": "7025", "ECC83": "7025"})
    assert [e.type for e in known.exact("7025")] == ["12AX7"]
    assert [e.type for e in known_own.exact("7025")] == ["7025"]


@pytest.mark.parametrize(("marking", "types"), [
    ("VT-52", ("45", "EL32")),     # Signal Corps list; British VT list (both recalled)
    ("VT60", ("807", "850")),      # the same
    ("6P15", ("6BQ5", "6P15P")),   # Mazda; Chinese works (both recalled)
    ("6N3", ("6N3P", "EY82")),     # Chinese works; RETMA (both recalled)
    ("6Z4", ("6X4", "84")),        # the same
    ("6N6", ("6N6G", "6N6P")),     # RETMA; Chinese works (both recalled)
])  # fmt: skip
def test_a_name_that_two_lists_give_to_two_tubes_asks(catalogue, marking, types):
    from pipeline.notation.read import read

    for ref in ("V1", None):
        found = read(marking, names=catalogue.names, ref=ref)
        assert found.kind is None and found.type is None
        assert found.near == types and all(kind in found.why for kind in types)


@pytest.mark.parametrize(("marking", "kind"), [("WD-12", "WX12"), ("UV-201A", "01A"), ("V99", "99")])
def test_a_name_on_another_base_says_so(catalogue, marking, kind):
    from pipeline.notation.read import read

    found = read(marking, names=catalogue.names, ref="V1")
    assert found.type == kind and any("another base" in note for note in found.notes)
