"""Every catalogue type against the published rules of its designation, and preferred values against `eseries`.

The rules are written out here from the documents, apart from the code that the build uses:
- American: Radiotron Designer's Handbook, 4th ed., Amalgamated Wireless Valve Company, 1952 (text reproduced online,
  read). It prints 0 cold cathode, 1 above 0 up to 1.6 V, 5 from 4.6 to 5.6 V, 6 from 5.6 to 6.6 V; tapped heaters
  count whole; lock-in 7 works at 6.3 V.  14 for 12.6 V on lock-in bases: RETMA lists (recalled).
- European: Mullard, Valve Type Nomenclature, data-book page (text reproduced online, read).
Exceptions are the waivers of `designation_exceptions`, each with its reason.
"""

import re
from pathlib import Path

import pytest

from pipeline.build.catalogue import assemble

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
PRINTED_STEPS = {"1": (0.0, 1.6), "5": (4.6, 5.6), "6": (5.6, 6.6)}
LOCK_IN = {"7": 6.3, "14": 12.6}
HEATER_OF_LETTER = {"A": ("heater_v", 4.0, 4.0), "C": ("heater_a", 0.2, 0.2), "D": ("heater_v", 0.5, 1.5),
                    "E": ("heater_v", 6.3, 6.3), "G": ("heater_v", 5.0, 5.0), "K": ("heater_v", 2.0, 2.0),
                    "P": ("heater_a", 0.3, 0.3), "U": ("heater_a", 0.1, 0.1)}
BASE_OF_FIGURE = {"3": "octal", "4": "rimlock", "8": "noval", "9": "miniature 7-pin"}
WORDS_OF_SYSTEM = {"C": "triode", "F": "pentode", "L": "power|beam", "M": "tuning indicator", "Z": "full-wave",
                   "Y": "half-wave|damper", "B": "double diode|triple diode|diode", "A": "diode",
                   "H": "hexode|heptode|pentagrid|gate", "K": "octode|pentagrid"}
AMERICAN = re.compile(r"(\d{1,3})([A-HJ-NP-Z]{1,3})(\d{1,2})[A-Z/]*")
EUROPEAN = re.compile(r"([ACDEGKPU])([ABCDFHKLMYZ]{1,3})(\d{1,3})[A-Z]{0,2}")
SPECIAL_QUALITY = re.compile(r"([ACDEGKPU])(\d{2,3})([ABCDFHKLMYZ]{1,2})")


@pytest.fixture(scope="module")
def tables():
    return {name: table.to_pylist() for name, table in assemble(ROOT / "data_raw").items()
            if name in ("tubes", "designations", "designation_exceptions", "heater_options", "preferred_values")}


@pytest.fixture(scope="module")
def waived(tables):
    return {(row["type"], row["rule"]) for row in tables["designation_exceptions"]}


def european(tables):
    """(name, heater letter, system letters, figures, tube) of every European name of every type.

    Ballasts (K55B) follow a code of their own.
    """
    tubes = {t["type"]: t for t in tables["tubes"]}
    names = [(t, t) for t, tube in tubes.items() if tube["function"] != "ballast"]
    names += [(d["designation"], d["type"]) for d in tables["designations"]
              if d["system"] == "European" and d["nearness"] == "same"]
    for name, type_ in names:
        if match := EUROPEAN.fullmatch(name):
            yield name, match[1], match[2], match[3], tubes[type_]
        elif match := SPECIAL_QUALITY.fullmatch(name):
            yield name, match[1], match[3], match[2], tubes[type_]


def test_the_number_of_an_american_type_is_its_heater_voltage(tables, waived):
    weighed = 0
    for tube in tables["tubes"]:
        match = AMERICAN.fullmatch(tube["type"])
        if not match or (tube["type"], "retma-heater") in waived or tube["function"] == "cathode-ray tube":
            continue  # the number of a cathode-ray tube is its screen in inches
        number, volts = match[1], tube["heater_v"]
        if number == "0":
            assert tube["heating"] == "cold", tube["type"]
        elif volts is None:
            continue
        elif tube["base"] == "loctal" and number in LOCK_IN:
            assert volts == LOCK_IN[number], tube["type"]
        elif number in PRINTED_STEPS:
            assert PRINTED_STEPS[number][0] < volts <= PRINTED_STEPS[number][1], tube["type"]
        else:
            assert abs(volts - int(number)) <= 0.6, tube["type"]
        weighed += 1
    assert weighed >= 300


def test_the_letter_of_a_european_name_is_its_heater(tables, waived):
    options = {}
    for row in tables["heater_options"]:
        options.setdefault(row["type"], []).append(row)
    weighed = 0
    for name, letter, _, _, tube in european(tables):
        quantity, low, high = HEATER_OF_LETTER[letter]
        values = [row[quantity] for row in (tube, *options.get(tube["type"], ())) if row[quantity] is not None]
        if values and (tube["type"], "european-heater") not in waived:
            assert any(0.97 * low <= value <= 1.03 * high for value in values), f"{name}: {values}"
            weighed += 1
    assert weighed >= 250


def test_the_first_figure_of_a_european_name_is_its_base(tables, waived):
    weighed = 0
    for name, _, _, figures, tube in european(tables):
        base = BASE_OF_FIGURE.get(figures[0]) if len(figures) > 1 else None
        if base and tube["base"] and (tube["type"], "european-base") not in waived:
            assert tube["base"] == base, name
            weighed += 1
    assert weighed >= 150


def test_the_other_letters_of_a_european_name_are_its_systems(tables, waived):
    weighed = 0
    for name, _, systems, _, tube in european(tables):
        if (tube["type"], "european-function") in waived or (tube["type"], "european-heater") in waived:
            continue
        for letter in systems:
            if words := WORDS_OF_SYSTEM.get(letter):
                assert re.search(words, tube["function"]), f"{name} is a {tube['function']}"
                weighed += 1
    assert weighed >= 300


def test_preferred_values_are_those_of_eseries(tables):
    """PyPI `eseries`, which follows IEC 60063:2015; its series are mantissas of one decade."""
    import eseries

    ours = {}
    for row in tables["preferred_values"]:
        ours.setdefault(row["series"], set()).add(row["value"])
    assert {"E3", "E6", "E12", "E24"} <= ours.keys()
    for name, values in ours.items():
        theirs = [float(v) for v in eseries.series(eseries.ESeries[name])]
        assert sorted(values) == pytest.approx([v / min(theirs) for v in sorted(theirs)]), name
