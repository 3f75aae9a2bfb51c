"""What restorers of several nations write, and what it means: `habits.csv`, read against the built catalogue.

The expected readings were written from knowledge of each nation's habits of marking (trade practice, no source beside
IEC 60062 and 60127 for coded values and fuse letters), before and not from what the program gives.  `reads_as` is the kind, or
`refused` where nobody can know, or `refused-or-X` where a reader may give up but must never take another kind;
`expect` holds what must stand in the reading, the rest is left open.
"""

import csv
from collections import Counter
from pathlib import Path

import pytest

from pipeline.notation.read import read
from pipeline.notation.roles import read_role

ROWS = list(csv.DictReader(Path(__file__).with_name("habits.csv").open(encoding="utf-8")))
PARTS = [row for row in ROWS if "role" not in row["reads_as"]]
YES = {"yes": True, "no": False}


def _name(row):
    return f"{row['habit']}: {row['marking']}"


@pytest.mark.parametrize("row", PARTS, ids=_name)
def test_marking(catalogue, row):
    found = read(row["marking"], names=catalogue.names, lamps=catalogue.lamps, diodes=catalogue.diodes,
                 ballasts=catalogue.ballasts,
                 ref=row["ref"] or None, role=row["role"] or None, kind=row["kind_given"] or None)
    wanted = row["reads_as"]
    if wanted == "refused":
        assert found.kind is None and found.why, found
        return
    if wanted.startswith("refused-or-") and found.kind is None:
        return
    assert found.kind == wanted.removeprefix("refused-or-"), found.why or found
    for name, value in _expected(row["expect"]):
        assert _of(found, name) == pytest.approx(value) if not isinstance(value, (str, bool)) \
            else _of(found, name) == value, (name, found)


def _expected(text):
    for pair in filter(None, text.split(";")):
        name, value = pair.split("=", 1)
        if name in ("uf", "volts") and "+" in value:
            yield name, [float(each) for each in value.split("+")]
        elif value in YES:
            yield name, YES[value]
        else:
            yield name, value if name in ("type", "taper", "speed", "class", "contacts", "shape", "windings") else float(value)


def _of(found, name):
    """One quantity under its short name in the list; a single section as a number, several as a list."""
    if found.sections and name in ("uf", "volts"):
        values = [section.uf if name == "uf" else section.volts_dc for section in found.sections]
        return values[0] if len(values) == 1 else values
    if name == "windings":
        return "+".join(f"{w.volts:g}{'CT' if w.centre_tap else ''}{f'@{w.amps:g}' if w.amps else ''}"
                        for w in found.windings)
    return getattr(found, {"class": "safety_class", "tolerance": "tolerance_pct"}.get(name, name))


@pytest.mark.parametrize("row", [row for row in ROWS if row["reads_as"] == "role"], ids=_name)
def test_role(row):
    assert read_role(row["marking"]) == row["expect"].removeprefix("role=")


@pytest.mark.parametrize("row", [row for row in ROWS if row["reads_as"] == "refused role"], ids=_name)
def test_role_that_can_be_two_things_is_asked_about(row):
    with pytest.raises(ValueError, match="more than one role"):
        read_role(row["marking"])


def test_the_list_is_wide_enough():
    assert len(ROWS) >= 300 and len({(row["marking"], row["ref"]) for row in PARTS}) == len(PARTS)
    assert len([habit for habit, count in Counter(row["habit"] for row in ROWS).items() if count >= 10]) >= 5
    assert len({row["reads_as"] for row in PARTS}) >= 30
    open_ones = [row for row in PARTS if row["reads_as"].startswith("refused-or-")]
    assert len(open_ones) <= 20
