"""Our pin maps and diode ratings against KiCad's symbol libraries (Debian package kicad-symbols, CC-BY-SA 4.0).

The library's pin names are what a draughtsman wrote, so every difference is looked at; those found to be the
library's own slips stand in `LIBRARY_SLIPS` with the reason, and nothing else may differ.
"""

import os
from collections import defaultdict
from pathlib import Path

import pytest

from pipeline.build.catalogue import assemble
from pipeline.build.ingest import DIODES, SYMBOLS, VALVES, diode_ratings, valve_pins

pytestmark = pytest.mark.long
ROOT = Path(__file__).resolve().parents[2]
LIBRARY_SLIPS = {
    ("6CA7", "8"): "EL34 pin 8 is labelled F1; it is the cathode (the EL34EH maker's sheet says so, read)",
    ("6BX6", "3"): "EF80 pin 3 is labelled F1; it is the cathode (recalled), the heater being on 4 and 5",
    ("6BX6", "1"): "EF80 pin 1, the other cathode lead (recalled), is not drawn",
    ("6BY7", "3"): "EF85 is drawn as EF80, with the same slip",
    ("6BY7", "1"): "EF85 is drawn as EF80, with the same slip",
    ("6AJ8", "~"): "ECH81 has a hidden pin without a number, named K_G5: a second line to the cathode on pin 3",
    ("6FG6", "~"): "EM84 has a hidden pin without a number, named F1: a drawing aid",
}
SHIELDS = {"nc", "ic", "is", "shell"}


@pytest.fixture(scope="module")
def folder():
    """The library's folder; skips with a reason where it is missing, fails where CI says it must be there."""
    if not (SYMBOLS / VALVES).is_file():
        if os.environ.get("CI") == "true":
            pytest.fail("kicad-symbols is not installed, and in CI it must be")
        pytest.skip("kicad-symbols is not installed: the comparison of pins and diodes is left out")
    return SYMBOLS


@pytest.fixture(scope="module")
def tables():
    """The catalogue as the raw tables give it now."""
    return assemble(ROOT / "data_raw")


@pytest.fixture(scope="module")
def ours(tables):
    """Type → pin → electrodes, sections left out, filament and heater and heater centre alike."""
    found = defaultdict(dict)
    for row in tables["pins"].to_pylist():
        names = {name if name in ("h_ct", "f_ct") else name.rpartition("_")[2] for name in row["electrode"].split("+")}
        found[row["type"]][row["pin"]] = {{"h_ct": "h", "f_ct": "h", "f": "h", "g1": "g"}.get(n, n) for n in names}
    return found


@pytest.fixture(scope="module")
def theirs(folder, tables):
    """Type → pin → electrodes as the library draws them, for every symbol that is a name of a type."""
    types = {d["designation"]: d["type"] for d in tables["designations"].to_pylist() if d["nearness"] == "same"}
    types |= {t: t for t in tables["tubes"].column("type").to_pylist()}
    found = defaultdict(lambda: defaultdict(set))
    for row in valve_pins(folder / VALVES):
        if row["symbol"] in types:
            names = row["electrode"].split("+")
            found[types[row["symbol"]]][row["pin"]] |= {"g" if n == "g1" else n for n in names}
    return found


def test_pins_differ_only_where_the_library_slips(ours, theirs):
    """Electrode by electrode; one set within the other counts as the same, for ties inside the bulb (k+g3)."""
    compared, differing = 0, set()
    for type_ in theirs.keys() & ours.keys():
        for pin in theirs[type_].keys() | ours[type_].keys():
            a, b = ours[type_].get(pin, set()), theirs[type_].get(pin, set())
            if a and b and (a <= b or b <= a):
                compared += 1
            elif b or a - SHIELDS:
                differing.add((type_, pin))
    assert differing == LIBRARY_SLIPS.keys()
    assert compared >= 100


def test_the_types_that_both_have(ours, theirs):
    """The library's sixteen valves and their aliases: those whose pins are compared at all."""
    both = theirs.keys() & ours.keys()
    assert {"12AX7", "12AT7", "6DJ8", "6AJ8", "6BM8", "6GW8", "6BX6", "6BY7", "6267", "6CA7", "6BQ5", "6FG6", "6AK8",
            "UABC80"} <= both


def test_the_slips_stand_in_disagreements(folder, tables):
    rows = [d for d in tables["open_disagreements"].to_pylist() if d["other_source"] == "kicad-symbols"]
    assert {tuple(d["subject"].split("/")) for d in rows} == LIBRARY_SLIPS.keys()
    assert {d["quantity"] for d in rows} == {"electrode"}


def test_diodes_have_the_volts_and_amps_of_their_descriptions(folder, tables):
    """A library's description such as "1000V 1A General Purpose Rectifier Diode" against piv_max_v, forward_max_a."""
    ours = {d["type"]: d for d in tables["diodes"].to_pylist()}
    compared = 0
    for row in (row for name in DIODES for row in diode_ratings(folder / name)):
        for quantity in ("piv_max_v", "forward_max_a"):
            value = ours.get(row["symbol"], {}).get(quantity)
            if value is not None and row.get(quantity):
                assert value == pytest.approx(float(row[quantity])), f"{row['symbol']} {quantity}: {row['printed']}"
                compared += 1
    assert compared >= 50
