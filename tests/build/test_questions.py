"""What the figures leave open: for each question the smallest tables that raise it, and the same tables without it.

The rectifier's corner is the EZ80's at 350 V (Mazda, EZ80, August 1963, pages 1 to 3, read); a circuit simulator
finds its peak in `test_the_peak_of_the_corner_is_what_a_simulator_finds`.
"""

import pytest
from bad_rows import write

from pipeline.build.catalogue import assemble
from pipeline.build.questions import QUESTIONS
from pipeline.build.rules import GROUPS
from tests.electrics import ngspice

TRIODE = {"type": "12AX7", "function": "twin triode", "heating": "heater", "heater_v": 12.6, "heater_a": 0.15}
OTHER = TRIODE | {"type": "7025"}
EACH = {"type": "12AX7", "section": "each", "kind": "triode", "plate_max_v": 300.0, "mu": 100.0,
        "rating_system": "design-centre"}
POINT = {"type": "12AX7", "section": "each", "service": "class A1", "plate_v": 250.0, "tube_count": 1.0, "bias_v": -2.0,
         "plate_a": 0.0012, "gm_s": 0.0016}
LOW = POINT | {"plate_v": 150.0, "bias_v": -1.0, "plate_a": 0.001, "gm_s": None}
"""What the theory notes' law makes of the point at 250 V is 1.1 mA here."""
NOVAL = {"type": "6V4", "function": "full-wave rectifier", "heating": "heater", "heater_v": 6.3, "heater_a": 0.6}
RATED = {"type": "6V4", "kind": "tube", "connection": "full-wave", "piv_max_v": 980.0, "plate_peak_max_a": 0.27,
         "dc_output_max_a": 0.09, "ac_plate_max_v": 350.0, "drop_v": 25.0, "drop_at_a": 0.091}
CORNER = {"type": "6V4", "input": "capacitor", "ac_v": 350.0, "dc_a": 0.09, "supply_ohm": 300.0, "capacitor_uf": 50.0}
SAME = {"relation": "other base"}

CASES = {
    "point-against-law": (
        {"tubes": [TRIODE], "sections": [EACH], "operating_points": [POINT, LOW | {"plate_a": 0.003}]},
        ("operating_points", "12AX7/each/class A1/150", "plate_a"),
        {"tubes": [TRIODE], "sections": [EACH], "operating_points": [POINT, LOW]}),
    "corner-against-peak": (
        {"tubes": [NOVAL], "rectifiers": [RATED], "rectifier_ratings": [CORNER]},
        ("rectifiers", "6V4", "plate_peak_max_a"),
        {"tubes": [NOVAL], "rectifiers": [RATED | {"plate_peak_max_a": 0.3}], "rectifier_ratings": [CORNER]}),
    "drop-against-sibling": (
        {"tubes": [NOVAL, NOVAL | {"type": "EZ40"}], "substitutes": [SAME | {"type": "6V4", "substitute": "EZ40"}],
         "rectifiers": [RATED, RATED | {"type": "EZ40", "drop_v": 40.0}]},
        ("rectifiers", "6V4", "drop_v"),
        {"tubes": [NOVAL, NOVAL | {"type": "EZ40"}], "substitutes": [SAME | {"type": "6V4", "substitute": "EZ40"}],
         "rectifiers": [RATED, RATED | {"type": "EZ40", "drop_v": 16.0, "drop_at_a": 0.045}]}),
    "limits-against-sibling": (
        {"tubes": [TRIODE, OTHER], "substitutes": [SAME | {"type": "12AX7", "substitute": "7025"}],
         "sections": [EACH, EACH | {"type": "7025", "plate_max_v": 250.0}]},
        ("sections", "12AX7/each", "plate_max_v"),
        {"tubes": [TRIODE, OTHER], "substitutes": [SAME | {"type": "12AX7", "substitute": "7025"}],
         "sections": [EACH, EACH | {"type": "7025", "plate_max_v": 330.0, "rating_system": "design-maximum"}]}),
}


def asked(root) -> list[dict]:
    return assemble(root)["questions"].to_pylist()


@pytest.mark.parametrize("rule", CASES)
def test_the_smallest_tables_that_ask(rule, tmp_path):
    tables, place, mended = CASES[rule]
    (question,) = asked(write(tmp_path / "asks", tables))
    assert (question["rule"], (question["table"], question["subject"], question["quantity"])) == (rule, place)
    assert f"{question['expected']:.3g}" in question["what"]
    assert asked(write(tmp_path / "mended", mended)) == []


def test_every_question_has_its_case_and_its_place_in_the_guide():
    assert CASES.keys() == QUESTIONS.keys()
    assert any(group.keys() == QUESTIONS.keys() for group in GROUPS.values())


def test_a_question_does_not_stop_the_build(tmp_path):
    assert assemble(write(tmp_path / "raw", CASES["corner-against-peak"][0]))["rectifiers"].num_rows == 1


@ngspice.needed()
def test_the_peak_of_the_corner_is_what_a_simulator_finds(tmp_path):
    (question,) = asked(write(tmp_path / "raw", CASES["corner-against-peak"][0]))
    found = ngspice.capacitor_input("full-wave", 350.0, 60.0, 300.0, 50e-6, perveance=0.091 / 25.0**1.5, load_a=0.09)
    assert question["expected"] == pytest.approx(found["plate_peak_a"], rel=0.01)


def test_the_catalogue_lists_what_it_cannot_settle(catalogue):
    """The makers' own corners that pass the stated peak: the list of the audit, by these very names."""
    found = {row["subject"] for row in catalogue.rows("questions", "rule = 'corner-against-peak'")}
    assert {"6V4", "6CA4", "5AR4", "5Y3GT", "6AX5GT", "5V4G", "35W4", "25Z5", "7Y4", "7Z4"} <= found
