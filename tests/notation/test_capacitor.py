"""Capacitor markings against readings worked out by hand.

Codes and letters: IEC 60062.  Units (MF, MFD, MMF, leading point, WV), joined sections and surge volts:
American RMA/EIA and European trade habit (practice).  Polarity where unmarked: the rule of the design.
"""

import pytest

PF = 1e-6
# marking, sections (µF, V dc), V ac, polarised, class
UNAIDED = [
    ("16 by 450", [(16, 450)], None, True, None),
    ("16x450", [(16, 450)], None, True, None),
    ("16 X 450", [(16, 450)], None, True, None),
    ("16×450", [(16, 450)], None, True, None),
    ("16-450", [(16, 450)], None, True, None),
    ("16–450", [(16, 450)], None, True, None),
    ("16/450", [(16, 450)], None, True, None),
    ("16 450", [(16, 450)], None, True, None),
    ("16@450", [(16, 450)], None, True, None),
    ("16 @ 450 V", [(16, 450)], None, True, None),
    ("16 µF 450 V", [(16, 450)], None, True, None),
    ("16μF/450V", [(16, 450)], None, True, None),
    ("16uF 450V", [(16, 450)], None, True, None),
    ("16µF450V", [(16, 450)], None, True, None),
    ("16mfd450v", [(16, 450)], None, True, None),
    ("16MFD-450V", [(16, 450)], None, True, None),
    ("16 M.F.D. 450 W.V.D.C.", [(16, 450)], None, True, None),
    ("16 MF. 450 V.", [(16, 450)], None, True, None),
    ("450 V 16 µF", [(16, 450)], None, True, None),
    ("WV 450 16 mfd", [(16, 450)], None, True, None),
    ("16 mfd 450 working", [(16, 450)], None, True, None),
    ("16 mfd 450 DCWV", [(16, 450)], None, True, None),
    ("16 mfd 450 VDC", [(16, 450)], None, True, None),
    ("16 µF 450 V=", [(16, 450)], None, True, None),
    ("16 µF 450V-", [(16, 450)], None, True, None),
    ("16 µF, 450 V", [(16, 450)], None, True, None),
    ("16 microfarads 450 volts", [(16, 450)], None, True, None),
    ("electrolytic 16 µF 450 V", [(16, 450)], None, True, None),
    ("+16µF 450V-", [(16, 450)], None, True, None),
    ("16 µF 450 V 105°C", [(16, 450)], None, True, None),
    ("16 µF 450 V 85C", [(16, 450)], None, True, None),
    ("16 mfd 450 V 525 V PEAK", [(16, 450)], None, True, None),
    ("16 mfd 450 WV 525 SV", [(16, 450)], None, True, None),
    ("450 V surge 525 V 16 µF", [(16, 450)], None, True, None),
    ("525 V surge 16 µF 450 V", [(16, 450)], None, True, None),
    ("16 µF 450/500 V", [(16, 450)], None, True, None),
    ("16 mfd 525 V surge", [(16, None)], None, None, None),
    ("50 mF 150V", [(50, 150)], None, True, None),
    ("50 MF 150V", [(50, 150)], None, True, None),
    ("50x25", [(50, 25)], None, True, None),
    ("30 by 15", [(30, 15)], None, True, None),
    ("25/25V", [(25, 25)], None, True, None),
    ("25 µF 25", [(25, 25)], None, True, None),
    ("1,000 µF 25V", [(1000, 25)], None, True, None),
    ("100 µF 6.3 V", [(100, 6.3)], None, True, None),
    ("1000uF/6,3V", [(1000, 6.3)], None, True, None),
    ("200-150v", [(200, 150)], None, True, None),
    ("4µ7 63V", [(4.7, 63)], None, True, None),
    ("4u7 63V", [(4.7, 63)], None, True, None),
    ("2,5 µF 350 V", [(2.5, 350)], None, True, None),
    ("8 µF +50-10% 450 V", [(8, 450)], None, True, None),
    ("-20/+100% 8 µF 450 V", [(8, 450)], None, True, None),
    ("Sprague TVA1713 40µF 450V", [(40, 450)], None, True, None),
    # several sections
    ("8+8/450V", [(8, 450), (8, 450)], None, True, None),
    ("8+8 450", [(8, 450), (8, 450)], None, True, None),
    ("8-8/450", [(8, 450), (8, 450)], None, True, None),
    ("8/8/8 µF 500V", [(8, 500)] * 3, None, True, None),
    ("16+8 mfd 450v", [(16, 450), (8, 450)], None, True, None),
    ("16µF+16µF 450V", [(16, 450), (16, 450)], None, True, None),
    ("16 µF & 8 µF 450 V", [(16, 450), (8, 450)], None, True, None),
    ("16+16 µF 450/475V", [(16, 450), (16, 450)], None, True, None),
    ("32+32 µF 350/385 V", [(32, 350), (32, 350)], None, True, None),
    ("40-40-20 mfd 450-450-25 V", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("40-40-20/450-450-25", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("40-40-20 450-450-25", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("40-40-20 mfd 450-450-25", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("450-450-25 V 40-40-20 MFD", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("20/20/20 µF @ 450/350/25 WV", [(20, 450), (20, 350), (20, 25)], None, True, None),
    ("40+40+20 µF 450/450/25 VDC", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("80-40-30-20 MFD 450-350-300-25 V", [(80, 450), (40, 350), (30, 300), (20, 25)], None, True, None),
    ("50-30 mfd 150 V", [(50, 150), (30, 150)], None, True, None),
    ("20-20-20-450V", [(20, 450)] * 3, None, True, None),
    ("40 µF 450 V + 20 µF 25 V", [(40, 450), (20, 25)], None, True, None),
    ("40+40 µF 450 V, 20 µF 25 V", [(40, 450), (40, 450), (20, 25)], None, True, None),
    ("8 µF 450 + 8 µF 350", [(8, 450), (8, 350)], None, True, None),
    ("20 µF/450 V/20 µF/25 V", [(20, 450), (20, 25)], None, True, None),
    ("2x16 µF 450 V", [(16, 450), (16, 450)], None, True, None),
    ("2 x 50/350V", [(50, 350), (50, 350)], None, True, None),
    ("50 µF x 2 350V", [(50, 350), (50, 350)], None, True, None),
    ("3x.1 400V", [(0.1, 400)] * 3, None, False, None),
    (".1-.1-.1 µF 400V", [(0.1, 400)] * 3, None, False, None),
    (".02/.02 600V", [(0.02, 600)] * 2, None, False, None),
    ("0.1+0.1/250", [(0.1, 250)] * 2, None, False, None),
    # paper, film, mica, ceramic
    (".05 400V", [(0.05, 400)], None, False, None),
    (".05/400", [(0.05, 400)], None, False, None),
    (".05-400", [(0.05, 400)], None, False, None),
    (".05 - 400", [(0.05, 400)], None, False, None),
    (".05 by 600", [(0.05, 600)], None, False, None),
    ("0,05 µF 400 V", [(0.05, 400)], None, False, None),
    (",05 µF 400 V", [(0.05, 400)], None, False, None),
    ("0.1 600VDC", [(0.1, 600)], None, False, None),
    (".1 MF. 400 V.", [(0.1, 400)], None, False, None),
    ("0.01 µF 1.6 kV", [(0.01, 1600)], None, False, None),
    (".01 1KV", [(0.01, 1000)], None, False, None),
    ("0.01-1600", [(0.01, 1600)], None, False, None),
    ("C 0.05 µF 600 V", [(0.05, 600)], None, False, None),
    ("0.1 µF 500V= 1500V test", [(0.1, 500)], None, False, None),
    ("0.1µF 500/1500V", [(0.1, 500)], None, False, None),
    ("0.1 µF 400 V paper", [(0.1, 400)], None, False, None),
    ("4 µF 400V paper", [(4, 400)], None, False, None),
    ("4 µF 600 V", [(4, 600)], None, None, None),
    ("0.5 µF 400V", [(0.5, 400)], None, None, None),
    ("MKP 1µF 630VDC", [(1, 630)], None, False, None),
    ("22n 400V MKT", [(0.022, 400)], None, False, None),
    ("4n7", [(0.0047, None)], None, False, None),
    ("n47", [(470 * PF, None)], None, False, None),
    ("2p2", [(2.2 * PF, None)], None, False, None),
    ("p68", [(0.68 * PF, None)], None, False, None),
    ("100n", [(0.1, None)], None, False, None),
    ("100nF", [(0.1, None)], None, False, None),
    ("1n5 500V", [(0.0015, 500)], None, False, None),
    ("33p", [(33 * PF, None)], None, False, None),
    ("250 mmf", [(250 * PF, None)], None, False, None),
    ("250MMFD", [(250 * PF, None)], None, False, None),
    ("250 µµF", [(250 * PF, None)], None, False, None),
    ("250 uuF", [(250 * PF, None)], None, False, None),
    ("250 M.M.F.", [(250 * PF, None)], None, False, None),
    ("250 pF mica 500V", [(250 * PF, 500)], None, False, None),
    ("mica 470", [(470 * PF, None)], None, False, None),
    ("silver mica 100", [(100 * PF, None)], None, False, None),
    ("100 pf ±10%", [(100 * PF, None)], None, False, None),
    ("5.000 pF 500V", [(0.005, 500)], None, False, None),
    ("10 kpF", [(0.01, None)], None, False, None),
    ("500 cm", [(556.325 * PF, None)], None, False, None),
    ("104K 630V", [(0.1, 630)], None, False, None),
    ("473J 400V", [(0.047, 400)], None, False, None),
    ("102M 1kV", [(0.001, 1000)], None, False, None),
    ("103Z 500V", [(0.01, 500)], None, False, None),
    ("224 250V", [(0.22, 250)], None, False, None),
    ("0.047µF K 630V", [(0.047, 630)], None, False, None),
    # alternating current, classes, non-polar
    ("1 µF 400 VAC", [(1, None)], 400, False, None),
    ("2.5µF 380V~", [(2.5, None)], 380, False, None),
    ("2,5 µF ~380 V", [(2.5, None)], 380, False, None),
    ("AC 330V 10 µF", [(10, None)], 330, False, None),
    ("8 mfd 330 vac motor run", [(8, None)], 330, False, None),
    ("4 mfd 370 V motor run", [(4, None)], 370, False, None),
    ("88-108 mfd 110VAC motor start", [(98, None)], 110, False, None),
    ("0.1µF X2 275VAC", [(0.1, None)], 275, False, "X2"),
    ("0.1µF 275V X2", [(0.1, None)], 275, False, "X2"),
    ("X2 0.1 µF 275 V~", [(0.1, None)], 275, False, "X2"),
    ("4700pF Y2", [(0.0047, None)], None, False, "Y2"),
    ("4n7 Y1 250V~", [(0.0047, None)], 250, False, "Y1"),
    ("2.2nF class Y1", [(0.0022, None)], None, False, "Y1"),
    ("X1/Y2 2.2nF", [(0.0022, None)], None, False, "Y2"),
    ("0,1µF 630V-/250V~", [(0.1, 630)], 250, False, None),
    ("0.1 µF 630 VDC 250 VAC", [(0.1, 630)], 250, False, None),
    ("10 µF NP 50V", [(10, 50)], None, False, None),
    ("B/P 4.7µF 50V", [(4.7, 50)], None, False, None),
    ("50µF bipolar 50V", [(50, 50)], None, False, None),
    ("non-polarised 8µF", [(8, None)], None, False, None),
    ("10 uF non polar 100 V", [(10, 100)], None, False, None),
]

# marking, ref, role, sections, polarised
AIDED = [
    (".05", "C1", None, [(0.05, None)], False),
    (".0047", "C12", None, [(0.0047, None)], False),
    ("104", "C3", None, [(0.1, None)], None),
    ("8+8", "C1", None, [(8, None), (8, None)], None),
    ("40-40-20", "C1", None, [(40, None), (40, None), (20, None)], None),
    ("16", "C1", "reservoir", [(16, None)], None),
    ("100", "C2", "smoothing", [(100, None)], None),
    ("125 350V", "C1", "reservoir", [(125, 350)], True),
    ("10 450", "C1A", "reservoir", [(10, 450)], True),
    ("100N", "C4", None, [(0.1, None)], False),
    ("4N7", "C4", None, [(0.0047, None)], False),
    ("8 by 450", "C5", "motor run", [(8, 450)], True),
    ("red violet orange", "C7", None, [(0.027, 500)], False),  # RMA three dots: 27 x 1000 pF
    ("red, green, black", "C7", None, [(25 * PF, 500)], False),  # worked example WE23
    ("white brown red / black silver red", "C8", None, [(0.0012, 500)], False),  # WE21, AWS six dots
    ("black green brown black gold black", "C8", None, [(51 * PF, 500)], False),  # WE22
]

# marking, ref: could as well be something else, or is damaged
REFUSED = [
    ("47", "C1"), ("250", "C2"), ("16", "C1"), ("25-25", "C1"), ("50 25", "C1"), ("40-20", "C1"), ("2x16", None),
    ("470K", "C1"), ("104", None), ("1/2 mfd 600V", None), ("100 500V", "C1"), ("40-40-20 µF 450-25 V", None),
    ("16 µF 450/350 V", None), ("0 µF 450 V", None), ("16 µF 0.1 V", None), ("999999999 µF", None), ("450V", "C1"),
    ("16 Q 450", "C1"), ("470 kilohm", "C1"), ("16 CMF 450 V", "C1"), ("01µF", "C1"), ("2,5 F 380 V", "C1"),
    ("16 µF 40/350 V", "C1"), ("4 104", "C1"), ("8-8/1450", "C1"), ("57)51", "C1"), ("6X9", None), ("6V6GT", "C1"),
    ("16 mfd45", "C1"), ("88-1908 mfd 110VAC start", None), ("16 µF 450 V 300 V surge 525 V", "C1"),
    ("47 ohm", "C1"), ("0.1 µF E1.6 kV", "C1"), ("16+16+16+16+16+16+16+16+16 µF 450 V", "C1"),
    ("C", "C1"), ("1.2.3 µF", None), ("red blue green white brown", "C4"), ("125 350V", "C9"),
]  # fmt: skip


def _sections(reading):
    return [(s.uf, s.volts_dc) for s in reading.sections]


def _close(found, expected):
    assert len(found) == len(expected)
    for (uf, volts), (uf0, volts0) in zip(found, expected, strict=True):
        assert uf == pytest.approx(uf0, rel=1e-12)
        assert volts == volts0


@pytest.mark.parametrize(("marking", "sections", "ac", "polarised", "safety"), UNAIDED)
def test_reads_without_help(reads, marking, sections, ac, polarised, safety):
    found = reads(marking)
    assert found.kind == "capacitor", found.why
    _close(_sections(found), sections)
    assert (found.volts_ac, found.polarised, found.safety_class) == (ac, polarised, safety)


@pytest.mark.parametrize(("marking", "sections", "ac", "polarised", "safety"), UNAIDED)
def test_the_right_ref_changes_nothing(reads, marking, sections, ac, polarised, safety):
    plain, aided = reads(marking).as_dict(), reads(marking, "C1").as_dict()
    assert plain == aided


@pytest.mark.parametrize(("marking", "ref", "role", "sections", "polarised"), AIDED)
def test_reads_with_ref_and_role(reads, marking, ref, role, sections, polarised):
    found = reads(marking, ref, role)
    assert found.kind == "capacitor", found.why
    _close(_sections(found), sections)
    assert found.polarised is polarised


@pytest.mark.parametrize(("marking", "ref"), REFUSED)
def test_refuses_with_a_reason(reads, marking, ref):
    found = reads(marking, ref)
    assert found.kind is None
    assert found.why


def test_contract_object(reads):
    found = reads("40 mfd 450 V polarised").as_dict()
    assert found == {
        "marking": "40 mfd 450 V polarised",
        "kind": "capacitor",
        "sections": [{"uf": 40.0, "volts_dc": 450.0}],
        "volts_ac": None,
        "polarised": True,
        "safety_class": None,
    }


def test_what_is_assumed_is_said(reads):
    assert any("microfarad" in note for note in reads(".05", "C1").notes)
    assert any("polarity" in note for note in reads("16 µF 450 V").notes)
    assert any("mF" in note for note in reads("50 mF 150 V").notes)
    assert any("surge" in note for note in reads("16 µF 450/500 V").notes)
    assert any("Sprague" in note for note in reads("Sprague 40µF 450V").notes)


def test_surge_volts_are_kept_apart(reads):
    found = reads("16 mfd 450 V 525 V peak")
    assert found.volts_surge == 525
    assert found.as_dict()["volts_surge"] == 525


def test_tolerance_bands(reads):
    assert reads("8 µF -10+50% 450 V").tolerance_band_pct == (-10, 50)
    assert reads("104K 630V").tolerance_band_pct == (-10, 10)
    assert reads("100 pF ±5%").tolerance_band_pct == (-5, 5)
    assert reads("100 pF").tolerance_band_pct is None


def test_role_never_decides_polarity(reads):
    assert reads("0.5 µF 400V", "C1", "motor run").polarised is None
    assert reads("0.5 µF 400V", "C1", "reservoir").polarised is None
